//! The tables: every setting with its figures, every decision.

use csv::Writer;

use super::{Found, PART_NAMES};
use crate::report::event::cause_name;
use crate::report::number::{figure, seconds};

/// One row a setting, those as they are set last: its values, whether it is on the front, figures of each part.
///
/// # Errors
/// Never in memory.
pub fn settings(found: &Found) -> anyhow::Result<Vec<u8>> {
    let mut out = Writer::from_writer(Vec::new());
    let keys = &found.candidates.vary.keys;
    let mut head = vec!["setting".to_owned()];
    head.extend(keys.iter().map(|key| key.name.clone()));
    head.push("front".to_owned());
    for part in PART_NAMES {
        let part = part.replace(' ', "_");
        head.extend(COLUMNS.map(|column| format!("{part}_{column}")));
    }
    out.write_record(&head)?;
    for n in 0..=found.base() {
        let mut row = vec![if n == found.base() { "as set".to_owned() } else { (n + 1).to_string() }];
        row.extend(values(found, n));
        row.push(if found.best() == Some(n) {
            "recommended".to_owned()
        } else if found.front.contains(&n) {
            "front".to_owned()
        } else {
            String::new()
        });
        for scores in &found.scores {
            let score = &scores[n];
            let time = |s: Option<f64>| s.map_or_else(String::new, |s| seconds(s).to_string());
            row.extend(
                [score.jams, score.caught, score.late, score.missed, score.honest, score.falses, score.touchy]
                    .map(|n| n.to_string()),
            );
            row.extend([time(score.mean_s), time(score.longest_s), percent(score.margin()).to_string()]);
        }
        out.write_record(&row)?;
    }
    Ok(out.into_inner()?)
}

/// Figures of a part.
const COLUMNS: [&str; 10] =
    ["jams", "caught", "late", "missed", "honest", "false", "false_touchier", "mean_s", "longest_s", "margin_pct"];

/// Values of a candidate by key; those that are set are told as such.
fn values(found: &Found, n: usize) -> Vec<String> {
    let keys = &found.candidates.vary.keys;
    match found.candidates.all.get(n) {
        Some(candidate) => {
            keys.iter().zip(&candidate.picks).map(|(key, pick)| key.shown(*pick).trim_matches('"').to_owned()).collect()
        }
        None => vec![String::new(); keys.len()],
    }
}

/// One row a trace and setting.
///
/// # Errors
/// Never in memory.
pub fn decisions(found: &Found) -> anyhow::Result<Vec<u8>> {
    let mut out = Writer::from_writer(Vec::new());
    out.write_record([
        "trace",
        "verdict",
        "part",
        "setting",
        "decision",
        "trip_s",
        "after_s",
        "cause",
        "near_pct",
        "false_touchier",
    ])?;
    for studied in &found.traces {
        let verdict = studied.trace.verdict.to_string();
        let part = PART_NAMES[usize::from(!studied.chosen_on)];
        for (n, row) in studied.rows.iter().enumerate() {
            let time = |s: Option<f64>| s.map_or_else(String::new, |s| seconds(s).to_string());
            let setting = if n == found.base() { "as set".to_owned() } else { (n + 1).to_string() };
            let cause = row.decided.trip.map_or("", |(_, cause)| cause_name(cause));
            let near = percent(row.near).to_string();
            let cells = [&*studied.trace.name, &verdict, part, &setting, row.outcome.word()];
            let touchy = u8::from(row.touchy).to_string();
            let figures = [time(row.trip_s), time(row.after_s), cause.to_owned(), near, touchy];
            out.write_record(cells.into_iter().chain(figures.iter().map(String::as_str)))?;
        }
    }
    Ok(out.into_inner()?)
}

/// A share in per cent, to a tenth.
pub fn percent(share: f64) -> f64 {
    figure((share * 1e3).round() / 10.0)
}
