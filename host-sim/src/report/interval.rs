//! An interval as it is written: names and units of the output, nulls with their reasons.

use serde::Serialize;
use shaftwork_core::judge::event::State;
use shaftwork_core::judge::report::Interval;

use super::number::{amps, figure, frames_s, pct, seconds, volts, watts};
use super::{Input, NOT_MEASURED, Reason, Voltages, Why};

/// The name of a state in every output.
pub const fn state_name(state: State) -> &'static str {
    match state {
        State::Stopped => "stopped",
        State::Starting => "starting",
        State::Idle => "idle",
        State::Breaking => "breaking",
        State::Coasting => "coasting",
        State::Unknown => "unknown",
    }
}

/// One interval. Lists are in phase order.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct IntervalRow {
    pub t_s: f64,
    /// Not written: the rows of a log follow each other.
    #[serde(skip)]
    pub length_s: f64,
    pub frequency_hz: Option<f64>,
    pub voltage_v: [Option<f64>; 3],
    pub current_a: [f64; 3],
    pub active_w: f64,
    pub reactive_var: f64,
    pub apparent_va: f64,
    pub power_factor: Option<f64>,
    pub voltage_unbalance_pct: Option<f64>,
    pub current_unbalance_pct: Option<f64>,
    pub thd_v_pct: [Option<f64>; 3],
    pub thd_i_pct: [Option<f64>; 3],
    pub shaft_w: f64,
    pub torque_nm: f64,
    pub speed_rpm: Option<f64>,
    pub load_torque_nm: Option<f64>,
    pub load_pct: f64,
    pub rotor_w: f64,
    pub net_w: Option<f64>,
    pub kinetic_j: Option<f64>,
    pub thermal_pct: Option<f64>,
    pub mass_kg: Option<f64>,
    pub feeder_pct: Option<f64>,
    pub state: &'static str,
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

impl IntervalRow {
    /// The row of an interval at a rate in Hz.
    pub fn new(interval: &Interval, rate_hz: f64, input: &Input) -> Self {
        let w = &interval.window;
        let mut row = Self {
            t_s: seconds(frames_s(w.end.0, rate_hz)),
            length_s: seconds(frames_s(w.length.0, rate_hz)),
            frequency_hz: w.frequency.map(|f| figure(f.0.to_num())),
            voltage_v: w.voltage.map(|v| input.voltages.map(|_| volts(v))),
            current_a: w.current.map(amps),
            active_w: watts(w.active),
            reactive_var: watts(w.reactive),
            apparent_va: watts(w.apparent),
            power_factor: w.power_factor.map(|r| figure(r.0.to_num())),
            voltage_unbalance_pct: w.voltage_unbalance.map(pct),
            current_unbalance_pct: w.current_unbalance.map(pct),
            thd_v_pct: w.voltage_distortion.map(|r| r.map(pct)),
            thd_i_pct: w.current_distortion.map(|r| r.map(pct)),
            shaft_w: watts(interval.shaft),
            torque_nm: figure(interval.torque.0.to_num()),
            speed_rpm: interval.speed.map(|s| figure(s.0.to_num())),
            load_torque_nm: interval.load_torque.map(|t| figure(t.0.to_num())),
            load_pct: pct(interval.load),
            rotor_w: input.behind_transmission(watts(interval.shaft)),
            net_w: interval.net.map(watts),
            kinetic_j: interval.kinetic.map(|e| figure(e.0.to_num())),
            thermal_pct: interval.thermal.map(pct),
            feeder_pct: interval.feeder.map(|feeder| f64::from(feeder.permille) / 10.0),
            mass_kg: interval.mass_mg.map(|mg| figure(mg as f64 / 1e6)),
            state: state_name(interval.state),
            why: Why::new(),
        };
        row.explain(interval.state, input);
        row
    }

