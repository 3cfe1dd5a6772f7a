//! The study: settings chosen on one half of the seeds, results from the other.

use super::draw::MOST_S;
use super::grid::{PICKUPS, STEPS, Setting, Showing, Source, Watch, Way};
use super::mills::{Case, Motor, honest, motors, wedged};
use super::pass::{case, coefficients, core_settings};
use crate::numbers::all;
use shaftwork_core::settings::{Action, Settings, Wedge};
use shaftwork_core::{Cause, EventKind};

/// The ways that are tried.
pub const WAYS: [Way; 8] = [
    Way::Current,
    Way::Standing(Source::Core),
    Way::Standing(Source::Large),
    Way::Standing(Source::Shaft),
    Way::Surplus,
    Way::Unbroken,
    Way::Lasting,
    Way::Standing(Source::Model),
];

/// How much is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Honest pieces in each half, at least.
    pub pieces: u64,
    /// Wedges in each half.
    pub wedges: u64,
}

impl Size {
    /// Two million pieces and two thousand wedges.
    pub const WHOLE: Self = Self { pieces: 1_000_000, wedges: 1_000 };
    /// For a test.
    pub const SMALL: Self = Self { pieces: 3_000, wedges: 48 };

    /// Quarters of an hour of feeding: a few more than the pieces need, 350 in each.
    const fn quarters(self) -> u64 {
        self.pieces.div_ceil(350)
    }
}

/// Honest work.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Exposure {
    /// Pieces that fell.
    pub pieces: u64,
    /// Time of feeding, h.
    pub hours: f64,
    /// Times that they alone used more than half of the margin to breakdown slip; counted where the results are.
    pub halved: u64,
}

impl Exposure {
    fn add(&mut self, case: &Case) {
        self.pieces += u64::from(case.pieces);
        self.hours += case.scenario.duration_s / 3600.0;
    }
}

/// What a setting did in the half of the seeds that is there for choosing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// The setting.
    pub setting: Setting,
    /// Decisions on honest work.
    pub wrong: u64,
    /// Mean time from a wedge's beginning to the decision, s; all were caught.
    pub mean_s: f64,
}

/// What every setting that catches every wedge did.
#[derive(Debug, Clone, Default)]
pub struct Choice {
    /// How much work that was.
    pub exposure: Exposure,
    /// All of them.
    pub tried: Vec<Tried>,
}

impl Choice {
    /// The best of a way: fewest wrong decisions, then the soonest.
    #[must_use]
    pub fn best(&self, way: Way) -> Option<Tried> {
        self.front(way).into_iter().next()
    }

    /// Settings of a way than which none is both sooner and less often wrong: from the fewest wrong decisions on.
    #[must_use]
    pub fn front(&self, way: Way) -> Vec<Tried> {
        let mut all: Vec<Tried> = self.tried.iter().filter(|tried| tried.setting.way == way).copied().collect();
        all.sort_by(|a, b| a.wrong.cmp(&b.wrong).then(a.mean_s.total_cmp(&b.mean_s)));
        let mut front: Vec<Tried> = Vec::new();
        for tried in all {
            if front.last().is_none_or(|last| tried.mean_s < last.mean_s) {
                front.push(tried);
            }
        }
        front
    }
}

type Table<T> = Vec<[T; STEPS]>;

/// Shows a case to every setting of every way; `reached` is called with the row of way and pick-up, the steps and the time.
fn every(case_: &Case, motor: &Motor, core: &Settings, mut reached: impl FnMut(usize, std::ops::Range<usize>, f64)) {
    let from_s = case_.scenario.mill.wedge.map_or(0.5, |wedge| wedge.at_s);
    let mut watches = vec![Watch::default(); WAYS.len() * PICKUPS];
    let mut showing = Showing::new(motor.rating.watts, case_.inertia_kg_m2);
    case(case_, motor, &coefficients(core, Some(case_.inertia_kg_m2)), |half, _| {
        let Some(shown) = showing.next(half).filter(|_| half.t_s > from_s) else { return };
        for (row, watch) in watches.iter_mut().enumerate() {
            let way = WAYS[row / PICKUPS];
            let steps = watch.take(way, way.pickup(row % PICKUPS), &shown);
            if !steps.is_empty() {
                reached(row, steps, half.t_s - from_s);
            }
        }
    });
}

