//! Thermal image, first order (IEC 60255-149): `tau dθ/dt + θ = (Ieq / (k Ib))²`, trip at θ = 1.
//!
//! `Ieq² = (largest phase's one-cycle true rms)² + q I2²`. With current the heating time constant holds, without it the cooling one.
//!
//! **Hot and cold.** The plain image remembers a full load as nearly the trip level, so that a hot restart of a heavy rotor trips within
//! a tenth of the cold time, though the motor's hot stall time is not so much shorter than its cold one: a load that may stay for ever
//! warms the stator, a stall the rotor. So a current below k Ib leads to `h (Ieq / (k Ib))²`, `h = 1 - hot stall time / cold stall
//! time` (practice after IEEE C37.96 and IEEE 620, from memory); above it the equation is as it was.
//!
//! **Foretold.** At a current that stays, `t = tau ln((x - θ) / (x - 1))` to the trip, x the squared ratio above one; at rest
//! `t = tau ln(θ / θr)` until θr. Within 1e-6 of tau.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Quiet` | `Given` | θ >= 1 |
//! | `Given` | `Quiet` | a person resets |

use super::View;
use super::timer::Level;
use crate::math::lag::{Lag, time};
use crate::math::scale::narrow;
use crate::settings::ThermalCoefficients;
use crate::time::Span;
use crate::unit::{Ratio, SquareAmps};

/// The trip level at Q32.
const TRIP: i64 = 1 << 32;

/// The image's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Image {
    level: Lag,
    /// The level that the last current leads to, Q32.
    target: i64,
}

impl Image {
    pub(crate) const fn new(c: &ThermalCoefficients) -> Self {
        Self { level: Lag::new(c.initial), target: 0 }
    }

    pub(crate) fn update(&mut self, c: &ThermalCoefficients, view: &View) -> Level {
        let negative = c.negative_sequence.apply(SquareAmps::of(view.half.current_negative).0 as i64);
        let equivalent = (view.largest.0.min(i64::MAX as u64) as i64).saturating_add(negative.max(0));
        let constant = if view.flows { c.heating } else { c.cooling };
        let square = c.level.apply(equivalent);
        self.target = if square > TRIP { square } else { c.running.apply(square) };
        self.level.update(self.target, constant, view.length);
        Level::when(self.level.level() >= TRIP)
    }

    pub(crate) fn time_to_trip(&self, c: &ThermalCoefficients) -> Option<Span> {
        let above = u64::try_from(self.target.saturating_sub(TRIP)).ok().filter(|above| *above > 0)?;
        let left = self.target.saturating_sub(self.level.level()).max(0).unsigned_abs();
        Some(time(c.times[0], left, above))
    }

    pub(crate) fn time_to_cool(&self, c: &ThermalCoefficients, level: i64) -> Span {
        let [now, then] = [self.level.level(), level].map(|level| level.max(1).unsigned_abs());
        time(c.times[1], now, then)
    }

    /// As it was before a power cut (Q32): never below the level at the first frame.
    pub(crate) fn resume(&mut self, q32: i64) {
        self.level = Lag::new(q32.max(self.level.level()));
    }

    /// The level at Q32.
    pub(crate) const fn q32(&self) -> i64 {
        self.level.level()
    }

    /// The level, 1 is the trip level; saturates at 127.
    pub(crate) const fn level(&self) -> Ratio {
        Ratio::from_bits(narrow(self.level.level() >> 8))
    }
}
