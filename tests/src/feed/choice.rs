//! The ways that are tried, and which of them is taken.

use super::draw::KINDS;
use super::hour::{Outcome, Policy};
use super::study::Tried;

/// A governor's settings, %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Set {
    /// Load that is held.
    pub target: u32,
    /// Share of charge.
    pub charge: u32,
    /// What the load's 95th percentile is held below.
    pub peak: Option<u32>,
    /// Smoothing of the load, s.
    pub filter_s: u32,
}

pub(super) const fn held(target: u32, charge: u32) -> Set {
    Set { target, charge, peak: None, filter_s: 3 }
}

/// Held by its scatter: the target is so high that the peak decides.
const fn lumpy(peak: u32, filter_s: u32) -> Set {
    Set { target: 100, charge: 40, peak: Some(peak), filter_s }
}

/// The governor's settings that are tried, by material: about those that a coarser grid of targets of 65 to 90 % and charges of 15 to 40 % had found good
/// on the tuning half.
pub const SETS: [&[Set]; KINDS.len()] = [
    &[held(70, 40), held(75, 40), held(70, 100), held(75, 100), held(80, 100)],
    &[held(85, 40), held(90, 40), held(85, 100), held(90, 100)],
    &[
        held(65, 40),
        held(70, 40),
        held(75, 40),
        lumpy(140, 3),
        lumpy(145, 2),
        lumpy(150, 2),
        lumpy(150, 1),
        lumpy(155, 1),
    ],
];

/// Share of the yardstick's chokes that the governor may have on the tuning hours. Wanted is a fifth on others: what is chosen among many
/// has been lucky where it was chosen, and chokes are few, so it has to do twice as well there.
const MOST_CHOKES: f64 = 0.1;

/// One outcome for each material.
pub type ByKind = [Outcome; KINDS.len()];

/// How a material is fed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// How.
    pub policy: Policy,
    /// The governor's settings.
    pub set: Option<Set>,
}

/// All materials together.
#[must_use]
pub fn total(by_kind: &ByKind) -> Outcome {
    by_kind.iter().fold(Outcome::default(), |mut sum, one| {
        sum.add(one);
        sum
    })
}

/// Energy of one for the tonnes of each material that the other made, over the other's: a tonne of each material costs its own, and what
/// one mills more of must not count as dearer.
pub(super) fn dear(one: &ByKind, than: &ByKind) -> f64 {
    let same = than.iter().zip(one).map(|(than, one)| than.tonnes * one.kwh_t());
    same.sum::<f64>() / total(than).kwh
}

/// For each material the way with the most tonnes an hour.
pub(super) fn best(tried: &[Tried], wanted: impl Fn(Policy) -> bool) -> [Way; KINDS.len()] {
    core::array::from_fn(|kind| {
        let rate = |tried: &&Tried| tried.by_kind[kind].rate();
        let of_kind = tried.iter().filter(|tried| wanted(tried.way.policy));
        of_kind.max_by(|a, b| rate(a).total_cmp(&rate(b))).expect("some way was tried").way
    })
}

/// A way for each material, chosen together: the most tonnes an hour of those that choke a tenth as often in all, at most, and take no more energy
/// for the same tonnes of each material. Where none does, the one that chokes least often.
pub(super) fn choose(governed: &[Vec<(Way, Outcome)>; KINDS.len()], yardstick: &ByKind) -> [Way; KINDS.len()] {
    let often = |of: &ByKind| f64::from(total(of).chokes) / total(of).hours;
    let [a, b, c] = governed;
    let all: Vec<[&(Way, Outcome); KINDS.len()]> =
        a.iter().flat_map(|a| b.iter().flat_map(move |b| c.iter().map(move |c| [a, b, c]))).collect();
    let outcomes = |ways: &[&(Way, Outcome); KINDS.len()]| ways.map(|(_, outcome)| *outcome);
    let fits = |ways: &&[&(Way, Outcome); KINDS.len()]| {
        let of = outcomes(ways);
        often(&of) <= MOST_CHOKES * often(yardstick) && dear(&of, yardstick) <= 1.0
    };
    let rate = |ways: &[&(Way, Outcome); KINDS.len()]| total(&outcomes(ways)).rate();
    let fitting = all.iter().filter(fits).max_by(|a, b| rate(a).total_cmp(&rate(b)));
    let least = || all.iter().min_by(|a, b| often(&outcomes(a)).total_cmp(&often(&outcomes(b))));
    fitting.or_else(least).expect("some way was tried").map(|(way, _)| *way)
}
