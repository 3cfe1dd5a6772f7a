//! A converter that goes wrong: frames of `frames.bin` come by an interrupt's way, through the queue between interrupt and loop.
//!
//! The loop is faster than the converter: time passes when the queue is empty, and then the next block's frames arrive.

use shaftwork_app::blocks::{Blocks, Filler, Taker};
use shaftwork_app::{Beside, FrameSource, Source};
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::{BLOCK, Frame};
use shaftwork_report_bits::injected::{Fault, Injected};
use static_cell::StaticCell;

use crate::frames::FileFrames;

/// Room for seven blocks: 14 ms at 4 kHz.
const QUEUE: usize = 8;
/// Blocks without a frame after which the converter is called silent: a tenth of a second at 4 kHz.
const SILENT: u32 = 50;

static BLOCKS: StaticCell<Blocks<QUEUE>> = StaticCell::new();

/// The converter, its interrupt and the queue.
pub struct Converter {
    file: FileFrames,
    filler: Filler<'static>,
    taker: Taker<'static>,
    injected: Injected,
    /// Frames that the converter was triggered for.
    number: u32,
    /// What it gave last.
    stuck: Frame,
    /// The rest, fewer than a block, when the file has ended.
    rest: Option<([Frame; BLOCK], usize)>,
}

impl Converter {
    /// Frames of a file with what is injected.
    ///
    /// # Errors
    ///
    /// The queue is lent already.
    pub fn new(file: FileFrames, injected: Injected) -> Result<Self, &'static str> {
        let blocks = BLOCKS.try_init_with(Blocks::new).ok_or("the queue is lent already")?;
        let (filler, taker) = blocks.split();
        let taker = taker.silent_after(SILENT);
        Ok(Self { file, filler, taker, injected, number: 0, stuck: Frame([0; CHANNELS]), rest: None })
    }

    /// A block's time passes: more where the loop is late.
    fn pass(&mut self) {
        let late = self.injected.fault == Fault::LoopLate && self.reached();
        for _ in 0..if late { self.injected.amount } else { 1 } {
            self.interrupts();
        }
        if late {
            self.injected.fault = Fault::Nothing;
        }
    }

    /// Whether the fault begins within the next block.
    const fn reached(&self) -> bool {
        self.number + BLOCK as u32 > self.injected.at
    }

    /// Eight interrupts, a frame each.
    fn interrupts(&mut self) {
        if self.rest.is_some() {
            return;
        }
        let mut frames = [Frame([0; CHANNELS]); BLOCK];
        match self.file.block(&mut frames) {
            Source::Block(_) => {}
            Source::End(_, count) => {
                self.rest = Some((frames, count));
                return;
            }
            // A trace with gaps of its own is not for this.
            _ => return,
        }
        for frame in frames {
            self.interrupt(frame);
        }
    }

    fn interrupt(&mut self, frame: Frame) {
        let Injected { fault, at, amount } = self.injected;
        let number = self.number;
        self.number += 1;
        let within = |length: u32| number >= at && number - at < length;
        match fault {
            Fault::FramesLost if within(amount) => {}
            Fault::ConverterSilent if within(amount.saturating_mul(BLOCK as u32)) => {}
            Fault::FramesDoubled if within(amount) => {
                self.filler.numbered(number, frame);
                self.filler.numbered(number, frame);
            }
            Fault::ConverterStuck if number >= at => self.filler.numbered(number, self.stuck),
            _ => {
                self.stuck = frame;
                self.filler.numbered(number, frame);
            }
        }
    }
}

impl FrameSource for Converter {
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source {
        let found = self.taker.block(into);
        match (found, self.rest) {
            (Source::Nothing | Source::Silent, Some((frames, count))) => {
                *into = frames;
                Source::End(Beside::default(), count)
            }
            (Source::Nothing | Source::Silent, None) => {
                self.pass();
                found
            }
            _ => found,
        }
    }
}
