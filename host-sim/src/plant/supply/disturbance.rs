//! What the mains do besides being three sines: sag, swell, drift of the frequency, unbalance, harmonics, a lost line.
//!
//! ```text
//! phase x of harmonic n = share sqrt(2/3) V cos(n (2 pi f t - x 120 deg) + phase),   x = 0, 1, 2
//! ```
//!
//! So orders 4, 7, 10... turn with the fundamental, 2, 5, 8... against it, and 3, 6, 9... are alike in all phases: a
//! motor without a neutral does not see those, a meter between phase and neutral does.

use super::super::terminals::Phase;
use serde::{Deserialize, Serialize};

/// A passing fall of the voltage in all phases, or a rise: a swell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sag {
    /// When the voltage begins to fall, s.
    pub from_s: f64,
    /// When it begins to come back, s.
    pub until_s: f64,
    /// How long it takes to fall, and to come back, s.
    pub ramp_s: f64,
    /// How far it falls: 0.3 leaves 70 %; a negative depth is a swell, -0.1 gives 110 %.
    pub depth: f64,
}

impl Sag {
    /// The share of voltage that is missing at a time.
    pub(super) fn missing(&self, t_s: f64) -> f64 {
        let edge = |since: f64| if self.ramp_s > 0.0 { (since / self.ramp_s).clamp(0.0, 1.0) } else { step(since) };
        self.depth * (edge(t_s - self.from_s) - edge(t_s - self.until_s))
    }
}

/// A slow change of the frequency that stays.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drift {
    /// When it begins, s.
    pub from_s: f64,
    /// When the new frequency is reached, s.
    pub until_s: f64,
    /// By how much the frequency is higher then, Hz.
    pub by_hz: f64,
}

impl Drift {
    /// By how much the frequency is higher at a time, Hz.
    pub(super) fn hertz(&self, t_s: f64) -> f64 {
        let (length, since) = (self.until_s - self.from_s, t_s - self.from_s);
        self.by_hz * if length > 0.0 { (since / length).clamp(0.0, 1.0) } else { step(since) }
    }

    /// Cycles gained by a time.
    pub(super) fn cycles(&self, t_s: f64) -> f64 {
        let (length, since) = (self.until_s - self.from_s, t_s - self.from_s);
        let changing = since.clamp(0.0, length.max(0.0));
        let ramp = if length > 0.0 { changing * changing / (2.0 * length) } else { 0.0 };
        self.by_hz * (ramp + (since - length.max(0.0)).max(0.0))
    }
}

/// A system that turns against the three phases.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unbalance {
    /// Of the voltage, 0.02 for 2 %.
    pub share: f64,
    /// Angle in phase A, rad.
    pub phase_rad: f64,
}

/// A harmonic.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Harmonic {
    /// Multiple of the frequency, 2 or more.
    pub order: u32,
    /// Of the voltage.
    pub share: f64,
    /// Angle in phase A, rad.
    pub phase_rad: f64,
}

impl Harmonic {
    /// Vector and zero sequence at an angle of the fundamental (rad), per unit of the peak.
    pub(super) fn at(&self, angle_rad: f64) -> ([f64; 2], f64) {
        let (sin, cos) = (f64::from(self.order) * angle_rad + self.phase_rad).sin_cos();
        let (sin, cos) = (self.share * sin, self.share * cos);
        match self.order % 3 {
            0 => ([0.0; 2], cos),
            1 => ([cos, sin], 0.0),
            _ => ([cos, -sin], 0.0),
        }
    }
}

/// Where a line is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Between meter and motor: a broken wire, a burnt contact.
    Motor,
    /// Before a delta-star transformer: a blown fuse of the mains.
    Upstream,
}

/// A line that is lost for a while.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Loss {
    /// Where.
    pub place: Place,
    /// Which.
    pub phase: Phase,
    /// From when on, s.
    pub from_s: f64,
    /// When it is back, s; infinity for never.
    #[serde(default = "crate::plant::never")]
    pub until_s: f64,
}

impl Loss {
    pub(super) fn holds(&self, t_s: f64) -> bool {
        t_s >= self.from_s && t_s < self.until_s
    }
}

fn step(since: f64) -> f64 {
    if since >= 0.0 { 1.0 } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::super::super::terminals::phases;
    use super::*;
    use std::f64::consts::TAU;

    fn near(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 1e-9, "found {found}, wanted {wanted}");
    }

    #[test]
    fn a_sag_falls_stays_and_comes_back() {
        let sag = Sag { from_s: 1.0, until_s: 2.0, ramp_s: 0.1, depth: 0.4 };
        for (t, missing) in [(0.9, 0.0), (1.05, 0.2), (1.5, 0.4), (2.05, 0.2), (2.2, 0.0)] {
            near(sag.missing(t), missing);
        }
        let sudden = Sag { ramp_s: 0.0, ..sag };
        for (t, missing) in [(0.999, 0.0), (1.0, 0.4), (1.999, 0.4), (2.0, 0.0)] {
            near(sudden.missing(t), missing);
        }
    }

    /// The cycles gained are the integral of the frequency gained.
    #[test]
    fn drift_adds_up() {
        let drift = Drift { from_s: 1.0, until_s: 3.0, by_hz: 0.8 };
        for (t, cycles) in [(0.5, 0.0), (2.0, 0.2), (3.0, 0.8), (5.0, 2.4)] {
            near(drift.cycles(t), cycles);
        }
        let sudden = Drift { until_s: 1.0, ..drift };
        for (t, cycles) in [(1.0, 0.0), (2.0, 0.8)] {
            near(sudden.cycles(t), cycles);
        }
    }

    /// The three phases of every order are what the head of this file says.
    #[test]
    fn harmonics_by_phase() {
        for order in 2..14 {
            let harmonic = Harmonic { order, share: 0.05, phase_rad: 0.4 };
            for n in 0..50 {
                let angle = f64::from(n) * 0.31;
                let (vector, zero) = harmonic.at(angle);
                for (x, found) in phases(vector).into_iter().enumerate() {
                    let at = f64::from(order) * (angle - x as f64 * TAU / 3.0) + 0.4;
                    near(found + zero, 0.05 * at.cos());
                }
            }
        }
    }
}
