//! A step: the feeder held at one speed. The first half of it settles; the second half is looked at.
//!
//! ```text
//! u(mean) = s / sqrt(n)      of n = 8 stretches of the second half: pieces of scrap make windows that follow one another alike
//! ```
//!
//! Where a step's mass was weighed apart, it is known for the whole step only, and the whole step is looked at.

use super::watch::{Slice, Watch};
use crate::report::counted::Counted;
use crate::report::runs::{Part, RunRow};
use crate::report::sums::Sums;
use crate::report::uncertainty::Field;
use crate::settings::About;

/// Stretches that a step's second half is cut into.
const STRETCHES: usize = 8;
/// Share of a step that settles.
const SETTLES: f64 = 0.5;

/// A step and what it shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// From the change on, s.
    pub from_s: f64,
    /// What is looked at begins here, s.
    pub steady_s: f64,
    /// To, s.
    pub to_s: f64,
    /// How fast the feeder ran, share of full speed.
    pub speed: Option<f64>,
    /// What was fed, t/h.
    pub t_h: f64,
    /// Electrical power, kW.
    pub kw: f64,
    /// Of each stretch: hours, tonnes, electrical and shaft energy.
    pub stretches: Vec<Stretch>,
    /// Mean load, share of rated power.
    pub load: f64,
    /// Load that is not exceeded in 95 % of the time, over the time that the feed stop takes to decide.
    pub p95: f64,
    /// The highest load that lasted for that time: anywhere in the step, its first half too; where less is fed than in the step before, which
    /// left its load in the mill, in the second.
    pub lasts: f64,
    /// The thermal level that would be reached in the end, share of the trip level; `None` without a thermal image.
    pub thermal: Option<f64>,
    /// Energies by tonne with their bands.
    pub row: RunRow,
}

/// A part of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Its length, h.
    pub hours: f64,
    /// Fed, t.
    pub tonnes: f64,
    /// Electrical energy, kWh.
    pub kwh: f64,
    /// Mean load, share of rated power.
    pub load: f64,
}

/// What all steps have in common.
pub struct Common<'a> {
    /// What errors act through.
    pub field: &'a Field,
    /// How long the load must be high for the feed to stop, s.
    pub stop_delay_s: f64,
    /// Current that makes the trip level in the end, A.
    pub thermal_a: Option<f64>,
}

impl Step {
    /// The run of a trace from `from_s` to `to_s`; `None` where it holds less than two windows a stretch, or no known mass.
    ///
    /// `before` is the step before it, if that is known.
    pub fn new(
        watch: &Watch,
        (from_s, to_s, about): (f64, f64, &About),
        before: Option<&Self>,
        common: &Common<'_>,
    ) -> Option<Self> {
        let weighed = about.mass_kg;
        let settled_s = from_s + SETTLES * (to_s - from_s);
        let steady_s = if weighed.is_some() { from_s } else { settled_s };
        let slices = within(&watch.slices, steady_s, to_s);
        if slices.len() < 2 * STRETCHES {
            return None;
        }
        let sums = total(slices);
        let hours: f64 = slices.iter().map(|slice| slice.length_s).sum::<f64>() / 3600.0;
        let kg = weighed.unwrap_or(sums.fed_kg);
        // What was weighed lies over the step evenly.
        let part_kg = |part: &[Slice]| match weighed {
            Some(kg) => kg * part.iter().map(|slice| slice.length_s).sum::<f64>() / 3600.0 / hours,
            None => part.iter().map(|slice| slice.sums.fed_kg).sum(),
        };
        let stretches =
            (0..STRETCHES).map(|n| &slices[n * slices.len() / STRETCHES..(n + 1) * slices.len() / STRETCHES]);
        let stretches = stretches.map(|part| Stretch {
            hours: part.iter().map(|slice| slice.length_s).sum::<f64>() / 3600.0,
            tonnes: part_kg(part) / 1e3,
            kwh: part.iter().map(|slice| slice.sums.taken_kwh).sum(),
            load: mean_load(part),
        });
        let counted = if weighed.is_some() { Counted::default() } else { Counted::of(steady_s, to_s) };
        let limits_s = Some((steady_s, to_s));
        let t_h = kg / 1e3 / hours;
        let looked_s = if before.is_some_and(|before| before.t_h > t_h) { settled_s } else { from_s };
        let part = Part { about: about.clone(), limits_s, sums, mass_kg: Some(kg), counted, no_mass: "" };
        Some(Self {
            from_s,
            steady_s,
            to_s,
            speed: about.feeder_pct.map(|pct| pct / 100.0),
            t_h,
            kw: sums.taken_kwh / hours,
            stretches: stretches.collect(),
            load: mean_load(slices),
            p95: p95(&lasting(slices, common.stop_delay_s)),
            lasts: lasting(within(&watch.slices, looked_s, to_s), common.stop_delay_s).into_iter().fold(0.0, f64::max),
            thermal: common.thermal_a.and_then(|a| Some((sums.running_a()? / a).powi(2))),
            row: RunRow::new(String::new(), &part, common.field),
        })
    }

