//! The inertia that a start tells.
//!
//! ```text
//! J = integral of torque dt / w        from rest to the first half cycle of running
//! ```
//!
//! Torque is the stator flux times the current: it needs no speed. What the load takes meanwhile counts as inertia, so each start
//! gives an upper limit, and the least of a trace's starts is the nearest; an empty mill's windage makes some per cent
//! of it, most where the starter lowers the voltage (docs/formats.md). Counted are starts of a rotor that was at rest.

use std::f64::consts::TAU;

use serde::Serialize;
use shaftwork_core::judge::event::State;
use shaftwork_core::judge::report::Moment;

use super::number::{figure, frames_s};
use super::{Input, Reason, Why};
use crate::settings::Settings;

/// How far the inertia of the settings may be off what a start tells, as factors, before it is said: below it by more than a load
/// can make of it, above it by more than the model can err.
const OFF: [f64; 2] = [0.7, 1.15];

/// Speed at the end of a start where it is not told, share of synchronous.
const UP: f64 = 0.97;

/// What the starts tell.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct InertiaRow {
    /// All that turns, seen from the motor's shaft: at most.
    pub highest_kg_m2: Option<f64>,
    pub starts: u64,
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

/// Gathers it.
#[derive(Debug, Clone, Copy)]
pub struct Inertia {
    rate_hz: f64,
    synchronous_rpm: f64,
    before: State,
    /// Torque by time of the start under way, N m s.
    push: Option<f64>,
    least: f64,
    starts: u64,
}

impl Inertia {
    /// Nothing seen yet.
    pub fn new(rate_hz: f64, synchronous_rpm: f64) -> Self {
        Self { rate_hz, synchronous_rpm, before: State::Unknown, push: None, least: f64::INFINITY, starts: 0 }
    }

    /// A gap: a start in it is lost.
    pub fn gap(&mut self) {
        (self.before, self.push) = (State::Unknown, None);
    }

    /// Takes a half cycle.
    pub fn moment(&mut self, moment: &Moment) {
        let before = std::mem::replace(&mut self.before, moment.state);
        if moment.state == State::Starting && before == State::Stopped {
            self.push = Some(0.0);
        }
        let Some(push) = &mut self.push else { return };
        *push += moment.torque.0.to_num::<f64>() * frames_s(moment.half_cycle.length.0, self.rate_hz);
        if moment.state.running() {
            // A start ends above 95 % of synchronous speed. Where the set inertia is wrong, speed is not told yet, or is that inertia's.
            let told = moment.speed.map_or(0.0, |rpm| rpm.0.to_num::<f64>() / self.synchronous_rpm);
            let share = if (0.95..1.0).contains(&told) { told } else { UP };
            self.least = self.least.min(*push / (share * self.synchronous_rpm / 60.0 * TAU));
            self.starts += 1;
        }
        if moment.state != State::Starting {
            self.push = None;
        }
    }

    /// The row, of samples whose power is measured.
    pub fn row(&self, input: &Input) -> InertiaRow {
        let missing = match self.starts {
            _ if input.rms => Some("a log of rms values is too slow to show a start's torque"),
            _ if input.estimated => Some("power is estimated: a start's torque is not known"),
            0 => Some("no whole start from rest is in the trace"),
            _ => None,
        };
        let why = missing.map(|reason: Reason| ("highest_kg_m2", reason)).into_iter().collect();
        InertiaRow { highest_kg_m2: missing.is_none().then(|| figure(self.least)), starts: self.starts, why }
    }
}

impl InertiaRow {
    /// What a person should know of the settings' inertia.
    pub fn advice(&self, settings: &Settings) -> Option<String> {
        let (told, given) = (self.highest_kg_m2?, settings.mill.rotor_inertia_kg_m2?);
        let [least, most] = OFF;
        let ratio = given / told;
        if (least..=most).contains(&ratio) {
            return None;
        }
        Some(format!(
            "rotor_inertia_kg_m2 = {given} does not fit the start: by its torque all that turns has {told:.2} kg m² at most, seen from the motor's \
             shaft; speed while starting, load torque and net power as it flows follow the settings and are wrong with them. To \
             mend it, give what the start tells, or look at the rotor's figures and the speed ratio (its square counts)"
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::record::HalfCycle;
    use shaftwork_core::time::Span;
    use shaftwork_core::unit::{Newtonmetres, Rpm};

    /// A half cycle of 10 ms at 4 kHz.
    fn moment(state: State, newtonmetres: i32, rpm: Option<i32>) -> Moment {
        Moment {
            half_cycle: HalfCycle { length: Span(40 << 16), ..HalfCycle::default() },
            state,
            torque: Newtonmetres::from_bits(newtonmetres << 8),
            speed: rpm.map(|rpm| Rpm::from_bits(rpm << 12)),
            ..Moment::default()
        }
    }

    /// Newton: 100 N m for 5.01 s bring J to 1425 rpm = 149.226 rad/s; 501 / 149.226 = 3.3573 kg m².
    #[test]
    fn torque_by_time_over_speed() {
        let mut inertia = Inertia::new(4_000.0, 1_500.0);
        let start = |inertia: &mut Inertia, newtonmetres| {
            for _ in 0..500 {
                inertia.moment(&moment(State::Starting, newtonmetres, None));
            }
            inertia.moment(&moment(State::Idle, newtonmetres, Some(1_425)));
            inertia.moment(&moment(State::Idle, newtonmetres, Some(1_480)));
        };
        let input = Input::samples("no mass was given");
        start(&mut inertia, 100);
        assert_eq!(inertia.row(&input).highest_kg_m2, None, "nobody saw it at rest");
        inertia.moment(&moment(State::Stopped, 0, Some(0)));
        start(&mut inertia, 100);
        inertia.moment(&moment(State::Stopped, 0, Some(0)));
        start(&mut inertia, 120); // as much again is held by something
        let row = inertia.row(&input);
        assert!((row.highest_kg_m2.unwrap() - 3.3573).abs() < 1e-4 && row.starts == 2, "{row:?}");
        inertia.moment(&moment(State::Coasting, 0, None));
        start(&mut inertia, 10);
        inertia.moment(&moment(State::Stopped, 0, Some(0)));
        inertia.moment(&moment(State::Starting, 10, None));
        inertia.gap();
        start(&mut inertia, 10);
        assert_eq!(inertia.row(&input).starts, 2, "a restart, and one cut by a gap, tell nothing");
        assert!(inertia.row(&Input { rms: true, ..input }).why.contains_key("highest_kg_m2"));
        assert!(inertia.row(&Input { estimated: true, ..input }).why.contains_key("highest_kg_m2"));
    }

    #[test]
    fn an_inertia_that_is_ten_times_off_is_told() {
        let (mut settings, _) = crate::settings::parse(&crate::settings::testing::good(), "a.toml").unwrap();
        let row = InertiaRow { highest_kg_m2: Some(10.0), starts: 1, why: Why::new() };
        let mut said = |given: Option<f64>| {
            settings.mill.rotor_inertia_kg_m2 = given;
            row.advice(&settings)
        };
        assert!(said(Some(100.0)).unwrap().contains("10.00 kg m² at most"));
        assert!(said(Some(1.0)).is_some() && said(Some(6.9)).is_some() && said(Some(11.6)).is_some());
        assert_eq!([said(Some(9.6)), said(Some(8.0)), said(Some(10.5)), said(None)], [const { None }; 4]);
    }
}
