//! Totals as they are written, and the specific energy that follows from them.
//!
//! net = shaft energy - idle power x (idle + breaking time), signed; gross per tonne = electrical energy over
//! mass, net per tonne = net energy over mass, both only from a kilogram on.

use serde::Serialize;
use shaftwork_core::judge::event::State;
use shaftwork_core::judge::report::Totals;

use super::number::{amps, figure, frames_s, kwh, pct, seconds, signed_kwh, watts};
use super::{Reason, Why};

/// The mass that makes a specific energy worth stating, kg.
pub(super) const LEAST_MASS_KG: f64 = 1.0;

/// Sums over the whole trace.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct TotalsRow {
    pub stopped_s: f64,
    pub starting_s: f64,
    pub idle_s: f64,
    pub breaking_s: f64,
    pub coasting_s: f64,
    pub unknown_s: f64,
    pub electrical_kwh: f64,
    pub exported_kwh: f64,
    pub reactive_kvarh: f64,
    pub start_kwh: f64,
    pub stopped_kwh: f64,
    pub idle_kwh: f64,
    pub breaking_kwh: f64,
    pub coasting_kwh: f64,
    pub unknown_kwh: f64,
    pub shaft_kwh: Option<f64>,
    pub net_kwh: Option<f64>,
    pub mass_t: Option<f64>,
    pub gross_kwh_per_t: Option<f64>,
    pub net_kwh_per_t: Option<f64>,
    pub starts: u32,
    pub trips: u32,
    pub peak_shaft_kw: Option<f64>,
    pub peak_current_a: Option<f64>,
    pub max_thermal_pct: Option<f64>,
    pub clipped_samples: u64,
    pub bridged_samples: u64,
    /// Idle power as set or as learnt.
    pub idle_power_kw: Option<f64>,
    /// Standard deviation of its readings, 2 s each.
    pub idle_spread_kw: Option<f64>,
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

/// What totals need beside what the core summed up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beside {
    /// Frames a second, Hz.
    pub rate_hz: f64,
    /// A weighed batch, kg, which stands in for the core's mass.
    pub batch_kg: Option<f64>,
    /// Why there is no mass, where there is none.
    pub no_mass: Reason,
    /// Samples that were bridged.
    pub bridged: u64,
}

impl TotalsRow {
    /// The row of the core's totals.
    pub fn new(totals: &Totals, beside: &Beside) -> Self {
        let at = |state: State| State::ALL.iter().position(|s| *s == state).unwrap_or(0);
        let time = |state: State| frames_s(totals.time[at(state)].0, beside.rate_hz);
        let energy = |state: State| figure(kwh(totals.energy[at(state)]));
        let electrical = kwh(totals.electrical);
        // Before the first cycle is over, and in gaps, the state is not known, and so neither is what it sorts.
        let known = State::ALL.into_iter().any(|state| state != State::Unknown && time(state) > 0.0);
        let shaft = known.then(|| signed_kwh(totals.shaft_q20));
        let running_h = (time(State::Idle) + time(State::Breaking)) / 3600.0;
        let idle_kw = totals.idle.map(|w| w.0.to_num::<f64>() / 1000.0);
        let net = shaft.zip(idle_kw).map(|(shaft, kw)| shaft - kw * running_h);
        let mass_kg = beside.batch_kg.or(totals.mass_mg.map(|mg| mg as f64 / 1e6));
        let tonnes = mass_kg.filter(|kg| *kg >= LEAST_MASS_KG).map(|kg| kg / 1000.0);
        let mut row = Self {
            stopped_s: seconds(time(State::Stopped)),
            starting_s: seconds(time(State::Starting)),
            idle_s: seconds(time(State::Idle)),
            breaking_s: seconds(time(State::Breaking)),
            coasting_s: seconds(time(State::Coasting)),
            unknown_s: seconds(time(State::Unknown)),
            electrical_kwh: figure(electrical),
            exported_kwh: figure(kwh(totals.exported)),
            reactive_kvarh: figure(kwh(totals.reactive)),
            start_kwh: energy(State::Starting),
            stopped_kwh: energy(State::Stopped),
            idle_kwh: energy(State::Idle),
            breaking_kwh: energy(State::Breaking),
            coasting_kwh: energy(State::Coasting),
            unknown_kwh: energy(State::Unknown),
            shaft_kwh: shaft.map(figure),
            net_kwh: net.map(figure),
            mass_t: mass_kg.map(|kg| figure(kg / 1000.0)),
            gross_kwh_per_t: tonnes.map(|t| figure(electrical / t)),
            net_kwh_per_t: tonnes.zip(net).map(|(t, net)| figure(net / t)),
            starts: totals.starts,
            trips: totals.trips,
            peak_shaft_kw: totals.peak_shaft.map(|w| figure(watts(w) / 1000.0)),
            peak_current_a: known.then(|| amps(totals.peak_current)),
            max_thermal_pct: totals.max_thermal.map(pct),
            clipped_samples: totals.clipped,
            bridged_samples: beside.bridged,
            idle_power_kw: idle_kw.map(figure),
            idle_spread_kw: totals.idle_spread.map(|w| figure(watts(w) / 1000.0)),
            why: Why::new(),
        };
        row.explain(beside.no_mass);
        row
    }

