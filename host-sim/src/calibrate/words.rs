//! The calibration for people, as lines to paste, and as a document.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::Calibration;
use super::apply::lists;
use crate::settings::Settings;
use crate::wiring::words::fill;

/// Difference, % of a reading, above which more is wrong than a factor: an instrument of class 0.5 and a transformer of
/// class 0.5 (IEC 61869-2, at rated current) together.
const LARGE_PCT: f64 = 1.0;
/// An intercept that is this many standard uncertainties off zero is none by chance.
const SURE: f64 = 3.0;

/// For people; the lines of `[sampling]` last.
pub fn text(calibration: &Calibration, settings: &Settings) -> String {
    let mut out = String::from("  channel  readings      gain   offset    phase  largest difference left\n");
    for channel in &calibration.channels {
        let phase = channel.phase_deg.map_or_else(String::new, |deg| format!("{deg:.4}°"));
        let left = channel.residual_pct.map_or_else(|| "no reading: as before".to_owned(), |pct| format!("{pct:.4} %"));
        let _ = writeln!(
            out,
            "  {:<9}{:>8}{:>10.6}{:>9.2}{phase:>9}  {left}",
            channel.name, channel.readings, channel.gain, channel.offset_counts
        );
    }
    if let Some((count, left)) = calibration.power {
        let _ = writeln!(out, "  power    {count:>8}{:>30}{left:.4} %", "");
    }
    out.push('\n');
    for note in notes(calibration, settings) {
        let _ = writeln!(out, "{}", fill(&note, "* "));
    }
    out.push_str("[sampling]\n");
    for (key, values) in lists(calibration) {
        let _ = writeln!(out, "{key} = {values:?}");
    }
    out
}

fn notes(calibration: &Calibration, settings: &Settings) -> Vec<String> {
    let mut out = Vec::new();
    for channel in &calibration.channels {
        if let Some(left) = channel.residual_pct.filter(|left| *left > LARGE_PCT) {
            out.push(format!(
                "{}: up to {left:.2} % is left, more than an instrument and a transformer of class 0.5 promise together (IEC 61869-2): \
                 a reading is wrong or of another time, or the transformer is at its end",
                channel.name
            ));
        }
        if let Some([zero, u]) = channel.at_zero.filter(|[zero, u]| zero.abs() > SURE * u && *u > 0.0)
            && channel.residual_pct.is_some_and(|left| left > 0.2)
        {
            out.push(format!(
                "{}: a straight line through the readings misses zero by {zero:.3} (standard uncertainty {u:.3}): the error changes \
                 with the size, and a single gain cannot undo it",
                channel.name
            ));
        }
    }
    match calibration.power {
        None => out.push("no reading of power: phase_deg stays as it is".to_owned()),
        Some((_, left)) if left > LARGE_PCT => out.push(format!(
            "power: up to {left:.2} % is left, more than classes promise: readings of another time, or phases exchanged"
        )),
        Some(_) => {}
    }
    if settings.sampling.skew_us.iter().any(|skew| *skew != 0.0) {
        out.push("the settings' skew_us is kept, and phase_deg is what is left beside it".to_owned());
    }
    out
}

/// For programs.
pub fn document(calibration: &Calibration) -> Value {
    let channels: Vec<Value> = calibration
        .channels
        .iter()
        .map(|channel| {
            json!({
                "channel": channel.name,
                "readings": channel.readings,
                "gain": channel.gain,
                "offset_counts": channel.offset_counts,
                "phase_deg": channel.phase_deg,
                "residual_pct": channel.residual_pct,
                "at_zero": channel.at_zero.map(|[zero, _]| zero),
                "at_zero_uncertainty": channel.at_zero.map(|[_, u]| u),
            })
        })
        .collect();
    json!({
        "format": "shaftwork-calibration/1",
        "channels": channels,
        "power_readings": calibration.power.map_or(0, |(count, _)| count),
        "power_residual_pct": calibration.power.map(|(_, left)| left),
    })
}
