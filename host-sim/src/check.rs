//! `check-settings`: what a settings file comes to, as a table for people and as JSON.
//!
//! [`lines`] makes the content once; [`text`] and [`json()`] give it two shapes.

pub mod expected;
mod figures;
pub mod model;
mod rounded;

use std::fmt::Write as _;
use std::process::ExitCode;

use serde_json::{Map, Value, json};

use crate::clash;
use crate::cli::{CheckSettings, show};
use crate::report::uncertainty::Estimate;
use crate::settings::derive::Provenance;
use crate::settings::{self, Warning, Wiring};

use expected::Expected;
pub use figures::lines;
use model::Model;

/// One line of the result.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// A table of the settings file, by its name there.
    Section(&'static str),
    /// A figure: a key of the file, or something that follows from it.
    Figure {
        /// The key; the unit is its ending, as in the file.
        name: String,
        /// What will be used; null is what is not known.
        value: Value,
        /// The unit, for people.
        unit: &'static str,
        /// Where it comes from.
        from: Provenance,
        /// What else there is to say.
        note: String,
    },
    /// How far the figures may be off, and shaft power with them.
    Expected(Expected, Model),
    /// A sentence about the section.
    Note(String),
    /// Something that looks odd.
    Warning(Warning),
}

/// Checks the file and prints the table, or writes the JSON, or both.
///
/// # Errors
/// The settings are at fault, or nothing can be written.
pub fn run(args: &CheckSettings) -> anyhow::Result<ExitCode> {
    clash::refuse(std::slice::from_ref(&args.file), clash::json(args.json.as_deref()).as_slice())?;
    let (settings, warnings) = settings::load(&args.file)?;
    let mut lines = lines(&settings, &[]);
    lines.push(Line::Expected(expected::expected(&settings)?, model::model(&settings)));
    if settings.supply.wiring == Wiring::CurrentsOnly {
        lines.push(Line::Note(format!(
            "Power is estimated from the current, unless a log of rms values has it: by up to {:.0} % of rated power more may it \
             be off, where the voltage is not the nominal one (docs/accuracy.md).",
            100.0 * Estimate::Nominal.limit()
        )));
    }
    lines.extend(rounded::lines(&settings)?);
    lines.extend(warnings.into_iter().map(Line::Warning));
    let name = args.file.display().to_string();
    show(&text(&name, &lines), &json(&name, &lines), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Columns of a terminal that the table keeps to.
const WIDTH: usize = 80;

/// The table for people, at most 80 columns except where a name is longer.
pub fn text(file: &str, lines: &[Line]) -> String {
    let warnings: Vec<&Warning> =
        lines.iter().filter_map(|line| if let Line::Warning(w) = line { Some(w) } else { None }).collect();
    let mut out = match warnings.len() {
        0 => format!("{file} is sound; this is what will be used\n"),
        1 => format!("{file} can be used, with a warning\n"),
        n => format!("{file} can be used, with {n} warnings\n"),
    };
    // What may be a mistake is read before two screens of figures.
    for warning in warnings {
        wrap(&mut out, "  * ", "    ", &warning.to_string());
    }
    for line in lines {
        match line {
            Line::Section(name) => {
                let _ = writeln!(out, "\n[{name}]");
            }
            Line::Figure { name, value, unit, from, note } => figure(&mut out, name, value, unit, *from, note),
            Line::Expected(expected, model) => expected::words::text(&mut out, expected, *model),
            Line::Note(note) => wrap(&mut out, "  ", "  ", note),
            Line::Warning(_) => {}
        }
    }
    out.push('\n');
    wrap(&mut out, "", "", CAUTION);
    out
}

/// Said where trip settings are shown.
const CAUTION: &str = "These trips monitor; they protect nobody. Overload relays, guards, interlocks and emergency \
    stops stay, and stay hard-wired.";

fn figure(out: &mut String, name: &str, value: &Value, unit: &str, from: Provenance, note: &str) {
    let shown = shown(value);
    let unit = if value.is_null() { "" } else { unit };
    let row = format!("  {name:<28}{shown:>11} {unit:<6} {:<8}", from.name());
    let beside = row.chars().count() + 1 + note.chars().count() <= WIDTH;
    if beside {
        let row = format!("{row} {note}");
        let _ = writeln!(out, "{}", row.trim_end());
    } else {
        let _ = writeln!(out, "{}", row.trim_end());
        wrap(out, "      ", "      ", note);
    }
}

/// A value for people.
pub fn shown(value: &Value) -> String {
    match value {
        Value::Null => "-".to_owned(),
        Value::Number(number) => number.as_f64().map_or_else(|| number.to_string(), short),
        Value::String(text) => text.clone(),
        // What is in a list stands in the note.
        Value::Array(list) => format!("{} values", list.len()),
        other => other.to_string(),
    }
}

/// Six significant digits, without trailing zeros.
fn short(x: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return x.to_string();
    }
    let digits = 5 - x.abs().log10().floor().clamp(-12.0, 5.0) as i32; // 0..=17
    let text = format!("{x:.*}", digits as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Breaks a sentence at blanks.
fn wrap(out: &mut String, first: &str, rest: &str, sentence: &str) {
    let mut row = first.to_owned();
    let mut empty = true;
    for word in sentence.split_whitespace() {
        if !empty && row.chars().count() + 1 + word.chars().count() > WIDTH {
            let _ = writeln!(out, "{row}");
            rest.clone_into(&mut row);
            empty = true;
        }
        if !empty {
            row.push(' ');
        }
        row.push_str(word);
        empty = false;
    }
    let _ = writeln!(out, "{row}");
}

/// The same as JSON: `sections` by name, each with figures by name.
pub fn json(file: &str, lines: &[Line]) -> Value {
    let mut sections: Vec<(&str, Map<String, Value>)> = Vec::new();
    let mut warnings = Vec::new();
    let mut error = Value::Null;
    for line in lines {
        match line {
            Line::Section(name) => sections.push((*name, Map::new())),
            Line::Figure { name, value, unit, from, note } => {
                if let Some((_, section)) = sections.last_mut() {
                    let mut entry = json!({ "value": value, "unit": unit, "from": from.name() });
                    if !note.is_empty() {
                        entry["note"] = json!(note);
                    }
                    section.insert(name.clone(), entry);
                }
            }
            Line::Expected(expected, model) => error = json!({ "field": expected, "model": model }),
            Line::Note(note) => {
                if let Some((_, section)) = sections.last_mut() {
                    section.insert("note".to_owned(), json!(note));
                }
            }
            Line::Warning(Warning { line, key, text }) => {
                warnings.push(json!({ "line": line, "key": key, "text": text }));
            }
        }
    }
    let sections: Map<String, Value> =
        sections.into_iter().map(|(name, section)| (name.to_owned(), section.into())).collect();
    json!({
        "format": "shaftwork-settings/1",
        "file": file,
        "sections": sections,
        "expected_error": error,
        "warnings": warnings,
    })
}

#[cfg(test)]
mod tests;