    fn explain(&mut self, no_mass: Reason) {
        const IDLE: Reason = "idle power is not known yet: the mill never ran steadily empty";
        const SHORT: Reason = "the trace is too short to know";
        let mass = if self.mass_t.is_none() { no_mass } else { "less than 1 kg fed" };
        let no_net = if self.shaft_kwh.is_none() { SHORT } else { IDLE };
        let net = if self.gross_kwh_per_t.is_none() { mass } else { no_net };
        for (missing, key, reason) in [
            (self.shaft_kwh.is_none(), "shaft_kwh", SHORT),
            (self.peak_current_a.is_none(), "peak_current_a", SHORT),
            (self.net_kwh.is_none(), "net_kwh", no_net),
            (self.mass_t.is_none(), "mass_t", mass),
            (self.gross_kwh_per_t.is_none(), "gross_kwh_per_t", mass),
            (self.net_kwh_per_t.is_none(), "net_kwh_per_t", net),
            (self.peak_shaft_kw.is_none(), "peak_shaft_kw", "there is no whole interval"),
            (self.max_thermal_pct.is_none(), "max_thermal_pct", super::THERMAL_OFF),
            (self.idle_power_kw.is_none(), "idle_power_kw", IDLE),
            (self.idle_spread_kw.is_none(), "idle_spread_kw", "the mill ran steadily empty for less than 10 s"),
        ] {
            if missing {
                self.why.insert(key, reason);
            }
        }
    }

    /// Takes back what cannot be had where power was not measured wholly: what the shaft gave and what follows from it.
    /// Electrical energy stays as what was measured.
    pub fn deny(&mut self, reason: Reason) {
        let Self { shaft_kwh, net_kwh, gross_kwh_per_t, net_kwh_per_t, .. } = self;
        for (figure, key) in [
            (shaft_kwh, "shaft_kwh"),
            (net_kwh, "net_kwh"),
            (gross_kwh_per_t, "gross_kwh_per_t"),
            (net_kwh_per_t, "net_kwh_per_t"),
        ] {
            if figure.take().is_some() {
                self.why.insert(key, reason);
            }
        }
    }

    /// Whether the state was known at any time.
    pub fn anything_known(&self) -> bool {
        self.shaft_kwh.is_some() || self.peak_current_a.is_some()
    }

