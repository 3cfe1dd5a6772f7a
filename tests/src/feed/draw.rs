//! The hours of the feed study, and what they are measured by. Fixed before the governor was tuned.
//!
//! The mill is the plant's own: 55 kW, a belt of 0.3 m at 0.25 m/s with 0.8 s of drive lag, a chamber of 8 kg behind a screen of 30 mm that
//! lets at most 0.42 kg/s out. An hour has one material in three batches of twenty minutes; each batch is drawn anew within its
//! material, each hour has its own screen.
//!
//! | material | bulk density | toughness (Kick) | pieces | what limits the mill, about |
//! |---|---|---|---|---|
//! | castings | 220 kg/m³ | 40 to 70 kJ/kg | 0.1 to 0.5 kg | the screen, at 70 % of rated power |
//! | brackets | 160 kg/m³ | 55 to 95 kJ/kg | 0.05 to 0.25 kg | the screen and the motor alike |
//! | appliances | 120 kg/m³ | 70 to 120 kJ/kg | 0.05 to 0.4 kg | the motor |
//!
//! | drawn | evenly from | why |
//! |---|---|---|
//! | a batch's density over its material's | 0.7 to 1.3 | loads of one kind of scrap differ by about so much in density (common practice, no source) |
//! | a batch's toughness over its material's | 0.75 to 1.25 | as much within one kind (no source) |
//! | an hour's screen: capacity and passing time over the plant's own | 0.9 to 1.1 | wear and blinding (no source) |
//! | a wedge, in every tenth hour | at 600 to 3000 s, 2.5 to 4 times rated torque | counted apart: it comes at the same moment whatever the feed is |
//!
//! The numbers are invented; that they are not one mill's measured spread limits what the study can promise.
//!
//! **Fixed speeds** that are tried: [`GRID`], for each material its own, because an owner sets the feeder for what is on it; once as they
//! are and once with the core's feed stop. The best is the one with the most tonnes an hour on the tuning half.
//!
//! **The measure** is tonnes over hours, where a trip costs [`TRIP_S`] beside (the hour ends there) and a person who is called [`CALL_S`].
//! kWh are the motor's, taken in. A *choke* is a chamber more than full (the screen is blinded) for [`CHOKED_S`], or a trip without a
//! wedge; it is over when the charge is below [`CLEAR`] of a full one.
//!
//! **Halves**: even numbers tune, odd numbers give the results. [`HOURS`] in all for each policy. When the odd ones had been looked at, and
//! the governor changed after that, they could no longer tell what it does on hours that it was not made for: results are now of
//! [`fresh`] hours, drawn in the same way, and the odd ones stand beside.

use shaftwork_sim::plant::Scenario;
use shaftwork_sim::plant::feeder::belt::Batch;
use shaftwork_sim::plant::feeder::{Material, Work};
use shaftwork_sim::plant::mill::Wedge;
use shaftwork_sim::plant::seed::{Random, Span};
use shaftwork_sim::synth::story::Story;

/// Hours for each policy: half of them tune.
pub const HOURS: u64 = 400;
/// Speeds of the feeder that are tried, thousandths of full speed.
pub const GRID: [u16; 18] =
    [300, 325, 350, 375, 400, 425, 450, 500, 550, 600, 650, 700, 750, 800, 850, 900, 950, 1_000];
/// What a trip costs: clear the mill, lock out, start again, s.
pub const TRIP_S: f64 = 900.0;
/// What a called person costs, s.
pub const CALL_S: f64 = 300.0;
/// How long a chamber is more than full before it counts as choked, s.
pub const CHOKED_S: f64 = 5.0;
/// Share of a full charge below which a choke is over.
pub const CLEAR: f64 = 0.7;

/// Length of an hour, and of a batch, s.
const HOUR_S: f64 = 3_600.0;
const BATCH_S: f64 = 1_200.0;
const DENSITY: Span = Span(0.7, 1.3);
const TOUGHNESS: Span = Span(0.75, 1.25);
const SCREEN: Span = Span(0.9, 1.1);
const WEDGED_S: Span = Span(600.0, 3_000.0);
const WEDGE: Span = Span(2.5, 4.0);
const RISE_S: Span = Span(0.1, 0.4);
/// Hours to a wedge.
const WEDGES: u64 = 10;
/// Torque of 55 kW at 1 478 rpm, N m.
const RATED_NM: f64 = 355.0;

