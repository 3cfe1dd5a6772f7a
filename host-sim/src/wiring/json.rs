//! The same as a document for programs.

use serde_json::{Value, json};

use super::Result;
use super::figures::{angles, sizes};
use super::words::INVISIBLE;

/// Everything that is printed, by name.
pub fn document(result: &Result<'_>) -> Value {
    let Result { trace, settings, votes, finding } = result;
    let explanations: Vec<Value> = finding
        .explanations
        .iter()
        .map(|faults| {
            let faults = faults.iter().map(
                |told| json!({ "fault": told.name, "channels": told.channels, "what": told.what, "mend": told.cure }),
            );
            Value::Array(faults.collect())
        })
        .collect();
    let verdict = votes.verdict();
    let channels: Vec<Value> = verdict.map_or_else(Vec::new, |opinion| {
        let (sizes, angles) = (sizes(&opinion.phasors), angles(&opinion.phasors));
        let names = settings.supply.wiring.quantities();
        let there = (0..6).filter(|k| !names[*k].is_empty());
        there
            .map(|k| {
                let (value, unit) = (sizes[k], if k < 3 { "rms_v" } else { "rms_a" });
                json!({ "channel": names[k], unit: value, "angle_deg": angles[k] })
            })
            .collect()
    });
    json!({
        "format": "shaftwork-wiring/1",
        "trace": trace,
        "settings": settings.file,
        "verdict": finding.verdict,
        "headline": finding.headline,
        "explanations": explanations,
        "notes": finding.notes,
        "channels": channels,
        "windows": votes.windows(),
        "windows_that_agree": verdict.map_or(0, |opinion| opinion.windows),
        "windows_without_current": votes.idle(),
        "cannot_be_seen": INVISIBLE,
    })
}
