//! How the load answers the feeder: gain, lag and delay of a first-order model, fitted to all steps below the choke.
//!
//! ```text
//! lag dy/dt = a + gain u(t - delay) - y      y: load, share of rated power; u: feeder, share of full speed
//! ```
//!
//! For each delay and lag of a grid the input is filtered as the model does it, and gain and a follow by least squares; the pair that
//! leaves the least is taken, and the grid drawn closer about it. A model like this one is what the tuning rule of `[feeder]` wants
//! (Skogestad, J. Process Control 13, 2003; from memory).
//!
//! ```text
//! S <= S(best) (1 + p / (n - p) F(p, n - p; 95 %))     p = 4; n = windows x (1 - r) / (1 + r), r: how alike neighbours err
//! ```
//!
//! All pairs within this bound serve as well (Seber and Wild, Nonlinear Regression, 5.3; the count of a first-order process, Box and
//! Jenkins; both from memory). Scrap scatters so much that delay and lag are told apart badly, their sum well: of those pairs the one
//! with the longest delay is the safest to tune by.

use statrs::distribution::{ContinuousCDF as _, FisherSnedecor};

use crate::regression::line;

/// Values of lag in a pass, over its whole range.
const LAGS: usize = 24;
/// Values of delay in a pass.
const DELAYS: usize = 24;
/// Passes, each over two steps of the grid before.
const PASSES: usize = 4;
/// What is fitted: gain, base, lag, delay.
const FITTED: f64 = 4.0;
/// Share of the load's scatter that the model must account for.
const LEAST_SHARE: f64 = 0.3;

/// A reading: time at its middle, length, s; feeder; load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Its middle, s.
    pub t_s: f64,
    /// Its length, s.
    pub length_s: f64,
    /// The input.
    pub u: f64,
    /// Load, share of rated power.
    pub y: f64,
}

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    /// Share of load that a unit of the input makes.
    pub gain: f64,
    /// s.
    pub lag_s: f64,
    /// s.
    pub delay_s: f64,
    /// Load without input.
    pub base: f64,
    /// Share of the load's scatter that it accounts for.
    pub share: f64,
}

/// The best response, and what serves as well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// That which leaves the least.
    pub best: Response,
    /// That with the longest delay among those that serve as well: the safest to tune by.
    pub safest: Response,
    /// Shortest and longest lag among them, s.
    pub lags_s: [f64; 2],
    /// Shortest and longest delay, s.
    pub delays_s: [f64; 2],
    /// Shortest and longest sum of both, s.
    pub sums_s: [f64; 2],
}

impl Answer {
    /// Of some readings in order of time; `None` where the model accounts for too little of them, or they have no step.
    pub fn fit(readings: &[Reading], most_s: f64) -> Option<Self> {
        let tried = grid(readings, most_s);
        let least = |a: &&(f64, Response), b: &&(f64, Response)| a.0.total_cmp(&b.0);
        let (left, best) = *tried.iter().min_by(least)?;
        if best.share < LEAST_SHARE || best.gain <= 0.0 {
            return None;
        }
        let bound = left * (1.0 + slack(readings, &best));
        let as_well = || tried.iter().filter(|(left, _)| *left <= bound).map(|(_, found)| found);
        let ends = |of: fn(&Response) -> f64| {
            as_well().map(of).fold([f64::INFINITY, 0.0], |[low, high]: [f64; 2], x| [low.min(x), high.max(x)])
        };
        Some(Self {
            best,
            safest: *as_well().max_by(|a, b| a.delay_s.total_cmp(&b.delay_s))?,
            lags_s: ends(|found| found.lag_s),
            delays_s: ends(|found| found.delay_s),
            sums_s: ends(|found| found.lag_s + found.delay_s),
        })
    }
}