/// A kind of scrap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kind {
    /// What it is called.
    pub name: &'static str,
    bulk_kg_m3: f64,
    toughness_kj_kg: Span,
    mass_kg: Span,
}

/// The materials; hours take them in turn.
pub const KINDS: [Kind; 3] = [
    Kind { name: "castings", bulk_kg_m3: 220.0, toughness_kj_kg: Span(40.0, 70.0), mass_kg: Span(0.1, 0.5) },
    Kind { name: "brackets", bulk_kg_m3: 160.0, toughness_kj_kg: Span(55.0, 95.0), mass_kg: Span(0.05, 0.25) },
    Kind { name: "appliances", bulk_kg_m3: 120.0, toughness_kj_kg: Span(70.0, 120.0), mass_kg: Span(0.05, 0.4) },
];

/// An hour of the study.
#[derive(Debug, Clone)]
pub struct Hour {
    /// Which of [`KINDS`].
    pub kind: usize,
    /// What happens; the belt's drive is the policy's.
    pub scenario: Scenario,
    /// The seed of the pieces.
    pub seed: u64,
}

/// The `n`-th hour of the tuning half.
#[must_use]
pub const fn even(n: u64) -> u64 {
    2 * n
}

/// The `n`-th hour of the half that was looked at before.
#[must_use]
pub const fn odd(n: u64) -> u64 {
    2 * n + 1
}

/// The `n`-th hour that nothing was chosen or changed by.
#[must_use]
pub const fn fresh(n: u64) -> u64 {
    HOURS + 2 * n
}

/// Which of [`KINDS`] an hour has: in turn, in each half.
#[must_use]
pub fn kind(number: u64) -> usize {
    (number / 2 % KINDS.len() as u64) as usize
}

/// The plant's own mill, with the settings that go with it.
///
/// # Panics
///
/// When the scenario is refused: the harness itself is wrong then.
#[must_use]
pub fn story() -> Story {
    Story::parse("feed study", "like = \"belt-fed\"\nmill.belt.drive = []").unwrap_or_else(|fault| panic!("{fault}"))
}

/// An hour, by its number.
#[must_use]
pub fn hour(number: u64) -> Hour {
    let mut random = Random::stream(number, 201);
    let kind = kind(number);
    let Kind { bulk_kg_m3, toughness_kj_kg, mass_kg, .. } = KINDS[kind];
    let mut scenario = story().scenario;
    scenario.duration_s = HOUR_S;
    if let Some(chamber) = &mut scenario.mill.chamber {
        chamber.capacity_kg_s *= random.within(SCREEN);
        chamber.passing_s *= random.within(SCREEN);
    }
    if let Some(belt) = &mut scenario.mill.belt {
        belt.batches = (0..(HOUR_S / BATCH_S) as usize)
            .map(|n| {
                let (denser, tougher) = (random.within(DENSITY), random.within(TOUGHNESS));
                let toughness_kj_kg = Span(toughness_kj_kg.0 * tougher, toughness_kj_kg.1 * tougher);
                let work = Work::Kick { toughness_kj_kg, size_mm: Span(80.0, 160.0) };
                let material = Material { mass_kg, work, ..belt.material.clone() };
                Batch { from_s: n as f64 * BATCH_S, bulk_kg_m3: bulk_kg_m3 * denser, material }
            })
            .collect();
    }
    if number / 2 % WEDGES == WEDGES - 1 {
        let (at_s, torque_nm) = (random.within(WEDGED_S), RATED_NM * random.within(WEDGE));
        scenario.mill.wedge = Some(Wedge { at_s, rise_s: random.within(RISE_S), torque_nm, until_s: f64::INFINITY });
    }
    Hour { kind, scenario, seed: number }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All have every material as often within one hour, and a wedge in every tenth hour; no hour is in two of them.
    #[test]
    fn halves_are_alike() {
        for of in [even, odd, fresh] {
            let mut counts = [0; KINDS.len()];
            let mut wedges = 0;
            for n in 0..HOURS / 2 {
                let hour = hour(of(n));
                counts[hour.kind] += 1;
                wedges += usize::from(hour.scenario.mill.wedge.is_some());
            }
            assert!(counts.iter().all(|n| (66..=67).contains(n)), "{counts:?}");
            assert_eq!(wedges, 20);
        }
        assert!((0..HOURS / 2).all(|n| even(n) < HOURS && odd(n) < HOURS && even(n) != odd(n) && fresh(n) >= HOURS));
    }
}
