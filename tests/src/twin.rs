//! One scenario through both models and the core: samples through meter and judge, records through the judge alone.

use shaftwork_core::judge::Judge;
use shaftwork_core::{BLOCK, Cause, Event, EventKind, Frame, HalfCycle, Monitor, State, Totals};
use shaftwork_sim::convert::Converter;
use shaftwork_sim::plant::reduced::{self, Refused};
use shaftwork_sim::plant::{Scenario, Truth, run};
use shaftwork_sim::{fit, settings};
use std::convert::Infallible;

/// What a model and the core made of a scenario.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// Frames a second.
    pub rate_hz: f64,
    /// The records.
    pub records: Vec<HalfCycle>,
    /// States at their ends.
    pub states: Vec<State>,
    /// Truth at times, in order.
    pub truths: Vec<Truth>,
    /// At the end.
    pub end: Truth,
    /// The core's events.
    pub events: Vec<Event>,
    /// The core's sums.
    pub totals: Totals,
    /// How often the plant told that something happened.
    pub told: usize,
}

/// Runs a scenario through both models: the full one first.
///
/// # Panics
///
/// When settings or scenario are refused: the harness itself is wrong then.
#[must_use]
pub fn twins(scenario: &Scenario, settings_text: &str, seed: u64) -> [Seen; 2] {
    let (parsed, _) = settings::parse(settings_text, "twins").unwrap_or_else(|faults| panic!("{faults}"));
    let core = fit::core_settings(&parsed, scenario.rate_hz).unwrap_or_else(|fault| panic!("{fault:#}"));
    let mut monitor = Monitor::new(&core).expect("the settings are sound");
    let converter = Converter::new(&parsed.sampling);
    let c = core.build().expect("the settings are sound").judge;
    let empty = || Seen { rate_hz: scenario.rate_hz, ..Seen::default() };

    let mut full = empty();
    let mut block: Vec<Frame> = Vec::with_capacity(BLOCK);
    let drain = |monitor: &mut Monitor, full: &mut Seen| {
        while let Some(moment) = monitor.take_moment() {
            full.records.push(moment.half_cycle);
            full.states.push(moment.state);
        }
        while let Some(event) = monitor.pop_event() {
            full.events.push(event);
        }
    };
    let Ok(end) = run(scenario, seed, |frame| {
        let r = frame.reading;
        block.push(converter.frame([r[0], r[1], r[2], r[3], r[4], r[5]]));
        full.truths.push(frame.truth);
        full.told += frame.events.len();
        monitor.set_mass((frame.truth.mass_kg * 1e6) as u64);
        if let Ok(eight) = <&[Frame; BLOCK]>::try_from(block.as_slice()) {
            monitor.ingest(eight);
            block.clear();
            drain(&mut monitor, &mut full);
        }
        Ok::<(), Infallible>(())
    });
    monitor.finish(&block);
    drain(&mut monitor, &mut full);
    (full.end, full.totals) = (end, *monitor.totals());

    let mut brief = empty();
    let mut judge = Judge::new(&c);
    brief.end = reduced::run(scenario, seed, |step| {
        judge.set_mass((step.truth.mass_kg * 1e6) as u64);
        brief.states.push(judge.half_cycle(&c, &step.record).state);
        brief.records.push(step.record);
        brief.truths.push(step.truth);
        brief.told += step.events.len();
        while let Some(event) = judge.pop_event() {
            brief.events.push(event);
        }
        Ok::<(), Refused>(())
    })
    .unwrap_or_else(|refused| panic!("{refused}"));
    brief.totals = *judge.totals();
    [full, brief]
}

impl Seen {
    /// A time of the core, s.
    #[must_use]
    pub fn seconds(&self, frames: u64) -> f64 {
        frames as f64 / 65_536.0 / self.rate_hz
    }

    /// Speed at a time, rpm, between the two nearest truths.
    #[must_use]
    pub fn speed_rpm(&self, t_s: f64) -> f64 {
        let after = self.truths.partition_point(|truth| truth.t_s < t_s);
        let (Some(b), Some(a)) = (self.truths.get(after), self.truths.get(after.saturating_sub(1))) else {
            return self.end.speed_rpm;
        };
        if after == 0 {
            return b.speed_rpm;
        }
        a.speed_rpm + (b.speed_rpm - a.speed_rpm) * (t_s - a.t_s) / (b.t_s - a.t_s)
    }

    /// Trips and when they were given, s.
    #[must_use]
    pub fn trips(&self) -> Vec<(Cause, f64)> {
        let trip = |event: &Event| match event.kind {
            EventKind::Trip { cause, .. } => Some((cause, self.seconds(event.at.0))),
            _ => None,
        };
        self.events.iter().filter_map(trip).collect()
    }

    /// How long the starts took that ran up, s.
    #[must_use]
    pub fn starts_s(&self) -> Vec<f64> {
        let start = |event: &Event| match event.kind {
            EventKind::RunUp { onset, .. } => Some(self.seconds(event.at.since(onset).0)),
            _ => None,
        };
        self.events.iter().filter_map(start).collect()
    }

    /// When the largest phase's one-cycle rms first passes a level while the mill runs, A; s.
    #[must_use]
    pub fn passes_s(&self, amps: f64) -> Option<f64> {
        let all = self.records.iter().zip(&self.states);
        let first = all.into_iter().find(|(record, state)| state.running() && largest_a(record) > amps);
        first.map(|(record, _)| self.seconds(record.end.0))
    }
}

/// Largest phase's rms, A.
#[must_use]
pub fn largest_a(record: &HalfCycle) -> f64 {
    record.current.iter().map(|square| f64::from(square.root().to_bits()) / 131_072.0).fold(0.0, f64::max)
}
