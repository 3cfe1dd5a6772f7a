//! Waveform capture: the frames before and after a moment, in a buffer that the caller lends.
//!
//! Fed the same blocks as the meter and apart from it. The ring always holds the latest frames;
//! [`Capture::trigger`] lets it run on for a number of frames and then stand still until
//! [`Capture::rearm`]. Codes wider than 16 bits are kept by their upper 16, rounded down.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Running` | `Ending` | `trigger` |
//! | `Ending` | `Still` | the frames after the trigger are in |
//! | any | `Running` | `rearm` |

use crate::frame::{BLOCK, Frame};
use crate::settings::CHANNELS;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mode {
    Running,
    Ending { left: usize },
    Still,
}

/// The latest frames, in a lent buffer.
///
/// ```
/// use shaftwork_core::{Frame, capture::Capture};
/// let mut buffer = [0i16; 6 * 32];
/// let mut capture = Capture::new(&mut buffer, 16, 8);
/// capture.push(&[Frame([1, 2, 3, 4, 5, 6]); 8]);
/// capture.trigger();
/// capture.push(&[Frame([7; 6]); 8]);
/// capture.push(&[Frame([9; 6]); 8]); // too late
/// assert!(capture.is_still());
/// assert_eq!(capture.frames().count(), 16);
/// assert_eq!(capture.frames().last(), Some([7; 6]));
/// ```
#[derive(Debug)]
pub struct Capture<'a> {
    ring: &'a mut [i16],
    shift: u8,
    after: usize,
    mode: Mode,
    /// Place of the next frame, and how many are in.
    next: usize,
    filled: usize,
}

impl<'a> Capture<'a> {
    /// Runs at once. The buffer holds a frame for each six of its length; `after` frames of them come
    /// after the trigger (held to what the buffer has room for).
    #[must_use]
    pub fn new(ring: &'a mut [i16], bits: u8, after: usize) -> Self {
        let after = after.min(ring.len() / CHANNELS);
        Self { ring, shift: bits.clamp(16, 32) - 16, after, mode: Mode::Running, next: 0, filled: 0 }
    }

    /// How many frames the buffer holds.
    #[must_use]
    pub const fn capacity(&self) -> usize {
        self.ring.len() / CHANNELS
    }

    /// Takes a block, as long as it does not stand still.
    pub fn push(&mut self, block: &[Frame; BLOCK]) {
        for frame in block {
            if self.mode == Mode::Still {
                return;
            }
            self.keep(frame);
            if let Mode::Ending { left } = self.mode {
                self.mode = if left > 1 { Mode::Ending { left: left - 1 } } else { Mode::Still };
            }
        }
    }

    fn keep(&mut self, frame: &Frame) {
        let capacity = self.capacity();
        let start = self.next * CHANNELS; // below the buffer's length
        let Some(place) = self.ring.get_mut(start..start + CHANNELS) else { return };
        for (kept, code) in place.iter_mut().zip(frame.0) {
            *kept = (code >> self.shift).clamp(i16::MIN.into(), i16::MAX.into()) as i16;
        }
        self.next = if self.next + 1 >= capacity { 0 } else { self.next + 1 };
        self.filled = if self.filled < capacity { self.filled + 1 } else { capacity };
    }

    /// The moment to keep. A second one before [`Capture::rearm`] changes nothing: the first event is
    /// what people look for.
    pub const fn trigger(&mut self) {
        if matches!(self.mode, Mode::Running) {
            self.mode = if self.after == 0 { Mode::Still } else { Mode::Ending { left: self.after } };
        }
    }

    /// Whether it stands still, to be read.
    #[must_use]
    pub const fn is_still(&self) -> bool {
        matches!(self.mode, Mode::Still)
    }

    /// Forgets what it holds and runs again.
    pub const fn rearm(&mut self) {
        self.mode = Mode::Running;
        self.next = 0;
        self.filled = 0;
    }

    /// The frames it holds, oldest first.
    pub fn frames(&self) -> impl Iterator<Item = [i16; CHANNELS]> + '_ {
        let oldest = if self.filled < self.capacity() { 0 } else { self.next };
        let (later, earlier) = (self.ring.get(oldest * CHANNELS..).unwrap_or_default(), &*self.ring);
        let (later, _) = later.as_chunks::<CHANNELS>();
        let (earlier, _) = earlier.as_chunks::<CHANNELS>();
        later.iter().chain(earlier).copied().take(self.filled)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::vec::Vec;

    fn block(from: i32) -> [Frame; BLOCK] {
        core::array::from_fn(|f| Frame([from + f as i32; CHANNELS]))
    }

    fn held(capture: &Capture<'_>) -> Vec<i16> {
        capture.frames().map(|frame| frame[0]).collect()
    }

    #[test]
    fn holds_what_came_before_and_after() {
        let mut buffer = [0; 20 * CHANNELS + 5]; // five that no frame fits in
        let mut capture = Capture::new(&mut buffer, 16, 4);
        assert_eq!((capture.capacity(), held(&capture).len()), (20, 0));
        for n in 0..5 {
            capture.push(&block(8 * n));
        }
        assert_eq!(held(&capture), (20..40).collect::<Vec<i16>>());
        capture.trigger();
        capture.push(&block(40));
        capture.trigger();
        capture.push(&block(48));
        assert!(capture.is_still());
        assert_eq!(held(&capture), (24..44).collect::<Vec<i16>>(), "four after the trigger, in mid-block");
        capture.rearm();
        capture.push(&block(0));
        assert_eq!(held(&capture), (0..8).collect::<Vec<i16>>());
    }

    #[test]
    fn wide_codes_and_no_room() {
        let mut buffer = [0; CHANNELS];
        let mut capture = Capture::new(&mut buffer, 24, 0);
        capture.push(&[Frame([i32::MAX, i32::MIN, 8_388_607, -8_388_608, 256, -1]); BLOCK]);
        assert_eq!(capture.frames().next(), Some([i16::MAX, i16::MIN, i16::MAX, i16::MIN, 1, -1]));
        let mut none = [0; CHANNELS - 1];
        let mut capture = Capture::new(&mut none, 16, 3);
        capture.push(&block(0));
        capture.trigger();
        assert_eq!((capture.is_still(), held(&capture).len()), (true, 0));
    }
}
