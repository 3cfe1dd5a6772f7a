//! What the model knows of a scenario, gone through once: energies, starts, peaks, steady spans, trips due.
//!
//! Running means: from the moment at which 95 % of synchronous speed is reached to the contactor's opening, also while
//! something holds the rotor. s, W, N m, rpm, A, J.

use std::convert::Infallible;

use shaftwork_sim::plant::sensor::CurrentTap;
use shaftwork_sim::plant::{Event, Truth, What, run};
use shaftwork_sim::settings::Settings;
use shaftwork_sim::synth::story::Story;

use super::cycle::Cycle;
use super::due::{Due, Elements, Moment};
use crate::rig::shaft_w;

/// Length of the pieces in which steadiness is looked for, s.
const PIECE_S: f64 = 0.2;
/// A load is steady while it stays within this share of rated torque, and the speed within this of rated speed.
const STEADY_LOAD: f64 = 2e-3;
const STEADY_SPEED: f64 = 5e-4;
/// What is left of a steady span when the intervals that see its beginning are taken off must be worth it, s.
const SHORTEST_S: f64 = 2.0;

/// A start.
#[derive(Debug, Clone, Copy)]
pub struct Start {
    /// The contactor closes, s.
    pub at_s: f64,
    /// Until 95 % of synchronous speed; `None` where that is not reached.
    pub lasts_s: Option<f64>,
    /// Highest one-cycle rms of a phase until then, A.
    pub peak_a: f64,
}

/// Means over a time in which load and speed do not change.
#[derive(Debug, Clone, Copy, Default)]
pub struct Steady {
    /// From and until, s.
    pub span_s: [f64; 2],
    /// Power at the shaft, W.
    pub shaft_w: f64,
    /// Torque at the shaft, N m.
    pub torque_nm: f64,
    /// Speed, rpm.
    pub speed_rpm: f64,
}

/// All of it.
#[derive(Debug)]
pub struct Known {
    /// The truth at the end.
    pub end: Truth,
    /// From when to when it ran, s.
    pub ran_s: Vec<[f64; 2]>,
    /// Work of the shaft up to each frame and to the end, J.
    shaft_j: Vec<f64>,
    rate_hz: f64,
    /// Starts within the trace.
    pub starts: Vec<Start>,
    /// The contactor opens so many times within the trace.
    pub stops: usize,
    /// Highest one-cycle rms of a phase, A.
    pub peak_a: f64,
    /// From when to when the speed is below half of synchronous while running: something holds the rotor, s.
    pub held_s: Option<[f64; 2]>,
    /// The longest steady span, if one is long enough.
    pub steady: Option<Steady>,
    /// Trips that are due.
    pub due: Vec<Due>,
}

/// A piece of time: sums, extremes, whether it counts.
#[derive(Debug, Clone, Copy)]
struct Piece {
    frames: f64,
    sums: [f64; 3],
    load: [f64; 2],
    speed: [f64; 2],
    runs: bool,
}

const FRESH: Piece = Piece {
    frames: 0.0,
    sums: [0.0; 3],
    load: [f64::INFINITY, f64::NEG_INFINITY],
    speed: [f64::INFINITY, f64::NEG_INFINITY],
    runs: true,
};

impl Piece {
    fn take(&mut self, truth: &Truth, runs: bool) {
        self.frames += 1.0;
        for (sum, x) in self.sums.iter_mut().zip([shaft_w(truth), truth.shaft_nm, truth.speed_rpm]) {
            *sum += x;
        }
        self.load = [self.load[0].min(truth.load_nm), self.load[1].max(truth.load_nm)];
        self.speed = [self.speed[0].min(truth.speed_rpm), self.speed[1].max(truth.speed_rpm)];
        self.runs &= runs;
    }

    /// The two together.
    fn with(&self, next: &Self) -> Self {
        let both = |a: [f64; 2], b: [f64; 2]| [a[0].min(b[0]), a[1].max(b[1])];
        Self {
            frames: self.frames + next.frames,
            sums: std::array::from_fn(|n| self.sums[n] + next.sums[n]),
            load: both(self.load, next.load),
            speed: both(self.speed, next.speed),
            runs: self.runs && next.runs,
        }
    }

    fn is_steady(&self, rated: &Rated) -> bool {
        let spread = |[low, high]: [f64; 2]| high - low;
        self.runs
            && spread(self.load) <= STEADY_LOAD * rated.torque_nm
            && spread(self.speed) <= STEADY_SPEED * rated.speed_rpm
    }
}

/// What figures are measured by.
#[derive(Debug, Clone, Copy)]
pub struct Rated {
    /// W.
    pub power_w: f64,
    /// N m.
    pub torque_nm: f64,
    /// rpm.
    pub speed_rpm: f64,
}

impl Rated {
    /// Of a nameplate.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let power_w = settings.motor.rated_power_kw * 1000.0;
        let speed_rpm = settings.motor.rated_speed_rpm;
        Self { power_w, speed_rpm, torque_nm: power_w / (speed_rpm * std::f64::consts::PI / 30.0) }
    }
}

/// What goes on, frame by frame.
struct Watch {
    closed: bool,
    /// Since when it runs.
    running: Option<f64>,
    line_lost: bool,
    known: Known,
}