/// What each pair of a grid leaves, over several passes that draw closer about the best.
fn grid(readings: &[Reading], most_s: f64) -> Vec<(f64, Response)> {
    let least_s = readings.iter().map(|reading| reading.length_s).fold(f64::INFINITY, f64::min).max(0.02);
    let mut lags = [0.25 * least_s, most_s.max(least_s)];
    let mut delays = [0.0, most_s];
    let mut all: Vec<(f64, Response)> = Vec::new();
    for _ in 0..PASSES {
        let lag_at = |n: usize| lags[0] * (lags[1] / lags[0]).powf(n as f64 / (LAGS as f64 - 1.0));
        let delay_at = |n: usize| delays[0] + (delays[1] - delays[0]) * n as f64 / (DELAYS as f64 - 1.0);
        for lag_s in (0..LAGS).map(lag_at) {
            all.extend((0..DELAYS).map(delay_at).filter_map(|delay_s| tried(readings, lag_s, delay_s)));
        }
        let Some((_, best)) = all.iter().min_by(|a, b| a.0.total_cmp(&b.0)) else { break };
        // The range of the first passes is wide: what lies beside the best must not be lost.
        let ratio = (lags[1] / lags[0]).powf(4.0 / (LAGS as f64 - 1.0));
        let step_s = 4.0 * (delays[1] - delays[0]) / (DELAYS as f64 - 1.0);
        lags = [best.lag_s / ratio, best.lag_s * ratio];
        delays = [(best.delay_s - step_s).max(0.0), best.delay_s + step_s];
    }
    all
}

/// By what share more a pair may leave and serve as well.
fn slack(readings: &[Reading], best: &Response) -> f64 {
    let left: Vec<f64> = best.model(readings).iter().zip(readings).map(|(y, reading)| reading.y - y).collect();
    let square: f64 = left.iter().map(|x| x * x).sum();
    if square <= f64::MIN_POSITIVE {
        return 0.0;
    }
    let alike = left.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>() / square;
    let alike = alike.clamp(0.0, 0.999);
    let free = (left.len() as f64 * (1.0 - alike) / (1.0 + alike) - FITTED).max(1.0);
    FisherSnedecor::new(FITTED, free).map_or(f64::INFINITY, |f| FITTED / free * f.inverse_cdf(0.95))
}

impl Response {
    /// What the model makes of the input of some readings.
    pub fn model(&self, readings: &[Reading]) -> Vec<f64> {
        filtered(readings, self.lag_s, self.delay_s).into_iter().map(|u| self.base + self.gain * u).collect()
    }
}

/// The best model with this lag and delay, and the sum of squares that it leaves.
fn tried(readings: &[Reading], lag_s: f64, delay_s: f64) -> Option<(f64, Response)> {
    let points: Vec<[f64; 2]> =
        filtered(readings, lag_s, delay_s).into_iter().zip(readings).map(|(u, reading)| [u, reading.y]).collect();
    let found = line(&points)?;
    let n = points.len() as f64;
    let left = found.deviation.powi(2) * (n - 2.0);
    let mean = points.iter().map(|point| point[1]).sum::<f64>() / n;
    let all: f64 = points.iter().map(|point| (point[1] - mean).powi(2)).sum();
    let share = if all > 0.0 { 1.0 - left / all } else { 0.0 };
    Some((left, Response { gain: found.slope, lag_s, delay_s, base: found.intercept, share }))
}

