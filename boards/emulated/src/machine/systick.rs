//! How many instructions the core takes on a Cortex-M.
//!
//! The emulator runs with `-icount shift=0`: an instruction is a nanosecond of its time, and SysTick
//! at 25 MHz ticks once per 40 instructions. That is an instruction count, exactly repeatable; it says
//! nothing about cycles, because the emulator knows no wait states and no pipeline.
//!
//! One tick is too coarse for a single call. So each call starts right after a tick, and after it the
//! time to the next tick is measured with a loop whose length is known (found at the start: how many
//! rounds fit into a tick). What the measuring itself takes is found by measuring nothing, and taken
//! off. A loop of a known length is found within 12 instructions, on the dear side.

use core::hint::black_box;

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use shaftwork_app::Probe;

use super::Figures;

/// Instructions in a tick: 1 GHz over 25 MHz.
const TICK: u32 = 40;
/// SysTick counts down through 24 bits: 6.7e8 instructions, far more than a call takes.
const MASK: u32 = 0x00ff_ffff;
/// Fraction bits of a count of instructions.
const Q: u32 = 8;
const TRIALS: u32 = 64;

/// Counts the instructions between `begin` and `end`.
pub struct Load {
    /// Instructions in a round of the loop that waits for a tick, Q8.
    round: u32,
    /// What measuring nothing gives, Q8.
    nothing: u32,
    begun: u32,
    frames: u64,
    calls: u32,
    sum: u64,
    worst: u32,
}

/// Waits for the next tick; returns the counter then, and the rounds it took.
#[inline(never)]
fn next_tick() -> (u32, u32) {
    let before = SYST::get_current();
    let mut rounds = 0;
    loop {
        let now = SYST::get_current();
        rounds += 1;
        if now != before {
            return (now, rounds);
        }
    }
}

impl Load {
    /// Starts the counter and finds out what measuring costs.
    ///
    /// # Panics
    ///
    /// When the peripherals are taken: nobody else does.
    pub fn new() -> Self {
        let mut syst = cortex_m::Peripherals::take().expect("nobody else takes them").SYST;
        syst.set_clock_source(SystClkSource::Core);
        syst.set_reload(MASK);
        syst.clear_current();
        syst.enable_counter();
        let mut load = Self { round: 0, nothing: 0, begun: 0, frames: 0, calls: 0, sum: 0, worst: 0 };
        next_tick();
        let (start, _) = next_tick();
        let (mut end, mut rounds) = (start, 0);
        for _ in 0..TRIALS {
            let (now, more) = next_tick();
            end = now;
            rounds += more;
        }
        load.round = (((start.wrapping_sub(end) & MASK) * TICK) << Q) / rounds;
        let mut sum = 0;
        for _ in 0..TRIALS {
            load.begin();
            sum += load.since();
        }
        load.nothing = sum / TRIALS;
        load
    }

    /// What was found, what measuring costs taken off.
    pub fn figures(&self) -> Figures {
        Figures { frames: self.frames, calls: self.calls, instructions: self.sum >> Q, worst: self.worst >> Q }
    }

    /// Instructions since `begin`, Q8, with what measuring costs.
    ///
    /// Width: Q8 of a call below 16 million instructions fits 32 bits.
    fn since(&self) -> u32 {
        let (now, rounds) = next_tick();
        let whole = (self.begun.wrapping_sub(now) & MASK) * TICK;
        (whole << Q).saturating_sub(rounds * self.round)
    }
}

impl Probe for Load {
    #[inline(never)]
    fn begin(&mut self) {
        self.begun = black_box(next_tick().0);
    }

    #[inline(never)]
    fn end(&mut self, frames: usize) {
        let took = self.since().saturating_sub(self.nothing);
        self.sum += u64::from(took);
        self.worst = self.worst.max(took);
        self.frames += frames as u64;
        self.calls += 1;
    }
}
