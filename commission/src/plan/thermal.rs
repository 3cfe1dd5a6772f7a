//! The thermal image: `t = tau ln((x - p) / (x - 1))`, x the square of the current over k times base current, p the level that it begins at
//! (IEC 60255-149, hot and cold characteristic; IEC 60255-8 before it; from memory).
//!
//! A time is right within 1 %, and the allowance of the others.

use super::{BEHIND_30, Maker, Stage, Test, narrow, on, part, until};
use crate::sheet::{Figure, Way, Why};
use crate::source::State;
use crate::vector::Vector;
use shaftwork_core::math::log::ln_ratio;

impl Maker<'_> {
    pub(super) fn thermal(&self, way: Way) -> Result<Test, Why> {
        let t = on(self.all.trips.thermal)?;
        // The level that it begins at, and the current over k times base current, ppm. The pick-up is tried from nearly there.
        let (from, times) = match way {
            Way::Cold => (0, 6_000_000),
            Way::Hot => (900_000, 2_000_000),
            _ => (999_000, 1_050_000_u32),
        };
        let from = t.initial_ppm.max(from);
        if from >= 1_000_000 || way == Way::PickUp && t.initial_ppm > 999_000 {
            return Err(Why::Level);
        }
        let set = part(t.base_current_ma.into(), t.k_ppm);
        let beyond = part(set, times);
        let short = if way == Way::PickUp { part(set, 950_000) } else { beyond };
        let square = u64::from(times / 1_000) * u64::from(times / 1_000); // ppm
        let ln = ln_ratio(square - u64::from(from), square - 1_000_000).unsigned_abs();
        // 30 + 22 bits at most.
        let time = (self.frames(t.heating_ms) * ln) >> 24;
        let wanted = [part(time, 990_000), part(time, 1_010_000) + self.allowance()];
        let [at_short, at_beyond] = [short, beyond].map(|ma| self.feeding(ma));
        // The hot and the cold time are borne but for a twentieth.
        let held = if way == Way::PickUp { 2 * time + self.allowance() } else { part(time, 950_000) };
        let test = Test {
            preset: Some(((u64::from(from) << 32) / 1_000_000).cast_signed()),
            before: Stage::default(),
            held: [Stage { state: at_short, frames: held }, Stage { state: self.rest(), frames: self.half_cycles(20) }],
            step: until(at_beyond, wanted),
            wanted,
            ..self.definite([at_beyond; 2], 0)
        };
        Ok(test.figures(Figure::Milliamps, set, short, beyond))
    }

    /// Balanced currents, 30 degrees behind the nominal voltages.
    fn feeding(&self, ma: u64) -> State {
        self.with(Vector::milli(narrow(ma), BEHIND_30))
    }
}
