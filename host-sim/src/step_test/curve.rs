//! Energy a tonne over rate: a line of power over rate, up to where the mill chokes.
//!
//! ```text
//! P = P0 + e q           power, kW, over rate, t/h: least squares, each step weighed by its scatter
//! P / q = e + P0 / q     energy a tonne, kWh/t: what breaks it, and the empty mill's power spread over what is fed
//! ```
//!
//! A mill chokes where the line fails: the step costs more than the line through the steps before it tells, the load still rises
//! while the feed does not, or the feed stopped for the load. Nothing is said of rates above the highest that was fed.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF as _, StudentsT};

use super::step::{Step, Stretch};
use crate::regression::{Line, line, weighted};
use crate::report::uncertainty::combined;

/// By so much must a step cost more than the line tells, and a load rise within a step, share of it, to be a choke: less is
/// no reason to stop at (common practice, no source).
const MATTERS: f64 = 0.03;
/// A rate of less is no feed, t/h.
pub const NO_FEED_T_H: f64 = 1e-3;
/// Scatter that is never believed to be less, share of power: mains and pieces are never so even.
const LEAST_SCATTER: f64 = 1e-3;
/// Rounds in which scatter and slope find each other.
const ROUNDS: usize = 4;

/// Why a step is held for a choke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sign {
    /// The feed was stopped for the load, or something tripped.
    Stopped,
    /// The load stayed above the feed stop's level for its delay.
    AboveStop,
    /// The load rises though the feed does not.
    Rising,
    /// It costs more than the line tells.
    Dearer,
}

/// The curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Power over rate, kW over t/h.
    pub line: Line,
    /// Standard uncertainties are so many times as wide at 95 %.
    pub coverage: f64,
    /// Share by which the instruments and the model may be wrong, 95 %; `None` where the settings do not tell.
    pub share: Option<f64>,
    /// Steps that made it, from the first.
    pub good: usize,
    /// Lowest and highest rate that it holds for, t/h.
    pub rates_t_h: [f64; 2],
}

/// The first of some steps, in the order of their rates, at which the mill chokes, and how that shows; `stopped` is true for one in which
/// the load stopped the feed or tripped.
pub fn choke(steps: &[Step], stop_load: f64, stopped: impl Fn(&Step) -> bool) -> Option<(usize, Sign)> {
    let sign = |at: usize| {
        let step = &steps[at];
        let before = fitted(&steps[..at]).filter(|_| at >= 3);
        match before {
            _ if stopped(step) => Some(Sign::Stopped),
            _ if step.lasts > stop_load => Some(Sign::AboveStop),
            Some(before) if rises(step, before.slope) => Some(Sign::Rising),
            Some(before) if dearer(step, &before) => Some(Sign::Dearer),
            _ => None,
        }
    };
    (0..steps.len()).find_map(|at| Some((at, sign(at)?)))
}

impl Curve {
    /// From the steps below the choke; `None` where they have fewer than two rates.
    pub fn new(kept: &[Step]) -> Option<Self> {
        let good = kept.len();
        let line = fitted(kept)?;
        let fed = kept.iter().map(|step| step.t_h).filter(|t_h| *t_h > NO_FEED_T_H);
        let rates_t_h = fed.fold([f64::INFINITY, 0.0], |[low, high]: [f64; 2], t_h| [low.min(t_h), high.max(t_h)]);
        let share = kept.iter().rev().find_map(|step| step.row.gross_kwh_per_t.zip(step.row.gross_band_kwh_per_t));
        (rates_t_h[1] > 0.0).then(|| Self {
            line,
            coverage: quantile(good.saturating_sub(2), 0.975),
            share: share.map(|(gross, band)| band / gross),
            good,
            rates_t_h,
        })
    }

    /// Energy a tonne at a rate, kWh/t, and its band; `None` beyond what was fed.
    pub fn at(&self, t_h: f64) -> Option<(f64, f64)> {
        let [low, high] = self.rates_t_h;
        (low..=high).contains(&t_h).then(|| {
            let kwh_t = self.line.at(t_h) / t_h;
            (kwh_t, self.band(kwh_t, self.line.u_at(t_h) / t_h))
        })
    }

