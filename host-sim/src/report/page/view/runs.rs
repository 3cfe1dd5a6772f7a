//! Energy per tonne by run on the page, and how its bands come about.

use crate::report::runs::{RunRow, Runs, wide};
use crate::report::words::{short, span};

/// Runs, or groups of them.
pub struct Table {
    pub heading: &'static str,
    /// What its rows are.
    pub column: &'static str,
    pub rows: Vec<Row>,
}

/// A run, or a group of them.
pub struct Row {
    pub name: String,
    pub time: String,
    pub energy: String,
    pub mass: String,
    /// Gross and net.
    pub specific: [Specific; 2],
    pub index: Option<String>,
}

/// An energy per tonne with its bands.
pub struct Specific {
    pub value: String,
    /// By model, by instruments and nameplate, by both.
    pub bands: [String; 3],
    pub why: &'static str,
}

/// An error and what it does.
pub struct Line {
    pub source: &'static str,
    pub limit: String,
    pub gross: String,
    pub net: String,
}

const MISSING: &str = "–";

fn or_missing(x: Option<f64>, words: impl Fn(f64) -> String) -> String {
    x.map_or_else(|| MISSING.to_owned(), words)
}

/// The tables; empty without runs.
pub fn tables(runs: &Runs) -> Vec<Table> {
    let table = |(heading, rows): (&'static str, Vec<&RunRow>)| Table {
        heading,
        column: heading.strip_prefix("By ").unwrap_or("run"),
        rows: rows.into_iter().map(row).collect(),
    };
    runs.shown().into_iter().map(table).collect()
}

fn row(r: &RunRow) -> Row {
    let why = |key| r.why.get(key).copied().unwrap_or_default();
    let specific = |value: Option<f64>, bands: [Option<f64>; 3], why| Specific {
        value: or_missing(value, short),
        bands: bands.map(|band| or_missing(band, wide)),
        why,
    };
    let gross = [r.gross_model_band_kwh_per_t, r.gross_field_band_kwh_per_t, r.gross_band_kwh_per_t];
    let net = [r.net_model_band_kwh_per_t, r.net_field_band_kwh_per_t, r.net_band_kwh_per_t];
    Row {
        name: r.title(),
        time: span(r.time_s),
        energy: short(r.electrical_kwh),
        mass: or_missing(r.mass_t, |t| short(t * 1000.0)),
        specific: [
            specific(r.gross_kwh_per_t, gross, why("gross_kwh_per_t")),
            specific(r.net_kwh_per_t, net, why("net_kwh_per_t")),
        ],
        index: r.operating_work_index_kwh_per_t.map(short),
    }
}

/// The errors of instruments and nameplate for the whole trace, the largest in net first.
pub fn budget(runs: &Runs) -> Vec<Line> {
    let mut terms: Vec<_> = runs.uncertainty.field.iter().collect();
    terms.sort_by(|a, b| b.net_kwh_per_t.unwrap_or(0.0).total_cmp(&a.net_kwh_per_t.unwrap_or(0.0)));
    let line = |term: &crate::report::uncertainty::Term| Line {
        source: term.source,
        limit: match term.distribution {
            "normal" => format!("{} {}, one deviation", short(term.limit), term.unit),
            _ => format!("\u{b1}{} {}", short(term.limit), term.unit),
        },
        gross: wide(term.gross_kwh_per_t),
        net: or_missing(term.net_kwh_per_t, wide),
    };
    terms.into_iter().map(line).collect()
}
