//! The search for the target with the least energy for what is fed.
//!
//! ```text
//! for a dwell, once the last step has arrived: energy = sum of loads, fed = what was weighed, else sum of speeds       cost = energy / fed
//! cheaper than the dwell before: one step on; dearer: one step back
//! target between lowest and min(highest, stop level - (p95 - mean))
//! ```
//!
//! Hill climbing by equal steps. A load that scatters is held further off the choke (the headroom of its 95th percentile over its
//! mean). Without a weighed mass the feeder's speed stands for it. Published searches of this kind are slow when far off; off by default.

use super::governor::{Reading, share};
use crate::settings::FeederCoefficients;

/// Windows, beyond the delay, before a dwell counts: 10 s.
const SETTLE: u32 = 50;

/// The memory; loads at Q32, sums at Q16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Searching {
    /// From the settings' target.
    offset: i64,
    /// Whether the last step went down.
    down: bool,
    windows: u32,
    energy: i64,
    speed: i64,
    mass_mg: Option<u64>,
    /// Energy and what was fed of the dwell before.
    before: Option<(i64, i64)>,
}

impl Searching {
    /// Goes a window on.
    pub(super) fn step(&mut self, c: &FeederCoefficients, r: &Reading, speed: i64, feeding: bool) {
        let Some(s) = &c.search else { return };
        if !feeding {
            // A dwell with a stop in it tells nothing.
            *self = self.again();
            return;
        }
        let load = share(r.load);
        // What the last step does has to arrive first.
        let settle = u32::from(c.delay) + SETTLE;
        if self.windows <= settle {
            self.mass_mg = r.mass_mg;
            (self.energy, self.speed) = (0, 0);
        }
        self.windows += 1;
        // At most 180 000 windows of 2^23.
        self.energy += load >> 16;
        self.speed += speed >> 16;
        if self.windows < s.dwell + settle {
            return;
        }
        let fed = match (self.mass_mg, r.mass_mg) {
            (Some(from), Some(to)) => to.saturating_sub(from).min(1 << 40) as i64,
            _ => self.speed,
        };
        if let Some((energy, before)) = self.before {
            // energy / fed > before's energy / fed, without a division: 42 + 41 bits.
            let dearer = i128::from(self.energy) * i128::from(before) > i128::from(energy) * i128::from(fed);
            self.down ^= dearer;
        }
        self.before = Some((self.energy, fed));
        let step = if self.down { -s.step } else { s.step };
        self.offset = (c.target + self.offset + step).max(s.lowest).min(s.highest) - c.target;
        (self.windows, self.energy, self.speed) = (0, 0, 0);
    }

    /// The dwell begins anew; what was found stays.
    pub(super) fn again(self) -> Self {
        Self { windows: 0, energy: 0, speed: 0, mass_mg: None, before: None, ..self }
    }

    /// The target that holds, of a load that scatters so far.
    pub(super) fn target(&self, c: &FeederCoefficients, headroom: i64) -> i64 {
        let Some(s) = &c.search else { return c.target };
        (c.target + self.offset).min(s.ceiling - headroom).max(s.lowest)
    }
}
