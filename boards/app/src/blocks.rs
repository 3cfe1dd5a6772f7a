//! The queue between the converter's interrupt and the loop.
//!
//! The interrupt puts frames together to blocks of eight and hands them over whole. When the queue is
//! full the block is dropped: the interrupt never waits. The next block that fits carries how many are
//! missing before it, so that the core hears of the gap at its place and its time stays right.
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
    /// Blocks that were dropped before this one.
    missing: u32,
    frames: [Frame; BLOCK],
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
        let filler = Filler { queue: producer, frames: [Frame([0; CHANNELS]); BLOCK], filled: 0, missing: 0 };
        (filler, Taker { queue: consumer, held: None, silent_after: u32::MAX, empty: 0 })
    }
}

/// The interrupt's end.
pub struct Filler<'a> {
    queue: Producer<'a, Block>,
    frames: [Frame; BLOCK],
    filled: usize,
    missing: u32,
}

impl Filler<'_> {
    /// Takes the next frame. Bounded work: at most one block is copied.
    pub fn frame(&mut self, frame: Frame) {
        if let Some(slot) = self.frames.get_mut(self.filled) {
            *slot = frame;
        }
        self.filled += 1;
        if self.filled >= BLOCK {
            self.filled = 0;
            let block = Block { missing: self.missing, frames: self.frames };
            self.missing = match self.queue.enqueue(block) {
                Ok(()) => 0,
                Err(_) => self.missing.saturating_add(1),
            };
        }
    }
}

/// The loop's end.
pub struct Taker<'a> {
    queue: Consumer<'a, Block>,
    /// A block whose gap has been told.
    held: Option<[Frame; BLOCK]>,
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
        if let Some(frames) = self.held.take() {
            *into = frames;
            return Source::Block(Beside::default());
        }
        if let Some(block) = self.queue.dequeue() {
            self.empty = 0;
            if block.missing > 0 {
                self.held = Some(block.frames);
                // 32 bits of blocks, 3 bits for eight frames each, 16 fraction bits: 51 of 64.
                return Source::Gap(Beside::default(), 0, Span((u64::from(block.missing) * BLOCK as u64) << 16));
            }
            *into = block.frames;
            return Source::Block(Beside::default());
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
