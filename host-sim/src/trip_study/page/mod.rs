//! `study.html`: what was found as a page, whole in itself, that opens without a network and prints.
//!
//! The pictures are drawings in the page's own colours, so that they follow light and dark without a script.

mod front;
mod trace;

use std::fmt::Write as _;

use askama::Template;

use super::score::{Reason, Score};
use super::table::percent;
use super::verdict::Verdict;
use super::words;
use super::{Found, PART_NAMES};
use crate::report::words::counted;
use crate::svg::capital;

/// Traces that are drawn at most, those gone wrong first.
const MOST_DRAWN: usize = 100;

#[derive(Template)]
#[template(path = "study.html")]
struct Page {
    folder: String,
    facts: String,
    verdict: String,
    wrong: bool,
    reason: String,
    tiles: Vec<Tile>,
    setting: String,
    parts: Vec<Line>,
    keys: Vec<String>,
    front_picture: String,
    front: Vec<Line>,
    compared: usize,
    traces: Vec<Shown>,
    left_out: usize,
    /// How many of these went wrong.
    left_wrong: usize,
    early: String,
    allowed: String,
    margin: String,
    watched: String,
    notes: Vec<String>,
    version: &'static str,
    styles: String,
    script: &'static str,
}

struct Tile {
    name: &'static str,
    value: String,
    note: String,
}

/// A setting with its figures on a part.
struct Line {
    name: String,
    chosen: bool,
    values: Vec<String>,
    cells: [String; 8],
    /// Which cells tell of something wrong.
    wrong: [bool; 8],
}

struct Shown {
    name: String,
    verdict: String,
    part: &'static str,
    decision: String,
    as_set: String,
    wrong: bool,
    picture: String,
}

/// The page.
///
/// # Errors
/// It cannot be made.
pub fn html(found: &Found) -> anyhow::Result<String> {
    let (at, _) = found.recommended;
    let base = found.base();
    let candidates = &found.candidates;
    let shown = &found.scores[1][at];
    let drawn = drawn(found);
    let traces = drawn
        .iter()
        .map(|n| {
            let studied = &found.traces[*n];
            Shown {
                name: studied.trace.name.clone(),
                verdict: studied.trace.verdict.to_string(),
                part: PART_NAMES[usize::from(!studied.chosen_on)],
                decision: words::decision(studied, at),
                as_set: words::decision(studied, base),
                wrong: !studied.rows[at].outcome.right(),
                picture: trace::svg(found, studied),
            }
        })
        .collect();
    let page = Page {
        folder: found.folder.clone(),
        facts: format!(
            "{} of jams, {} of honest work; settings {}, varied by {}",
            counted(jams(found) as u64, "trace"),
            found.traces.len() - jams(found),
            candidates.base.file,
            candidates.vary.file
        ),
        verdict: capital(&words::verdict(found)),
        wrong: shown.mistakes() > 0,
        reason: capital(&words::reason(found)),
        tiles: tiles(found),
        setting: setting(found),
        parts: [("chosen on", at, 0), ("shown on", at, 1), ("as set now, on all", base, 2), ("on all", at, 2)]
            .map(|(name, n, part)| line(found, name.to_owned(), n, part))
            .into(),
        keys: candidates.vary.keys.iter().map(|key| head(&key.name)).collect(),
        front_picture: front::svg(found),
        front: found.front.iter().map(|n| line(found, (n + 1).to_string(), *n, 0)).collect(),
        compared: candidates.all.len(),
        left_out: found.traces.len() - drawn.len(),
        left_wrong: wrong(found).saturating_sub(MOST_DRAWN),
        traces,
        early: found.rules.early_s.to_string(),
        allowed: found.rules.allowed_s.to_string(),
        margin: percent(found.rules.margin).to_string(),
        watched: candidates
            .watched()
            .into_iter()
            .map(|cause| crate::report::words::plain(crate::report::event::cause_name(cause)))
            .collect::<Vec<_>>()
            .join(", "),
        notes: found.notes.iter().map(|note| capital(note)).collect(),
        version: env!("CARGO_PKG_VERSION"),
        styles: [include_str!("../../../page/page.css"), include_str!("../../../page/study.css")].concat(),
        script: include_str!("../../../page/theme.js"),
    };
    Ok(page.render()?)
}

