//! The queue between the converter's interrupt and the loop.
//!
//! The interrupt puts frames together to blocks of eight and hands them over whole. When the queue is
//! full the block is dropped: the interrupt never waits. The next block that fits carries how many frames are
//! missing before it, so that the core hears of the gap at its place and its time stays right.
//!
//! | what goes wrong | what the core gets |
//! |---|---|
//! | the loop is late by less than the queue holds | every frame: nothing is wrong |
//! | the loop is late by more | a gap where the queue was full |
//! | frames are lost before the interrupt: their numbers leap | the frames before, a gap as long as the leap |
//! | a frame comes again, or an older one: its number does not rise | it once; how many were left out |
//! | no frame comes | silence |
//!
//! Numbers come from what triggers the converter (a timer's count), not from the interrupt, which would not see what it missed: see
//! [`Filler::numbered`]. A leap of half the range of 32 bits or more is taken for a step back.
//!
//! ```
//! use shaftwork_app::blocks::Blocks;
//! use shaftwork_app::source::{FrameSource, Source};
//! use shaftwork_core::Frame;
//!
//! let mut blocks = Blocks::<4>::new(); // on a board: in a static
//! let (mut filler, mut taker) = blocks.split();
//! for n in 0..8 {
//!     filler.frame(Frame([n; 6]));
//! }
//! let mut block = [Frame([0; 6]); 8];
//! assert!(matches!(taker.block(&mut block), Source::Block(_)));
//! assert_eq!(block[7].0[0], 7);
//! ```

use heapless::spsc::{Consumer, Producer, Queue};
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, Frame};

use crate::source::{Beside, FrameSource, Source};

/// What goes through the queue.
struct Block {
    /// Frames that are missing before this one.
    before: u32,
    /// Frames that came twice before its end.
    repeated: u32,
    frames: [Frame; BLOCK],
    /// So many of them are there.
    count: usize,
    /// Frames that are missing after the last of them, where there are fewer than eight.
    after: u32,
}

/// Room for `N - 1` blocks. At 4 kHz a block is 2 ms: eight of them let the loop be busy for 14 ms.
#[derive(Default)]
pub struct Blocks<const N: usize> {
    queue: Queue<Block, N>,
}

impl<const N: usize> Blocks<N> {
    /// Empty.
    #[must_use]
    pub const fn new() -> Self {
        Self { queue: Queue::new() }
    }

    /// The end for the interrupt and the end for the loop.
    pub fn split(&mut self) -> (Filler<'_>, Taker<'_>) {
        let (producer, consumer) = self.queue.split();
        (Filler::new(producer), Taker { queue: consumer, held: None, silent_after: u32::MAX, empty: 0 })
    }
}

/// The interrupt's end.
pub struct Filler<'a> {
    queue: Producer<'a, Block>,
    frames: [Frame; BLOCK],
    filled: usize,
    missing: u32,
    repeated: u32,
    /// The number of the frame that is due.
    due: Option<u32>,
}

impl<'a> Filler<'a> {
    const fn new(queue: Producer<'a, Block>) -> Self {
        Self { queue, frames: [Frame([0; CHANNELS]); BLOCK], filled: 0, missing: 0, repeated: 0, due: None }
    }

    /// Takes the next frame. Bounded work: at most one block is copied.
    pub fn frame(&mut self, frame: Frame) {
        self.due = self.due.map(|due| due.wrapping_add(1));
        if let Some(slot) = self.frames.get_mut(self.filled) {
            *slot = frame;
        }
        self.filled += 1;
        if self.filled >= BLOCK {
            self.hand_over(0);
        }
    }

