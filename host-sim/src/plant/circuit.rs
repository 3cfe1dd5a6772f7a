//! What a squirrel-cage motor is made of: its equivalent circuit per star phase, its losses, its inertia.
//!
//! ```text
//!   o--- Rs --+--- Xls ---+--- Xlr ---+        Rr(s) = Rr (1 + deep_bar s^2),  0 <= s <= 1
//!             |           |           |        core      3 e^2 g            e: voltage behind Rs
//!             g           Xm        Rr/s       stray     3 I^2 R_stray (w / w_sync)^2   a braking torque
//!             |           |           |        friction  P_f (w / w_sync)^2             a braking torque
//!   o---------+-----------+-----------+
//! ```
//!
//! Left out: saturation of iron and leakage paths (a swell of a quarter would show it); the fall of the rotor's leakage in deep
//! bars; and that a field which turns against the rotor (a lost line, unbalance) meets the deep bars' resistance at
//! nearly twice the frequency, while the rotor here has one resistance at a time, that of its slip.
//!
//! Units: ohm and siemens per phase (star), reactances at `frequency_hz`, watt for all three phases, kg m².
//! The same figures drive the flux model (`motor`) and the steady-state solver (`steady`), so that what a nameplate
//! says and what a simulated trace shows agree.

use serde::{Deserialize, Serialize};
use std::f64::consts::{PI, TAU};

/// An induction motor, per star phase and referred to the stator.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Circuit {
    /// Rated line-to-line voltage, V rms.
    pub line_v: f64,
    /// Rated frequency, Hz.
    pub frequency_hz: f64,
    /// Pairs of poles.
    pub pole_pairs: f64,
    /// Stator resistance, ohm.
    pub stator_ohm: f64,
    /// Stator leakage reactance, ohm.
    pub stator_leakage_ohm: f64,
    /// Magnetising reactance, ohm.
    pub magnetising_ohm: f64,
    /// Rotor leakage reactance, ohm.
    pub rotor_leakage_ohm: f64,
    /// Rotor resistance while running (slip near 0), ohm.
    pub rotor_ohm: f64,
    /// By how much the rotor resistance has risen at standstill (1 = doubled); 0 for a plain cage.
    pub deep_bar: f64,
    /// Conductance that stands for the iron loss, siemens; 0 for none.
    pub core_siemens: f64,
    /// Resistance that stands for the stray load loss at synchronous speed, ohm.
    pub stray_ohm: f64,
    /// Friction and own fan at synchronous speed, W.
    pub friction_w: f64,
    /// The motor's own inertia, kg m².
    pub inertia_kg_m2: f64,
}

/// The 55 kW mill motor.
impl Default for Circuit {
    fn default() -> Self {
        Self::mill_55_kw()
    }
}

impl Circuit {
    /// The 50 hp, 460 V, 60 Hz, 4-pole machine of Krause, Wasynczuk and Sudhoff, *Analysis of Electric Machinery*
    /// (parameters from a reproduction of its table). It has no losses but those of the windings.
    pub const fn textbook_50_hp() -> Self {
        Self {
            line_v: 460.0,
            frequency_hz: 60.0,
            pole_pairs: 2.0,
            stator_ohm: 0.087,
            stator_leakage_ohm: 0.302,
            magnetising_ohm: 13.08,
            rotor_leakage_ohm: 0.302,
            rotor_ohm: 0.228,
            deep_bar: 0.0,
            core_siemens: 0.0,
            stray_ohm: 0.0,
            friction_w: 0.0,
            inertia_kg_m2: 1.662,
        }
    }

    /// A 55 kW, 400 V, 50 Hz, 4-pole mill motor of our own making: efficiency and starting current of the usual
    /// order for the size, after no motor in particular.
    pub const fn mill_55_kw() -> Self {
        Self {
            line_v: 400.0,
            frequency_hz: 50.0,
            pole_pairs: 2.0,
            stator_ohm: 0.039,
            stator_leakage_ohm: 0.205,
            magnetising_ohm: 7.1,
            rotor_leakage_ohm: 0.215,
            rotor_ohm: 0.0355,
            deep_bar: 1.6,
            core_siemens: 0.0039,
            stray_ohm: 0.0155,
            friction_w: 310.0,
            inertia_kg_m2: 0.62,
        }
    }

    /// Synchronous angular speed of the shaft at the rated frequency, rad/s.
    pub fn synchronous_rad_s(&self) -> f64 {
        TAU * self.frequency_hz / self.pole_pairs
    }

    /// Synchronous speed at the rated frequency, rpm.
    pub fn synchronous_rpm(&self) -> f64 {
        rpm(self.synchronous_rad_s())
    }

    /// Inductances in henry: stator and rotor self, then mutual.
    pub fn inductances_h(&self) -> Inductances {
        let w = TAU * self.frequency_hz;
        let mutual = self.magnetising_ohm / w;
        Inductances { stator: self.stator_leakage_ohm / w + mutual, rotor: self.rotor_leakage_ohm / w + mutual, mutual }
    }

    /// Rotor resistance at a shaft speed (rad/s), ohm.
    pub fn rotor_ohm_at(&self, speed_rad_s: f64) -> f64 {
        self.rotor_ohm_below(speed_rad_s, self.synchronous_rad_s())
    }

    /// The same for who knows the synchronous speed.
    pub(super) fn rotor_ohm_below(&self, speed_rad_s: f64, synchronous_rad_s: f64) -> f64 {
        let slip = (1.0 - speed_rad_s / synchronous_rad_s).clamp(0.0, 1.0);
        self.rotor_ohm * (1.0 + self.deep_bar * slip * slip)
    }

    /// Braking torque of friction and own fan at a shaft speed (rad/s), N m; it opposes the motion.
    pub fn friction_nm(&self, speed_rad_s: f64) -> f64 {
        let w = self.synchronous_rad_s();
        self.friction_w * speed_rad_s / (w * w)
    }

    /// Braking torque of the stray load loss, N m, for the square of the phase current's rms (A²).
    pub fn stray_nm(&self, current_squared: f64, speed_rad_s: f64) -> f64 {
        let w = self.synchronous_rad_s();
        3.0 * self.stray_ohm * current_squared * speed_rad_s / (w * w)
    }
}

/// Self and mutual inductances, henry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inductances {
    /// Stator, leakage and mutual together.
    pub stator: f64,
    /// Rotor, leakage and mutual together.
    pub rotor: f64,
    /// Between the two.
    pub mutual: f64,
}

/// Revolutions a minute of an angular speed in rad/s.
pub fn rpm(rad_s: f64) -> f64 {
    rad_s * 30.0 / PI
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn synchronous_speed_of_four_poles() {
        assert!((Circuit::mill_55_kw().synchronous_rpm() - 1500.0).abs() < 1e-9);
        assert!((Circuit::textbook_50_hp().synchronous_rpm() - 1800.0).abs() < 1e-9);
    }

    #[test]
    fn rotor_resistance_rises_only_with_slip() {
        let motor = Circuit::mill_55_kw();
        let sync = motor.synchronous_rad_s();
        assert!((motor.rotor_ohm_at(sync) - 0.0355).abs() < 1e-12);
        assert!((motor.rotor_ohm_at(1.1 * sync) - 0.0355).abs() < 1e-12);
        assert!((motor.rotor_ohm_at(0.0) - 0.0355 * 2.6).abs() < 1e-12);
        assert!((motor.rotor_ohm_at(-5.0) - 0.0355 * 2.6).abs() < 1e-12);
    }
}
