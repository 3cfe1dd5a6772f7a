//! An hour under a policy: the plant, the core, and the outputs in between.

use super::draw::{CALL_S, CHOKED_S, CLEAR, Hour, TRIP_S};
use shaftwork_core::judge::Judge;
use shaftwork_core::judge::report::{Decision, Moment};
use shaftwork_core::settings::Settings;
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, Event, EventKind, FeedCause, FeedMode, Frame, Monitor, Window};
use shaftwork_sim::closed::hands::Hands;
use shaftwork_sim::plant::reduced::Reduced;
use shaftwork_sim::plant::{Answer, Plant, Truth};

/// How the feeder is driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
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
    /// Chokes: what was choked, and trips without a wedge.
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

/// What is done and counted in either model.
struct Watch {
    policy: Policy,
    hands: Hands,
    full_kg: f64,
    wedge_s: f64,
    /// For how long the chamber has been more than full, s; whether it counts as choked.
    full_s: f64,
    choked: bool,
    out: Outcome,
}

impl Watch {
    fn new(hour: &Hour, policy: Policy) -> Self {
        let mill = &hour.scenario.mill;
        let mode = match policy {
            Policy::Governed => FeedMode::Automatic,
            Policy::Fixed(permille) | Policy::Stopped(permille) => FeedMode::Manual(permille),
        };
        Self {
            policy,
            hands: Hands::new(hour.scenario.rate_hz, true, mode),
            full_kg: mill.chamber.map_or(f64::INFINITY, |chamber| chamber.full_kg),
            wedge_s: mill.wedge.map_or(f64::INFINITY, |wedge| wedge.at_s),
            full_s: 0.0,
            choked: false,
            out: Outcome::default(),
        }
    }

    fn event(&mut self, event: &Event) {
        // A fixed speed without a feed stop heeds none.
        let heeds = !matches!(self.policy, Policy::Fixed(_));
        match event.kind {
            EventKind::FeedStops { cause: FeedCause::Load | FeedCause::Surge, .. } if heeds => self.out.stops += 1,
            EventKind::FeedCalls if heeds => self.out.calls += 1,
            _ => {}
        }
    }

    fn half_cycle(&mut self, moment: &Moment, c: &shaftwork_core::settings::JudgeCoefficients, charge_kg: f64) {
        let length_s = c.seconds_per_frame.apply((moment.half_cycle.length.0 << 8) as i64) as f64 / 2f64.powi(24);
        let load = c.motor.load.apply(moment.shaft.to_bits()) as f64 / 2f64.powi(24);
        self.out.over_s += if load > 1.1 { length_s } else { 0.0 };
        let fill = charge_kg / self.full_kg;
        self.full_s = if fill > 1.0 { self.full_s + length_s } else { 0.0 };
        if self.full_s > CHOKED_S && !self.choked {
            self.choked = true;
            self.out.chokes += 1;
        }
        self.choked &= fill > CLEAR;
    }

    /// What the plant is answered; none when the hour is over.
    fn answer(&mut self, decision: &Decision, runs: bool, frames: usize, t_s: f64) -> Option<Answer> {
        if decision.trip.is_some() {
            if t_s > self.wedge_s {
                self.out.wedged += 1;
            } else {
                self.out.trips += 1;
                self.out.chokes += u32::from(!self.choked);
            }
            return None;
        }
        self.hands.take(decision, runs, frames);
        Some(match self.policy {
            Policy::Fixed(permille) if runs => Answer { belt: Some(f64::from(permille) / 1e3), ..Answer::default() },
            Policy::Fixed(_) => Answer { hold: true, ..Answer::default() },
            _ => self.hands.answer(),
        })
    }

    fn end(self, truth: &Truth, out_kg: f64, thermal: Option<shaftwork_core::unit::Ratio>) -> Outcome {
        let lost_s = f64::from(self.out.trips + self.out.wedged) * TRIP_S + f64::from(self.out.calls) * CALL_S;
        Outcome {
            hours: (truth.t_s + lost_s) / 3600.0,
            tonnes: out_kg / 1e3,
            kwh: truth.electrical_j / 3.6e6,
            thermal: thermal.map_or(0.0, |level| f64::from(level.to_bits()) / 2f64.powi(24)),
            ..self.out
        }
    }
}

/// Goes through an hour on the reduced plant.
///
/// # Panics
///
/// When settings or scenario are refused: the harness itself is wrong then.
#[must_use]
pub fn lived(hour: &Hour, settings: &Settings, policy: Policy) -> Outcome {
    let c = settings.build().expect("the settings are sound").judge;
    let mut plant = Reduced::new(&hour.scenario, hour.seed).unwrap_or_else(|refused| panic!("{refused}"));
    let mut watch = Watch::new(hour, policy);
    let mut judge = Judge::new(&c);
    let mut window = Span::ZERO;
    while let Some(step) = plant.half_cycle() {
        let (half, truth) = (step.record, step.truth);
        judge.set_feed(&c, half.end.before(half.length), watch.hands.inputs());
        let moment = judge.half_cycle(&c, &half);
        window = window.plus(half.length);
        if half.closes_window {
            judge.window(Window { end: half.end, length: window, ..Window::default() });
            window = Span::ZERO;
        }
        while let Some(event) = judge.pop_event() {
            watch.event(&event);
        }
        watch.half_cycle(&moment, &c, truth.charge_kg);
        let frames = (half.length.0 >> 16) as usize;
        match watch.answer(&judge.decision(), moment.state.running(), frames, truth.t_s) {
            Some(answer) => plant.answer(answer),
            None => break,
        }
    }
    let truth = *plant.truth();
    watch.end(&truth, plant.load().out_kg(), judge.totals().max_thermal)
}

/// The same on the full plant, sample by sample.
///
/// # Panics
///
/// As [`lived`].
#[must_use]
pub fn lived_in_full(hour: &Hour, settings: &Settings, policy: Policy) -> Outcome {
    let all = settings.build().expect("the settings are sound");
    let mut plant = Plant::new(&hour.scenario, hour.seed);
    let mut watch = Watch::new(hour, policy);
    let mut monitor = Monitor::new(settings).expect("the settings are sound");
    let full = f64::from(all.meter.full_code);
    let ends = [settings.sampling.voltage_full_scale_mv, settings.sampling.current_full_scale_ma];
    let code = |value: f64, c: usize| (value * full / (f64::from(ends[c / 3]) / 1e3)).round().clamp(-full, full) as i32;
    let (mut block, mut filled, mut runs) = ([Frame::default(); BLOCK], 0, false);
    let mut truth = Truth::default();
    while let Some(frame) = plant.next_frame() {
        block[filled] = Frame(std::array::from_fn(|c| code(frame.reading[c], c)));
        truth = frame.truth;
        filled += 1;
        if filled < BLOCK {
            continue;
        }
        filled = 0;
        monitor.set_feed(watch.hands.inputs());
        monitor.ingest(&block);
        while let Some(moment) = monitor.take_moment() {
            runs = moment.state.running();
            watch.half_cycle(&moment, &all.judge, truth.charge_kg);
        }
        while let Some(event) = monitor.pop_event() {
            watch.event(&event);
        }
        match watch.answer(&monitor.decision(), runs, BLOCK, truth.t_s) {
            Some(answer) => plant.answer(answer),
            None => break,
        }
    }
    let out_kg = plant.out_kg();
    watch.end(&truth, out_kg, monitor.totals().max_thermal)
}
