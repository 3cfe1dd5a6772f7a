//! Capacitors that correct the power factor: in star behind meter and contactor, with the motor.
//!
//! ```text
//! i = C dv/dt,   C = Q / (V^2 2 pi f)   a phase in star, Q at the source's own voltage V and frequency f
//! ```
//!
//! The voltage is the source's: its drop by the current of motor and capacitors is left out, and so are the ramps of sags.
//! They lose nothing, so that no energy flows into them; their inrush on closing and their current with a line lost or
//! open contactor, where they would excite the motor, are not modelled.

use super::super::terminals::Vector;
use super::{Connection, Harmonic, Supply};
use std::f64::consts::{FRAC_PI_2, TAU};

impl Supply {
    /// Current of the capacitors (alpha, beta), A.
    pub fn capacitor_current(&self, t_s: f64, connection: Connection) -> Vector {
        if self.capacitors_kvar == 0.0 || connection != Connection::Whole {
            return [0.0; 2];
        }
        let farad = self.capacitors_kvar * 1e3 / (self.line_v * self.line_v * TAU * self.frequency_hz);
        self.slope(t_s).map(|slope| farad * slope)
    }

    /// How fast the voltage (alpha, beta) changes but for what sags do, V/s.
    fn slope(&self, t_s: f64) -> Vector {
        let angle = self.angle_rad(t_s);
        let hertz = self.hertz(t_s);
        let (sin, cos) = angle.sin_cos();
        let mut turned = [-sin, cos];
        if let Some(against) = self.unbalance {
            let (sin, cos) = (angle + against.phase_rad).sin_cos();
            turned[0] -= against.share * sin;
            turned[1] -= against.share * cos;
        }
        for harmonic in &self.harmonics {
            let ahead = Harmonic { phase_rad: harmonic.phase_rad + FRAC_PI_2, ..*harmonic };
            let (vector, _) = ahead.at(angle);
            turned[0] += f64::from(harmonic.order) * vector[0];
            turned[1] += f64::from(harmonic.order) * vector[1];
        }
        turned.map(|x| TAU * hertz * self.peak_v(t_s) * x)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Drift, Sag, Unbalance};
    use super::*;

    /// The current is C times the difference quotient of the voltage, whatever the source does but for ramps.
    #[test]
    fn current_is_the_voltages_slope() {
        let mut supply = Supply { capacitors_kvar: 20.0, ..Supply::default() };
        supply.unbalance = Some(Unbalance { share: 0.03, phase_rad: 0.7 });
        supply.harmonics =
            [(3, 0.05), (5, 0.06), (7, 0.05)].map(|(order, share)| Harmonic { order, share, phase_rad: 0.4 }).to_vec();
        supply.drifts = vec![Drift { from_s: 0.0, until_s: 1.0, by_hz: 2.0 }];
        supply.sags = vec![Sag { from_s: -1.0, until_s: 9.0, ramp_s: 0.0, depth: 0.2 }];
        let farad = 20e3 / (400.0 * 400.0 * TAU * 50.0);
        for n in 0..200 {
            let (t, d) = (f64::from(n) * 7.3e-3, 1e-6);
            let (before, after) = (supply.voltage(t - d), supply.voltage(t + d));
            let found = supply.capacitor_current(t, Connection::Whole);
            for k in 0..2 {
                let wanted = farad * (after[k] - before[k]) / (2.0 * d);
                assert!((found[k] - wanted).abs() < 1e-4, "{} A for {wanted} A at {t} s", found[k]);
            }
        }
        assert!(supply.capacitor_current(0.3, Connection::Open).iter().all(|i| *i == 0.0));
    }

    /// 20 kvar at 400 V draw 28.87 A: Q / (root 3 V).
    #[test]
    fn rated_current_follows_from_the_rating() {
        let supply = Supply { capacitors_kvar: 20.0, ..Supply::default() };
        let [x, y] = supply.capacitor_current(0.123, Connection::Whole);
        assert!((x.hypot(y) / 2.0_f64.sqrt() - 20e3 / (3.0_f64.sqrt() * 400.0)).abs() < 1e-9);
    }
}