/// The input behind delay and lag, as windows average it: exactly, for an input that is constant over a reading.
fn filtered(readings: &[Reading], lag_s: f64, delay_s: f64) -> Vec<f64> {
    let Some(first) = readings.first() else { return Vec::new() };
    // The state at the end of each reading's delayed input; before the first it is at rest there.
    let mut state = first.u;
    let mut from = 0;
    readings
        .iter()
        .map(|reading| {
            let begin_s = reading.t_s - 0.5 * reading.length_s - delay_s;
            let end_s = begin_s + reading.length_s;
            let (mut at_s, mut area) = (begin_s, 0.0);
            while at_s < end_s - 1e-9 {
                while from + 1 < readings.len() && starts_s(&readings[from + 1]) <= at_s + 1e-9 {
                    from += 1;
                }
                let u = if at_s < starts_s(first) { first.u } else { readings[from].u };
                let next_s = readings.get(from + 1).map_or(f64::INFINITY, starts_s);
                let next_s = if at_s < starts_s(first) - 1e-9 { starts_s(first) } else { next_s };
                let span_s = (next_s.min(end_s) - at_s).max(1e-9);
                let decay = (-span_s / lag_s).exp();
                area += u * span_s + (state - u) * lag_s * (1.0 - decay);
                state = u + (state - u) * decay;
                at_s += span_s;
            }
            area / reading.length_s
        })
        .collect()
}

fn starts_s(reading: &Reading) -> f64 {
    reading.t_s - 0.5 * reading.length_s
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::seed::Random;

    /// The answer of the model to a step is gain (1 - exp(-(t - delay) / lag)), in a closed form apart from the fit (any textbook of
    /// control; gain 1.2, lag 4 s and delay 3 s are the example of Skogestad's rule, from memory).
    fn stepped(noise: f64) -> Vec<Reading> {
        let mut random = Random::new(7);
        let answer = |t_s: f64| if t_s > 3.0 { 1.2 * (1.0 - (-(t_s - 3.0) / 4.0).exp()) } else { 0.0 };
        (0..1500)
            .map(|n| {
                let t_s = 0.2 * (f64::from(n) + 0.5);
                let up = |from_s: f64, share: f64| share * answer(t_s - from_s);
                let u = if t_s < 50.0 {
                    0.0
                } else if t_s < 150.0 {
                    0.3
                } else {
                    0.5
                };
                let scatter = noise * (2.0 * random.unit() - 1.0);
                Reading { t_s, length_s: 0.2, u, y: 0.2 + up(50.0, 0.3) + up(150.0, 0.2) + scatter }
            })
            .collect()
    }

    #[test]
    fn gain_lag_and_delay_are_found() {
        for (noise, within) in [(0.0, 0.01), (0.1, 0.1)] {
            let answer = Answer::fit(&stepped(noise), 30.0).unwrap();
            let found = answer.best;
            let holds = |[low, high]: [f64; 2], x: f64| low <= x * 1.001 && x * 0.999 <= high;
            assert!(
                holds(answer.lags_s, 4.0) && holds(answer.delays_s, 3.0) && holds(answer.sums_s, 7.0),
                "{answer:?}"
            );
            assert!(answer.safest.delay_s >= found.delay_s && answer.safest.delay_s < 4.5, "{answer:?}");
            for (found, wanted) in [(found.gain, 1.2), (found.lag_s, 4.0), (found.delay_s, 3.0), (found.base, 0.2)] {
                assert!((found / wanted - 1.0).abs() < within, "{noise}: {found}, not {wanted}");
            }
        }
    }

    #[test]
    fn what_does_not_answer_has_no_model() {
        let mut random = Random::new(3);
        let flat: Vec<Reading> = stepped(0.0).into_iter().map(|r| Reading { y: random.unit(), ..r }).collect();
        assert_eq!(Answer::fit(&flat, 30.0), None);
        let still: Vec<Reading> = stepped(0.0).into_iter().map(|r| Reading { u: 0.4, ..r }).collect();
        assert_eq!(Answer::fit(&still, 30.0), None);
        assert_eq!(Answer::fit(&[], 30.0), None);
    }

    #[test]
    fn the_model_is_drawn_as_it_was_fitted() {
        let readings = stepped(0.0);
        let found = Answer::fit(&readings, 30.0).unwrap().best;
        let worst = found.model(&readings).iter().zip(&readings).map(|(y, r)| (y - r.y).abs()).fold(0.0, f64::max);
        assert!(worst < 2e-3, "{worst}");
    }
}
