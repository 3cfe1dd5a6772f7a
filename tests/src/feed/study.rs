//! The study: every policy tuned on the even hours, and what fresh ones show.

use super::choice::{ByKind, SETS, Set, Way, best, choose, dear, held, total};
use super::draw::{GRID, HOURS, KINDS, even, fresh, hour, kind, odd, story};
use super::hour::{Outcome, Policy, lived, lived_in_full};
use crate::numbers::all;
use shaftwork_core::settings::Settings as CoreSettings;
use shaftwork_sim::fit;
use shaftwork_sim::plant::seed::Random;
use shaftwork_sim::settings::{self, Settings};

/// What all governed hours have in common. Gain, lag and delay are what the model's own figures come to, about: full speed brings a load of
/// one, the drive lags 0.8 s and a piece is under the hammers for half a second or more.
pub const FEEDER: &str = "
[feed]
stop_pct = 120
stop_delay_s = 4
surge_pct = 300

[feeder]
gain = 1.0
lag_s = 1.5
delay_s = 0.8
";

/// How much is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Hours of the tuning half that each fixed speed is tried on.
    pub tries: u64,
    /// Hours of the results.
    pub hours: u64,
    /// Hours on the full plant.
    pub full: u64,
}

impl Size {
    /// Twenty-four hours for each fixed speed, two hundred for the results, ten in full.
    pub const WHOLE: Self = Self { tries: 24, hours: HOURS / 2, full: 10 };
}

/// A fixed speed that was tried, with what it did on each material.
#[derive(Debug, Clone)]
pub struct Tried {
    /// The way.
    pub way: Way,
    /// By material.
    pub by_kind: ByKind,
}

/// A policy: a way for each material, and what became of it.
#[derive(Debug, Clone)]
pub struct Shown {
    /// What it is called.
    pub name: &'static str,
    /// By material.
    pub ways: [Way; KINDS.len()],
    /// By material.
    pub by_kind: ByKind,
    /// Each hour, in order.
    pub each: Vec<Outcome>,
}

impl Shown {
    /// All materials together.
    #[must_use]
    pub fn all(&self) -> Outcome {
        total(&self.by_kind)
    }
}

/// What the study found.
#[derive(Debug, Clone)]
pub struct Found {
    /// How much was done.
    pub size: Size,
    /// The fixed speeds, on some even hours.
    pub tried: Vec<Tried>,
    /// The better of the best fixed ways, by material, on as many even hours as the results have.
    pub yardstick: ByKind,
    /// What was tried of the governor, by material, on the same hours.
    pub governed: [Vec<(Way, Outcome)>; KINDS.len()],
    /// The results: on fresh hours, and on the odd ones, which were looked at before.
    pub results: [Results; 2],
    /// The best fixed one and the governor on the same hours, on the reduced plant and on the full one.
    pub full: [[Outcome; 2]; 2],
}

/// What hours that were not tuned on show.
#[derive(Debug, Clone)]
pub struct Results {
    /// Fixed, fixed with the feed stop, governed.
    pub shown: [Shown; 3],
    /// Governed over the better of the fixed ones.
    pub gain: Gain,
}

impl Results {
    /// The fixed one that the governor is held against.
    #[must_use]
    pub fn better(&self) -> &Shown {
        let [fixed, stopped, _] = &self.shown;
        if stopped.all().rate() >= fixed.all().rate() { stopped } else { fixed }
    }

    /// The governor.
    #[must_use]
    pub fn governed(&self) -> &Shown {
        &self.shown[2]
    }
}

/// Governed over fixed: ratios, each with its 95 % interval.
#[derive(Debug, Clone, Copy)]
pub struct Gain {
    /// Tonnes an hour.
    pub rate: [f64; 3],
    /// Chokes an hour.
    pub chokes: [f64; 3],
    /// Energy for the same tonnes of each material.
    pub dear: f64,
}

/// The settings file of a way.
///
/// # Panics
///
/// When it is refused: the harness itself is wrong then.
#[must_use]
pub fn file(way: Way) -> Settings {
    let Set { target, charge, peak, filter_s } = way.set.unwrap_or(held(80, 40));
    let peak = peak.map_or_else(String::new, |peak| format!("peak_pct = {peak}\n"));
    let text = format!(
        "{}{FEEDER}filter_s = {filter_s}\ntarget_pct = {target}\ncharge_pct = {charge}\n{peak}",
        story().settings()
    );
    settings::parse(&text, "feed study").unwrap_or_else(|faults| panic!("{faults}")).0
}

fn core_settings(way: Way) -> CoreSettings {
    fit::core_settings(&file(way), story().scenario.rate_hz).unwrap_or_else(|fault| panic!("{fault:#}"))
}

