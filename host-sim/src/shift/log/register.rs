//! Registers of meters between two readings.

use super::About;
use crate::audit::register;
use crate::shift::site::{Change, Changed};

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

/// What a meter showed last and the new one first, if it was changed or set within a time.
pub fn changed([from_us, to_us]: [i64; 2], changes: &[Change]) -> Option<[f64; 2]> {
    let meter = |change: &&Change| change.what == Changed::Meter && (from_us..=to_us).contains(&change.at_us);
    changes.iter().find(meter).and_then(|change| change.readings)
}

/// Whether a register was full between two readings and began anew: it stands lower, no one changed it, and so much can have been taken.
pub fn began_anew([before, after]: [f64; 2], [from_us, to_us]: [i64; 2], about: &About<'_>) -> bool {
    let lower = after < before && changed([from_us, to_us], about.changes).is_none();
    let elapsed_s = (to_us - from_us) as f64 / 1e6;
    lower && advanced(before, after, about.register).is_some_and(|kwh| possible(kwh, *about, elapsed_s))
}