/// Tries every setting on the even seeds.
#[must_use]
pub fn choose(size: Size) -> Choice {
    let (motors, rows) = (motors(), WAYS.len() * PICKUPS);
    let cores: Vec<Settings> = motors.iter().map(core_settings).collect();
    let mut choice = Choice::default();
    let mut wrong: Table<u64> = vec![[0; STEPS]; rows];
    let one = |number| {
        let case = honest(&motors, 2 * number);
        let mut wrong: Table<u32> = vec![[0; STEPS]; rows];
        every(&case, &motors[case.motor], &cores[case.motor], |row, steps, _| {
            wrong[row][steps].iter_mut().for_each(|count| *count += 1);
        });
        (case, wrong)
    };
    all(size.quarters(), one, |(case, counts)| {
        choice.exposure.add(&case);
        for (sum, count) in wrong.iter_mut().flatten().zip(counts.iter().flatten()) {
            *sum += u64::from(*count);
        }
    });

    let mut sum_s: Table<f64> = vec![[0.0; STEPS]; rows];
    let one = |number| {
        let case = wedged(&motors, 2 * number);
        let mut first: Table<f32> = vec![[f32::NAN; STEPS]; rows];
        every(&case, &motors[case.motor], &cores[case.motor], |row, steps, after_s| {
            // A time that is there already stays.
            first[row][steps].iter_mut().filter(|time| time.is_nan()).for_each(|time| *time = after_s as f32);
        });
        first
    };
    all(size.wedges, one, |first| {
        for (sum, time) in sum_s.iter_mut().flatten().zip(first.iter().flatten()) {
            // What was never caught stays no number.
            *sum += f64::from(*time);
        }
    });
    for (row, sums) in sum_s.iter().enumerate() {
        let way = WAYS[row / PICKUPS];
        for (step, sum) in sums.iter().enumerate().filter(|(_, sum)| sum.is_finite()) {
            let setting = Setting { way, pickup: way.pickup(row % PICKUPS), step };
            choice.tried.push(Tried { setting, wrong: wrong[row][step], mean_s: sum / size.wedges as f64 });
        }
    }
    choice
}

/// A row of the results: a setting judged with an inertia that is so many times the right one, or the core itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it is called.
    pub name: String,
    /// Its setting.
    pub setting: Setting,
    /// Whether the core's own element decides.
    pub core: bool,
    /// Decisions on honest work.
    pub wrong: u64,
    /// Each wedge's time to the decision, s, sorted, and the largest share of the margin to breakdown slip that was used until
    /// then, sorted.
    pub times_s: Vec<f64>,
    /// See there.
    pub used: Vec<f64>,
    /// Wedges that were not caught.
    pub missed: u64,
}

impl Row {
    /// A row with nothing in it.
    #[must_use]
    pub fn new(name: &str, setting: Setting, core: bool) -> Self {
        let name = name.to_owned();
        Self { name, setting, core, wrong: 0, times_s: Vec::new(), used: Vec::new(), missed: 0 }
    }

    /// Mean time to the decision, s.
    #[must_use]
    pub fn mean_s(&self) -> f64 {
        self.times_s.iter().sum::<f64>() / self.times_s.len() as f64
    }

    /// Share of the wedges that had used more than half of the margin.
    #[must_use]
    pub fn late(&self) -> f64 {
        self.used.iter().filter(|used| **used > 0.5).count() as f64 / self.used.len() as f64
    }
}

/// The element of the core with a setting, which clears by itself so that it goes on.
fn element(setting: &Setting) -> Wedge {
    Wedge {
        pickup_ppm: (setting.value_s() / setting.pickup * 1e6).round() as u32,
        // Steps of 10 ms.
        window_ms: (setting.pickup * 1e3).round() as u32,
        action: Action::Warning,
    }
}

/// Shows a case to the rows; `decided` is called with a row's number and the time, `seen` with the time, the share of the margin
/// to breakdown slip that is used, and the load's work as the model knows it, s of rated power.
fn judged(
    case_: &Case,
    motor: &Motor,
    core: &Settings,
    rows: &[Row],
    mut decided: impl FnMut(usize, f64),
    mut seen: impl FnMut(f64, f64, f64),
) {
    let from_s = case_.scenario.mill.wedge.map_or(0.5, |wedge| wedge.at_s);
    let mut core = *core;
    core.trips.wedge = rows.iter().find(|row| row.core).map(|row| element(&row.setting));
    let mut watches = vec![Watch::default(); rows.len()];
    let mut showing = Showing::new(motor.rating.watts, case_.inertia_kg_m2);
    let sync = motor.machine.circuit.synchronous_rpm();
    case(case_, motor, &coefficients(&core, Some(case_.inertia_kg_m2)), |half, judge| {
        let after_s = half.t_s - from_s;
        while let Some(event) = judge.pop_event() {
            if matches!(event.kind, EventKind::Alarm { cause: Cause::Wedge, .. }) && after_s > 0.0 {
                rows.iter().enumerate().filter(|(_, row)| row.core).for_each(|(n, _)| decided(n, after_s));
            }
        }
        let shown = showing.next(half);
        if after_s <= 0.0 {
            return;
        }
        let slip = 1.0 - half.truth.speed_rpm / sync;
        let load_w = half.truth.load_nm * half.truth.speed_rpm * std::f64::consts::PI / 30.0;
        let used = (slip - motor.slips[0]) / (motor.slips[1] - motor.slips[0]);
        seen(after_s, used, load_w * half.length_s / motor.rating.watts);
        let Some(shown) = shown else { return };
        for (n, (row, watch)) in rows.iter().zip(&mut watches).enumerate().filter(|(_, (row, _))| !row.core) {
            if watch.take(row.setting.way, row.setting.pickup, &shown).contains(&row.setting.step) {
                decided(n, after_s);
            }
        }
    });
}

