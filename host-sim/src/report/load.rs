//! How the motor was loaded while it ran, in bounded memory.
//!
//! Load is shaft power over rated power, %. Intervals in which the motor ran (idle or breaking) enter a histogram
//! in steps of half a per cent, weighted with their length; a start does not, because its shaft power is an upper
//! estimate. The mean comes from the totals, so that mean power times running time is the shaft energy.

use std::collections::VecDeque;

use serde::Serialize;
use shaftwork_core::judge::report::Interval;

use super::number::{figure, frames_s, pct, seconds};
use super::{TotalsRow, Why};

/// Width of a step of the histogram, %.
const STEP_PCT: f64 = 0.5;
/// Steps: up to 600 % of rated, as much as no mill's motor gives; beyond, the highest stands for all.
const STEPS: usize = 1_200;

/// The load of a trace as it is written.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct LoadRow {
    /// Time of the whole intervals in which the motor ran; what follows counts them.
    pub measured_s: f64,
    /// Shaft energy over running time and rated power; every frame counts.
    pub mean_pct: Option<f64>,
    /// Root of the mean squared and the variance of the intervals.
    pub rms_pct: Option<f64>,
    /// Not exceeded in 95 % of the time; within half a per cent.
    pub p95_pct: Option<f64>,
    /// The highest interval.
    pub highest_pct: Option<f64>,
    /// The highest mean over so many seconds on end.
    pub highest_1s_pct: Option<f64>,
    pub highest_10s_pct: Option<f64>,
    pub above_100_s: f64,
    pub above_110_s: f64,
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

/// Gathers the load interval by interval.
#[derive(Debug, Clone)]
pub struct Load {
    /// Time in each step, s.
    steps: Vec<f64>,
    measured_s: f64,
    /// Sums of load and of load squared times length, % s and %² s.
    sum: f64,
    squares: f64,
    highest_pct: Option<f64>,
    above_100_s: f64,
    above_110_s: f64,
    one: Sliding,
    ten: Sliding,
}

impl Default for Load {
    fn default() -> Self {
        Self {
            steps: vec![0.0; STEPS],
            measured_s: 0.0,
            sum: 0.0,
            squares: 0.0,
            highest_pct: None,
            above_100_s: 0.0,
            above_110_s: 0.0,
            one: Sliding::new(1.0),
            ten: Sliding::new(10.0),
        }
    }
}

impl Load {
    /// Takes an interval, at a rate in Hz.
    pub fn interval(&mut self, interval: &Interval, rate_hz: f64) {
        let end_s = frames_s(interval.window.end.0, rate_hz);
        let length_s = frames_s(interval.window.length.0, rate_hz);
        if interval.state.running() {
            self.take(end_s, length_s, pct(interval.load));
        }
    }

    /// A running interval that ends at `end_s`.
    fn take(&mut self, end_s: f64, length_s: f64, load_pct: f64) {
        // A cast holds what is negative (a driven motor) at 0.
        let step = ((load_pct / STEP_PCT) as usize).min(STEPS - 1);
        self.steps[step] += length_s;
        self.measured_s += length_s;
        self.sum += load_pct * length_s;
        self.squares += load_pct * load_pct * length_s;
        self.highest_pct = Some(self.highest_pct.map_or(load_pct, |highest| highest.max(load_pct)));
        if load_pct > 100.0 {
            self.above_100_s += length_s;
        }
        if load_pct > 110.0 {
            self.above_110_s += length_s;
        }
        self.one.take(end_s, length_s, load_pct);
        self.ten.take(end_s, length_s, load_pct);
    }

