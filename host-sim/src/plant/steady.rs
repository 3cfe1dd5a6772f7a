//! The motor in steady state, and the nameplate that follows from it.
//!
//! ```text
//! Z(s) = Rs + 1 / (g + 1 / (jXls + jXm || (Rr(s)/s + jXlr)))      I = V / Z
//! P_gap = 3 I_r^2 Rr/s = Te w_sync      shaft = P_gap (1 - s) - stray - friction      (losses as in `circuit`)
//! ```
//!
//! Units: V, A rms; W for three phases; slip as a share of synchronous speed. Balanced sine supply.

use super::circuit::{Circuit, rpm};
use num_complex::Complex64 as Complex;

/// A steady operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Share of synchronous speed that is lost.
    pub slip: f64,
    /// Shaft speed, rpm.
    pub speed_rpm: f64,
    /// Line current, A rms.
    pub current_a: f64,
    /// Power factor, lagging.
    pub power_factor: f64,
    /// Input, W.
    pub input_w: f64,
    /// Torque of the field, N m.
    pub air_gap_nm: f64,
    /// Power at the shaft, W.
    pub shaft_w: f64,
    /// Torque at the shaft, N m.
    pub shaft_nm: f64,
    /// Stator winding, core, rotor winding, stray, friction: W each.
    pub losses_w: [f64; 5],
}

impl Point {
    /// Shaft power over input; 0 where no power is delivered.
    pub fn efficiency(&self) -> f64 {
        if self.shaft_w > 0.0 { self.shaft_w / self.input_w } else { 0.0 }
    }
}

/// What a nameplate and its data sheet say.
#[derive(Debug, Clone, PartialEq)]
pub struct Nameplate {
    /// At rated shaft power.
    pub rated: Point,
    /// At standstill.
    pub locked: Point,
    /// At the largest shaft torque.
    pub breakdown: Point,
    /// At 25, 50, 75, 100 and 125 % of rated shaft power.
    pub curve: [(f64, Point); 5],
}

impl Circuit {
    /// The point at a slip, at rated voltage and frequency. Slip 0 is synchronous speed.
    pub fn at_slip(&self, slip: f64) -> Point {
        let sync = self.synchronous_rad_s();
        let speed = sync * (1.0 - slip);
        let phase_v = self.line_v / 3.0_f64.sqrt();
        let rotor_ohm = self.rotor_ohm_at(speed);
        // As admittances, so that slip 0 (no rotor current) needs no case of its own.
        let rotor = Complex::new(slip, 0.0) / Complex::new(rotor_ohm, slip * self.rotor_leakage_ohm);
        let gap = 1.0 / (1.0 / Complex::new(0.0, self.magnetising_ohm) + rotor);
        let flux_branch = 1.0 / (gap + Complex::new(0.0, self.stator_leakage_ohm));
        let behind = 1.0 / (flux_branch + Complex::new(self.core_siemens, 0.0));
        let current = Complex::new(phase_v, 0.0) / (behind + Complex::new(self.stator_ohm, 0.0));
        let e = current * behind;
        let i_rotor = e * flux_branch * gap * rotor;
        let square = current.norm_sqr();
        let rotor_w = 3.0 * i_rotor.norm_sqr() * rotor_ohm;
        let air_gap_w = 3.0 * (e * flux_branch * gap).norm_sqr() * rotor.re;
        let stray_w = self.stray_nm(square, speed) * speed;
        let friction_w = self.friction_nm(speed) * speed;
        let air_gap_nm = air_gap_w / sync;
        let shaft_nm = air_gap_nm - self.stray_nm(square, speed) - self.friction_nm(speed);
        Point {
            slip,
            speed_rpm: rpm(speed),
            current_a: square.sqrt(),
            power_factor: current.re / square.sqrt(),
            input_w: 3.0 * phase_v * current.re,
            air_gap_nm,
            shaft_w: shaft_nm * speed,
            shaft_nm,
            losses_w: [
                3.0 * square * self.stator_ohm,
                3.0 * e.norm_sqr() * self.core_siemens,
                rotor_w,
                stray_w,
                friction_w,
            ],
        }
    }

    /// The point of the largest shaft torque.
    pub fn breakdown(&self) -> Point {
        // The torque has one peak between synchronous speed and standstill for every preset here; a scan of
        // slips that grow by 1 % steps and then a ternary search finds it.
        let mut best = 1e-3;
        let mut slip = best;
        while slip < 1.0 {
            if self.at_slip(slip).shaft_nm > self.at_slip(best).shaft_nm {
                best = slip;
            }
            slip *= 1.01;
        }
        let (mut low, mut high) = (best / 1.01, best * 1.01);
        for _ in 0..80 {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if self.at_slip(a).shaft_nm < self.at_slip(b).shaft_nm {
                low = a;
            } else {
                high = b;
            }
        }
        self.at_slip(f64::midpoint(low, high))
    }

    /// Where the motor settles under a load torque (N m, by speed in rad/s); none if the load pulls it out.
    pub fn settle(&self, load_nm: impl Fn(f64) -> f64) -> Option<Point> {
        let surplus = |slip: f64| self.at_slip(slip).shaft_nm - load_nm(self.synchronous_rad_s() * (1.0 - slip));
        let (mut low, mut high) = (0.0, self.breakdown().slip);
        if surplus(high) < 0.0 {
            return None;
        }
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if surplus(middle) < 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(self.at_slip(f64::midpoint(low, high)))
    }

    /// Where the motor settles when it delivers a shaft power (W).
    pub fn at_shaft_w(&self, shaft_w: f64) -> Option<Point> {
        self.settle(|speed| shaft_w / speed)
    }

    /// The nameplate for a rated shaft power (W); none if 125 % of it is beyond the motor.
    pub fn nameplate(&self, rated_w: f64) -> Option<Nameplate> {
        let mut curve = [(0.0, self.at_slip(0.0)); 5];
        for (entry, load_pct) in curve.iter_mut().zip([25.0, 50.0, 75.0, 100.0, 125.0]) {
            *entry = (load_pct, self.at_shaft_w(rated_w * load_pct / 100.0)?);
        }
        Some(Nameplate { rated: curve[3].1, locked: self.at_slip(1.0), breakdown: self.breakdown(), curve })
    }
}

#[cfg(test)]
mod tests;
