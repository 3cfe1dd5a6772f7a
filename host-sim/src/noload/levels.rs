//! The steady levels of a trace: stretches over which voltage, current and power stay, whatever lies between them.
//!
//! A start, a step and a load that changes are no levels: the windows in them do not agree. The first and the last window of
//! a stretch may hold part of a change and are left out.

use shaftwork_core::time::Span;
use shaftwork_core::{Interval, Window};

use crate::replay::drive::Listener;
use crate::report::number::frames_s;
use crate::settings::{Settings, Values};

/// Windows that a level has at least: two seconds of samples, so that the noise of a converter is averaged and a rotor has
/// settled; as many rows of a log.
pub const LEAST_WINDOWS: usize = 10;
/// By how much windows of a level differ from its mean: voltage, current and power, parts of 1. Common practice, no
/// source: mains wander by half a per cent, and the current of a saturated motor by three times as much.
const STEADY: [f64; 3] = [0.01, 0.04, 0.1];
/// Power that may come and go besides, part of rated power: the rotor follows the mains' frequency.
const STEADY_POWER: f64 = 0.001;
/// Voltage and current that count as there, parts of the rated ones.
const THERE: [f64; 2] = [0.05, 0.01];

/// What a window shows: line voltage, sum of squared currents, power, reactive power, unbalance, frequency.
type Figures = [f64; 6];

/// One window.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Reading {
    from_s: f64,
    to_s: f64,
    figures: Figures,
    slip: Option<f64>,
}

/// A stretch so far: sums, so that it may be as long as it likes.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    /// Of its first window, which is left out at its end.
    first: Reading,
    /// The window that came last, not yet among the sums.
    last: Reading,
    /// Of those in between.
    from_s: f64,
    to_s: f64,
    windows: usize,
    sums: Figures,
    /// Of squared differences of power from the first window's.
    scatter: f64,
    slips: (f64, usize),
}

impl Stretch {
    fn new(first: Reading) -> Self {
        let (sums, slips) = ([0.0; 6], (0.0, 0));
        Self { first, last: first, from_s: first.to_s, to_s: first.to_s, windows: 0, sums, scatter: 0.0, slips }
    }

    /// Takes the next window; the one before it is no longer the last.
    fn push(&mut self, next: Reading) {
        if self.last != self.first {
            let Reading { to_s, figures, slip, .. } = self.last;
            self.windows += 1;
            self.to_s = to_s;
            self.sums.iter_mut().zip(figures).for_each(|(sum, x)| *sum += x);
            self.scatter += (figures[2] - self.first.figures[2]).powi(2);
            if let Some(slip) = slip {
                self.slips = (self.slips.0 + slip, self.slips.1 + 1);
            }
        }
        self.last = next;
    }

    /// The mean so far of a figure, its first and its last window with it.
    fn mean(&self, k: usize) -> f64 {
        (self.sums[k] + self.first.figures[k] + self.last.figures[k]) / (self.windows as f64 + 2.0)
    }

    /// Whether a window goes on with it.
    fn goes_on(&self, next: &Figures, rated_w: f64) -> bool {
        let near =
            |k: usize, share: f64, more: f64| (next[k] - self.mean(k)).abs() <= share * self.mean(k).abs() + more;
        // A current by its square: twice the share.
        near(0, STEADY[0], 0.0) && near(1, 2.0 * STEADY[1], 0.0) && near(2, STEADY[2], STEADY_POWER * rated_w)
    }

    fn level(&self) -> Level {
        let n = self.windows as f64;
        let [line_v, squares, power_w, reactive_var, unbalance, hertz] = self.sums.map(|sum| sum / n);
        let off = power_w - self.first.figures[2];
        let scatter = (self.scatter - n * off * off).max(0.0) / (n - 1.0);
        Level {
            from_s: self.from_s,
            to_s: self.to_s,
            windows: self.windows,
            line_v,
            squares,
            power_w,
            power_u_w: (scatter / n).sqrt(),
            reactive_var,
            slip: (self.slips.1 > 0).then(|| self.slips.0 / self.slips.1 as f64),
            unbalance,
            hertz,
        }
    }
}

/// Means over a level.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Level {
    /// From, s from the trace's start.
    pub from_s: f64,
    /// To, s.
    pub to_s: f64,
    /// Windows that it is made of.
    pub windows: usize,
    /// Line to line, rms, V.
    pub line_v: f64,
    /// Sum of the three squared currents, A².
    pub squares: f64,
    /// Taken in, W.
    pub power_w: f64,
    /// Standard deviation of its mean, W.
    pub power_u_w: f64,
    /// var.
    pub reactive_var: f64,
    /// Share of synchronous speed, by tachometer or by the core's model; `None` where it cannot be told.
    pub slip: Option<f64>,
    /// Negative over positive sequence of the voltages.
    pub unbalance: f64,
    /// Hz.
    pub hertz: f64,
}