    /// What the load comes to, with the totals of the same trace and the motor's rated power.
    pub fn row(&self, totals: &TotalsRow, rated_kw: f64) -> LoadRow {
        let running_h = (totals.idle_s + totals.breaking_s) / 3600.0;
        let shaft_kwh = totals.shaft_kwh.filter(|_| running_h > 0.0);
        let mean = shaft_kwh.map(|kwh| kwh / running_h / rated_kw * 100.0);
        let measured = |sum: f64| (self.measured_s > 0.0).then(|| sum / self.measured_s);
        // The first interval of a trace lacks the half cycle before anything is known: a variance of so little.
        let variance =
            measured(self.squares).zip(measured(self.sum)).map(|(squares, mean)| (squares - mean * mean).max(0.0));
        let rms = mean.zip(variance).map(|(mean, variance)| (mean * mean + variance).sqrt());
        let mut row = LoadRow {
            measured_s: seconds(self.measured_s),
            mean_pct: mean.map(figure),
            rms_pct: rms.map(figure),
            p95_pct: self.share_below(0.95).map(figure),
            highest_pct: self.highest_pct,
            highest_1s_pct: self.one.highest.map(figure),
            highest_10s_pct: self.ten.highest.map(figure),
            above_100_s: seconds(self.above_100_s),
            above_110_s: seconds(self.above_110_s),
            why: Why::new(),
        };
        let short = if running_h > 0.0 { "it did not run for a whole interval" } else { "the motor did not run" };
        let on_end = |of: &Sliding, reason| match row.highest_pct {
            None => short,
            Some(_) if of.coarse => "its intervals are longer than that",
            Some(_) => reason,
        };
        for (missing, key, reason) in [
            (row.mean_pct.is_none(), "mean_pct", short),
            (row.rms_pct.is_none(), "rms_pct", short),
            (row.p95_pct.is_none(), "p95_pct", short),
            (row.highest_pct.is_none(), "highest_pct", short),
            (row.highest_1s_pct.is_none(), "highest_1s_pct", on_end(&self.one, "it did not run for 1 s on end")),
            (row.highest_10s_pct.is_none(), "highest_10s_pct", on_end(&self.ten, "it did not run for 10 s on end")),
        ] {
            if missing {
                row.why.insert(key, reason);
            }
        }
        row
    }

    /// The load that was not exceeded in this share of the time, %; even within a step.
    fn share_below(&self, share: f64) -> Option<f64> {
        let wanted = self.measured_s * share;
        let mut before = 0.0;
        for (step, time) in self.steps.iter().enumerate() {
            if *time > 0.0 && before + time >= wanted && step + 1 < STEPS {
                let load = (step as f64 + (wanted - before) / time) * STEP_PCT;
                // Within the last step that is used nothing lies above the highest.
                return self.highest_pct.map(|highest| load.min(highest.max(0.0)));
            }
            before += time;
        }
        self.highest_pct
    }
}

/// The highest mean over a span of time without a break.
#[derive(Debug, Clone)]
struct Sliding {
    span_s: f64,
    /// Lengths and loads of the intervals in the span, oldest first: six a second at most.
    held: VecDeque<(f64, f64)>,
    end_s: f64,
    highest: Option<f64>,
    /// Whether an interval was longer than the span.
    coarse: bool,
}

impl Sliding {
    /// Half an interval: ten cycles are seldom 0.2 s to the sample, nor five of them just a second.
    const SLACK_S: f64 = 0.1;

    fn new(span_s: f64) -> Self {
        Self { span_s, held: VecDeque::new(), end_s: 0.0, highest: None, coarse: false }
    }

