//! An hour under a policy: the reduced plant, the judge, and the outputs in between.

use super::draw::{CALL_S, CHOKED_S, CLEAR, Hour, TRIP_S};
use shaftwork_core::judge::Judge;
use shaftwork_core::settings::JudgeCoefficients;
use shaftwork_core::time::Span;
use shaftwork_core::{EventKind, FeedMode, Window};
use shaftwork_sim::closed::hands::Hands;
use shaftwork_sim::plant::Answer;
use shaftwork_sim::plant::reduced::Reduced;

/// How the feeder is driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// At a fixed speed, thousandths, whatever the load is; it stops with the mill.
    Fixed(u16),
    /// At a fixed speed with the core's feed stop.
    Stopped(u16),
    /// By the governor.
    Governed,
}

/// What became of an hour, or of several.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Outcome {
    /// Time that it took, what was lost after trips and calls included, h.
    pub hours: f64,
    /// What left the mill, t.
    pub tonnes: f64,
    /// Taken in, kWh.
    pub kwh: f64,
    /// Chokes.
    pub chokes: u32,
    /// Trips without a wedge, and with one.
    pub trips: u32,
    /// See `trips`.
    pub wedged: u32,
    /// Feed stops for the load.
    pub stops: u32,
    /// A person was called.
    pub calls: u32,
    /// Time above 110 % of rated power, s.
    pub over_s: f64,
    /// Highest thermal level.
    pub thermal: f64,
}

impl Outcome {
    /// Tonnes an hour.
    #[must_use]
    pub fn rate(&self) -> f64 {
        self.tonnes / self.hours
    }

    /// kWh a tonne.
    #[must_use]
    pub fn kwh_t(&self) -> f64 {
        self.kwh / self.tonnes
    }

    /// Both together.
    pub fn add(&mut self, other: &Self) {
        self.hours += other.hours;
        self.tonnes += other.tonnes;
        self.kwh += other.kwh;
        self.chokes += other.chokes;
        self.trips += other.trips;
        self.wedged += other.wedged;
        self.stops += other.stops;
        self.calls += other.calls;
        self.over_s += other.over_s;
        self.thermal = self.thermal.max(other.thermal);
    }
}

/// Goes through an hour.
///
/// # Panics
///
/// When the reduced model cannot do it: the harness itself is wrong then.
#[must_use]
pub fn lived(hour: &Hour, c: &JudgeCoefficients, policy: Policy) -> Outcome {
    let scenario = &hour.scenario;
    let mut plant = Reduced::new(scenario, hour.seed).unwrap_or_else(|refused| panic!("{refused}"));
    let full_kg = scenario.mill.chamber.map_or(f64::INFINITY, |chamber| chamber.full_kg);
    let wedge_s = scenario.mill.wedge.map_or(f64::INFINITY, |wedge| wedge.at_s);
    let mode = match policy {
        Policy::Governed => FeedMode::Automatic,
        Policy::Fixed(permille) | Policy::Stopped(permille) => FeedMode::Manual(permille),
    };
    let hands = Hands::new(scenario.rate_hz, true, mode);
    let mut judge = Judge::new(c);
    let mut out = Outcome::default();
    let (mut window, mut before_s) = (Span::ZERO, 0.0);
    let (mut full_s, mut choked) = (0.0, false);
    let rated = c.motor.load;
    while let Some(step) = plant.half_cycle() {
        let (half, truth) = (step.record, step.truth);
        let length_s = truth.t_s - before_s;
        before_s = truth.t_s;
        judge.set_feed(hands.inputs());
        let moment = judge.half_cycle(c, &half);
        window = window.plus(half.length);
        if half.closes_window {
            judge.window(Window { end: half.end, length: window, ..Window::default() });
            window = Span::ZERO;
        }
        while let Some(event) = judge.pop_event() {
            match event.kind {
                EventKind::FeedStops { locked: false, .. } => out.stops += 1,
                EventKind::FeedCalls => out.calls += 1,
                _ => {}
            }
        }
        let load = rated.apply(moment.shaft.to_bits()) as f64 / f64::from(1 << 24);
        out.over_s += if load > 1.1 { length_s } else { 0.0 };
        let fill = truth.charge_kg / full_kg;
        full_s = if fill > 1.0 { full_s + length_s } else { 0.0 };
        if full_s > CHOKED_S && !choked {
            choked = true;
            out.chokes += 1;
        }
        choked &= fill > CLEAR;
        let decision = judge.decision();
        if decision.trip.is_some() {
            if truth.t_s > wedge_s {
                out.wedged += 1;
            } else {
                out.trips += 1;
                out.chokes += u32::from(!choked);
            }
            break;
        }
        hands.take(&decision, moment.state.running(), (half.length.0 >> 16) as usize);
        let answer = match policy {
            Policy::Fixed(permille) if moment.state.running() => {
                Answer { belt: Some(f64::from(permille) / 1e3), ..Answer::default() }
            }
            Policy::Fixed(_) => Answer { hold: true, ..Answer::default() },
            _ => hands.answer(),
        };
        plant.answer(answer);
    }
    let truth = *plant.truth();
    out.hours = (truth.t_s + f64::from(out.trips + out.wedged) * TRIP_S + f64::from(out.calls) * CALL_S) / 3600.0;
    out.tonnes = plant.load().out_kg() / 1e3;
    out.kwh = truth.electrical_j / 3.6e6;
    out.thermal = judge.totals().max_thermal.map_or(0.0, |level| f64::from(level.to_bits()) / f64::from(1 << 24));
    out
}