    /// The times of the states with their names, in the order in which they are listed.
    pub fn times(&self) -> [(&'static str, f64); 6] {
        [
            ("stopped", self.stopped_s),
            ("starting", self.starting_s),
            ("idle", self.idle_s),
            ("breaking", self.breaking_s),
            ("coasting", self.coasting_s),
            ("unknown", self.unknown_s),
        ]
    }

    /// The electrical energies taken in, in the order of [`TotalsRow::times`].
    pub fn energies(&self) -> [f64; 6] {
        [self.stopped_kwh, self.start_kwh, self.idle_kwh, self.breaking_kwh, self.coasting_kwh, self.unknown_kwh]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::judge::report::Register;
    use shaftwork_core::time::Span;
    use shaftwork_core::unit::Watts;

    const BESIDE: Beside = Beside { rate_hz: 4_000.0, batch_kg: None, no_mass: "no mass was given", bridged: 3 };

    /// An hour idle at 6 kW and an hour breaking: 20 kWh at the shaft, 22 from the mains, 500 kg.
    fn totals() -> Totals {
        let hour = Span((4_000 * 3_600) << 16);
        Totals {
            time: [Span::ZERO, Span::ZERO, hour, hour, Span::ZERO, Span::ZERO],
            electrical: Register { joules: 22 * 3_600_000, fraction: 0 },
            shaft_q20: i128::from(20 * 3_600_000_i64) << 20,
            idle: Some(Watts::from_bits(6_000 << 16)),
            mass_mg: Some(500_000_000),
            ..Totals::default()
        }
    }

    #[test]
    fn what_was_not_measured_is_taken_back() {
        let mut row = TotalsRow::new(&totals(), &BESIDE);
        row.deny("a current is missing");
        let json = serde_json::to_value(&row).unwrap();
        for key in ["shaft_kwh", "net_kwh", "gross_kwh_per_t", "net_kwh_per_t"] {
            assert!(json[key].is_null() && json["why"][key] == "a current is missing", "{key}");
        }
        assert_eq!(json["electrical_kwh"], 22.0);
        assert!(row.anything_known());
    }

    /// By hand: net = 20 - 6 x 2 = 8 kWh; 44 and 16 kWh/t.
    #[test]
    fn net_and_specific_energy() {
        let json = serde_json::to_value(TotalsRow::new(&totals(), &BESIDE)).unwrap();
        for (key, want) in [
            ("idle_s", 3_600.0),
            ("electrical_kwh", 22.0),
            ("net_kwh", 8.0),
            ("mass_t", 0.5),
            ("gross_kwh_per_t", 44.0),
            ("net_kwh_per_t", 16.0),
        ] {
            assert_eq!(json[key], want, "{key}");
        }
        assert_eq!(json["bridged_samples"], 3);
    }

    /// By hand: 20 - 15 x 2 = -10 kWh.
    #[test]
    fn net_energy_may_be_negative() {
        let t = Totals { idle: Some(Watts::from_bits(15_000 << 16)), ..totals() };
        assert!((TotalsRow::new(&t, &BESIDE).net_kwh.unwrap() + 10.0).abs() < 1e-9);
    }

    #[test]
    fn nulls_have_reasons() {
        let row = TotalsRow::new(&Totals::default(), &BESIDE);
        let json = serde_json::to_value(&row).unwrap();
        for (key, value) in json.as_object().unwrap() {
            assert_eq!(value.is_null(), json["why"].get(key).is_some(), "{key}");
        }
        assert_eq!(json["why"]["gross_kwh_per_t"], "no mass was given");
        let json =
            serde_json::to_value(TotalsRow::new(&Totals { mass_mg: Some(999_999), ..totals() }, &BESIDE)).unwrap();
        assert_eq!(json["why"]["gross_kwh_per_t"], "less than 1 kg fed");
        assert_eq!(json["why"]["net_kwh_per_t"], "less than 1 kg fed");
        assert!(json["why"].get("mass_t").is_none());
    }

    /// Too short for a cycle: nothing is invented.
    #[test]
    fn what_no_cycle_could_tell_is_null() {
        let unknown =
            Totals { time: [Span::ZERO, Span::ZERO, Span::ZERO, Span::ZERO, Span::ZERO, Span(9 << 16)], ..totals() };
        let json = serde_json::to_value(TotalsRow::new(&unknown, &BESIDE)).unwrap();
        for key in ["shaft_kwh", "net_kwh", "peak_current_a", "net_kwh_per_t"] {
            assert!(json[key].is_null(), "{key}");
            assert_eq!(json["why"][key], "the trace is too short to know", "{key}");
        }
        assert_eq!(json["gross_kwh_per_t"], 44.0);
    }

    #[test]
    fn a_batch_stands_in_for_the_mass() {
        let row = TotalsRow::new(&totals(), &Beside { batch_kg: Some(1_000.0), ..BESIDE });
        assert!((row.gross_kwh_per_t.unwrap() - 22.0).abs() < 1e-9);
    }
}
