//! What this board lends its recorder: 64 events, half cycles of 20 s at 50 Hz, and 32 kB of frames in two rings.

use shaftwork_core::Snapshot;
use shaftwork_core::recorder::{Capture, Entry, Log, Point, Recorder, Shape, Trend};
use shaftwork_core::settings::{CHANNELS, Coefficients};
use static_cell::ConstStaticCell;

use crate::files;

static MEMORY: ConstStaticCell<Memory> = ConstStaticCell::new(Memory::new());

/// The recorder with the memory of this board, which is lent once.
///
/// # Errors
///
/// It is lent already.
pub fn recorder(c: &Coefficients, bits: u8, rate_mhz: u32) -> Result<Recorder<'static>, &'static str> {
    let memory = MEMORY.try_take().ok_or("the recorder's memory is lent already")?;
    Ok(memory.recorder(c, shape(bits, rate_mhz)))
}

/// What captures keep.
fn shape(bits: u8, rate_mhz: u32) -> Shape {
    let mut bytes = [0; 2];
    let shape = Shape::thinned(bits, rate_mhz);
    let read = files::read(c"shape.bin", &mut bytes);
    if read == bytes.len() { Shape { halvings: bytes[0], after: bytes[1], ..shape } } else { shape }
}

/// The memory. It stays where it is as long as the recorder lives.
pub struct Memory {
    entries: [Option<Entry>; 64],
    points: [Point; 2_000],
    feeds: [u16; 128],
    frames: [[i16; CHANNELS]; 2_730],
    snapshots: [Option<Snapshot>; 3],
}

impl Memory {
    /// Holds nothing yet.
    #[expect(clippy::large_stack_arrays, reason = "made where it stays, as a static")]
    pub const fn new() -> Self {
        Self {
            entries: [None; 64],
            points: [Point::from_bits(0); 2_000],
            feeds: [0; 128],
            frames: [[0; CHANNELS]; 2_730],
            snapshots: [None, None, None],
        }
    }

    /// Lends it.
    pub fn recorder(&mut self, c: &Coefficients, shape: Shape) -> Recorder<'_> {
        Recorder {
            log: Log::new(&mut self.entries, 1),
            trend: Trend::new(&c.judge, &mut self.points, &mut self.feeds, 1),
            capture: Capture::new(&mut self.frames, &mut self.snapshots, shape),
        }
    }
}
