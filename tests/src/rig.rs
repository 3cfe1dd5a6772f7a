//! The plant model before the core: what the core reports beside what the model knows.
//!
//! Truth is the model's (its equations are checked in its own tests) and the readings' own: the one-cycle rms
//! slides sample by sample.

use crate::machine::{Extra, Machine};
use crate::modelled::cycle::Cycle;
use shaftwork_core::{BLOCK, Cause, Event, EventKind, Frame, Interval, Moment, Monitor, Totals};
use shaftwork_sim::convert::Converter;
use shaftwork_sim::plant::mill::Mill;
use shaftwork_sim::plant::sensor::{Converter as Channel, Sensor};
use shaftwork_sim::plant::supply::{Closed, Supply};
use shaftwork_sim::plant::{Scenario, Truth, run};
use shaftwork_sim::report::totals::{Beside, TotalsRow};
use shaftwork_sim::settings::Settings;
use shaftwork_sim::{fit, settings};
use std::convert::Infallible;

/// What the core reported.
#[derive(Debug, Default)]
pub struct Heard {
    /// Frames a second.
    pub rate_hz: f64,
    /// Half cycles in order.
    pub moments: Vec<Moment>,
    /// Intervals in order.
    pub intervals: Vec<Interval>,
    /// Events in order.
    pub events: Vec<Event>,
    /// The sums.
    pub totals: Totals,
}

impl Heard {
    /// A time of the core, s.
    #[must_use]
    pub fn seconds(&self, frames: u64) -> f64 {
        frames as f64 / 65_536.0 / self.rate_hz
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

    /// Starts: onset, s; then duration, s, and peak, A, of those that ran up.
    #[must_use]
    pub fn starts(&self) -> Vec<(f64, Option<[f64; 2]>)> {
        let mut starts = Vec::new();
        for event in &self.events {
            match event.kind {
                EventKind::Start => starts.push((self.seconds(event.at.0), None)),
                EventKind::RunUp { onset, peak, .. } => {
                    if let Some(start) = starts.last_mut() {
                        start.1 = Some([self.seconds(event.at.since(onset).0), f64::from(peak.to_bits()) / 131_072.0]);
                    }
                }
                _ => {}
            }
        }
        starts
    }

    /// The sums as the command writes them.
    #[must_use]
    pub fn row(&self) -> TotalsRow {
        TotalsRow::new(&self.totals, &Beside { rate_hz: self.rate_hz, batch_kg: None, no_mass: "none", bridged: 0 })
    }
}

/// A core with a converter before it.
#[derive(Debug)]
pub struct Listening {
    monitor: Monitor,
    converter: Converter,
    block: Vec<Frame>,
    heard: Heard,
}

impl Listening {
    /// To a machine with its settings.
    ///
    /// # Panics
    ///
    /// When the settings are refused: the harness itself is wrong then.
    #[must_use]
    pub fn new(machine: &Machine, extra: &Extra) -> Self {
        let text = machine.settings(extra);
        let (parsed, _) = settings::parse(&text, machine.name).unwrap_or_else(|faults| panic!("{faults}\n{text}"));
        Self::to(&parsed, machine.rate_hz)
    }

    /// To what some settings describe, at so many frames a second.
    ///
    /// # Panics
    ///
    /// When the settings are refused: the harness itself is wrong then.
    #[must_use]
    pub fn to(settings: &Settings, rate_hz: f64) -> Self {
        let core = fit::core_settings(settings, rate_hz).unwrap_or_else(|fault| panic!("{fault:#}"));
        Self {
            monitor: Monitor::new(&core).expect("the settings are sound"),
            converter: Converter::new(&settings.sampling),
            block: Vec::with_capacity(BLOCK),
            heard: Heard { rate_hz, ..Heard::default() },
        }
    }

    /// Takes one frame: va, vb, vc (V), ia, ib, ic (A).
    pub fn take(&mut self, values: [f64; 6]) {
        self.block.push(self.converter.frame(values));
        if let Ok(block) = <&[Frame; BLOCK]>::try_from(self.block.as_slice()) {
            self.monitor.ingest(block);
            self.block.clear();
            self.drain();
        }
    }

    fn drain(&mut self) {
        self.heard.moments.extend(std::iter::from_fn(|| self.monitor.take_moment()));
        self.heard.intervals.extend(self.monitor.take_interval());
        while let Some(event) = self.monitor.pop_event() {
            self.heard.events.push(event);
        }
    }

