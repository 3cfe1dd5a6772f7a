//! Energy per tonne by run, batch, material and screen: always a ratio of sums, never a mean of ratios.
//!
//! What lies outside of all runs is a row of its own, so that the rows add up to the totals. A row is told with its
//! bands ([`super::uncertainty`]); without mass, or with less than a kilogram, there is no energy per tonne.

mod row;

use std::collections::BTreeMap;

use serde::Serialize;

use super::Reason;
use super::counted::Counted;
use super::number::figure;
use super::sums::Sums;
use super::totals::LEAST_MASS_KG;
use super::uncertainty::{COVERAGE, Field, Mass, Term};
use crate::settings::About;
pub use row::{RunRow, wide};

/// Said wherever an operating work index is.
pub const TREND: &str = "ductile metal: a trend for the same material and mill, no material constant";

/// A part of the trace before it is written.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Part {
    /// What is known of it.
    pub about: About,
    /// Its limits, s.
    pub limits_s: Option<(f64, f64)>,
    /// Its sums.
    pub sums: Sums,
    /// Its mass, kg.
    pub mass_kg: Option<f64>,
    /// Where it was counted; nowhere if it was weighed apart.
    pub counted: Counted,
    /// Why there is no mass, where there is none.
    pub no_mass: Reason,
}

/// All there is to say of runs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Runs {
    /// The runs in order of time; if there are any, what is outside of them comes last.
    pub runs: Vec<RunRow>,
    /// The runs that state a batch, by batch.
    pub by_batch: Vec<RunRow>,
    /// By material.
    pub by_material: Vec<RunRow>,
    /// By screen.
    pub by_screen: Vec<RunRow>,
    /// The whole trace.
    pub whole: RunRow,
    /// How the bands of the whole trace come about.
    pub uncertainty: Uncertainty,
}

/// How bands come about.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Uncertainty {
    /// Bands are so many standard uncertainties wide to either side.
    pub coverage_factor: f64,
    /// The errors of instruments and nameplate one by one.
    pub field: Vec<Term>,
    /// What is assumed where the settings say nothing.
    pub assumed: Vec<String>,
    /// Why there is no band by instruments and nameplate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Reason>,
}

impl Runs {
    /// The rows of some runs, of what is outside of them, and of all with the mass of the totals.
    pub fn new(runs: &[Part], outside: &Part, whole: &Part, field: &Field, given: impl Fn(&str) -> bool) -> Self {
        let mut rows: Vec<RunRow> = Vec::new();
        for (at, part) in runs.iter().enumerate() {
            rows.push(RunRow { runs: 1, ..RunRow::new((at + 1).to_string(), part, field) });
        }
        if !runs.is_empty() {
            rows.push(RunRow::new("outside".to_owned(), outside, field));
        }
        let terms = whole.mass().and_then(|mass| field.terms(&whole.sums, mass)).unwrap_or_default();
        let round = |term: Term| Term {
            limit: figure(term.limit),
            gross_kwh_per_t: figure(term.gross_kwh_per_t),
            net_kwh_per_t: term.net_kwh_per_t.map(figure),
            ..term
        };
        Self {
            by_batch: groups(runs, field, |row| &mut row.batch, |about| about.batch.as_deref()),
            by_material: groups(runs, field, |row| &mut row.material, |about| about.material.as_deref()),
            by_screen: groups(runs, field, |row| &mut row.screen, |about| about.screen.as_deref()),
            whole: RunRow { runs: runs.len(), ..RunRow::new("whole trace".to_owned(), whole, field) },
            uncertainty: Uncertainty {
                coverage_factor: COVERAGE,
                field: terms.into_iter().map(round).collect(),
                assumed: field.assumed(given),
                why: field.missing(),
            },
            runs: rows,
        }
    }

    /// The tables by their names in the output.
    fn tables(&self) -> [(&'static str, &[RunRow]); 4] {
        [
            ("runs", &self.runs),
            ("by_batch", &self.by_batch),
            ("by_material", &self.by_material),
            ("by_screen", &self.by_screen),
        ]
    }

    /// Every row with the name of its table; the whole trace comes last.
    pub fn rows(&self) -> impl Iterator<Item = (&'static str, &RunRow)> {
        let rows = self.tables().into_iter().flat_map(|(table, rows)| rows.iter().map(move |row| (table, row)));
        rows.chain([("whole", &self.whole)])
    }

    /// Every table that people are shown, with its heading: a group only where it tells more than the runs do.
    pub fn shown(&self) -> Vec<(&'static str, Vec<&RunRow>)> {
        let headings = ["Runs", "By batch", "By material", "By screen"];
        let all = self.tables().into_iter().zip(headings);
        let mut shown: Vec<(&'static str, Vec<&RunRow>)> = all
            .filter(|((table, rows), _)| *table == "runs" || rows.iter().any(|row| row.runs > 1))
            .map(|((_, rows), heading)| (heading, rows.iter().collect()))
            .filter(|(_, rows): &(_, Vec<_>)| !rows.is_empty())
            .collect();
        if let Some((_, runs)) = shown.first_mut() {
            runs.push(&self.whole);
        }
        shown
    }

    /// What bands are and why one is missing, in a sentence or two.
    pub fn about_bands(&self) -> String {
        if let Some(why) = self.uncertainty.why {
            return format!("no bands: {why}");
        }
        let bands = "+- is about 95 % (k = 2): instruments, nameplate and model together";
        // A figure without its band is told why, once.
        let bare = self.rows().find_map(|(_, row)| {
            row.net_kwh_per_t?;
            row.why.get("net_band_kwh_per_t")
        });
        bare.map_or_else(|| bands.to_owned(), |why| format!("{bands}; no band of net: {why}"))
    }
}

/// The runs that have something in common, in the order of its name; those that do not state it are left out.
fn groups(
    runs: &[Part],
    field: &Field,
    slot: impl Fn(&mut RunRow) -> &mut Option<String>,
    common: impl Fn(&About) -> Option<&str>,
) -> Vec<RunRow> {
    let mut groups: BTreeMap<&str, (usize, Part)> = BTreeMap::new();
    for run in runs {
        let Some(name) = common(&run.about) else { continue };
        let (count, group) = groups.entry(name).or_insert((0, Part { mass_kg: Some(0.0), ..Part::default() }));
        *count += 1;
        group.sums += run.sums;
        group.counted.and(&run.counted);
        // The energy of a run without mass must not be spread over the mass of the others.
        if run.mass_kg.is_none() && group.mass_kg.is_some() {
            group.no_mass = "the mass of one of its runs is not known";
        }
        group.mass_kg = group.mass_kg.zip(run.mass_kg).map(|(sum, kg)| sum + kg);
    }
    let row = |(name, (runs, part)): (&str, (usize, Part))| {
        let mut row = RunRow { runs, ..RunRow::new(name.to_owned(), &part, field) };
        *slot(&mut row) = Some(name.to_owned());
        row
    };
    groups.into_iter().map(row).collect()
}

impl Part {
    /// Its mass where that is enough for an energy per tonne.
    fn mass(&self) -> Option<Mass> {
        let kg = self.mass_kg.filter(|kg| *kg >= LEAST_MASS_KG)?;
        Some(Mass { tonnes: kg / 1000.0, ends: self.counted.ends() })
    }
}

#[cfg(test)]
mod tests;
