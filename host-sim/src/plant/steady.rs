//! The motor in steady state, and the nameplate that follows from it.
//!
//! ```text
//! Z(s) = Rs + 1 / (g + 1 / (jXls + jXm || (Rr(s)/s + jXlr)))      I = V / Z
//! P_gap = 3 I_r^2 Rr/s = Te w_sync      shaft = P_gap (1 - s) - stray - friction      (losses as in `circuit`)
//! ```
//!
//! Units: V, A rms; W for three phases; slip as a share of synchronous speed. Balanced sine supply.

use super::circuit::{Circuit, rpm};
use std::ops::{Add, Div, Mul};

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
        let rotor = Complex(slip, 0.0) / Complex(rotor_ohm, slip * self.rotor_leakage_ohm);
        let gap = ONE / (ONE / Complex(0.0, self.magnetising_ohm) + rotor);
        let flux_branch = ONE / (gap + Complex(0.0, self.stator_leakage_ohm));
        let behind = ONE / (flux_branch + Complex(self.core_siemens, 0.0));
        let current = Complex(phase_v, 0.0) / (behind + Complex(self.stator_ohm, 0.0));
        let e = current * behind;
        let i_rotor = e * flux_branch * gap * rotor;
        let square = current.square();
        let rotor_w = 3.0 * i_rotor.square() * rotor_ohm;
        let air_gap_w = 3.0 * (e * flux_branch * gap).square() * rotor.0;
        let stray_w = self.stray_nm(square, speed) * speed;
        let friction_w = self.friction_nm(speed) * speed;
        let air_gap_nm = air_gap_w / sync;
        let shaft_nm = air_gap_nm - self.stray_nm(square, speed) - self.friction_nm(speed);
        Point {
            slip,
            speed_rpm: rpm(speed),
            current_a: square.sqrt(),
            power_factor: current.0 / square.sqrt(),
            input_w: 3.0 * phase_v * current.0,
            air_gap_nm,
            shaft_w: shaft_nm * speed,
            shaft_nm,
            losses_w: [
                3.0 * square * self.stator_ohm,
                3.0 * e.square() * self.core_siemens,
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

/// Real and imaginary part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Complex(pub f64, pub f64);

const ONE: Complex = Complex(1.0, 0.0);

impl Complex {
    pub(super) fn square(self) -> f64 {
        self.0 * self.0 + self.1 * self.1
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0, self.1 + other.1)
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self(self.0 * other.0 - self.1 * other.1, self.0 * other.1 + self.1 * other.0)
    }
}

impl Div for Complex {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let scale = other.square();
        Self((self.0 * other.0 + self.1 * other.1) / scale, (self.1 * other.0 - self.0 * other.1) / scale)
    }
}

#[cfg(test)]
mod tests;
