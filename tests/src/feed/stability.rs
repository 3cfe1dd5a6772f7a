//! Whether the loop is stable where gain and delay are not what was found.
//!
//! ```text
//! L(s) = Kc (1 + 1/(s Ti))  K e^(-s theta) / (1 + s tau)  1/(1 + s Tf)  (1 - e^(-s h)) / (s h)  e^(-s h / 2)
//! ```
//!
//! Controller, feeder and mill, the load's smoothing; a window's mean is half a window late, and the output holds for one. In `f64`, apart
//! from the core. Phase margin at the highest frequency at which |L| is one; Ms the largest |1/(1 + L)| (Åström and Hägglund, *PID Controllers*,
//! 1995, from memory: Ms of 2 leaves a phase margin of 29 degrees at least). Deadband and ramps are no part of it: they are slower.

use shaftwork_sim::settings::Feeder;
use std::f64::consts::PI;
use std::fmt::Write as _;

/// A window, s.
const H_S: f64 = 0.2;
/// Factors on gain and delay.
pub const FACTORS: [f64; 5] = [0.5, 0.71, 1.0, 1.41, 2.0];
/// Phase margin and largest sensitivity that are wanted at every factor: one of them.
pub const WANTED_DEG: f64 = 30.0;
/// See [`WANTED_DEG`].
pub const WANTED_MS: f64 = 2.0;

/// How stable a loop is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margins {
    /// Phase margin, degrees; 180 where |L| never comes to one.
    pub phase_deg: f64,
    /// Largest sensitivity.
    pub ms: f64,
}

/// |L| and its phase, which is not wrapped, at an angular frequency.
fn loop_at(f: &Feeder, gain: f64, delay_s: f64, w: f64) -> (f64, f64) {
    let (kc, ti) = (f.proportional(), f.integral_s());
    let first = |t: f64| ((1.0 + (w * t).powi(2)).sqrt(), (w * t).atan());
    let (lag, lag_rad) = first(f.lag_s);
    // The core's smoothing is a step of h / (T + h): a lag of T and half a step.
    let (smooth, smooth_rad) = first(f.filter_s);
    let (pi, pi_rad) = first(ti);
    let half = w * H_S / 2.0;
    let mean = if half < 1e-9 { 1.0 } else { (half.sin() / half).abs() };
    let magnitude = kc * pi / (w * ti) * gain / lag / smooth * mean * mean;
    let phase = pi_rad - PI / 2.0 - lag_rad - smooth_rad - w * (delay_s + H_S + H_S / 2.0);
    (magnitude, phase)
}

/// The margins of a governor's settings where gain and delay are so many times what they were found to be.
#[must_use]
pub fn margins(f: &Feeder, gain_by: f64, delay_by: f64) -> Margins {
    let (gain, delay_s) = (f.gain * gain_by, f.delay_s * delay_by);
    let (mut phase_deg, mut ms) = (180.0_f64, 0.0_f64);
    let mut before: Option<(f64, f64)> = None;
    for n in 0..40_000 {
        let w = 1e-4 * 10f64.powf(f64::from(n) * 5.2 / 40_000.0);
        let (magnitude, phase) = loop_at(f, gain, delay_s, w);
        let (re, im) = (1.0 + magnitude * phase.cos(), magnitude * phase.sin());
        ms = ms.max(1.0 / re.hypot(im));
        if let Some((last, _)) = before
            && last >= 1.0
            && magnitude < 1.0
        {
            phase_deg = phase_deg.min(180.0 + phase.to_degrees());
        }
        before = Some((magnitude, phase));
    }
    Margins { phase_deg, ms }
}

/// The margins at all factors, as a table.
#[must_use]
pub fn map(feeder: &Feeder) -> String {
    let mut out = "| gain \\ delay |".to_owned();
    for delay in FACTORS {
        let _ = write!(out, " x {delay} |");
    }
    out.push_str("\n|---|---|---|---|---|---|\n");
    for gain in FACTORS {
        let _ = write!(out, "| x {gain} |");
        for delay in FACTORS {
            let Margins { phase_deg, ms } = margins(feeder, gain, delay);
            let good = phase_deg >= WANTED_DEG || phase_deg > 0.0 && ms <= WANTED_MS;
            let _ = write!(out, " {phase_deg:.0}°, {ms:.2}{} |", if good { "" } else { " **not met**" });
        }
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn feeder(gain: f64, lag_s: f64, delay_s: f64, response_s: f64) -> Feeder {
        Feeder { gain, lag_s, delay_s, response_s, filter_s: 0.0, charge_pct: None, ..Feeder::default() }
    }

    /// With the defaults (three times the delay with half the filter, a filter of 1 s) the loop keeps 30 degrees, or a largest sensitivity of 2, where
    /// gain and delay are anything from half to twice of what was found, for mills from quick to slow.
    #[test]
    fn the_defaults_bear_a_gain_and_a_delay_that_are_off() {
        for (gain, lag_s, delay_s) in [(1.0, 1.5, 0.8), (1.2, 4.0, 3.0), (0.5, 10.0, 12.0), (3.0, 2.0, 6.0)] {
            let f = Feeder { filter_s: 1.0, ..feeder(gain, lag_s, delay_s, 3.0 * (delay_s + 0.5)) };
            for gain_by in FACTORS {
                for delay_by in FACTORS {
                    let Margins { phase_deg, ms } = margins(&f, gain_by, delay_by);
                    assert!(
                        phase_deg >= 30.0 || phase_deg > 0.0 && ms <= 2.0,
                        "{gain} {lag_s} {delay_s}, x {gain_by} x {delay_by}: {phase_deg} {ms}"
                    );
                }
            }
        }
    }

    /// The rule's own figures: with lambda = theta the tight loop has a phase margin of 61.4 degrees and Ms of 1.59, whatever gain, lag
    /// and delay are (Skogestad 2003, table 1, from memory), as long as a window is short against the delay.
    #[test]
    fn the_rules_own_margins() {
        for (gain, lag_s) in [(1.2, 40.0), (0.5, 90.0)] {
            let f = feeder(gain, lag_s, 60.0, 60.0);
            // Ti = lag here.
            assert!((f.integral_s() - lag_s).abs() < 1e-9);
            let Margins { phase_deg, ms } = margins(&f, 1.0, 1.0);
            assert!((phase_deg - 61.4).abs() < 0.5 && (ms - 1.59).abs() < 0.02, "{phase_deg} {ms}");
        }
    }
}
