//! What was found as JSON.

use serde_json::{Map, Value, json};

use super::score::Score;
use super::table::percent;
use super::{Found, PART_NAMES};
use crate::report::event::cause_name;
use crate::report::number::seconds;

/// The document.
pub fn json(found: &Found) -> Value {
    let candidates = &found.candidates;
    let rules = found.rules;
    let traces: Vec<Value> = found
        .traces
        .iter()
        .map(|studied| {
            json!({
                "name": studied.trace.name,
                "verdict": studied.trace.verdict.to_string(),
                "part": PART_NAMES[usize::from(!studied.chosen_on)],
                "length_s": seconds(studied.length_s),
                "recommended": found.best().map(|at| decision(studied, at)),
                "as_set": decision(studied, found.base()),
                "warnings": studied.warnings,
            })
        })
        .collect();
    let reason = super::words::reason(found);
    let why = if found.best().is_none() { json!({ "recommended": reason }) } else { json!({}) };
    let recommended = found.best().map(
        |at| json!({ "setting": at + 1, "values": values(found, at), "reason": reason, "parts": parts(found, at) }),
    );
    json!({
        "format": "shaftwork-trip-study/1",
        "folder": found.folder,
        "settings": candidates.base.file,
        "vary": candidates.vary.file,
        "early_s": rules.early_s,
        "allowed_s": rules.allowed_s,
        "margin_pct": percent(rules.margin),
        "watched": candidates.watched().into_iter().map(cause_name).collect::<Vec<_>>(),
        "traces": traces,
        "recommended": recommended,
        "why": why,
        "as_set": { "parts": parts(found, found.base()) },
        "front": found.front.iter().map(|n| n + 1).collect::<Vec<_>>(),
        "compared": (0..candidates.all.len()).map(|n| json!({ "setting": n + 1, "values": values(found, n), "parts": parts(found, n) })).collect::<Vec<_>>(),
        "notes": found.notes,
    })
}

fn values(found: &Found, n: usize) -> Map<String, Value> {
    let keys = &found.candidates.vary.keys;
    let picks = found.candidates.all.get(n).map_or(&[][..], |candidate| &candidate.picks);
    keys.iter().zip(picks).map(|(key, pick)| (key.name.clone(), value(&key.values[*pick]))).collect()
}

fn value(value: &toml_edit::Value) -> Value {
    match value {
        toml_edit::Value::String(text) => json!(text.value()),
        toml_edit::Value::Integer(whole) => json!(whole.value()),
        toml_edit::Value::Float(x) => json!(x.value()),
        toml_edit::Value::Boolean(flag) => json!(flag.value()),
        other => json!(other.to_string()),
    }
}

fn parts(found: &Found, n: usize) -> Value {
    let parts = PART_NAMES.iter().zip(&found.scores);
    Value::Object(parts.map(|(name, scores)| (name.replace(' ', "_"), part(&scores[n]))).collect())
}

fn part(score: &Score) -> Value {
    json!({
        "jams": score.jams,
        "caught": score.caught,
        "late": score.late,
        "missed": score.missed,
        "honest": score.honest,
        "false": score.falses,
        "false_touchier": score.touchy,
        "mean_s": score.mean_s.map(seconds),
        "longest_s": score.longest_s.map(seconds),
        "margin_pct": percent(score.margin()),
    })
}

fn decision(studied: &super::Studied, n: usize) -> Value {
    let row = &studied.rows[n];
    json!({
        "decision": row.outcome.word(),
        "trip_s": row.trip_s.map(seconds),
        "after_s": row.after_s.map(seconds),
        "cause": row.decided.trip.map(|(_, cause)| cause_name(cause)),
        "near_pct": percent(row.near),
        "false_touchier": row.touchy,
    })
}