    /// What breaks a tonne, kWh/t, and its band.
    pub fn breaking(&self) -> (f64, f64) {
        (self.line.slope, self.band(self.line.slope, self.line.slope_u))
    }

    /// What the empty mill takes by the line, kW, and its band.
    pub fn idle(&self) -> (f64, f64) {
        (self.line.intercept, self.band(self.line.intercept, self.line.intercept_u))
    }

    fn band(&self, of: f64, u: f64) -> f64 {
        combined([self.coverage * u, self.share.unwrap_or(0.0) * of])
    }
}

/// The line through some steps; `None` where they have fewer than two rates.
fn fitted(steps: &[Step]) -> Option<Line> {
    let mut slope = 0.0;
    let mut found = None;
    for _ in 0..ROUNDS {
        let point = |step: &Step| [step.t_h, step.kw, step.scatter_kw(slope).max(LEAST_SCATTER * step.kw.abs())];
        let points: Vec<[f64; 3]> = steps.iter().map(point).collect();
        found = Some(weighted(&points)?);
        slope = found.map_or(0.0, |line| line.slope);
    }
    found
}

/// Whether a step costs more than the line of those before it tells, by more than both scatter. Half a dozen steps are asked in a test:
/// chance may answer for each once in two hundred.
fn dearer(step: &Step, before: &Line) -> bool {
    let more = step.kw - before.at(step.t_h);
    let u = combined([step.scatter_kw(before.slope), before.u_at(step.t_h)]);
    more > MATTERS * before.at(step.t_h) && more > quantile(step.stretches.len() - 1, 0.995) * u
}

/// Whether power rises to the end of a step, what is fed meanwhile taken off: the mill fills. Eight steps are asked in a test, so that
/// chance may answer only once in a hundred tests.
fn rises(step: &Step, kwh_t: f64) -> bool {
    let rest = |stretch: &Stretch| (stretch.kwh - kwh_t * stretch.tonnes) / stretch.hours;
    let points: Vec<[f64; 2]> =
        step.stretches.iter().enumerate().map(|(n, stretch)| [n as f64, rest(stretch)]).collect();
    line(&points).is_some_and(|line| {
        let rise = line.slope * (points.len() as f64 - 1.0);
        rise > 2.0 * MATTERS * step.kw && line.slope > quantile(points.len() - 2, 0.999) * line.slope_u
    })
}