    fn explain(&mut self, state: State, input: &Input) {
        const SMALL: Reason = "the current is below 0.2 % of rated";
        const RMS: Reason = "rms values tell nothing of harmonics";
        let no_voltage = if input.voltages.is_some() { "there is no voltage" } else { NOT_MEASURED };
        let frequency = match input.voltages {
            _ if input.rms => "the log has no column frequency_hz",
            Some(_) => "there is no voltage, or its frequency is still being acquired",
            None => "there is no current, or its frequency is still being acquired",
        };
        let voltage_unbalance = match input.voltages {
            Some(Voltages::Neutral) if input.rms => "three rms voltages to neutral do not tell their angles",
            _ => no_voltage,
        };
        let (thd_v, thd_i) = if input.rms { (RMS, RMS) } else { (no_voltage, SMALL) };
        let speed = match state {
            State::Coasting => "coasting without a tachometer",
            State::Starting | State::Breaking => "slip is above 10 %: without a tachometer the speed cannot be told",
            _ => "the speed cannot be had without current or a tachometer",
        };
        let turning = if !input.inertia {
            "rotor_inertia_kg_m2 is not known"
        } else if self.speed_rpm.is_none() {
            speed
        } else {
            "the speed at both ends of the interval is needed, above a tenth of synchronous"
        };
        let net = match state {
            State::Idle | State::Breaking if self.load_torque_nm.is_some() => "idle power is not known yet",
            State::Idle | State::Breaking => turning,
            _ => "the mill does not run",
        };
        for (missing, key, reason) in [
            (self.voltage_v.contains(&None), "voltage_v", NOT_MEASURED),
            (self.frequency_hz.is_none(), "frequency_hz", frequency),
            (self.power_factor.is_none(), "power_factor", SMALL),
            (self.voltage_unbalance_pct.is_none(), "voltage_unbalance_pct", voltage_unbalance),
            (self.current_unbalance_pct.is_none(), "current_unbalance_pct", SMALL),
            (self.thd_v_pct.contains(&None), "thd_v_pct", thd_v),
            (self.thd_i_pct.contains(&None), "thd_i_pct", thd_i),
            (self.speed_rpm.is_none(), "speed_rpm", speed),
            (self.load_torque_nm.is_none(), "load_torque_nm", turning),
            (self.net_w.is_none(), "net_w", net),
            (self.kinetic_j.is_none(), "kinetic_j", turning),
            (self.thermal_pct.is_none(), "thermal_pct", super::THERMAL_OFF),
            (self.mass_kg.is_none(), "mass_kg", input.no_mass),
            (self.feeder_pct.is_none(), "feeder_pct", "no feeder is governed: the settings have no [feeder]"),
        ] {
            if missing {
                self.why.insert(key, reason);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::record::Window;
    use shaftwork_core::time::{Instant, Span};
    use shaftwork_core::unit::{Hertz, Ratio, Rpm, Volts, Watts};

    fn interval() -> Interval {
        let window = Window {
            end: Instant(800 << 16),
            length: Span(800 << 16),
            frequency: Some(Hertz::from_bits(50 << 22)),
            voltage: [Volts::from_bits(230 << 16); 3],
            active: Watts::from_bits(12_345 << 16),
            power_factor: Some(Ratio::from_bits(1 << 23)),
            ..Window::default()
        };
        Interval {
            window,
            speed: Some(Rpm::from_bits(1_480 << 12)),
            mass_mg: Some(1_500_000),
            state: State::Idle,
            ..Interval::default()
        }
    }

    /// Unit conversions by hand.
    #[test]
    fn figures_in_the_units_of_their_names() {
        let row = IntervalRow::new(&interval(), 4_000.0, &Input::samples(""));
        let json = serde_json::to_value(&row).unwrap();
        for (key, want) in [
            ("t_s", 0.2),
            ("frequency_hz", 50.0),
            ("active_w", 12_345.0),
            ("power_factor", 0.5),
            ("speed_rpm", 1_480.0),
            ("mass_kg", 1.5),
        ] {
            assert_eq!(json[key], want, "{key}");
        }
        assert_eq!(json["voltage_v"], serde_json::json!([230.0, 230.0, 230.0]));
        assert_eq!(json["state"], "idle");
    }

    #[test]
    fn every_null_has_its_reason() {
        let samples = Input::samples("no mass was given");
        let rms = Input { rms: true, ..samples };
        let blind = Input { voltages: None, estimated: true, ..samples };
        let mut json = serde_json::Value::Null;
        for input in [rms, blind, samples] {
            let interval = Interval { state: State::Coasting, ..Interval::default() };
            json = serde_json::to_value(IntervalRow::new(&interval, 4_000.0, &input)).unwrap();
            for (key, value) in json.as_object().unwrap() {
                let nothing = serde_json::Value::is_null;
                let missing = nothing(value) || value.as_array().is_some_and(|a| a.iter().any(nothing));
                assert_eq!(missing, json["why"].get(key).is_some(), "{key}");
            }
            assert_eq!(json["voltage_v"][0].is_null(), input == blind);
        }
        assert_eq!(json["why"]["speed_rpm"], "coasting without a tachometer");
        assert_eq!(json["why"]["mass_kg"], "no mass was given");
    }
}
