//! Figures of phasors: sizes, angles, and what is nominal.

use shaftwork_core::record::Phasors;

use crate::settings::Settings;
use crate::trace::select::Wiring;

/// rms of the fundamentals, V and A.
pub fn sizes(phasors: &Phasors) -> [f64; 6] {
    let mut out = [0.0; 6];
    for (k, (size, (re, im))) in out.iter_mut().zip(phasors.0).enumerate() {
        *size = f64::from(re).hypot(f64::from(im)) / if k < 3 { 65_536.0 } else { 131_072.0 };
    }
    out
}

/// What a voltage channel should show, V.
pub fn nominal_v(settings: &Settings) -> f64 {
    let line = settings.supply.line_voltage_v;
    if settings.supply.wiring == Wiring::FourWire { line / 3f64.sqrt() } else { line }
}

/// Angles of the phasors against the first that is there, degrees, -180 to 180; `None` of what is not there.
pub fn angles(phasors: &Phasors) -> [Option<f64>; 6] {
    let sizes = sizes(phasors);
    let there = |k: usize| sizes[k] > 0.01 * sizes[k / 3 * 3..k / 3 * 3 + 3].iter().copied().fold(0.0, f64::max);
    let own = |k: usize| f64::from(phasors.0[k].1).atan2(f64::from(phasors.0[k].0)).to_degrees();
    let first = (0..6).find(|k| there(*k)).map_or(0.0, own);
    std::array::from_fn(|k| there(k).then(|| (own(k) - first + 540.0).rem_euclid(360.0) - 180.0))
}
