//! A row of energies, mass and energy per tonne with its bands, as it is written.

use serde::Serialize;
use shaftwork_core::judge::event::State;

use super::Part;
use crate::plant::breakage::Law;
use crate::report::number::{figure, seconds};
use crate::report::uncertainty::{Band, Field};
use crate::report::{Reason, Why};
use crate::settings::Sizes;

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

impl RunRow {
    /// The row of a part under a name.
    pub fn new(run: String, part: &Part, field: &Field) -> Self {
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

/// Names what is missing of a band in a row's reasons.
fn explain(why: &mut Why, keys: [&'static str; 2], band: Option<Band>, no_figure: Option<Reason>, reason: Reason) {
    if band.and_then(|band| band.field).is_none() {
        for key in keys {
            why.insert(key, no_figure.unwrap_or(reason));
        }
    }
}
