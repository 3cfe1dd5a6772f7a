//! Where frames come from. `embedded-hal` has no trait for a converter, so this is our own.

use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, FeedInputs, Frame};
use shaftwork_report_bits::Speed;

/// What came beside a block's frames, holding from its first frame on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Beside {
    /// Total mass fed so far, mg, where it is new.
    pub mass_mg: Option<u64>,
    /// The tachometer.
    pub speed: Speed,
    /// What the feed's inputs tell, where it is new.
    pub feed: Option<FeedInputs>,
    /// Frames that came twice before and were left out.
    pub repeated: u32,
}

/// What a source has at the moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// No whole block yet: ask again.
    Nothing,
    /// A block of eight frames.
    Block(Beside),
    /// The last 0 to 7 frames before samples are missing, and how much is missing: after an overrun
    /// of the queue, mostly.
    Gap(Beside, usize, Span),
    /// The converter has been silent for longer than it should be.
    Silent,
    /// The last frames, 0 to 7 of them, and no more ever: only on an emulator or in a test.
    End(Beside, usize),
}

/// A converter, as the loop sees it.
pub trait FrameSource {
    /// Puts the next frames into `into` if there are any. Never waits.
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source;
}
