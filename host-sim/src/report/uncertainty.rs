//! Uncertainty of a specific energy (JCGM 100, 5.1.6): a list of errors, what each does to it, the root of squares.
//!
//! ```text
//! gross e = E / m      net n = (S - P0 h) / m      S = A - L: shaft energy, what the motor took less its losses
//!
//! error                              on E m        on N = n m
//! gain g of transformers, converter  E g           (A - h a0) g    idle power is measured with the same gain: once
//! phase displacement d               Q d           (Qr - h q0) d   tan phi, weighted by energy
//! losses l                           -             (L - h l0) l
//! idle power, its repeating          -             h u
//! scale                              relative      relative
//! pulses of the scale, or            half a pulse or step of m at each end ([`super::counted`])
//! steps of its column
//! ```
//!
//! h is the running time, a0, q0, l0 what the idling motor takes and loses; an idle power that was set and not learnt
//! has none of these errors, and then nothing is taken off. Limits of instruments count as rectangular (u = a / sqrt 3),
//! the same for all transformers of a kind: like errors of like instruments do not cancel. Bands are expanded with
//! k = 2. The model's band is apart: what the figures err by when every instrument and the nameplate are right; shaft
//! energy above 10 % of slip counts as an error of its own size where it is an upper estimate, of a twentieth otherwise.

use serde::Serialize;

use super::Reason;
use super::sums::Sums;
use crate::check::model::Model;
use crate::settings::Accuracy;
use crate::settings::accuracy::efficiency_points;

/// Coverage factor: about 95 %.
pub const COVERAGE: f64 = 2.0;

/// Limit of the meter's own error of electrical energy, %, as docs/accuracy.md promises it.
const METER_PCT: f64 = 0.03;

/// Limit of an estimated power's error, % of rated power while the motor runs, as the estimate's table in docs/accuracy.md
/// bears out: at a measured voltage from 90 to 110 % of rated, and at a nominal one that the mains keep within 10 % up to
/// rated load. Net of an idle power that was learnt both err, at low load the other way: half as much again.
const ESTIMATED_PCT: [f64; 2] = [5.0, 15.0];
const OF_BOTH: f64 = 1.5;

/// What active power is estimated from the current at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Estimate {
    /// The voltage that is measured.
    Measured,
    /// The nominal voltage.
    Nominal,
}

impl Estimate {
    /// Limit of the error, share of rated power.
    pub fn limit(self) -> f64 {
        let [measured, nominal] = ESTIMATED_PCT;
        if self == Self::Measured { measured / 100.0 } else { nominal / 100.0 }
    }
}

/// What idle power is and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Idle {
    /// At the shaft, kW.
    pub kw: f64,
    /// Whether it was learnt from the trace, with all errors of its instruments.
    pub learnt: bool,
    /// How well it repeats, kW: as given, else its standard deviation over intervals.
    pub spread_kw: Option<f64>,
}

/// What errors act through, for a trace and its settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// Of the settings; `None`: nothing is said.
    pub accuracy: Option<Accuracy>,
    /// How active power is estimated; `None`: it is measured.
    pub estimate: Option<Estimate>,
    /// What a pulse of the scale stands for, kg, where pulses tell the mass.
    pub pulse_kg: Option<f64>,
    /// The smallest step of a column of mass, kg, where that tells the mass.
    pub step_kg: Option<f64>,
    /// The model's own error, by what the settings tell.
    pub model: Model,
    /// Rated power of the motor, kW.
    pub rated_kw: f64,
    /// Efficiency at rated load, %.
    pub efficiency_pct: f64,
    /// How far shaft energy above 10 % of slip may be wrong, as a share of it: see [`STALLED_SHARE`].
    pub stalled_share: f64,
    /// `None` where it is not known.
    pub idle: Option<Idle>,
    /// All of the trace: what an idling motor takes.
    pub whole: Sums,
}

/// How far shaft energy above 10 % of slip may be wrong: altogether where deep bars are not known, for then it is an upper
/// estimate; within a twentieth, which the stalls of the acceptance tests keep, where the locked rotor's torque tells them.
pub const STALLED_SHARE: [f64; 2] = [1.0, 0.05];

/// One error and what it does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Term {
    /// What errs.
    pub source: &'static str,
    /// By how much at most, or as a standard deviation.
    pub limit: f64,
    /// Unit of the limit.
    pub unit: &'static str,
    /// `rectangular` or `normal`.
    pub distribution: &'static str,
    /// Standard uncertainty that it leaves in the gross figure, kWh/t.
    pub gross_kwh_per_t: f64,
    /// The same in the net figure.
    pub net_kwh_per_t: Option<f64>,
}

