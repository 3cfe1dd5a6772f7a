//! What the currents' sizes and the nameplate make of channels that are moved so and so.
//!
//! Each set of currents whose ratio may be wrong is tried, first with the others right, then with the others too large or
//! too small by one factor. What an unbalanced voltage drives is taken off before, a wrong current's as many times as the
//! current itself.

use super::class::Best;
use super::degrees;
use super::expected::Expected;
use super::fault::{Fault, Faults, Side, of_channels};
use super::look::{Look, ends, mask};
use super::moves::Steps;
use super::unbalance::{Balanced, balance};
use crate::math::phase;
use crate::settings::{CHANNELS, Wiring};

/// Right currents are alike when the largest is at most so many times the smallest, 1/1000; that much a motor's own
/// asymmetry and transformers may do.
const ALIKE: i64 = 1_300;
/// The same of currents that are wrong by one factor, where the parts of the unbalance are added.
const ALIKE_WRONG: i64 = 1_100;
/// A third of the sum of three right currents is at most such a share of one, 1/1000. Nothing through a motor, which has no
/// neutral; transformers of class 1 at a twentieth of their current may make 60 of it (IEC 61869-2: 3 %, 180 minutes).
const NO_SUM: i64 = 70;
/// A current is wrong beside right ones when it is so many times too large or too small, 1/1000.
const WRONG: i64 = 1_270;
/// How far a current's angle may be off the others' once the voltage's unbalance is accounted for, and where it is not
/// known.
const NEAR: [u32; 2] = [degrees(20), degrees(30)];
/// Unbalance that a supply may have where it is not known, 1/1000: EN 50160.
const UNKNOWN: i64 = 20;

/// Sizes that are tried of a voltage whose own is not known, 1/1000 of the other's: what such an unbalance makes of it.
const GUESSES: [i64; 7] = [1_000, 990, 1_010, 980, 1_020, 970, 1_030];

/// What is looked at, and what of it may be believed.
pub(super) struct Sight<'a> {
    expected: &'a Expected,
    looks: &'a [Look; CHANNELS],
    /// Voltages that give the unbalance.
    good: u8,
    /// Those of them whose angle is right and whose size is not known.
    guessed: u8,
    /// To reckon with, 1/1000 of nominal.
    volts: i64,
}

impl<'a> Sight<'a> {
    /// `ratios` are the voltages whose ratios are wrong.
    pub(super) fn new(expected: &'a Expected, looks: &'a [Look; CHANNELS], ratios: Faults, volts: i64) -> Self {
        // All, where all are wrong alike.
        let right = mask(|k| k < 3 && looks[k].live && !ratios.has(Fault::Ratio(k as u8)));
        let others = mask(|k| k < 3 && looks[k].live) & !right;
        let guessed = if right.count_ones() < 2 { others } else { 0 };
        Self { expected, looks, good: right | guessed, guessed, volts }
    }

    /// Offers what explains the sizes beside `set`; `sides` are the common angles of voltages and currents.
    pub(super) fn explain(&self, set: Faults, moved: (Steps, i8), sides: [u32; 2], best: &mut Best) {
        // Of one voltage the size is sought with which the currents agree.
        let one = self.guessed.is_power_of_two();
        for size in GUESSES.into_iter().filter(|size| one || *size == 1_000) {
            let mut balancing = *self.looks;
            let guessed = |k: &usize| self.guessed >> k & 1 == 1;
            (0..3).filter(guessed).for_each(|k| balancing[k].fine = self.volts * size / 10);
            let balanced = |right: u8, scales: [i64; 3]| {
                let mut balanced = balance(self.expected, &balancing, moved, sides, (self.good, right), scales);
                balanced.whole &= self.guessed == 0 || one;
                balanced
            };
            self.by_channels(set, &balanced, best);
        }
    }

