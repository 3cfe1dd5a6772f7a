//! How warm the windings are, and what their resistances are then.
//!
//! ```text
//! tau dx/dt + x = (I / Ir)²                  x: rise over the rise at rated current
//! R(x) = R (k + ambient + rise x) / (k + ambient + rise) = R (1 - share (1 - x))
//! ```
//!
//! k = 234.5 for copper, 225 for aluminium; I is the root of the mean square of the three currents. One time constant
//! for stator and cage; core and stray losses warm neither: near rated load the resistance is right within 2 %, at
//! light load a warm core makes it up to 8 % higher than told, of a loss that is small then.

use super::shaft::ONE;
use crate::math::lag::Lag;
use crate::settings::MotorCoefficients;
use crate::time::Span;

/// The windings' memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Winding {
    rise: Lag,
}

/// Resistances over those that the settings have, Q24: within 0.05 to 8.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Warm {
    pub(super) stator: i64,
    pub(super) rotor: i64,
}

impl Winding {
    pub(super) const fn new(c: &MotorCoefficients) -> Self {
        let rise = match &c.winding {
            Some(w) => w.start,
            None => 1 << 32,
        };
        Self { rise: Lag::new(rise) }
    }

    /// Takes a half cycle's mean squared current over the square of the rated one, Q24.
    pub(super) fn update(&mut self, c: &MotorCoefficients, current: u32, length: Span) {
        let Some(w) = &c.winding else { return };
        // Below 256 at Q24; to Q32.
        self.rise.update(i64::from(current) << 8, w.warming, length);
    }

    pub(super) fn warm(self, c: &MotorCoefficients) -> Warm {
        let Some(w) = &c.winding else { return Warm { stator: ONE, rotor: ONE } };
        // The rise is kept to eight times the rated one: 28 + 27 bits.
        let missing = ONE - (self.rise.level() >> 8).min(8 * ONE);
        let of = |share: i32| ONE - ((i64::from(share) * missing) >> 24);
        Warm { stator: of(w.stator), rotor: of(w.rotor) }
    }
}
