//! The study: every policy tuned on the even hours, and what the odd ones show.

use super::draw::{GRID, HOURS, Hour, KINDS, hour, kind, story};
use super::hour::{Outcome, Policy, lived, lived_in_full};
use crate::numbers::all;
use shaftwork_core::settings::Settings as CoreSettings;
use shaftwork_sim::fit;
use shaftwork_sim::plant::seed::Random;
use shaftwork_sim::settings::{self, Settings};

/// Targets of the governor that are tried for each material, % of rated power, and shares of charge.
pub const TARGETS: [u32; 6] = [65, 70, 75, 80, 85, 90];
/// See [`TARGETS`].
pub const CHARGES: [u32; 3] = [15, 25, 40];
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
filter_s = 3
";

/// Share of the yardstick's chokes that the governor may have.
const MOST_CHOKES: f64 = 0.2;

/// How much is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Hours that each policy is tried on, of the tuning half.
    pub tries: u64,
    /// Hours of the results.
    pub hours: u64,
    /// Hours on the full plant.
    pub full: u64,
}

impl Size {
    /// Twenty-four hours to tune, two hundred for the results, ten in full.
    pub const WHOLE: Self = Self { tries: 24, hours: HOURS / 2, full: 10 };
}

/// How a material is fed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// How.
    pub policy: Policy,
    /// The governor's target and charge share, %.
    pub set: Option<(u32, u32)>,
}

/// A way that was tried, with what it did on each material.
#[derive(Debug, Clone)]
pub struct Tried {
    /// The way.
    pub way: Way,
    /// By material.
    pub by_kind: [Outcome; KINDS.len()],
}

/// A policy: a way for each material, and what became of it.
#[derive(Debug, Clone)]
pub struct Shown {
    /// What it is called.
    pub name: &'static str,
    /// By material.
    pub ways: [Way; KINDS.len()],
    /// By material, on the odd hours.
    pub by_kind: [Outcome; KINDS.len()],
    /// Each hour, in order.
    pub each: Vec<Outcome>,
}

impl Shown {
    /// All materials together.
    #[must_use]
    pub fn all(&self) -> Outcome {
        self.by_kind.iter().fold(Outcome::default(), |mut sum, one| {
            sum.add(one);
            sum
        })
    }
}

/// What the study found.
#[derive(Debug, Clone)]
pub struct Found {
    /// How much was done.
    pub size: Size,
    /// What was tried, on the even hours.
    pub tried: Vec<Tried>,
    /// Fixed, fixed with the feed stop, governed: on the odd hours.
    pub shown: Vec<Shown>,
    /// The best fixed one and the governor on the same hours, on the reduced plant and on the full one.
    pub full: [[Outcome; 2]; 2],
    /// Governed over the better of the fixed ones: throughput, its 95 % interval, and energy for the same tonnes of each
    /// material.
    pub gain: [f64; 4],
}

/// The settings file of a way.
///
/// # Panics
///
/// When it is refused: the harness itself is wrong then.
#[must_use]
pub fn file(way: Way) -> Settings {
    let (target, charge) = way.set.unwrap_or((80, 40));
    let text = format!("{}{FEEDER}target_pct = {target}\ncharge_pct = {charge}\n", story().settings());
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
        .chain(TARGETS.iter().flat_map(|target| {
            CHARGES.iter().map(|charge| Way { policy: Policy::Governed, set: Some((*target, *charge)) })
        }))
        .collect();
    let count = ways.len();
    let tried: Vec<Tried> = ways
        .into_iter()
        .enumerate()
        .map(|(n, way)| {
            tell(&format!("tuning half, way {} of {count}", n + 1));
            let settings = core_settings(way);
            let mut by_kind = [Outcome::default(); KINDS.len()];
            all(
                size.tries,
                |n| (kind(2 * n), lived(&hour(2 * n), &settings, way.policy)),
                |(kind, one)| {
                    by_kind[kind].add(&one);
                },
            );
            Tried { way, by_kind }
        })
        .collect();
    let fixed = best(&tried, |policy| matches!(policy, Policy::Fixed(_)), None);
    let stopped = best(&tried, |policy| matches!(policy, Policy::Stopped(_)), None);
    let rates =
        |ways: &[Way; KINDS.len()]| core::array::from_fn::<_, { KINDS.len() }, _>(|kind| of(&tried, ways[kind], kind));
    // The governor must not cost more a tonne than what it is compared with.
    let yardstick: [Outcome; KINDS.len()] = {
        let (a, b) = (rates(&fixed), rates(&stopped));
        core::array::from_fn(|kind| if a[kind].rate() > b[kind].rate() { a[kind] } else { b[kind] })
    };
    let governed = best(&tried, |policy| policy == Policy::Governed, Some(&yardstick));
    let mut shown = Vec::new();
    for (name, ways) in
        [("best fixed speed", fixed), ("best fixed speed with the feed stop", stopped), ("governed", governed)]
    {
        tell(&format!("results, {name}"));
        shown.push(results(name, ways, size.hours));
    }
    tell("the full plant");
    let better = usize::from(shown[0].all().rate() <= shown[1].all().rate());
    let full = [shown[better].ways, shown[2].ways].map(|ways| in_full(ways, size.full));
    let gain = gain(&shown[better], &shown[2]);
    Found { size, tried, shown, full, gain }
}