/// Runs the study; `tell` hears how far it is.
///
/// # Panics
///
/// When no way of a kind was tried.
pub fn study(size: Size, mut tell: impl FnMut(&str)) -> Found {
    let manual = |policy| Way { policy, set: None };
    let ways: Vec<Way> = GRID
        .iter()
        .flat_map(|permille| [manual(Policy::Fixed(*permille)), manual(Policy::Stopped(*permille))])
        .collect();
    let count = ways.len();
    let tried: Vec<Tried> = ways
        .into_iter()
        .enumerate()
        .map(|(n, way)| {
            tell(&format!("tuning half, fixed speed {} of {count}", n + 1));
            let numbers: Vec<u64> = (0..size.tries).map(even).collect();
            Tried { way, by_kind: over(&numbers, [way; KINDS.len()]).0 }
        })
        .collect();
    let fixed = best(&tried, |policy| matches!(policy, Policy::Fixed(_)));
    let stopped = best(&tried, |policy| matches!(policy, Policy::Stopped(_)));
    let even: Vec<u64> = (0..size.hours).map(even).collect();
    let yardstick = [fixed, stopped]
        .map(|ways| {
            tell("tuning half, the best fixed speeds");
            over(&even, ways).0
        })
        .into_iter()
        .max_by(|a, b| total(a).rate().total_cmp(&total(b).rate()))
        .expect("there are two");
    let governed = core::array::from_fn(|of| {
        let numbers: Vec<u64> = even.iter().copied().filter(|number| kind(*number) == of).collect();
        let try_one = |set: &Set| {
            tell(&format!("tuning half, {}, {set:?}", KINDS[of].name));
            let way = Way { policy: Policy::Governed, set: Some(*set) };
            (way, over(&numbers, [way; KINDS.len()]).0[of])
        };
        SETS[of].iter().map(try_one).collect::<Vec<_>>()
    });
    let chosen = choose(&governed, &yardstick);
    let ways = [fixed, stopped, chosen];
    let results = [("fresh hours", fresh as fn(u64) -> u64), ("odd hours", odd)].map(|(which, of)| {
        let numbers: Vec<u64> = (0..size.hours).map(of).collect();
        let names = ["best fixed speed", "best fixed speed with the feed stop", "governed"];
        let shown = core::array::from_fn(|n| {
            tell(&format!("{which}, {}", names[n]));
            let (by_kind, each) = over(&numbers, ways[n]);
            Shown { name: names[n], ways: ways[n], by_kind, each }
        });
        let mut results = Results { gain: Gain { rate: [1.0; 3], chokes: [1.0; 3], dear: 1.0 }, shown };
        results.gain = gain(results.better(), results.governed());
        results
    });
    tell("the full plant");
    let full = [results[0].better().ways, chosen].map(|ways| in_full(ways, size.full));
    Found { size, tried, yardstick, governed, results, full }
}

/// Each material's way over hours; by material, and each hour in order.
fn over(numbers: &[u64], ways: [Way; KINDS.len()]) -> (ByKind, Vec<Outcome>) {
    let settings = ways.map(core_settings);
    let (mut by_kind, mut each) = (ByKind::default(), Vec::new());
    let work = |n| {
        let hour = hour(numbers[n as usize]);
        (hour.kind, lived(&hour, &settings[hour.kind], ways[hour.kind].policy))
    };
    all(numbers.len() as u64, work, |(kind, one): (usize, Outcome)| {
        by_kind[kind].add(&one);
        each.push(one);
    });
    (by_kind, each)
}

/// The first fresh hours on the reduced plant and on the full one.
fn in_full(ways: [Way; KINDS.len()], hours: u64) -> [Outcome; 2] {
    let settings = ways.map(core_settings);
    let mut sums = [Outcome::default(); 2];
    let work = |n| {
        let hour = hour(fresh(n));
        let (settings, policy) = (&settings[hour.kind], ways[hour.kind].policy);
        [lived(&hour, settings, policy), lived_in_full(&hour, settings, policy)]
    };
    all(hours, work, |both| {
        for (sum, one) in sums.iter_mut().zip(&both) {
            sum.add(one);
        }
    });
    sums
}

/// Governed over fixed, with intervals by drawing the hours anew (percentile bootstrap, Efron 1979).
fn gain(fixed: &Shown, governed: &Shown) -> Gain {
    let ratios = |fixed: &Outcome, governed: &Outcome| {
        let often = |of: &Outcome| f64::from(of.chokes) / of.hours;
        [governed.rate() / fixed.rate(), often(governed) / often(fixed)]
    };
    let mut random = Random::stream(1, 202);
    let count = fixed.each.len();
    let mut drawn = [const { Vec::new() }; 2];
    for _ in 0..2_000 {
        let mut sums = [Outcome::default(); 2];
        for _ in 0..count {
            let at = ((random.unit() * count as f64) as usize).min(count - 1);
            sums[0].add(&fixed.each[at]);
            sums[1].add(&governed.each[at]);
        }
        for (all, ratio) in drawn.iter_mut().zip(ratios(&sums[0], &sums[1])) {
            all.push(ratio);
        }
    }
    let found = ratios(&fixed.all(), &governed.all());
    let [rate, chokes] = core::array::from_fn(|n| {
        drawn[n].sort_by(f64::total_cmp);
        [found[n], drawn[n][50], drawn[n][1_949]]
    });
    Gain { rate, chokes, dear: dear(&governed.by_kind, &fixed.by_kind) }
}