    /// Takes a frame with the count of the converter's triggers: what leaps is missing, what does not rise has come twice. Bounded work:
    /// at most two blocks are copied.
    ///
    /// ```
    /// # use shaftwork_app::{blocks::Blocks, source::{Beside, FrameSource, Source}};
    /// # use shaftwork_core::{Frame, time::Span};
    /// # let mut blocks = Blocks::<4>::new();
    /// # let (mut filler, mut taker) = blocks.split();
    /// for number in [0, 1, 2, 2, 5] {
    ///     filler.numbered(number, Frame([7; 6]));
    /// }
    /// let beside = Beside { repeated: 1, ..Beside::default() };
    /// assert_eq!(taker.block(&mut [Frame([0; 6]); 8]), Source::Gap(beside, 3, Span(2 << 16)));
    /// ```
    pub fn numbered(&mut self, number: u32, frame: Frame) {
        let leap = number.wrapping_sub(self.due.unwrap_or(number));
        if leap > u32::MAX / 2 {
            self.repeated = self.repeated.saturating_add(1);
            return;
        }
        if leap > 0 {
            self.hand_over(leap);
        }
        self.due = Some(number);
        self.frame(frame);
    }

    /// What has been filled goes to the loop, with so many frames missing after it; where there is no room, it is missing too.
    fn hand_over(&mut self, after: u32) {
        let count = core::mem::take(&mut self.filled);
        let (before, repeated) = (core::mem::take(&mut self.missing), core::mem::take(&mut self.repeated));
        if count == 0 {
            (self.missing, self.repeated) = (before.saturating_add(after), repeated);
            return;
        }
        if self.queue.enqueue(Block { before, repeated, frames: self.frames, count, after }).is_err() {
            self.missing = before.saturating_add(count as u32).saturating_add(after);
            self.repeated = repeated;
        }
    }
}

/// The loop's end.
pub struct Taker<'a> {
    queue: Consumer<'a, Block>,
    /// A block whose gap before it has been told.
    held: Option<Block>,
    silent_after: u32,
    empty: u32,
}

impl Taker<'_> {
    /// Calls the converter silent after this many requests in a row that found nothing. A board whose
    /// loop sleeps until the next interrupt counts its timer's ticks this way.
    #[must_use]
    pub fn silent_after(self, requests: u32) -> Self {
        Self { silent_after: requests, ..self }
    }
}

