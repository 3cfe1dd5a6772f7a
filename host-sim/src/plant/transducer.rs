//! What stands between a line and its converter: a transformer, a divider, a place in the row of sampling.
//!
//! ```text
//! converter's input at t = (1 + ratio error) x(t + shift),   shift = skew + phase error / (360 f)
//! ```
//!
//! A phase error is taken as a time, right for the fundamental at the rated frequency f; a real transformer's lead falls
//! with the frequency and its offsets die faster. Readings at a shifted time are not made from the samples: the motor is
//! carried on or back by the shift in a Runge-Kutta step, and the supply is asked at that time. A shift may be as long as
//! a step of the model (`motor::LONGEST_STEP_S`) before an edge of the contactor is shown late.

use serde::{Deserialize, Serialize};

/// Shifts that differ by less are equal: they differ by rounding alone.
const EQUAL_S: f64 = 1e-12;

/// One channel's.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Transducer {
    /// By how much the output is too large, %.
    pub ratio_error_pct: f64,
    /// Phase error at the rated frequency, degrees; positive when the output leads (IEC 61869-2).
    pub phase_deg: f64,
    /// How much later than the frame's time the channel is sampled, µs.
    pub skew_us: f64,
}

impl Transducer {
    /// The output for an input.
    pub fn output(&self, input: f64) -> f64 {
        (1.0 + self.ratio_error_pct / 100.0) * input
    }

    /// How much later the input is seen, s.
    pub fn shift_s(&self, frequency_hz: f64) -> f64 {
        self.skew_us * 1e-6 + self.phase_deg / 360.0 / frequency_hz
    }
}

/// A time at which channels are seen, other than the frame's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// After the frame, s.
    pub by_s: f64,
    /// Which channels: va, vb, vc, ia, ib, ic.
    pub channels: [bool; 6],
}

/// The shifts of a mill's channels, equal ones together; none for channels that are seen at the frame's time.
pub fn shifts(transducers: &[Transducer; 6], frequency_hz: f64) -> Vec<Shift> {
    let times = transducers.map(|transducer| transducer.shift_s(frequency_hz));
    let equal = |a: f64, b: f64| (a - b).abs() < EQUAL_S;
    let mut all: Vec<Shift> = Vec::new();
    for by_s in times {
        if !equal(by_s, 0.0) && all.iter().all(|shift| !equal(shift.by_s, by_s)) {
            all.push(Shift { by_s, channels: times.map(|time| equal(time, by_s)) });
        }
    }
    all
}

#[cfg(test)]
mod tests;
