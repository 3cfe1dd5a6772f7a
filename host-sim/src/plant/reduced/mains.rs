//! What the supply gives over a step, and when it changes at once.

use super::super::supply::{Starter, Supply, Tap};
use super::field::Source;
use num_complex::Complex64 as Complex;
use std::f64::consts::TAU;

/// What the source gives over a step.
pub(super) fn source(supply: &Supply, from_s: f64, h: f64) -> Source {
    let t_s = from_s + h / 2.0;
    let peak = supply.peak_v(t_s);
    Source {
        with: peak.into(),
        against: supply.unbalance.map_or(Complex::ZERO, |u| Complex::from_polar(peak * u.share, -u.phase_rad)),
        omega: TAU * supply.hertz(t_s),
        turn: Complex::cis(supply.angle_rad(from_s)),
        connection: supply.connection(t_s),
        upstream: supply.upstream(t_s),
        at_motor: supply.tap == Tap::Motor,
    }
}

/// When the supply changes at once, in order.
pub(super) fn breaks(supply: &Supply) -> Vec<f64> {
    let mut all = Vec::new();
    for span in &supply.closed {
        all.extend([span.from_s, span.until_s]);
        if let Starter::StarDelta { star_s, pause_s } = supply.starter {
            all.extend([span.from_s + star_s, span.from_s + star_s + pause_s]);
        }
    }
    for sag in &supply.sags {
        all.extend([sag.from_s, sag.from_s + sag.ramp_s, sag.until_s, sag.until_s + sag.ramp_s]);
    }
    all.extend(supply.drifts.iter().flat_map(|drift| [drift.from_s, drift.until_s]));
    all.extend(supply.losses.iter().flat_map(|loss| [loss.from_s, loss.until_s]));
    all.retain(|at| at.is_finite());
    all.sort_by(f64::total_cmp);
    all
}
