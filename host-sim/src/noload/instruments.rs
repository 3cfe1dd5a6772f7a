//! What the errors of transformers and converter do to a level.

use super::levels::Level;
use super::separate::Point;
use crate::settings::Accuracy;
use crate::settings::accuracy::Limit;

/// An error of the instruments: its limit at each level, and what it does to a level.
pub struct Error {
    /// What errs.
    pub source: &'static str,
    /// Of the limit, for people.
    pub unit: &'static str,
    /// The limit's unit over one.
    pub shown: f64,
    /// By level.
    pub limits: Vec<f64>,
    /// With a limit.
    pub act: fn(Point, f64) -> Point,
}

/// Of the transformers and the converter by their classes, at the currents of the levels.
pub fn instruments(levels: &[Level], accuracy: Option<Accuracy>) -> Vec<Error> {
    let Some(accuracy) = accuracy else { return Vec::new() };
    let share = |level: &Level| accuracy.current_rated_a.map_or(1.0, |rated| level.current_a() / rated);
    let minutes = 1.0_f64.to_radians() / 60.0;
    let mut out = Vec::new();
    let mut push = |source, unit, shown, limits, act| out.push(Error { source, unit, shown, limits, act });
    if let Some(current) = accuracy.current {
        let at = |of: fn(Limit) -> f64| levels.iter().map(|level| of(current.at(share(level)))).collect::<Vec<_>>();
        push("current transformers, ratio", "%", 100.0, at(|limit| limit.ratio_pct / 100.0), |[v, i, p, q], g| {
            [v, i * (1.0 + g).powi(2), p * (1.0 + g), q]
        });
        let angles = at(|limit| limit.phase_min).into_iter().map(|min| min * minutes).collect();
        push("current transformers, phase", "min", 1.0 / minutes, angles, |[v, i, p, q], d| [v, i, p + q * d, q]);
    }
    if let Some(limit) = accuracy.voltage.map(|voltage| voltage.at(1.0)) {
        let all = |x: f64| vec![x; levels.len()];
        push("voltage transformers, ratio", "%", 100.0, all(limit.ratio_pct / 100.0), |[v, i, p, q], g| {
            [v * (1.0 + g), i, p * (1.0 + g), q]
        });
        push("voltage transformers, phase", "min", 1.0 / minutes, all(limit.phase_min * minutes), |[v, i, p, q], d| {
            [v, i, p + q * d, q]
        });
    }
    let gain = vec![accuracy.converter_gain_pct / 100.0; levels.len()];
    push("converter, gain", "%", 100.0, gain, |[v, i, p, q], g| [v, i, p * (1.0 + g), q]);
    out
}