/// Half widths of the bands around a figure, kWh/t, k = 2.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Band {
    /// By the model's error alone, every instrument and the nameplate being right.
    pub model: f64,
    /// By instruments and nameplate alone.
    pub field: Option<f64>,
    /// By both.
    pub both: Option<f64>,
}

/// Root of the sum of squares.
pub fn combined(uncertainties: impl IntoIterator<Item = f64>) -> f64 {
    uncertainties.into_iter().map(|u| u * u).sum::<f64>().sqrt()
}

/// Standard uncertainty of a limit between whose bounds all is equally likely (JCGM 100, 4.3.7).
pub fn rectangular(limit: f64) -> f64 {
    limit / 3f64.sqrt()
}

/// What was fed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mass {
    /// So much.
    pub tonnes: f64,
    /// Ends of what pulses told of it; none: it was weighed.
    pub ends: usize,
}

impl Field {
    /// Why there is no band by the instruments; `None` where there is one.
    pub fn missing(&self) -> Option<Reason> {
        match self.accuracy {
            None => Some("the settings have no [accuracy] table"),
            Some(a) if a.current.is_none() => Some("[accuracy] does not say what the current transformers are"),
            Some(a) if a.scale_error_pct.is_none() => Some("[accuracy] does not say how good the scale is"),
            Some(_) => None,
        }
    }

    /// Why there is none for the net figure, where there is one for the gross.
    pub fn missing_idle(&self) -> Option<Reason> {
        let spread = self.idle.and_then(|idle| idle.spread_kw);
        spread
            .is_none()
            .then_some("how well idle power repeats is not known: too little idling, no idle_repeatability_kw")
    }

    /// What idling takes an hour: active, reactive, lost; nothing of it where idle power was set.
    fn idling(&self) -> [f64; 3] {
        let flow = self.whole.idle;
        match self.idle {
            Some(idle) if idle.learnt && flow.hours > 0.0 => {
                let lost = (flow.active_kwh - flow.shaft_kwh) / flow.hours;
                [idle.kw + lost, flow.reactive_kvarh / flow.hours, lost]
            }
            // It ran too shortly while idle: at the shaft at least.
            Some(idle) if idle.learnt => [idle.kw, 0.0, 0.0],
            _ => [0.0; 3],
        }
    }

    /// The errors of instruments and nameplate one by one, for sums that were fed so many tonnes; `None` where too
    /// little is said of them.
    pub fn terms(&self, sums: &Sums, mass: Mass) -> Option<Vec<Term>> {
        let accuracy = self.accuracy.filter(|_| self.missing().is_none())?;
        let tonnes = mass.tonnes;
        let (current, scale_pct) = (accuracy.current?, accuracy.scale_error_pct?);
        let share = accuracy.current_rated_a.zip(sums.running_a()).map_or(1.0, |(rated, a)| a / rated);
        let current = current.at(share);
        let [active, reactive, lost] = self.idling();
        let (run, hours) = (sums.running, sums.running.hours);
        let net = self.idle.map(|idle| sums.net_kwh(idle.kw));
        let gain = [sums.taken_kwh, run.active_kwh - hours * active];
        let phase = [sums.lagging_kvarh, run.reactive_kvarh - hours * reactive];
        let losses = [0.0, run.active_kwh - run.shaft_kwh - hours * lost];
        let points =
            accuracy.efficiency_points.unwrap_or_else(|| efficiency_points(self.rated_kw, self.efficiency_pct));
        let radians = |minutes: f64| (minutes / 60.0).to_radians();
        // Name, limit and its unit; standard uncertainty of the input; what one of it does to E and N, kWh.
        let mut all: Vec<(&'static str, f64, &'static str, f64, [f64; 2])> = Vec::new();
        let mut limit = |name, limit: f64, unit, relative: f64, acts| {
            if limit > 0.0 {
                all.push((name, limit, unit, rectangular(relative), acts));
            }
        };
        limit("current transformers, ratio", current.ratio_pct, "%", current.ratio_pct / 100.0, gain);
        limit("current transformers, phase", current.phase_min, "min", radians(current.phase_min), phase);
        if let Some(voltage) = accuracy.voltage.map(|v| v.at(1.0)) {
            limit("voltage transformers, ratio", voltage.ratio_pct, "%", voltage.ratio_pct / 100.0, gain);
            limit("voltage transformers, phase", voltage.phase_min, "min", radians(voltage.phase_min), phase);
        }
        limit("converter, gain", accuracy.converter_gain_pct, "%", accuracy.converter_gain_pct / 100.0, gain);
        let of_losses = points / (100.0 - self.efficiency_pct).max(0.01);
        limit("rated efficiency", points, "points", of_losses, losses);
        limit("scale", scale_pct, "%", scale_pct / 100.0, [sums.taken_kwh, net.unwrap_or(0.0)]);
        // A mass that was weighed apart has no part in it.
        for (name, kg) in [("pulses of the scale", self.pulse_kg), ("steps of the mass column", self.step_kg)] {
            let Some(half_kg) = kg.filter(|_| mass.ends > 0).map(|kg| 0.5 * kg) else { continue };
            let relative = (mass.ends as f64).sqrt() * half_kg / 1e3 / tonnes;
            limit(name, half_kg, "kg", relative, [sums.taken_kwh, net.unwrap_or(0.0)]);
        }
        let mut terms: Vec<Term> = all
            .into_iter()
            .map(|(source, limit, unit, u, [on_gross, on_net])| Term {
                source,
                limit,
                unit,
                distribution: "rectangular",
                gross_kwh_per_t: (u * on_gross / tonnes).abs(),
                net_kwh_per_t: net.map(|_| (u * on_net / tonnes).abs()),
            })
            .collect();
        if let Some(spread) = self.idle.and_then(|idle| idle.spread_kw) {
            terms.push(Term {
                source: "idle power, repeating",
                limit: spread,
                unit: "kW",
                distribution: "normal",
                gross_kwh_per_t: 0.0,
                net_kwh_per_t: Some(spread * hours / tonnes),
            });
        }
        Some(terms)
    }

