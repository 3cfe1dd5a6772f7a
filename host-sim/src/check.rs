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
mod tests {
    use super::*;
    use crate::settings::testing::{good, parsed, with};

    fn made(text: &str) -> Vec<Line> {
        let (settings, warnings) = parsed(text);
        lines(&settings, &warnings)
    }

    #[test]
    fn the_table_keeps_to_its_width() {
        let lines = made(&with("sampling", "gain = [1.01, 1.02, 1.03, 1.04, 1.05, -1.06]").replace("1600", "160"));
        let text = text("mill.toml", &lines);
        for row in text.lines() {
            assert!(row.chars().count() <= WIDTH, "{row}");
        }
        assert!(text.contains("with 2 warnings\n  * line 10, key sampling.current_full_scale_a"), "{text}");
    }

    /// Figures by hand: 1.05 x 96.55 A; 600 s x ln(2.25 / (2.25 - 1.1025)), and with 36 in place of 2.25
    /// (IEC 60255-149, from memory); 200 % of 96.55 A; 80 % of 400 V / sqrt(3).
    #[test]
    fn pickups_and_times_are_told() {
        let json = json("mill.toml", &made(&good()));
        let value = |section: &str, name: &str| json["sections"][section][name]["value"].as_f64().unwrap();
        for (section, name, expected) in [
            ("trip.thermal", "pickup_a", 101.3775),
            ("trip.thermal", "cold_trip_at_150_pct_s", 404.003),
            ("trip.thermal", "cold_trip_at_600_pct_s", 18.6619),
            ("trip.jam", "pickup_a", 193.1),
            ("trip.undervoltage", "pickup_v", 184.752),
            ("sampling", "volt_per_count", 800.0 / 32_767.0),
            ("motor", "rated_efficiency_pct", 93.755),
        ] {
            assert!((value(section, name) / expected - 1.0).abs() < 1e-4, "{name}: {}", value(section, name));
        }
        assert_eq!(json["sections"]["motor"]["rated_efficiency_pct"]["from"], "inferred");
        assert_eq!(json["sections"]["motor"]["poles"]["from"], "given");
        assert_eq!(json["sections"]["sampling"]["bits"]["from"], "default");
        assert_eq!(json["warnings"], json!([]));
    }

    #[test]
    fn the_error_to_expect_is_a_table_and_a_document() {
        let (settings, _) = parsed(&good());
        let line = Line::Expected(expected::expected(&settings).unwrap(), model::model(&settings));
        let told = text("x", std::slice::from_ref(&line));
        assert!(told.lines().all(|row| row.chars().count() <= WIDTH), "{told}");
        for part in ["[expected error]", "rated_efficiency_pct", "±20 % of it", "model: all figures right", "4.5 rpm"]
        {
            assert!(told.contains(part), "{part}: {told}");
        }
        let json = json("x", &[line]);
        let error = &json["expected_error"];
        assert_eq!(error["model"]["told"], "nameplate");
        assert_eq!(error["field"]["figures"].as_array().map(Vec::len), Some(6));
        assert!(error["field"]["field_full_load_pct"].as_f64().unwrap() > 1.0, "{error}");
    }

    #[test]
    fn an_element_that_is_not_wanted_says_so() {
        let lines = made(&with("trip.jam", "enabled = false"));
        assert!(text("x", &lines).contains("[trip.jam]\n  not wanted (enabled = false)\n"));
    }

    /// Limits of class 1 at rated current (IEC 61869-2, from memory); a tolerance of 15 % of 6.2459 (IEC 60034-1, from
    /// memory).
    #[test]
    fn what_is_assumed_of_instruments_is_told() {
        let none = json("mill.toml", &made(&good()));
        assert!(none["sections"]["accuracy"]["note"].as_str().unwrap().contains("not given"));
        let text = format!(
            "{}\n[accuracy]\ncurrent_transformer_class = \"1\"\nscale_class = \"0.5\"\n[[run]]\nto_s = 9\nscreen = \"25\"\n",
            good()
        );
        let json = json("mill.toml", &made(&text));
        let figures = &json["sections"]["accuracy"];
        for (name, value, from) in [
            ("current_transformer_ratio_pct", 1.0, "inferred"),
            ("current_transformer_phase_min", 60.0, "inferred"),
            ("converter_gain_pct", 0.2, "default"),
            ("scale_error_pct", 0.5, "inferred"),
            ("efficiency_tolerance_points", 0.93689, "inferred"),
        ] {
            assert!((figures[name]["value"].as_f64().unwrap() - value).abs() < 1e-4, "{name}: {figures}");
            assert_eq!(figures[name]["from"], from, "{name}");
        }
        assert_eq!(figures["voltage_transformer"]["value"], "none");
        assert_eq!(json["sections"]["run"]["run[1].from_s"]["note"], "screen 25, to 9 s");
    }

    #[test]
    fn short_keeps_six_digits() {
        for (x, text) in
            [(0.0, "0"), (50.0, "50"), (0.024_414_8, "0.0244148"), (1_234_567.0, "1234567"), (1e-9, "0.000000001")]
        {
            assert_eq!(short(x), text);
        }
    }
}
