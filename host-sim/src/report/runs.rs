//! Energy per tonne by run, batch, material and screen: always a ratio of sums, never a mean of ratios.
//!
//! What lies outside of all runs is a row of its own, so that the rows add up to the totals. A row is told with its
//! bands ([`super::uncertainty`]); without mass, or with less than a kilogram, there is no energy per tonne.

use std::collections::BTreeMap;

use serde::Serialize;
use shaftwork_core::judge::event::State;

use super::counted::Counted;
use super::number::{figure, seconds};
use super::sums::Sums;
use super::totals::LEAST_MASS_KG;
use super::uncertainty::{Band, COVERAGE, Field, Mass, Term, explain};
use super::{Reason, Why};
use crate::plant::breakage::Law;
use crate::settings::{About, Sizes};

/// Said wherever an operating work index is.
pub const TREND: &str = "ductile metal: a trend for the same material and mill, no material constant";

/// A run, a group of runs or what is outside of them, as it is written.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct RunRow {
    /// Its number, `outside`, `whole trace`, or what the runs of a group have in common.
    pub run: String,
    pub batch: Option<String>,
    pub material: Option<String>,
    pub screen: Option<String>,
    pub from_s: Option<f64>,
    pub to_s: Option<f64>,
    /// Runs in it.
    pub runs: usize,
    pub time_s: f64,
    pub idle_s: f64,
    pub breaking_s: f64,
    pub electrical_kwh: f64,
    pub exported_kwh: f64,
    pub reactive_kvarh: f64,
    pub start_kwh: f64,
    pub shaft_kwh: Option<f64>,
    pub net_kwh: Option<f64>,
    pub mass_t: Option<f64>,
    pub gross_kwh_per_t: Option<f64>,
    pub gross_model_band_kwh_per_t: Option<f64>,
    pub gross_field_band_kwh_per_t: Option<f64>,
    pub gross_band_kwh_per_t: Option<f64>,
    pub net_kwh_per_t: Option<f64>,
    pub net_model_band_kwh_per_t: Option<f64>,
    pub net_field_band_kwh_per_t: Option<f64>,
    pub net_band_kwh_per_t: Option<f64>,
    /// By Bond, of the shaft's energy; only with the sizes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub operating_work_index_kwh_per_t: Option<f64>,
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

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
        match self.uncertainty.why {
            Some(why) => format!("no bands: {why}"),
            None => "+- is about 95 % (k = 2): instruments, nameplate and model together".to_owned(),
        }
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

impl RunRow {
    fn new(run: String, part: &Part, field: &Field) -> Self {
        let Part { about, sums, .. } = part;
        let known = sums.known();
        let idle_kw = field.idle.filter(|_| known).map(|idle| idle.kw);
        let mass = part.mass();
        let tonnes = mass.map(|mass| mass.tonnes);
        let bands = mass.map(|mass| field.bands(sums, mass));
        let gross = bands.map(|(gross, _)| gross);
        let net = bands.and_then(|(_, net)| net).filter(|_| known);
        let bond = |Sizes { f80_mm, p80_mm }: Sizes| {
            tonnes.filter(|_| known).map(|t| Law::Bond.constant(sums.running.shaft_kwh / t, f80_mm, p80_mm))
        };
        let mut row = Self {
            run,
            batch: about.batch.clone(),
            material: about.material.clone(),
            screen: about.screen.clone(),
            from_s: part.limits_s.map(|(from_s, _)| seconds(from_s)),
            to_s: part.limits_s.map(|(_, to_s)| seconds(to_s)),
            runs: 0,
            time_s: seconds(sums.whole_s()),
            idle_s: seconds(sums.time_s(State::Idle)),
            breaking_s: seconds(sums.time_s(State::Breaking)),
            electrical_kwh: figure(sums.taken_kwh),
            exported_kwh: figure(sums.exported_kwh),
            reactive_kvarh: figure(sums.lagging_kvarh),
            start_kwh: figure(sums.start_kwh),
            shaft_kwh: known.then(|| figure(sums.running.shaft_kwh)),
            net_kwh: idle_kw.map(|kw| figure(sums.net_kwh(kw))),
            mass_t: part.mass_kg.map(|kg| figure(kg / 1000.0)),
            gross_kwh_per_t: tonnes.map(|t| figure(sums.taken_kwh / t)),
            gross_model_band_kwh_per_t: gross.map(|band| figure(band.model)),
            gross_field_band_kwh_per_t: gross.and_then(|band| band.field).map(figure),
            gross_band_kwh_per_t: gross.and_then(|band| band.both).map(figure),
            net_kwh_per_t: tonnes.zip(idle_kw).map(|(t, kw)| figure(sums.net_kwh(kw) / t)),
            net_model_band_kwh_per_t: net.map(|band| figure(band.model)),
            net_field_band_kwh_per_t: net.and_then(|band| band.field).map(figure),
            net_band_kwh_per_t: net.and_then(|band| band.both).map(figure),
            operating_work_index_kwh_per_t: about.sizes.and_then(bond).map(figure),
            why: Why::new(),
        };
        row.explain(part, field, [gross, net]);
        row
    }