    /// The bands of gross and net for sums that were fed so many tonnes.
    pub fn bands(&self, sums: &Sums, mass: Mass) -> (Band, Option<Band>) {
        let terms = self.terms(sums, mass);
        let field = |of: fn(&Term) -> f64| terms.as_ref().map(|terms| combined(terms.iter().map(of)));
        let band = |limit_kwh: f64, field: Option<f64>| {
            let model = rectangular(limit_kwh.abs() / mass.tonnes);
            Band {
                model: COVERAGE * model,
                field: field.map(|u| COVERAGE * u),
                both: field.map(|u| COVERAGE * combined([u, model])),
            }
        };
        let estimate = self.estimate.map_or(0.0, Estimate::limit) * self.rated_kw * sums.running.hours;
        let gross = band(METER_PCT / 100.0 * sums.taken_kwh + estimate, field(|term| term.gross_kwh_per_t));
        let net = self.idle.map(|idle| {
            let of_net = self.model.net_energy_pct / 100.0 * sums.net_kwh(idle.kw).abs();
            // A figure that was set does not share the model's error.
            let of_shaft = self.model.shaft_energy_pct / 100.0 * sums.running.shaft_kwh.abs();
            let of_shaft = if idle.learnt { 0.0 } else { of_shaft };
            let field = field(|term| term.net_kwh_per_t.unwrap_or(0.0)).filter(|_| self.missing_idle().is_none());
            let estimate = if idle.learnt { OF_BOTH * estimate } else { estimate };
            band(of_net.max(of_shaft) + self.stalled_share * sums.stalled_kwh + estimate, field)
        });
        (gross, net)
    }

    /// What is assumed because nothing is said of it; empty without `[accuracy]`.
    pub fn assumed(&self, given: impl Fn(&str) -> bool) -> Vec<String> {
        let Some(accuracy) = self.accuracy else { return Vec::new() };
        let mut all = Vec::new();
        if accuracy.current_rated_a.is_none() && given("accuracy.current_transformer_class") {
            all.push(
                "the current transformers are taken to run at their rated current; below it their class allows more \
                 (current_transformer_rated_a)"
                    .to_owned(),
            );
        }
        if accuracy.voltage.is_none() {
            all.push("voltage is taken to be measured without transformers".to_owned());
        }
        if !given("accuracy.converter_gain_pct") {
            all.push(format!("the converter's gain is taken to hold within {} %", accuracy.converter_gain_pct));
        }
        if let Some(kg) = self.step_kg {
            all.push(format!(
                "the mass at either end of a run is taken to be known to half a step of its column, whose smallest is {kg:.3} kg"
            ));
        }
        if accuracy.efficiency_points.is_none() {
            let points = efficiency_points(self.rated_kw, self.efficiency_pct);
            all.push(format!("rated efficiency is taken to hold within {points:.2} points (IEC 60034-1)"));
        }
        if accuracy.idle_repeatability_kw.is_none()
            && let Some(kw) = self.idle.and_then(|idle| idle.spread_kw)
        {
            all.push(format!(
                "idle power is taken to repeat within {kw:.3} kW, as it did over intervals of this trace"
            ));
        }
        all
    }
}

#[cfg(test)]
mod tests;