impl Level {
    /// Mean line current, rms, A.
    pub fn current_a(&self) -> f64 {
        (self.squares / 3.0).sqrt()
    }

    /// Active over apparent power.
    pub fn power_factor(&self) -> f64 {
        self.power_w / (3f64.sqrt() * self.line_v * self.current_a())
    }
}

/// What the motor is rated for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rated {
    /// Line to line, V.
    pub line_v: f64,
    /// A.
    pub current_a: f64,
    /// W.
    pub power_w: f64,
    /// rpm.
    pub synchronous_rpm: f64,
    /// Hz.
    pub hertz: f64,
}

/// Finds the levels, window by window.
pub struct Levels {
    rated: Rated,
    phase_to_neutral: bool,
    rate_hz: f64,
    run: Option<Stretch>,
    /// The levels so far.
    pub found: Vec<Level>,
    /// The longest stretch that is none, with windows that agree, s.
    pub longest: Option<[f64; 2]>,
    /// Windows, those with voltage, those with voltage and current.
    pub windows: [usize; 3],
    /// Length of a window, s: the last one's.
    pub window_s: f64,
    /// The highest voltage, V.
    pub highest_v: f64,
    /// Windows that were left out because samples lie at the converter's end.
    pub clipped: usize,
}

/// Length of a window, s: ten or twelve cycles of samples; a row of a log, or as many as come in that time.
fn window_s(settings: &Settings) -> f64 {
    const CYCLES_S: f64 = 0.2;
    match (settings.sampling.values, settings.sampling.rate_hz) {
        (Values::Rms, Some(rows_hz)) => CYCLES_S.max(1.0 / rows_hz),
        _ => CYCLES_S,
    }
}

impl Levels {
    /// None yet.
    pub fn new(rated: Rated, settings: &Settings, rate_hz: f64) -> Self {
        Self {
            rated,
            phase_to_neutral: settings.supply.wiring.is_phase_to_neutral(),
            rate_hz,
            run: None,
            found: Vec::new(),
            longest: None,
            windows: [0; 3],
            window_s: window_s(settings),
            highest_v: 0.0,
            clipped: 0,
        }
    }

    /// A stretch is over.
    pub fn close(&mut self) {
        let Some(run) = self.run.take().filter(|run| run.windows > 0) else { return };
        if run.windows >= LEAST_WINDOWS {
            self.found.push(run.level());
        } else if self.longest.is_none_or(|[from, to]| to - from < run.to_s - run.from_s) {
            self.longest = Some([run.from_s, run.to_s]);
        }
    }

    fn reading(&self, interval: &Interval) -> Reading {
        let Window { end, length, voltage, current, .. } = interval.window;
        let mean = voltage.iter().map(|v| v.0.to_num::<f64>()).sum::<f64>() / 3.0;
        let to_s = frames_s(end.0, self.rate_hz);
        // A change of the mains' frequency changes synchronous speed with it.
        let hertz = interval.window.frequency.map_or(self.rated.hertz, |f| f.0.to_num());
        let synchronous = self.rated.synchronous_rpm * hertz / self.rated.hertz;
        let line_v = if self.phase_to_neutral { 3f64.sqrt() * mean } else { mean };
        let squares = current.iter().map(|i| i.0.to_num::<f64>().powi(2)).sum();
        let unbalance = interval.window.voltage_unbalance.map_or(0.0, |ratio| ratio.0.to_num());
        let [power_w, reactive_var] = [interval.window.active, interval.window.reactive].map(|x| x.0.to_num());
        Reading {
            from_s: to_s - frames_s(length.0, self.rate_hz),
            to_s,
            figures: [line_v, squares, power_w, reactive_var, unbalance, hertz],
            slip: interval.speed.map(|rpm| 1.0 - rpm.0.to_num::<f64>() / synchronous),
        }
    }
}

impl Listener for Levels {
    fn gap(&mut self, _length: Span) -> anyhow::Result<()> {
        self.close();
        Ok(())
    }

    fn interval(&mut self, interval: &Interval) -> anyhow::Result<()> {
        let next = self.reading(interval);
        let [line_v, squares, ..] = next.figures;
        let volts = line_v >= THERE[0] * self.rated.line_v;
        let amps = (squares / 3.0).sqrt() >= THERE[1] * self.rated.current_a;
        let clipped = interval.window.clipped > 0;
        self.windows[0] += 1;
        self.window_s = next.to_s - next.from_s;
        self.windows[1] += usize::from(volts);
        self.windows[2] += usize::from(volts && amps);
        self.highest_v = self.highest_v.max(line_v);
        self.clipped += usize::from(volts && amps && clipped);
        if !(volts && amps) || clipped || self.run.is_some_and(|run| !run.goes_on(&next.figures, self.rated.power_w)) {
            self.close();
        }
        if volts && amps && !clipped {
            match &mut self.run {
                Some(run) => run.push(next),
                None => self.run = Some(Stretch::new(next)),
            }
        }
        Ok(())
    }
}
