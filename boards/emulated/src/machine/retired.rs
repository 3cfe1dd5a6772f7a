//! How many instructions the core takes, where the processor counts what it retires (RISC-V, `minstret`).
//!
//! The emulator runs with `-icount shift=0` and counts exactly. What the measuring itself takes is found by measuring nothing, and taken
//! off.

use core::hint::black_box;

use riscv::register::minstret;
use shaftwork_app::Probe;

use super::Figures;

/// Counts the instructions between `begin` and `end`.
pub struct Load {
    nothing: u64,
    begun: u64,
    found: Figures,
}

impl Load {
    /// Finds out what measuring costs.
    pub fn new() -> Self {
        let mut load = Self { nothing: 0, begun: 0, found: Figures::default() };
        load.begin();
        load.nothing = load.since();
        load
    }

    /// What was found, what measuring costs taken off.
    pub fn figures(&self) -> Figures {
        self.found
    }

    fn since(&self) -> u64 {
        (minstret::read64() as u64).wrapping_sub(self.begun)
    }
}

impl Probe for Load {
    #[inline(never)]
    fn begin(&mut self) {
        self.begun = black_box(minstret::read64() as u64);
    }

    #[inline(never)]
    fn end(&mut self, frames: usize) {
        let took = self.since().saturating_sub(self.nothing);
        self.found.instructions += took;
        self.found.worst = self.found.worst.max(took as u32);
        self.found.frames += frames as u64;
        self.found.calls += 1;
    }
}
