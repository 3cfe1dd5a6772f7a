//! Whether an idle power that was set is what the mill takes when empty.
//!
//! The lowest stretch of `EVEN_S` during which the motor runs below half load and shaft power keeps within `EVEN` of rated is taken
//! for an empty mill. A mill that is never empty shows more: what is told says so.

use std::collections::VecDeque;

use shaftwork_core::judge::report::Interval;

use super::number::{amps, frames_s, pct};
use crate::settings::Settings;

/// Length of a stretch, s: ten intervals of samples.
const EVEN_S: f64 = 2.0;
/// Width in which its power keeps, share of rated.
const EVEN: f64 = 0.02;
/// A mill takes more than this when empty, share of rated: less is a motor without its belt, or one that is held.
const LEAST: f64 = 0.02;
/// An empty mill takes less.
const MOST: f64 = 0.5;
/// Share of the figure that was set, from which a difference is told.
const OFF: f64 = 0.15;

/// Looks for the empty mill.
#[derive(Debug, Clone)]
pub struct Empty {
    rate_hz: f64,
    rated_a: f64,
    /// Length (s) and load (share of rated) of the latest intervals.
    latest: VecDeque<(f64, f64)>,
    lowest: Option<f64>,
}

impl Empty {
    /// Nothing seen yet, at a rate in Hz.
    pub fn new(settings: &Settings, rate_hz: f64) -> Self {
        Self { rate_hz, rated_a: settings.motor.rated_current_a, latest: VecDeque::new(), lowest: None }
    }

    /// Takes an interval.
    pub fn interval(&mut self, interval: &Interval) {
        // A motor that is held has no shaft power either, but more than rated current.
        let calm = interval.window.current.into_iter().all(|current| amps(current) < self.rated_a);
        if interval.state.running() && calm {
            self.take(frames_s(interval.window.length.0, self.rate_hz), pct(interval.load) / 100.0);
        } else {
            self.latest.clear();
        }
    }

    fn take(&mut self, length_s: f64, load: f64) {
        self.latest.push_back((length_s, load));
        let length_s = |latest: &VecDeque<(f64, f64)>| latest.iter().map(|(length_s, _)| length_s).sum::<f64>();
        while self.latest.len() > 1 && length_s(&self.latest) - self.latest[0].0 > EVEN_S - 0.01 {
            self.latest.pop_front();
        }
        let whole_s = length_s(&self.latest);
        let (low, high) =
            self.latest.iter().fold((f64::MAX, f64::MIN), |(low, high), (_, x)| (low.min(*x), high.max(*x)));
        if whole_s < EVEN_S - 0.01 || high - low > EVEN {
            return;
        }
        let mean = self.latest.iter().map(|(length_s, x)| length_s * x).sum::<f64>() / whole_s;
        if (LEAST..MOST).contains(&mean) {
            self.lowest = Some(self.lowest.map_or(mean, |lowest| lowest.min(mean)));
        }
    }

    /// A sentence where a figure that was set is far off.
    pub fn advice(&self, settings: &Settings) -> Option<String> {
        let set_kw = settings.mill.idle_power_kw?;
        let seen_kw = self.lowest? * settings.motor.rated_power_kw;
        let off = (seen_kw - set_kw).abs() > OFF * set_kw;
        off.then(|| {
            format!(
                "idle_power_kw is set to {set_kw} kW, but the lowest even two seconds below half load are at {seen_kw:.2} kW: if the \
                 mill ran empty then, net energy is wrong by the difference all the time. To mend it, leave idle_power_kw away, and \
                 it is learnt, or set it to what the empty mill takes; if the mill is never empty in this trace, leave it"
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::settings;

    /// Own figures: 13 % of 55 kW are 7.15 kW.
    #[test]
    fn an_idle_power_that_is_far_off_is_told() {
        let told = |set_kw: Option<f64>, loads: &[f64]| {
            let mut settings = settings();
            (settings.motor.rated_power_kw, settings.mill.idle_power_kw) = (55.0, set_kw);
            let mut empty = Empty::new(&settings, 4_000.0);
            for load in loads {
                empty.take(0.2, *load);
            }
            empty.advice(&settings)
        };
        let run = |stretch: &[f64]| [&[0.4; 12][..], stretch, &[0.9; 12]].concat();
        let idle = run(&[0.13; 10]);
        for set_kw in [3.0, 5.5, 9.0, 12.0] {
            let words = told(Some(set_kw), &idle).unwrap();
            assert!(words.contains(&format!("set to {set_kw} kW")) && words.contains("7.15 kW"), "{words}");
        }
        assert_eq!(told(Some(7.0), &idle).or(told(None, &idle)), None);
        // Too short, too uneven, a motor alone: the 40 % before are the lowest then.
        let uneven: Vec<f64> = (0..20).map(|k| if k % 2 == 0 { 0.1 } else { 0.16 }).collect();
        for stretch in [&[0.13; 9][..], &uneven, &[0.01; 10]] {
            assert_eq!(told(Some(22.0), &run(stretch)), None);
        }
    }
}