    /// Standard uncertainty of the mean power where energy goes with tonnes at so many kWh/t, kW: power that what was fed meanwhile
    /// accounts for is no scatter.
    pub fn scatter_kw(&self, kwh_t: f64) -> f64 {
        self.uncertainty(|stretch| (stretch.kwh - kwh_t * stretch.tonnes) / stretch.hours)
    }

    /// The same of the mean load.
    pub fn scatter_load(&self) -> f64 {
        self.uncertainty(|stretch| stretch.load)
    }

    fn uncertainty(&self, of: impl Fn(&Stretch) -> f64) -> f64 {
        let n = self.stretches.len() as f64;
        let mean = self.stretches.iter().map(&of).sum::<f64>() / n;
        (self.stretches.iter().map(|stretch| (of(stretch) - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt()
    }
}

/// The windows that lie between two times.
pub fn within(slices: &[Slice], from_s: f64, to_s: f64) -> &[Slice] {
    let first = slices.partition_point(|slice| slice.to_s - slice.length_s < from_s);
    let last = slices.partition_point(|slice| slice.to_s <= to_s);
    slices.get(first..last).unwrap_or_default()
}

/// What some windows come to.
pub fn total(slices: &[Slice]) -> Sums {
    slices.iter().fold(Sums::default(), |mut sum, slice| {
        sum += slice.sums;
        sum
    })
}

/// Mean load of some windows.
fn mean_load(slices: &[Slice]) -> f64 {
    let [load_s, s] =
        slices.iter().fold([0.0; 2], |[l, s], slice| [l + slice.load * slice.length_s, s + slice.length_s]);
    load_s / s
}

/// The load that was exceeded for so long, up to each window: what a feed stop with this delay looks at.
pub fn lasting(slices: &[Slice], delay_s: f64) -> Vec<f64> {
    let mut first = 0;
    (0..slices.len())
        .map(|at| {
            while slices[first].to_s < slices[at].to_s - delay_s {
                first += 1;
            }
            slices[first..=at].iter().map(|slice| slice.load).fold(f64::INFINITY, f64::min)
        })
        .collect()
}

fn p95(loads: &[f64]) -> f64 {
    let mut sorted = loads.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get((0.95 * (sorted.len() as f64 - 1.0)).ceil() as usize).copied().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slices(loads: &[f64]) -> Vec<Slice> {
        let slice = |(n, load): (usize, &f64)| Slice {
            to_s: 0.2 * (n as f64 + 1.0),
            length_s: 0.2,
            load: *load,
            feeder: None,
            sums: Sums::default(),
        };
        loads.iter().enumerate().map(slice).collect()
    }

    #[test]
    fn a_feed_stop_looks_at_what_lasts() {
        let all = slices(&[0.5, 1.5, 1.4, 1.3, 0.5, 1.2]);
        let lasts = lasting(&all, 0.41);
        assert_eq!(lasts, [0.5, 0.5, 0.5, 1.3, 0.5, 0.5]);
        assert_eq!(within(&all, 0.2, 0.8).len(), 3);
        assert_eq!(within(&all, 0.3, 0.79).len(), 1);
    }

    /// Of 100 figures 95 are not above the 95th (common practice, no source).
    #[test]
    fn a_quantile() {
        let all: Vec<f64> = (1..=101).rev().map(f64::from).collect();
        assert!((p95(&all) - 96.0).abs() < 1e-12);
    }
}
