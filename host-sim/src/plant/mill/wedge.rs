//! A piece that is stuck between rotor and casing.
//!
//! ```text
//! torque = T x^2 (3 - 2x),   x = (t - at) / rise within 0 .. 1;   its integral over x is T (x^3 - x^4 / 2)
//! ```

use serde::{Deserialize, Serialize};

/// Torque that rises and stays until the piece comes loose.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wedge {
    /// When it begins, s.
    pub at_s: f64,
    /// How long the torque takes to rise, s (0.1 to 0.4 is usual).
    pub rise_s: f64,
    /// Torque that stays, N m.
    pub torque_nm: f64,
    /// When the piece comes loose, s; infinity for never.
    #[serde(default = "crate::plant::never")]
    pub until_s: f64,
}

impl Wedge {
    /// Torque at a time, N m.
    pub(super) fn torque(&self, t_s: f64) -> f64 {
        let x = if t_s < self.until_s { ((t_s - self.at_s) / self.rise_s).clamp(0.0, 1.0) } else { 0.0 };
        self.torque_nm * x * x * (3.0 - 2.0 * x)
    }

    /// Torque over a span of time, N m s.
    pub(super) fn impulse(&self, from_s: f64, until_s: f64) -> f64 {
        let by = |t_s: f64| {
            let since = t_s.min(self.until_s) - self.at_s;
            let x = (since / self.rise_s).clamp(0.0, 1.0);
            self.rise_s * x * x * x * (1.0 - x / 2.0) + (since - self.rise_s).max(0.0)
        };
        self.torque_nm * (by(until_s) - by(from_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rises_stays_and_comes_loose() {
        let wedge = Wedge { at_s: 2.0, rise_s: 0.2, torque_nm: 900.0, until_s: 200.0 };
        for (t, wanted) in [(1.9, 0.0), (2.1, 450.0), (2.2, 900.0), (100.0, 900.0), (200.0, 0.0)] {
            assert!((wedge.torque(t) - wanted).abs() < 1e-9);
        }
    }

    /// The impulse is the torque's integral, whatever the span.
    #[test]
    fn the_impulse_is_the_integral_of_the_torque() {
        let wedge = Wedge { at_s: 2.0, rise_s: 0.2, torque_nm: 900.0, until_s: 2.5 };
        for (from, until) in [(1.0, 1.9), (1.9, 2.05), (2.05, 2.3), (2.3, 2.45), (2.4, 3.0), (1.0, 3.0)] {
            let steps = 20_000;
            let h = (until - from) / f64::from(steps);
            let sum: f64 = (0..steps).map(|n| wedge.torque(from + (f64::from(n) + 0.5) * h) * h).sum();
            let found = wedge.impulse(from, until);
            assert!((found - sum).abs() < 0.05, "{from} to {until}: {found}, summed {sum}");
        }
    }
}
