//! What the mill did in a row: as its state says, its times by state, or its power.

use super::cells::{Cells, STATE_KWH, STATE_S};
use crate::minutes::{BREAKING, IDLE, UNKNOWN};
use crate::shift::site::Motor;

/// Power below this share of rated is none.
const NONE: f64 = 0.02;
/// Power up to so many times that of the empty mill is idling.
const EMPTY: f64 = 1.15;

/// Shares of time and of energy by state; `by_power` where the log tells no state.
pub fn shares(cells: &Cells, kw: f64, length_s: f64, by_power: Option<&Motor>) -> ([f64; 6], [f64; 6]) {
    let x = &cells.numbers;
    let one = |state: usize| {
        let mut all = [0.0; 6];
        all[state] = 1.0;
        (all, all)
    };
    if let Some(state) = cells.state {
        return one(state);
    }
    if let Some(motor) = by_power {
        let Some(idle_kw) = motor.idle_kw else { return one(UNKNOWN) };
        return one(match kw {
            kw if kw < NONE * motor.rated_kw => 0,
            kw if kw <= EMPTY * idle_kw => IDLE,
            _ => BREAKING,
        });
    }
    let seconds: [f64; 6] = std::array::from_fn(|at| x[STATE_S + at].max(0.0));
    let sum: f64 = seconds.iter().filter(|s| s.is_finite()).sum();
    if sum.is_nan() || sum <= 0.0 {
        return one(UNKNOWN);
    }
    let times = seconds.map(|s| if s.is_finite() { s / sum } else { 0.0 });
    let own: [f64; 6] = std::array::from_fn(|at| x.get(STATE_KWH + at).map_or(0.0, |kwh| kwh.max(0.0)));
    let own = own.map(|kwh| if kwh.is_finite() { kwh } else { 0.0 });
    let all: f64 = own.iter().sum();
    let taken = kw.max(0.0) * length_s / 3_600.0;
    // Without energies by state a row's energy goes with its time.
    if all <= 0.0 || taken <= 0.0 {
        return (times, times);
    }
    let whole = all.max(taken);
    let mut energy = own.map(|kwh| kwh / whole);
    energy[UNKNOWN] += 1.0 - energy.iter().sum::<f64>();
    (times, energy)
}

/// Shares of a row of which nothing is known but its energy.
pub fn unknown() -> ([f64; 6], [f64; 6]) {
    let mut all = [0.0; 6];
    all[UNKNOWN] = 1.0;
    (all, all)
}
