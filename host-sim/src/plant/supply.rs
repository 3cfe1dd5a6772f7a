//! The mains and the contactor.
//!
//! ```text
//! v_a = sqrt(2/3) V (1 - dip(t)) cos(2 pi f t + phase);  v_b, v_c 120 and 240 degrees later
//! ```
//!
//! V line to line rms, Hz, s. The source is stiff: the motor's current does not pull it down, a sag is given as a
//! function of time. The contactor opens and closes all poles at one instant.

use std::f64::consts::TAU;

/// A passing fall of the voltage in all phases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sag {
    /// When the voltage begins to fall, s.
    pub from_s: f64,
    /// When it begins to come back, s.
    pub until_s: f64,
    /// How long it takes to fall, and to come back, s.
    pub ramp_s: f64,
    /// How far it falls: 0.3 leaves 70 %.
    pub depth: f64,
}

impl Sag {
    /// The share of voltage that is missing at a time.
    fn missing(&self, t_s: f64) -> f64 {
        let edge = |since: f64| if self.ramp_s > 0.0 { (since / self.ramp_s).clamp(0.0, 1.0) } else { step(since) };
        self.depth * (edge(t_s - self.from_s) - edge(t_s - self.until_s))
    }
}

/// A span of time over which the contactor is closed; the end does not belong to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closed {
    /// When it closes, s; minus infinity for a contactor that is closed from the first.
    pub from_s: f64,
    /// When it opens, s; infinity for one that stays closed.
    pub until_s: f64,
}

/// On which side of the contactor the voltage is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tap {
    /// The supply's, there whether the motor runs or not.
    Line,
    /// The motor's: while open, what its dying field induces.
    Motor,
}

/// A balanced three-phase source and a contactor.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// Line-to-line voltage, V rms.
    pub line_v: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Phase of phase A at time 0, rad (0: at its peak).
    pub phase_rad: f64,
    /// Sags, in any order; where they overlap their depths add up, at most to the whole voltage.
    pub sags: Vec<Sag>,
    /// When the contactor is closed.
    pub closed: Vec<Closed>,
    /// Where the voltage is measured.
    pub tap: Tap,
}

impl Supply {
    /// A source without sags whose contactor closes and opens once.
    pub fn new(line_v: f64, frequency_hz: f64, closed: Closed) -> Self {
        Self { line_v, frequency_hz, phase_rad: 0.0, sags: Vec::new(), closed: vec![closed], tap: Tap::Line }
    }

    /// Whether the contactor is closed.
    pub fn is_closed(&self, t_s: f64) -> bool {
        self.closed.iter().any(|span| t_s >= span.from_s && t_s < span.until_s)
    }

    /// The source's voltage (alpha, beta), V.
    pub fn voltage(&self, t_s: f64) -> [f64; 2] {
        let missing: f64 = self.sags.iter().map(|sag| sag.missing(t_s)).sum();
        let peak = (2.0_f64 / 3.0).sqrt() * self.line_v * (1.0 - missing.clamp(0.0, 1.0));
        let (sin, cos) = (TAU * (self.frequency_hz * t_s).fract() + self.phase_rad).sin_cos();
        [peak * cos, peak * sin]
    }
}

/// The three phases of a vector without zero sequence.
pub fn phases([alpha, beta]: [f64; 2]) -> [f64; 3] {
    let half = 3.0_f64.sqrt() / 2.0 * beta;
    [alpha, -alpha / 2.0 + half, -alpha / 2.0 - half]
}

fn step(since: f64) -> f64 {
    if since >= 0.0 { 1.0 } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 1e-9, "found {found}, wanted {wanted}");
    }

    fn supply() -> Supply {
        Supply::new(400.0, 50.0, Closed { from_s: 2.0, until_s: 5.0 })
    }

    #[test]
    fn phases_follow_each_other_and_add_up_to_nothing() {
        let supply = supply();
        let peak = 400.0 * (2.0_f64 / 3.0).sqrt();
        near(phases(supply.voltage(0.0))[0], peak);
        near(phases(supply.voltage(0.02 / 3.0))[1], peak);
        near(phases(supply.voltage(0.04 / 3.0))[2], peak);
        for n in 0..100 {
            near(phases(supply.voltage(f64::from(n) * 1.37e-3)).iter().sum(), 0.0);
        }
    }

    #[test]
    fn rms_is_the_phase_voltage() {
        let supply = supply();
        let squares: f64 = (0..400).map(|n| phases(supply.voltage(f64::from(n) * 0.05e-3))[2].powi(2)).sum();
        near((squares / 400.0).sqrt(), 400.0 / 3.0_f64.sqrt());
    }

    #[test]
    fn contactor_holds_over_its_span() {
        let supply = supply();
        assert!(!supply.is_closed(1.999_999));
        assert!(supply.is_closed(2.0) && supply.is_closed(4.999_999));
        assert!(!supply.is_closed(5.0));
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
        let mut supply = supply();
        supply.sags = vec![sag, Sag { depth: 0.9, ..sag }];
        near(supply.voltage(1.5)[0], 0.0);
    }
}