fn of(tried: &[Tried], way: Way, kind: usize) -> Outcome {
    tried.iter().find(|tried| tried.way == way).map_or_else(Outcome::default, |tried| tried.by_kind[kind])
}

/// For each material the way with the most tonnes an hour; where there is a yardstick, of those that are no dearer a tonne and choke a fifth
/// as often at most, or of all where there is none.
fn best(
    tried: &[Tried],
    wanted: impl Fn(Policy) -> bool,
    yardstick: Option<&[Outcome; KINDS.len()]>,
) -> [Way; KINDS.len()] {
    core::array::from_fn(|kind| {
        let fits = |one: &Outcome| {
            yardstick.is_none_or(|all| {
                let than = &all[kind];
                let often = |one: &Outcome| f64::from(one.chokes) / one.hours;
                one.kwh_t() <= than.kwh_t() && often(one) <= MOST_CHOKES * often(than)
            })
        };
        let of_kind = || tried.iter().filter(|tried| wanted(tried.way.policy));
        let rate = |tried: &&Tried| tried.by_kind[kind].rate();
        let most = |a: &&Tried, b: &&Tried| rate(a).total_cmp(&rate(b));
        let fitting = of_kind().filter(|tried| fits(&tried.by_kind[kind])).max_by(most);
        fitting.or_else(|| of_kind().max_by(most)).expect("some way was tried").way
    })
}

fn results(name: &'static str, ways: [Way; KINDS.len()], hours: u64) -> Shown {
    let settings = ways.map(core_settings);
    let mut shown = Shown { name, ways, by_kind: [Outcome::default(); KINDS.len()], each: Vec::new() };
    let work = |n| {
        let Hour { kind, .. } = hour(2 * n + 1);
        (kind, lived(&hour(2 * n + 1), &settings[kind], ways[kind].policy))
    };
    all(hours, work, |(kind, one)| {
        shown.by_kind[kind].add(&one);
        shown.each.push(one);
    });
    shown
}

/// The first odd hours without a wedge, on the reduced plant and on the full one.
fn in_full(ways: [Way; KINDS.len()], hours: u64) -> [Outcome; 2] {
    let settings = ways.map(core_settings);
    let mut sums = [Outcome::default(); 2];
    let work = |n| {
        let hour = hour(2 * n + 1);
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

/// Governed over fixed: throughput, its 95 % interval by drawing the hours anew (percentile bootstrap, Efron 1979), energy for the same
/// tonnes of each material.
fn gain(fixed: &Shown, governed: &Shown) -> [f64; 4] {
    let mut random = Random::stream(1, 202);
    let count = fixed.each.len();
    let mut ratios: Vec<f64> = (0..2_000)
        .map(|_| {
            let mut sums = [Outcome::default(); 2];
            for _ in 0..count {
                let at = ((random.unit() * count as f64) as usize).min(count - 1);
                sums[0].add(&fixed.each[at]);
                sums[1].add(&governed.each[at]);
            }
            sums[1].rate() / sums[0].rate()
        })
        .collect();
    ratios.sort_by(f64::total_cmp);
    // A tonne of each material costs its own: what the governor mills more of must not count as dearer.
    let same = fixed.by_kind.iter().zip(&governed.by_kind).map(|(fixed, governed)| fixed.tonnes * governed.kwh_t());
    let dear = same.sum::<f64>() / fixed.all().kwh;
    let (fixed, governed) = (fixed.all(), governed.all());
    [governed.rate() / fixed.rate(), ratios[50], ratios[1_949], dear]
}