    /// Ends the trace.
    #[must_use]
    pub fn finish(mut self) -> Heard {
        self.monitor.finish(&self.block);
        self.drain();
        self.heard.totals = *self.monitor.totals();
        self.heard
    }
}

/// What the model knows of a run.
#[derive(Debug)]
pub struct Known {
    rate_hz: f64,
    /// Largest phase's rms over the cycle that ends with each frame, A; nought before there is a cycle.
    rms: Vec<f64>,
    /// Truth at each frame.
    pub truth: Vec<Truth>,
    /// Truth at the end.
    pub end: Truth,
}

impl Known {
    /// The highest one-cycle rms of a phase, A.
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.rms.iter().copied().fold(0.0, f64::max)
    }

    /// Spans in which it lies above a level: from and until, s.
    #[must_use]
    pub fn above(&self, level: f64) -> Vec<[f64; 2]> {
        let mut spans: Vec<[f64; 2]> = Vec::new();
        let mut inside = false;
        for (k, rms) in self.rms.iter().enumerate() {
            let t = (k + 1) as f64 / self.rate_hz;
            let now = *rms > level;
            if now && !inside {
                spans.push([t, t]);
            }
            if let Some(last) = spans.last_mut().filter(|_| now) {
                last[1] = t;
            }
            inside = now;
        }
        spans
    }

    /// The truth when a speed is first reached, rpm.
    #[must_use]
    pub fn reaches(&self, rpm: f64) -> Option<&Truth> {
        self.truth.iter().find(|truth| truth.speed_rpm >= rpm)
    }

    /// Mean of a figure from a time on.
    #[must_use]
    pub fn mean(&self, from_s: f64, until_s: f64, figure: impl Fn(&Truth) -> f64) -> f64 {
        let span = self.truth.iter().filter(|truth| (from_s..until_s).contains(&truth.t_s));
        let (sum, count) = span.fold((0.0, 0.0), |(sum, count), truth| (sum + figure(truth), count + 1.0));
        sum / count
    }
}

/// Power at the shaft, W.
#[must_use]
pub fn shaft_w(truth: &Truth) -> f64 {
    truth.shaft_nm * truth.speed_rpm * std::f64::consts::PI / 30.0
}

impl Machine {
    /// A scenario: an empty mill of a windage (N m s²) whose start takes so long, closed from a time on.
    #[must_use]
    pub fn scenario(&self, windage: f64, start_s: f64, closes_s: f64, duration_s: f64) -> Scenario {
        let [volts, amps] = self.full_scales();
        let channel = |full_scale| Channel { bits: self.bits, full_scale, noise_counts: 0.5 };
        let total = self.inertia(start_s, windage);
        let c = &self.circuit;
        let closed = Closed { from_s: closes_s, until_s: f64::INFINITY };
        Scenario {
            circuit: c.clone(),
            supply: Supply::new(c.line_v, c.frequency_hz, closed),
            mill: Mill {
                inertia_kg_m2: (total - c.inertia_kg_m2).max(0.01 * total),
                windage_nm_s2: windage,
                working_rad_s: 0.98 * c.synchronous_rad_s(),
                ..Mill::default()
            },
            sensor: Sensor {
                voltage: channel(volts),
                current: channel(amps),
                mass: channel(1_000.0),
                ..Sensor::default()
            },
            rate_hz: self.rate_hz,
            lead_s: (-closes_s).max(0.0),
            duration_s,
            ..Scenario::default()
        }
    }

    /// Runs a scenario through the plant and the core.
    #[must_use]
    pub fn play(&self, scenario: &Scenario, extra: &Extra) -> (Heard, Known) {
        let mut core = Listening::new(self, extra);
        let mut cycle = Cycle::new(self.rate_hz / scenario.supply.frequency_hz);
        let mut known = Known { rate_hz: self.rate_hz, rms: Vec::new(), truth: Vec::new(), end: Truth::default() };
        let Ok(end) = run(scenario, 7, |frame| {
            let r = frame.reading;
            let values = [r[0], r[1], r[2], r[3], r[4], r[5]];
            core.take(values);
            let shown = cycle.take(values, scenario.supply.angle_rad(frame.truth.t_s));
            known.rms.push(shown.map_or(0.0, |shown| shown.largest_a));
            known.truth.push(frame.truth);
            Ok::<(), Infallible>(())
        });
        known.end = end;
        (core.finish(), known)
    }
}