/// Student's factor that is not exceeded with this probability, with so many degrees of freedom (JCGM 100, annex G).
fn quantile(free: usize, p: f64) -> f64 {
    StudentsT::new(0.0, 1.0, free.max(1) as f64).map_or(f64::INFINITY, |t| t.inverse_cdf(p))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::runs::RunRow;

    /// A step at a rate with this power; its stretches wander by `scatter` kW, and rise by `rise` kW over the step.
    fn step(t_h: f64, kw: f64, scatter: f64, rise: f64) -> Step {
        let wander = [1.0, -1.0, -1.0, 1.0, 1.0, -1.0, -1.0, 1.0];
        let stretch = |(n, sign): (usize, f64)| {
            let kw = kw + scatter * sign + rise * (n as f64 / 7.0 - 0.5);
            Stretch { hours: 0.01, tonnes: 0.01 * t_h, kwh: 0.01 * kw, load: kw / 50.0 }
        };
        let stretches = wander.into_iter().enumerate().map(stretch).collect();
        let (load, row) = (kw / 50.0, RunRow::default());
        let (from_s, steady_s, to_s) = (t_h * 1e3, t_h * 1e3 + 30.0, t_h * 1e3 + 60.0);
        Step {
            from_s,
            steady_s,
            to_s,
            speed: None,
            t_h,
            kw,
            stretches,
            load,
            p95: load,
            lasts: load,
            thermal: None,
            row,
        }
    }

    fn line_of(p0_kw: f64, kwh_t: f64) -> Vec<Step> {
        [0.0, 1.0, 2.0, 3.0, 4.0, 5.0].map(|t_h| step(t_h, p0_kw + kwh_t * t_h, 0.3, 0.0)).to_vec()
    }

    /// An idle power of 14 kW and 12 kWh/t make 26, 16.7 and 14.8 kWh/t at 1, 3 and 5 t/h (arithmetic, e + P0 / q).
    #[test]
    fn energy_a_tonne_falls_with_the_rate() {
        let curve = Curve::new(&line_of(14.0, 12.0)).unwrap();
        for (t_h, kwh_t) in [(1.0, 26.0), (3.0, 16.667), (5.0, 14.8)] {
            let (found, band) = curve.at(t_h).unwrap();
            assert!((found - kwh_t).abs() < 1e-3 && band < 1.0, "{t_h}: {found} ± {band}");
        }
        assert!((curve.breaking().0 - 12.0).abs() < 1e-9 && (curve.idle().0 - 14.0).abs() < 1e-9);
        assert_eq!((curve.at(0.99), curve.at(5.01)), (None, None));
        assert_eq!(choke(&line_of(14.0, 12.0), 2.0, |_| false), None);
    }

    /// Student's factors at 95 %: 2.776 for 4 degrees of freedom, 2.571 for 5 (JCGM 100, table G.2).
    #[test]
    fn students_factors() {
        for (free, factor) in [(4, 2.776), (5, 2.571), (10, 2.228)] {
            assert!((quantile(free, 0.975) - factor).abs() < 1e-3);
        }
        let curve = Curve::new(&line_of(14.0, 12.0)).unwrap();
        assert!((curve.coverage - 2.776).abs() < 1e-3);
    }

    /// Each sign of a choke at the last step, and none below it; the curve ends before it.
    #[test]
    fn a_choke_shows() {
        let with = |last: Step| [line_of(14.0, 12.0), vec![last]].concat();
        for (last, stop, sign) in [
            (step(6.0, 86.0, 0.3, 0.0), false, None),
            (step(6.0, 90.0, 0.3, 0.0), false, Some(Sign::Dearer)),
            (step(6.0, 86.0, 0.3, 10.0), false, Some(Sign::Rising)),
            (step(6.0, 86.0, 4.0, 4.0), false, None),
            (step(6.0, 86.0, 0.3, 0.0), true, Some(Sign::Stopped)),
            (step(6.0, 99.9, 0.3, 0.0), false, Some(Sign::Dearer)),
            (step(6.0, 100.1, 0.3, 0.0), false, Some(Sign::AboveStop)),
        ] {
            let steps = with(last);
            let found = choke(&steps, 2.0, |step| stop && step.t_h > 5.5);
            assert_eq!(found, sign.map(|sign| (6, sign)), "{:?}", steps[6]);
        }
    }

    #[test]
    fn too_little_makes_no_curve() {
        let steps = line_of(14.0, 12.0);
        assert!(Curve::new(&steps[..1]).is_none() && Curve::new(&[]).is_none());
        assert_eq!(choke(&steps, 2.0, |step| step.t_h > 0.5), Some((1, Sign::Stopped)));
    }

    /// A line that is known by its scatter alone covers the truth in 95 of 100 tests or so: of 400 seeded ones 360 at least.
    #[test]
    fn the_band_covers() {
        let mut random = crate::plant::seed::Random::new(11);
        let covered = (0..400).filter(|_| {
            let mut steps = line_of(14.0, 12.0);
            for step in &mut steps {
                for stretch in &mut step.stretches {
                    stretch.kwh = (14.0 + 12.0 * step.t_h + 1.5 * random.normal()) * stretch.hours;
                }
                step.kw = step.stretches.iter().map(|s| s.kwh).sum::<f64>()
                    / step.stretches.iter().map(|s| s.hours).sum::<f64>();
            }
            let curve = Curve::new(&steps).unwrap();
            let (e, band) = curve.breaking();
            (e - 12.0).abs() <= band
        });
        let covered = covered.count();
        assert!((360..=399).contains(&covered), "{covered}");
    }
}