fn jams(found: &Found) -> usize {
    found.traces.iter().filter(|studied| studied.trace.verdict != Verdict::Honest).count()
}

/// Traces gone wrong under the recommended setting.
fn wrong(found: &Found) -> usize {
    found.traces.iter().filter(|studied| !studied.rows[found.recommended.0].outcome.right()).count()
}

/// Which traces are drawn: all, or those gone wrong and the first of the others.
fn drawn(found: &Found) -> Vec<usize> {
    let mut all: Vec<usize> = (0..found.traces.len()).collect();
    all.sort_by_key(|n| found.traces[*n].rows[found.recommended.0].outcome.right());
    all.truncate(MOST_DRAWN);
    all.sort_unstable();
    all
}

fn tiles(found: &Found) -> Vec<Tile> {
    let (at, reason) = found.recommended;
    let score = &found.scores[1][at];
    let time = |s: Option<f64>| s.map_or("–".to_owned(), |s| format!("{s:.2} s"));
    let tile = |name, value, note: &str| Tile { name, value, note: note.to_owned() };
    vec![
        tile("new jams caught in time", format!("{} of {}", score.caught, score.jams), ""),
        tile(
            "false trips",
            score.falses.to_string(),
            &format!("on {}, {} of them honest", counted((score.jams + score.honest) as u64, "trace"), score.honest),
        ),
        tile(
            "mean time to the trip",
            time(score.mean_s),
            &score.longest_s.map_or(String::new(), |s| format!("longest {s:.2} s")),
        ),
        tile(
            "room left on honest work",
            format!("{:.0} %", score.margin() * 100.0),
            if reason == Reason::Quickest { "" } else { "less than wanted" },
        ),
        tile("settings compared", found.candidates.all.len().to_string(), ""),
    ]
}

/// The lines to write into the settings.
fn setting(found: &Found) -> String {
    let vary = &found.candidates.vary;
    let Some(best) = found.best() else { return "none".to_owned() };
    let mut tables: Vec<(&str, String)> = Vec::new();
    let picks = &found.candidates.all[best].picks;
    for (key, pick) in vary.keys.iter().zip(picks) {
        let (table, name) = key.name.rsplit_once('.').unwrap_or(("", &key.name));
        let line = format!("{name} = {}\n", key.shown(*pick));
        match tables.iter_mut().find(|(known, _)| *known == table) {
            Some((_, lines)) => lines.push_str(&line),
            None => tables.push((table, line)),
        }
    }
    tables.iter().map(|(table, lines)| format!("[{table}]\n{lines}")).collect::<Vec<_>>().join("\n")
}

fn line(found: &Found, name: String, n: usize, part: usize) -> Line {
    let score: &Score = &found.scores[part][n];
    let time = |s: Option<f64>| s.map_or("–".to_owned(), |s| format!("{s:.2}"));
    let vary = &found.candidates.vary;
    let values = found.candidates.all.get(n).map_or_else(Vec::new, |candidate| {
        vary.keys
            .iter()
            .zip(&candidate.picks)
            .map(|(key, pick)| key.shown(*pick).trim_matches('"').to_owned())
            .collect()
    });
    Line {
        name,
        chosen: found.best() == Some(n),
        values,
        wrong: [
            score.caught < score.jams,
            score.late > 0,
            score.missed > 0,
            score.falses > 0,
            false,
            false,
            false,
            false,
        ],
        cells: [
            format!("{} of {}", score.caught, score.jams),
            score.late.to_string(),
            score.missed.to_string(),
            score.falses.to_string(),
            score.touchy.to_string(),
            time(score.mean_s),
            time(score.longest_s),
            format!("{:.0} %", score.margin() * 100.0),
        ],
    }
}

/// A key as the head of a column, which may break after the table; names of keys are letters, points and underscores.
fn head(key: &str) -> String {
    key.trim_start_matches("trip.").replace('.', ".<wbr>")
}

/// Dots as one path.
fn dots(class: &str, all: impl Iterator<Item = (f64, f64)>) -> String {
    let mut out = format!("<path class=\"{class}\" d=\"");
    for (x, y) in all {
        let _ = write!(out, "M{x} {y}h0"); // writing to a string cannot fail
    }
    out + "\"/>"
}