    fn explain(&mut self, part: &Part, field: &Field, [gross, net]: [Option<Band>; 2]) {
        const IDLE: Reason = "idle power is not known: the mill never ran steadily empty";
        const SHORT: Reason = "the state is not known there";
        let no_mass = if self.mass_t.is_none() { part.no_mass } else { "less than 1 kg fed" };
        let no_net = if self.shaft_kwh.is_none() { SHORT } else { IDLE };
        let gross_why = self.gross_kwh_per_t.is_none().then_some(no_mass);
        let net_why = gross_why.or(self.net_kwh.is_none().then_some(no_net));
        for (key, missing) in [
            ("shaft_kwh", self.shaft_kwh.is_none().then_some(SHORT)),
            ("net_kwh", self.net_kwh.is_none().then_some(no_net)),
            ("mass_t", self.mass_t.is_none().then_some(no_mass)),
            ("gross_kwh_per_t", gross_why),
            ("gross_model_band_kwh_per_t", gross_why),
            ("net_kwh_per_t", net_why),
            ("net_model_band_kwh_per_t", net_why),
        ] {
            self.why.extend(missing.map(|reason| (key, reason)));
        }
        let reason = field.missing().unwrap_or_default();
        explain(&mut self.why, ["gross_field_band_kwh_per_t", "gross_band_kwh_per_t"], gross, gross_why, reason);
        let reason = field.missing().or(field.missing_idle()).unwrap_or_default();
        explain(&mut self.why, ["net_field_band_kwh_per_t", "net_band_kwh_per_t"], net, net_why, reason);
    }

    /// Gross and net with their whole bands, kWh/t: the model's alone would look better than the figure is.
    pub fn specific(&self) -> [Option<(f64, Option<f64>)>; 2] {
        [
            self.gross_kwh_per_t.map(|x| (x, self.gross_band_kwh_per_t)),
            self.net_kwh_per_t.map(|x| (x, self.net_band_kwh_per_t)),
        ]
    }

    /// The bands of gross and net in words: `+- 0.35 (k = 2: field 0.33, model 0.12)`; empty without a figure.
    pub fn bands(&self) -> [String; 2] {
        let words = |both: Option<f64>, field: Option<f64>, model: Option<f64>| match (both, field, model) {
            (Some(both), Some(field), Some(model)) => {
                format!("+- {} (k = 2: field {}, model {})", wide(both), wide(field), wide(model))
            }
            (_, _, Some(model)) => format!("(by the model alone +- {}, k = 2)", wide(model)),
            _ => String::new(),
        };
        [
            words(self.gross_band_kwh_per_t, self.gross_field_band_kwh_per_t, self.gross_model_band_kwh_per_t),
            words(self.net_band_kwh_per_t, self.net_field_band_kwh_per_t, self.net_model_band_kwh_per_t),
        ]
    }

    /// What it is for people: number and what is known of it.
    pub fn title(&self) -> String {
        let mut title = self.run.clone();
        if self.from_s.is_some() {
            for part in [&self.material, &self.screen, &self.batch].into_iter().flatten() {
                title.push_str(if title == self.run { " " } else { ", " });
                title.push_str(part);
            }
        }
        title
    }
}

/// The width of a band for people: two significant digits say all that is known of it (JCGM 100, 7.2.6).
pub fn wide(x: f64) -> String {
    if x <= 0.0 {
        return "0".to_owned();
    }
    let places = (1 - x.log10().floor() as i32).clamp(0, 6) as usize;
    format!("{x:.places$}")
}

#[cfg(test)]
mod tests;