    fn by_channels(&self, set: Faults, balanced: &impl Fn(u8, [i64; 3]) -> Balanced, best: &mut Best) {
        let live = mask(|k| k >= 3 && self.looks[k].live);
        let any_voltage = self.looks[..3].iter().any(|look| look.live);
        // Each set of channels whose ratio may be wrong, but not all of them.
        for wrong in (0..8u8).map(|wrong| wrong << 3).filter(|wrong| wrong & !live == 0 && *wrong != live) {
            if !self.expected.plate && wrong != 0 {
                break;
            }
            let right = live & !wrong;
            let set = Faults(set.0 | of_channels(wrong, Fault::Ratio).0);
            if set.count() > best.count {
                continue;
            }
            let middle = mean(right, |k| self.looks[k].size).max(1);
            let scales = |factor: i64| {
                core::array::from_fn(|k| {
                    let own = if wrong >> (k + 3) & 1 == 1 { self.looks[k + 3].size * 1_000 / middle } else { 1_000 };
                    (own.min(1 << 20) * factor / 1_000).min(1 << 20)
                })
            };
            let as_is = balanced(right, scales(1_000));
            if self.agree(&as_is, right, wrong, 1_000) {
                if !any_voltage {
                    // Without a voltage there is no angle to judge.
                    best.offer(set, 0);
                    continue;
                }
                let fit = self.expected.fit(
                    phase::cos_sin(as_is.lag),
                    self.volts(&as_is),
                    as_is.amps,
                    self.slack(&as_is, right),
                );
                if let Some(off) = fit.healthy {
                    best.offer(set, off);
                }
                if fit.capacitors.is_some() {
                    best.offer(set.with(Fault::Capacitors), 100);
                }
            }
            if any_voltage && self.expected.plate {
                self.by_a_factor(set, (right, wrong), &|factor| balanced(right, scales(factor)), best);
            }
        }
    }

    /// The right ones are themselves too large or too small by a factor, and so is what the unbalance drives.
    fn by_a_factor(&self, set: Faults, (right, wrong): (u8, u8), balanced: &impl Fn(i64) -> Balanced, best: &mut Best) {
        let factor = |balanced: &Balanced| {
            self.expected.fit(phase::cos_sin(balanced.lag), self.volts(balanced), balanced.amps, 0).ratio
        };
        // First as if the voltages were balanced, where that makes a motor's angle; each round is nearer.
        let Some(mut times) = [0, 1_000, 2_000].into_iter().find_map(|times| factor(&balanced(times))) else { return };
        let mut found = balanced(times);
        for _ in 0..2 {
            times = factor(&found).unwrap_or(times);
            found = balanced(times);
        }
        if !self.agree(&found, right, wrong, times) {
            return;
        }
        let [low, high] = ends((3..CHANNELS).filter(|k| right >> k & 1 == 1).map(|k| found.sizes[k - 3]));
        let driven = found.driven * times / 1_000;
        let alike = !found.whole || high * 1_000 <= low * ALIKE_WRONG + driven * 500;
        let whole = wrong == 0 && right.count_ones() > 1;
        let two = self.expected.wiring == Wiring::TwoElement;
        let more = if whole && (alike || !two) {
            Faults::NONE.with(Fault::AllRatio(Side::Currents))
        } else {
            // Of two, each by a factor of its own.
            of_channels(right, Fault::Ratio)
        };
        best.offer(Faults(set.0 | more.0), 100);
    }

    /// Whether the right ones are alike and the wrong ones are not like them; `times` is the factor by
    /// which the right ones are too large, 1/1000.
    fn agree(&self, balanced: &Balanced, right: u8, wrong: u8, times: i64) -> bool {
        if balanced.spread >= NEAR[usize::from(!balanced.whole)] {
            return false;
        }
        let [low, high] = ends((3..CHANNELS).filter(|k| right >> k & 1 == 1).map(|k| balanced.sizes[k - 3]));
        // Two vectors at 120 degrees are the root of three apart at most.
        let most =
            if balanced.whole { low * ALIKE } else { low * ALIKE_WRONG + self.unknown() * 1_732 * times / 1_000 };
        let amps = balanced.amps;
        let off = |size: i64| size * 1_000 > amps * WRONG || size * WRONG < amps * 1_000;
        let differ = (3..CHANNELS).filter(|k| wrong >> k & 1 == 1).all(|k| off(balanced.sizes[k - 3]));
        let three = wrong == 0 && right.count_ones() == 3;
        let alike = high * 1_000 <= most && !(three && balanced.zero * 1_000 > amps * NO_SUM) || !self.expected.plate;
        alike && differ
    }

    /// The positive sequence of the voltage, 1/1000 of nominal; of voltages that are wrong alike it is taken to be right.
    fn volts(&self, balanced: &Balanced) -> i64 {
        self.volts * balanced.level / 1_000
    }

    /// The current that an unbalance drives which is not known, 1/1000 of rated.
    fn unknown(&self) -> i64 {
        UNKNOWN * self.expected.negative_admittance / 1_000
    }

    /// What one right current alone may be off by it.
    fn slack(&self, balanced: &Balanced, right: u8) -> i64 {
        if balanced.whole || right.count_ones() > 1 { 0 } else { self.unknown() }
    }
}

/// Of some channels; 0 of none.
fn mean(channels: u8, size: impl Fn(usize) -> i64) -> i64 {
    let sum: i64 = (3..CHANNELS).filter(|k| channels >> k & 1 == 1).map(size).sum();
    sum / i64::from(channels.count_ones()).max(1)
}