impl Watch {
    fn event(&mut self, event: &Event, truth: &Truth) {
        match event.what {
            What::Closes => {
                self.closed = true;
                self.known.starts.push(Start { at_s: event.t_s, lasts_s: None, peak_a: 0.0 });
            }
            What::Opens => {
                self.closed = false;
                self.known.stops += 1;
                self.ends(truth.t_s);
            }
            What::LineLost(_) => self.line_lost = true,
            What::LineBack(_) => self.line_lost = false,
            _ => {}
        }
    }

    fn runs(&mut self, truth: &Truth, run_up_rpm: f64) {
        if self.closed && self.running.is_none() && truth.speed_rpm >= run_up_rpm {
            self.running = Some(truth.t_s);
            if let Some(start) = self.known.starts.last_mut() {
                start.lasts_s = Some(truth.t_s - start.at_s);
            }
        }
    }

    fn holds(&mut self, truth: &Truth, slow_rpm: f64) {
        if self.running.is_some() && truth.speed_rpm < slow_rpm {
            self.known.held_s.get_or_insert([truth.t_s; 2])[1] = truth.t_s;
        }
    }

    fn ends(&mut self, t_s: f64) {
        self.known.ran_s.extend(self.running.take().map(|since_s| [since_s, t_s]));
    }

    fn shows(&mut self, largest_a: f64) {
        self.known.peak_a = self.known.peak_a.max(largest_a);
        if let Some(start) = self.known.starts.last_mut().filter(|_| self.running.is_none()) {
            start.peak_a = start.peak_a.max(largest_a);
        }
    }
}

impl Known {
    /// Goes through a scenario.
    #[must_use]
    pub fn of(story: &Story, settings: &Settings, seed: u64) -> Self {
        let s = &story.scenario;
        let known = Self {
            end: Truth::default(),
            ran_s: Vec::new(),
            shaft_j: Vec::new(),
            rate_hz: s.rate_hz,
            starts: Vec::new(),
            stops: 0,
            peak_a: 0.0,
            held_s: None,
            steady: None,
            due: Vec::new(),
        };
        // Before the first frame nothing is told: a contactor that is closed then is no start.
        let closed = s.supply.is_closed(0.0) && s.lead_s > 0.0;
        let mut watch = Watch { closed, running: None, line_lost: false, known };
        let (run_up_rpm, rated) = (0.95 * s.circuit.synchronous_rpm(), Rated::new(settings));
        let mut cycle = Cycle::new(s.rate_hz / s.supply.frequency_hz);
        let mut elements = Elements::new(settings);
        let piece_frames = (PIECE_S * s.rate_hz).round();
        let mut pieces: Vec<Piece> = Vec::new();
        let mut piece = FRESH;
        // Of the lines, wherever the transformers sit.
        let mut lines = s.clone();
        lines.sensor.current_tap = CurrentTap::Line;
        let Ok(end) = run(&lines, seed, |frame| {
            let (truth, r) = (&frame.truth, frame.reading);
            frame.events.iter().for_each(|event| watch.event(event, truth));
            watch.runs(truth, run_up_rpm);
            watch.holds(truth, 0.5 * s.circuit.synchronous_rpm());
            watch.known.shaft_j.push(truth.shaft_j);
            if let Some(shown) = cycle.take([r[0], r[1], r[2], r[3], r[4], r[5]], s.supply.angle_rad(truth.t_s)) {
                watch.shows(shown.largest_a);
                elements.take(&Moment { t_s: truth.t_s, shown, running: watch.running.is_some() });
            }
            piece.take(truth, watch.running.is_some() && !watch.line_lost && truth.speed_rpm >= run_up_rpm);
            if piece.frames >= piece_frames {
                pieces.push(std::mem::replace(&mut piece, FRESH));
            }
            Ok::<(), Infallible>(())
        });
        watch.known.shaft_j.push(end.shaft_j);
        watch.ends(s.duration_s);
        Self { end, steady: steady(&pieces, &rated), due: elements.due(), ..watch.known }
    }
}

impl Known {
    /// Work of the shaft over spans of time, J.
    #[must_use]
    pub fn shaft_j(&self, spans_s: &[[f64; 2]]) -> f64 {
        let last = self.shaft_j.len() - 1;
        let at = |t_s: f64| self.shaft_j[((t_s * self.rate_hz).round() as usize).min(last)];
        spans_s.iter().map(|[from, until]| at(*until) - at(*from)).sum()
    }
}

/// The longest steady span.
fn steady(pieces: &[Piece], rated: &Rated) -> Option<Steady> {
    let mut longest: Option<(usize, usize, Piece)> = None;
    let mut first = 0;
    while first < pieces.len() {
        let mut all = pieces[first];
        let mut next = first + 1;
        while next < pieces.len() && all.with(&pieces[next]).is_steady(rated) {
            all = all.with(&pieces[next]);
            next += 1;
        }
        if all.is_steady(rated) && longest.is_none_or(|(from, until, _)| next - first > until - from) {
            longest = Some((first, next, all));
        }
        first = next;
    }
    let (from, until, all) = longest?;
    let span_s = [from, until].map(|n| n as f64 * PIECE_S);
    let [shaft_w, torque_nm, speed_rpm] = all.sums.map(|sum| sum / all.frames);
    (span_s[1] - span_s[0] >= SHORTEST_S).then_some(Steady { span_s, shaft_w, torque_nm, speed_rpm })
}
