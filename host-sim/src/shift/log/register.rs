//! Registers of meters between two readings.

use super::About;
use crate::audit::register;

/// What a register took between two readings, kWh, if it began anew once at most.
pub fn advanced(before: f64, after: f64, (modulus, step): (u64, f64)) -> Option<f64> {
    // Within 10^12 steps a reading keeps its place in f64; what is negative is none. A display shows whole steps; parts of one are counted beside.
    let steps = |kwh: f64| (kwh >= 0.0).then(|| (kwh / step).floor() as u64);
    let part = |kwh: f64| kwh / step - (kwh / step).floor();
    let fraction = part(after) - part(before);
    register::advance(steps(before)?, steps(after)?, modulus).map(|steps| ((steps as f64 + fraction) * step).max(0.0))
}

/// Whether the motor can have taken so much, a step of the register more or less.
pub fn possible(kwh: f64, about: About<'_>, elapsed_s: f64) -> bool {
    register::plausible((kwh - about.register.1).max(0.0), about.motor.rated_kw, elapsed_s)
}