impl FrameSource for Taker<'_> {
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source {
        // 32 bits of frames and 16 fraction bits: 48 of 64.
        let gap = |beside, count, missing: u32| Source::Gap(beside, count, Span(u64::from(missing) << 16));
        if let Some(mut block) = self.held.take().or_else(|| self.queue.dequeue()) {
            self.empty = 0;
            let beside = Beside { repeated: core::mem::take(&mut block.repeated), ..Beside::default() };
            let before = core::mem::take(&mut block.before);
            if before > 0 {
                self.held = Some(block);
                return gap(beside, 0, before);
            }
            *into = block.frames;
            return if block.count < BLOCK { gap(beside, block.count, block.after) } else { Source::Block(beside) };
        }
        self.empty = self.empty.saturating_add(1);
        if self.empty > self.silent_after { Source::Silent } else { Source::Nothing }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fill(filler: &mut Filler<'_>, blocks: i32) {
        for n in 0..blocks * BLOCK as i32 {
            filler.frame(Frame([n; CHANNELS]));
        }
    }

    #[test]
    fn blocks_arrive_in_order_and_whole() {
        let mut blocks = Blocks::<4>::new();
        let (mut filler, mut taker) = blocks.split();
        let mut got = [Frame([-1; CHANNELS]); BLOCK];
        for n in 0..7 {
            filler.frame(Frame([n; CHANNELS]));
            assert_eq!(taker.block(&mut got), Source::Nothing, "after {n}");
        }
        filler.frame(Frame([7; CHANNELS]));
        assert_eq!(taker.block(&mut got), Source::Block(Beside::default()));
        assert!(got.iter().enumerate().all(|(n, frame)| frame.0 == [n as i32; CHANNELS]));
    }

    #[test]
    fn a_gap_is_told_once_at_its_place() {
        let mut blocks = Blocks::<4>::new();
        let (mut filler, mut taker) = blocks.split();
        fill(&mut filler, 5); // three fit
        let mut got = [Frame([0; CHANNELS]); BLOCK];
        for _ in 0..3 {
            assert_eq!(taker.block(&mut got), Source::Block(Beside::default()));
        }
        assert_eq!(taker.block(&mut got), Source::Nothing, "the loop has caught up");
        fill(&mut filler, 1);
        assert_eq!(taker.block(&mut got), Source::Gap(Beside::default(), 0, Span(16 << 16)));
        assert_eq!(taker.block(&mut got), Source::Block(Beside::default()));
        assert_eq!(taker.block(&mut got), Source::Nothing);
    }

    /// Frames before the gap come with it, and the time of all of them is kept: nothing is told twice, nothing left out.
    #[test]
    fn numbers_that_leap_are_a_gap_at_their_place() {
        let mut blocks = Blocks::<16>::new();
        let (mut filler, mut taker) = blocks.split();
        // 13 frames, 20 missing, 8 frames, 1 missing, 8 frames; from just below where the numbers wrap.
        for number in (0..13).chain(33..41).chain(42..50_u32) {
            filler.numbered(number.wrapping_sub(10), Frame([number as i32; CHANNELS]));
        }
        let mut got = [Frame([0; CHANNELS]); BLOCK];
        let (mut time, mut seen) = (0, Vec::new());
        loop {
            let (count, missing) = match taker.block(&mut got) {
                Source::Block(_) => (BLOCK, Span(0)),
                Source::Gap(_, count, missing) => (count, missing),
                _ => break,
            };
            for (n, frame) in got[..count].iter().enumerate() {
                assert_eq!(frame.0[0] as usize, time + n, "a frame at its place");
                seen.push(frame.0[0]);
            }
            time += count + (missing.0 >> 16) as usize;
        }
        assert_eq!(seen, (0..13).chain(33..41).chain(42..50).collect::<Vec<_>>());
        assert_eq!(time, 50);
    }

    #[test]
    fn what_comes_twice_is_left_out_and_counted_once() {
        let mut blocks = Blocks::<4>::new();
        let (mut filler, mut taker) = blocks.split();
        for number in [0, 1, 1, 2, 3, 2, 3, 4, 5, 6, 7] {
            filler.numbered(number, Frame([number as i32; CHANNELS]));
        }
        let mut got = [Frame([0; CHANNELS]); BLOCK];
        assert_eq!(taker.block(&mut got), Source::Block(Beside { repeated: 3, ..Beside::default() }));
        assert_eq!(got.map(|frame| frame.0[0]), [0, 1, 2, 3, 4, 5, 6, 7]);
    }

    /// A leap while the queue is full: what had been filled is missing as well.
    #[test]
    fn a_leap_into_a_full_queue_is_one_gap() {
        let mut blocks = Blocks::<2>::new();
        let (mut filler, mut taker) = blocks.split();
        for number in (0..11).chain(20..36) {
            filler.numbered(number, Frame([number as i32; CHANNELS]));
        }
        let mut got = [Frame([0; CHANNELS]); BLOCK];
        assert_eq!(taker.block(&mut got), Source::Block(Beside::default()));
        for number in 36..44 {
            filler.numbered(number, Frame([number as i32; CHANNELS]));
        }
        assert_eq!(taker.block(&mut got), Source::Gap(Beside::default(), 0, Span(28 << 16)));
        assert_eq!(taker.block(&mut got), Source::Block(Beside::default()));
        assert_eq!(got[0].0[0], 36);
    }

    #[test]
    fn silence_is_told_until_a_block_comes() {
        let mut blocks = Blocks::<2>::new();
        let (mut filler, taker) = blocks.split();
        let mut taker = taker.silent_after(2);
        let mut got = [Frame([0; CHANNELS]); BLOCK];
        assert_eq!(taker.block(&mut got), Source::Nothing);
        assert_eq!(taker.block(&mut got), Source::Nothing);
        assert_eq!(taker.block(&mut got), Source::Silent);
        fill(&mut filler, 1);
        assert_eq!(taker.block(&mut got), Source::Block(Beside::default()));
        assert_eq!(taker.block(&mut got), Source::Nothing);
    }
}