/// The largest share of the margin that was used until a time.
fn used(course: &[(f64, f64, f64)], until_s: f64) -> f64 {
    course.iter().take_while(|(t, ..)| *t <= until_s).map(|(_, used, _)| *used).fold(0.0, f64::max)
}

/// Fills the rows from the odd seeds. The last row that is returned is no way to tell a wedge: the moment when the load, as the model knows it,
/// has taken as much since the wedge's beginning as a piece's hard strikes may.
///
/// # Panics
///
/// When a case does.
#[must_use]
pub fn results(size: Size, mut rows: Vec<Row>) -> (Exposure, Vec<Row>, Row) {
    let motors = motors();
    let cores: Vec<Settings> = motors.iter().map(core_settings).collect();
    let blank = rows.clone();
    let mut exposure = Exposure::default();
    let one = |number| {
        let case = honest(&motors, 2 * number + 1);
        let mut wrong = vec![0_u64; blank.len()];
        let (mut halved, mut beyond) = (0, false);
        let seen =
            |_: f64, used: f64, _: f64| halved += u64::from(used > 0.5 && !std::mem::replace(&mut beyond, used > 0.5));
        judged(&case, &motors[case.motor], &cores[case.motor], &blank, |n, _| wrong[n] += 1, seen);
        (case, wrong, halved)
    };
    all(size.quarters(), one, |(case, wrong, halved)| {
        exposure.add(&case);
        exposure.halved += halved;
        rows.iter_mut().zip(wrong).for_each(|(row, wrong)| row.wrong += wrong);
    });
    let one = |number| {
        let case = wedged(&motors, 2 * number + 1);
        let mut first: Vec<Option<f64>> = vec![None; blank.len()];
        let mut course = Vec::new();
        let decided = |n: usize, after_s: f64| {
            first[n].get_or_insert(after_s);
        };
        let seen = |t_s: f64, used: f64, work_s: f64| course.push((t_s, used, work_s));
        judged(&case, &motors[case.motor], &cores[case.motor], &blank, decided, seen);
        let mut sum_s = 0.0;
        first.push(course.iter().find_map(|(t_s, _, work_s)| {
            sum_s += work_s;
            (sum_s > MOST_S).then_some(*t_s)
        }));
        first.into_iter().map(|time| time.map(|time| (time, used(&course, time)))).collect::<Vec<_>>()
    };
    rows.push(Row::new("taken", Setting { way: Way::Standing(Source::Model), pickup: MOST_S, step: 0 }, false));
    all(size.wedges, one, |caught| {
        for (row, caught) in rows.iter_mut().zip(caught) {
            match caught {
                Some((time_s, used)) => {
                    row.times_s.push(time_s);
                    row.used.push(used);
                }
                None => row.missed += 1,
            }
        }
    });
    for row in &mut rows {
        row.times_s.sort_by(f64::total_cmp);
        row.used.sort_by(f64::total_cmp);
    }
    let taken = rows.pop().expect("it was put there");
    (exposure, rows, taken)
}

/// The upper end of the 95 % band of a mean of which so many were seen (Garwood, Biometrika 28, 1936); 3.0 for none: the rule of
/// three (Hanley and Lippman-Hand, JAMA 249, 1983).
#[must_use]
pub fn poisson_upper(seen: u64) -> f64 {
    let tail = |mean: f64| {
        let (mut term, mut sum) = ((-mean).exp(), 0.0);
        for k in 0..=seen {
            sum += term;
            term *= mean / (k + 1) as f64;
        }
        sum
    };
    let (mut low, mut high) = (0.0, 10.0 + 4.0 * seen as f64);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if tail(middle) > 0.05 { low = middle } else { high = middle }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Garwood's table, one-sided 95 %: 3.00, 4.74, 6.30, 16.96 for 0, 1, 2, 10.
    #[test]
    fn the_bound_is_garwoods() {
        for (seen, wanted) in [(0, 2.996), (1, 4.744), (2, 6.296), (10, 16.962)] {
            assert!((poisson_upper(seen) - wanted).abs() < 1e-3, "{seen}: {}", poisson_upper(seen));
        }
    }
}