    fn take(&mut self, end_s: f64, length_s: f64, load_pct: f64) {
        // A mean over ten seconds says nothing of one.
        if length_s > self.span_s + Self::SLACK_S {
            self.coarse = true;
            return;
        }
        if end_s - length_s > self.end_s + Self::SLACK_S {
            self.held.clear();
        }
        self.end_s = end_s;
        self.held.push_back((length_s, load_pct));
        let mut whole: f64 = self.held.iter().map(|(length, _)| length).sum();
        while let Some((oldest, _)) =
            self.held.front().filter(|(oldest, _)| whole - oldest > self.span_s - Self::SLACK_S)
        {
            whole -= oldest;
            self.held.pop_front();
        }
        if whole > self.span_s - Self::SLACK_S {
            let mean = self.held.iter().map(|(length, load)| length * load).sum::<f64>() / whole;
            self.highest = Some(self.highest.map_or(mean, |highest| highest.max(mean)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::summary;

    /// Loads for a fifth of a second each, one after the other.
    fn of(loads: impl IntoIterator<Item = f64>) -> Load {
        let mut load = Load::default();
        for (i, pct) in loads.into_iter().enumerate() {
            load.take(0.2 * (i + 1) as f64, 0.2, pct);
        }
        load
    }

    /// An hour of each idle and breaking, 55 kWh at the shaft of a motor for 55 kW: half load (own arithmetic).
    fn totals() -> TotalsRow {
        TotalsRow { idle_s: 3_600.0, breaking_s: 3_600.0, shaft_kwh: Some(55.0), ..summary().totals }
    }

    /// 90 s at 50 %, 10 s at 105 %, 2 s at 150 %: their mean is 5850 / 102, and with that as shaft energy over two
    /// hours the rms is the root of (90 x 2500 + 10 x 11025 + 2 x 22500) / 102 (by hand).
    #[test]
    fn shares_of_time_and_of_rated_power() {
        let loads =
            std::iter::repeat_n(50.0, 450).chain(std::iter::repeat_n(105.0, 50)).chain(std::iter::repeat_n(150.0, 10));
        let mean = 5_850.0 / 102.0;
        let row = of(loads).row(&TotalsRow { shaft_kwh: Some(1.1 * mean), ..totals() }, 55.0);
        let near = |got: f64, want: f64, within: f64| assert!((got - want).abs() <= within, "{got}, {want} wanted");
        near(row.measured_s, 102.0, 1e-6);
        near(row.mean_pct.unwrap(), mean, 1e-6);
        near(row.rms_pct.unwrap(), (380_250.0_f64 / 102.0).sqrt(), 1e-6);
        near(row.p95_pct.unwrap(), 105.0, STEP_PCT);
        near(row.above_100_s, 12.0, 1e-6);
        near(row.above_110_s, 2.0, 1e-6);
        near(row.highest_pct.unwrap(), 150.0, 0.0);
        near(row.highest_1s_pct.unwrap(), 150.0, 1e-6);
        // 8 s at 105 % and 2 s at 150 %.
        near(row.highest_10s_pct.unwrap(), 114.0, 1e-6);
        assert!(row.why.is_empty());
    }

    /// The step is what a percentile may err by, over a whole ramp.
    #[test]
    fn percentiles_within_a_step() {
        let load = of((0..1_000).map(|i| 0.2 * f64::from(i)));
        for share in [0.01, 0.5, 0.95, 0.999] {
            assert!((load.share_below(share).unwrap() - 200.0 * share).abs() <= STEP_PCT, "{share}");
        }
        assert_eq!(of([1e9, -5.0]).share_below(0.95), Some(1e9));
    }

    #[test]
    fn a_break_ends_a_span() {
        let mut load = of([100.0; 40]);
        for i in 0..40 {
            load.take(20.0 + 0.2 * f64::from(i), 0.2, 100.0);
        }
        let row = load.row(&totals(), 55.0);
        assert_eq!((row.highest_10s_pct, row.why["highest_10s_pct"]), (None, "it did not run for 10 s on end"));
        assert!(row.highest_1s_pct.is_some());
    }

    #[test]
    fn what_is_not_known_says_why() {
        let json = serde_json::to_value(Load::default().row(&summary().totals, 55.0)).unwrap();
        for (key, value) in json.as_object().unwrap() {
            assert_eq!(value.is_null(), json["why"].get(key).is_some(), "{key}");
        }
        assert_eq!(json["why"]["mean_pct"], "the motor did not run");
    }
}
