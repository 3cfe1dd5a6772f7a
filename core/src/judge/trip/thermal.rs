//! Thermal image, first order (IEC 60255-149): `tau dθ/dt + θ = (Ieq / (k Ib))²`, trip at θ = 1.
//!
//! `Ieq² = (largest phase's one-cycle true rms)² + q I2²`. With current the heating time constant
//! holds, without it the cooling one.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Quiet` | `Given` | θ >= 1 |
//! | `Given` | `Quiet` | a person resets |

use super::View;
use super::timer::Level;
use crate::math::lag::Lag;
use crate::settings::ThermalCoefficients;
use crate::unit::{Ratio, SquareAmps};

/// The trip level at Q32.
const TRIP: i64 = 1 << 32;

/// The image's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Image {
    level: Lag,
}

impl Image {
    pub(crate) const fn new(c: &ThermalCoefficients) -> Self {
        Self { level: Lag::new(c.initial) }
    }

    pub(crate) fn update(&mut self, c: &ThermalCoefficients, view: &View) -> Level {
        let negative = c.negative_sequence.apply(SquareAmps::of(view.half.current_negative).0 as i64);
        let equivalent = (view.largest.0.min(i64::MAX as u64) as i64).saturating_add(negative.max(0));
        let constant = if view.flows { c.heating } else { c.cooling };
        self.level.update(c.level.apply(equivalent), constant, view.length);
        Level::when(self.level.level() >= TRIP)
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
        let q24 = self.level.level() >> 8;
        Ratio::from_bits(if q24 > i32::MAX as i64 { i32::MAX } else { q24 as i32 })
    }
}
