//! WIRING: six phasors and what is expected of them -> what is connected wrongly. For commissioning.
//!
//! ```text
//! phasors of a window ─┬─ angles ──── which moved or turned channels explain them (moves)
//!                      └─ sizes ───── missing, wrong ratio, line lost ─┬─ fewest faults that explain all
//! nameplate ── var at this power ── healthy, wrong ratio, capacitors ──┘   (expected)
//! ```
//!
//! Basis: a sound supply is a positive-sequence system (C. L. Fortescue, AIEE 1918), a motor's current lags it by an angle
//! between 84 and 23 degrees for loads of 10 to 125 %, transformers have the polarity of IEC 61869 (P1 towards the
//! supply). All sets of up to two moved or turned channels are tried, each with what the sizes and the nameplate add. The
//! fewest faults win; sets that explain the same with as many are one [`Class`].
//!
//! # What cannot be told apart here
//!
//! * **Invisible**: the same roll (a as b, b as c, c as a) of all voltages and all currents; all voltages and all currents
//!   reversed together. They change no figure.
//! * **A reversed supply** and the same two phases exchanged in voltages and currents are one class: whether the shaft turns
//!   the right way must be seen.
//! * Three reversed channels of a side, or a side's reversed channel and the other side's other ones, are one class with
//!   their complement (two reversed voltages and all currents reversed: the third voltage reversed).
//! * With a line lost the currents have no order: voltages are judged among themselves alone.
//! * Currents that are all too large, with capacitors that hide it, can look like a sound motor at another load.
//! * Currents that are all too small, and capacitors that take less var than the motor's own at no load, look alike at one
//!   load: both are named.
//! * A channel that is dead has no phase: what else is wrong with it cannot be seen.

mod expected;
mod fault;
mod moves;
mod unbalance;

pub use expected::Expected;
pub use fault::{Fault, Faults, Side};

use crate::math::phase;
use crate::math::root::isqrt;
use crate::record::{Phasors, Window};
use crate::settings::{CHANNELS, Wiring};
use fault::of_channels;
use moves::moved;
use unbalance::{Balanced, balance};

/// Sets of faults that explain the same figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Class {
    sets: [Faults; Class::LARGEST],
    count: u8,
}

impl Class {
    /// Sets that are kept.
    pub const LARGEST: usize = 8;

    /// The sets, the likeliest first; none when nothing explains the figures.
    #[must_use]
    pub fn sets(&self) -> &[Faults] {
        self.sets.get(..usize::from(self.count)).unwrap_or(&[])
    }

    fn add(&mut self, set: Faults) {
        if self.sets().contains(&set) {
            return;
        }
        if let Some(place) = self.sets.get_mut(usize::from(self.count)) {
            *place = set;
            self.count += 1;
        }
    }
}

/// What a window shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Diagnosis {
    /// No current flows: nothing can be said.
    Idle,
    /// The voltages are far from sines, as an inverter's are: not for this instrument.
    Inverter,
    /// No set of up to two moved channels explains it.
    Unclear,
    /// Explained by each of these sets; by the empty one where all is well.
    Explained(Class),
}

/// Below this share of rated current no current flows, 1/1000.
const NO_CURRENT: i64 = 30;
/// A voltage below this share of nominal is missing, 1/1000.
const NO_VOLTAGE: i64 = 30;
/// A current below this share of the largest is missing, 1/1000.
const DEAD: i64 = 50;
/// Voltages that may be right, over nominal, 1/1000.
const RIGHT_VOLTS: core::ops::RangeInclusive<i64> = 780..=1_220;
/// Currents are alike when the largest is at most so many times the smallest, 1/1000, once the voltage's unbalance is
/// accounted for, and where it is not known.
const ALIKE: [i64; 2] = [1_300, 1_650];
/// How far a voltage's angle may be off a multiple of 60 degrees, and a current's.
const NEAR: [u32; 2] = [degrees(18), degrees(38)];
/// The same of a current once the voltage's unbalance is accounted for, and where it is not known.
const NEAR_BALANCED: [u32; 2] = [degrees(20), degrees(30)];
/// Distortion that no mains has, 1/1000: class 3 of IEC 61000-2-4 allows 100.
const NO_MAINS: i64 = 300;
/// Of a clipped one: a square wave's is 483.
const NO_MAINS_CLIPPED: i64 = 700;

const fn degrees(angle: u32) -> u32 {
    (((angle as u64) << 32) / 360) as u32
}

/// A channel as it is looked at.
#[derive(Clone, Copy, Default)]
struct Look {
    /// Over nominal or rated, 1/1000.
    size: i64,
    /// The same in 1/100 000.
    fine: i64,
    angle: u32,
    live: bool,
}

/// Names what explains a window's phasors.
///
/// ```
/// use shaftwork_core::wiring::{Diagnosis, Expected, Fault, diagnose};
/// use shaftwork_core::{Settings, Window, record::Phasors};
/// let expected = Expected::new(&Settings::example());
/// // 230 V; 60 A that lag by 37 degrees, ia turned round.
/// let volts = [(230, 0), (-115, -199), (-115, 199)].map(|(re, im)| (re << 16, im << 16));
/// let amps = [(-48, 36), (-55, -24), (7, 60)].map(|(re, im)| (re << 17, im << 17));
/// let phasors = Phasors([volts[0], volts[1], volts[2], amps[0], amps[1], amps[2]]);
/// let Diagnosis::Explained(class) = diagnose(&expected, &Window::default(), &phasors) else { panic!() };
/// assert_eq!(class.sets()[0].iter().collect::<Vec<_>>(), [Fault::Reversed(3)]);
/// ```
#[must_use]
pub fn diagnose(expected: &Expected, window: &Window, phasors: &Phasors) -> Diagnosis {
    let looks = look(expected, phasors);
    let largest = looks[3..].iter().fold(0, |most, look| most.max(look.size));
    if inverter(expected, window) {
        return Diagnosis::Inverter;
    }
    if largest < NO_CURRENT {
        return Diagnosis::Idle;
    }
    let wiring = expected.wiring;
    let (sizes, volts) = voltage_sizes(&looks);
    let dead = mask(|k| !looks[k].live && Fault::Dead(k as u8).exists(wiring));
    let lost = line_lost(wiring, &looks);
    let dead = if lost.is_some() { dead & 0b111 } else { dead };
    let mut base = Faults(sizes.0 | of_channels(dead, Fault::Dead).0);
    if window.clipped > 0 {
        base = base.with(Fault::Clipped);
    }
    if let Some(line) = lost {
        base = base.with(line);
    }
    let mut best = Best::default();
    // Which voltages may be believed: all, where all are wrong alike.
    let mut good = mask(|k| k < 3 && looks[k].live && !sizes.has(Fault::Ratio(k as u8)));
    let mut balancing = looks;
    let mut guessed = false;
    if good.count_ones() < 2 {
        // The others' angles are right at least.
        let others = mask(|k| k < 3 && looks[k].live) & !good;
        (0..3).filter(|k| others >> k & 1 == 1).for_each(|k| balancing[k].fine = volts * 100);
        good |= others;
        guessed = others != 0;
    }
    let explain = |moves: Faults| {
        let moved = moved(wiring, moves);
        let voltage = side(&looks, moved.0, 0, NEAR[0])?;
        let current = side(&looks, moved.0, 3, NEAR[1])?;
        let mut balanced = balance(expected, &balancing, moved, [voltage, current], good);
        balanced.whole &= !guessed;
        (balanced.spread < NEAR_BALANCED[usize::from(!balanced.whole)]).then_some(balanced)
    };
    let alone = |k: usize| Faults(1 << k);
    let singles = (0..Fault::MOVES).filter(|k| Fault::ALL[*k].exists(wiring));
    let pairs = singles.clone().flat_map(|i| {
        let later = (i + 1..Fault::MOVES).filter(|k| Fault::ALL[*k].exists(wiring));
        later.map(move |k| Faults(alone(i).0 | alone(k).0))
    });
    for moves in core::iter::once(Faults::NONE).chain(singles.clone().map(alone)).chain(pairs) {
        if base.count() + moves.count() > best.count {
            continue;
        }
        if lost.is_some() {
            // Two currents to and fro have no sequence; only the voltages can be judged.
            let (steps, _) = moved(wiring, moves);
            if side(&looks, steps, 0, NEAR[0]).is_some() {
                best.offer(Faults(base.0 | moves.0), 0);
            }
            continue;
        }
        if let Some(balanced) = explain(moves) {
            sizes_explain(expected, &looks, Faults(base.0 | moves.0), volts, &balanced, &mut best);
        }
    }
    if best.class.count == 0 { Diagnosis::Unclear } else { Diagnosis::Explained(best.class) }
}

/// The explanations with the fewest faults.
struct Best {
    class: Class,
    count: u32,
    off: u32,
}

impl Default for Best {
    fn default() -> Self {
        Self { class: Class::default(), count: u32::MAX, off: 0 }
    }
}

impl Best {
    /// A set with what it leaves unexplained, 1/1000.
    fn offer(&mut self, set: Faults, off: u32) {
        let count = set.count();
        if count > self.count {
            return;
        }
        if count < self.count {
            *self = Self { class: Class::default(), count, off };
        }
        if off < self.off {
            // The likeliest comes first.
            let mut class = Class::default();
            class.add(set);
            self.class.sets().iter().for_each(|other| class.add(*other));
            (self.class, self.off) = (class, off);
        } else {
            self.class.add(set);
        }
    }
}

fn mask(holds: impl Fn(usize) -> bool) -> u8 {
    (0..CHANNELS).filter(|k| holds(*k)).fold(0, |mask, k| mask | 1 << k)
}

fn look(expected: &Expected, phasors: &Phasors) -> [Look; CHANNELS] {
    let mut looks = [Look::default(); CHANNELS];
    for (k, (look, (re, im))) in looks.iter_mut().zip(phasors.0).enumerate() {
        let square = u64::from(re.unsigned_abs()).pow(2) + u64::from(im.unsigned_abs()).pow(2); // below 2^63
        let nominal = if k < 3 { expected.volts } else { expected.amps };
        look.fine = i64::from(isqrt(square)) * 100_000 / nominal.max(1); // below 2^32 * 2^17
        look.size = look.fine / 100;
        look.angle = phase::angle(re, im);
    }
    let largest = looks[3..].iter().fold(0, |most, look| most.max(look.size));
    let exists = |k: usize| Fault::Dead(k as u8).exists(expected.wiring);
    for (k, look) in looks.iter_mut().enumerate() {
        let size = look.size;
        look.live = exists(k) && if k < 3 { size >= NO_VOLTAGE } else { size * 1_000 >= largest * DEAD };
    }
    // Kilovolts for volts: voltages of a thousandth, still alike.
    let faint = mask(|k| k < 3 && exists(k) && looks[k].fine >= NO_VOLTAGE);
    let [low, high] = ends((0..3).filter(|k| faint >> k & 1 == 1).map(|k| looks[k].fine));
    if looks[..3].iter().all(|look| !look.live) && faint.count_ones() > 1 && high <= 2 * low {
        (0..3).for_each(|k| looks[k].live = faint >> k & 1 == 1);
    }
    looks
}

/// Smallest and largest; 0 of nothing.
fn ends(sizes: impl Iterator<Item = i64> + Clone) -> [i64; 2] {
    [sizes.clone().min().unwrap_or(0), sizes.max().unwrap_or(0)]
}

fn inverter(expected: &Expected, window: &Window) -> bool {
    let limit = if window.clipped > 0 { NO_MAINS_CLIPPED } else { NO_MAINS };
    let mut live = 0;
    let mut odd = 0;
    for (volts, distortion) in window.voltage.iter().zip(window.voltage_distortion) {
        if i64::from(volts.to_bits()) * 5 < expected.volts {
            continue;
        }
        live += 1;
        odd += u32::from(distortion.is_some_and(|ratio| (i64::from(ratio.to_bits()) * 1_000) >> 24 > limit));
    }
    live > 0 && odd * 2 > live
}

/// The voltages' wrong ratios, and the voltage to reckon with, 1/1000 of nominal.
fn voltage_sizes(looks: &[Look; CHANNELS]) -> (Faults, i64) {
    let live = mask(|k| k < 3 && looks[k].live);
    let wrong = mask(|k| k < 3 && looks[k].live && !RIGHT_VOLTS.contains(&looks[k].size));
    let right = live & !wrong;
    let mean = |mask: u8| {
        let sum: i64 = (0..3).filter(|k| mask >> k & 1 == 1).map(|k| looks[k].size).sum();
        sum / i64::from(mask.count_ones()).max(1)
    };
    if right != 0 || live == 0 {
        return (of_channels(wrong, Fault::Ratio), if right == 0 { 1_000 } else { mean(right) });
    }
    let [low, high] = ends((0..3).filter(|k| live >> k & 1 == 1).map(|k| looks[k].fine));
    let alike = live.count_ones() > 1 && high * 1_000 <= low * 1_300;
    (if alike { Faults::NONE.with(Fault::AllRatio(Side::Voltages)) } else { of_channels(wrong, Fault::Ratio) }, 1_000)
}

/// Two currents to and fro.
fn line_lost(wiring: Wiring, looks: &[Look; CHANNELS]) -> Option<Fault> {
    let opposed = |i: usize, k: usize| {
        let [a, b] = [looks[i], looks[k]];
        let [low, high] = ends([a.size, b.size].into_iter());
        let off = a.angle.wrapping_sub(b.angle).wrapping_add(1 << 31) as i32;
        a.live && b.live && off.unsigned_abs() < degrees(15) && high * 1_000 < low * 1_200
    };
    if wiring == Wiring::TwoElement {
        return opposed(3, 5).then_some(Fault::LineLost(1));
    }
    let pairs = [(4, 5), (5, 3), (3, 4)];
    (0..3).find(|k| !looks[3 + k].live && opposed(pairs[*k].0, pairs[*k].1)).map(|k| Fault::LineLost(k as u8))
}

/// The common angle of a side's first three channels from `from` on when each is turned back by its steps; `None` when they
/// do not agree. Zero where none is live.
fn side(looks: &[Look; CHANNELS], steps: moves::Steps, from: usize, near: u32) -> Option<u32> {
    let mut first = None;
    let (mut sum, mut count) = (0i64, 0i64);
    let (mut low, mut high) = (0i64, 0i64);
    for (look, step) in looks.iter().zip(steps).skip(from).take(3).filter(|(look, _)| look.live) {
        let back = look.angle.wrapping_sub((i32::from(step) as u32).wrapping_mul(degrees(60)));
        let first = *first.get_or_insert(back);
        let off = i64::from(back.wrapping_sub(first) as i32);
        (low, high) = (low.min(off), high.max(off));
        sum += off;
        count += 1;
    }
    let mean = sum / count.max(1);
    if (high - mean).max(mean - low) > i64::from(near) {
        return None;
    }
    Some(first.unwrap_or(0).wrapping_add(mean as u32))
}

/// Offers what the currents' sizes and the nameplate make of a set of faults whose lagging angle is `lag`.
fn sizes_explain(
    expected: &Expected,
    looks: &[Look; CHANNELS],
    set: Faults,
    volts: i64,
    balanced: &Balanced,
    best: &mut Best,
) {
    let turn = phase::cos_sin(balanced.lag);
    let size = |k: usize| balanced.sizes[k - 3];
    let live = mask(|k| k >= 3 && looks[k].live);
    let any_voltage = looks[..3].iter().any(|look| look.live);
    // Each set of channels whose ratio may be wrong, but not all of them.
    for wrong in (0..8u8).map(|wrong| wrong << 3).filter(|wrong| wrong & !live == 0 && *wrong != live) {
        let right = || (3..CHANNELS).filter(|k| (live & !wrong) >> k & 1 == 1).map(size);
        let [low, high] = ends(right());
        if high * 1_000 > low * ALIKE[usize::from(!balanced.whole)] {
            continue;
        }
        let mean = right().sum::<i64>() / (right().count() as i64).max(1);
        let off = |size: i64| size * 1_000 > mean * 1_270 || size * 1_270 < mean * 1_000;
        if (3..CHANNELS).any(|k| wrong >> k & 1 == 1 && !off(size(k))) {
            continue;
        }
        let set = Faults(set.0 | of_channels(wrong, Fault::Ratio).0);
        if !any_voltage {
            // Without a voltage there is no angle to judge.
            best.offer(set, 0);
            continue;
        }
        let fit = expected.fit(turn, volts, mean);
        if let Some(off) = fit.healthy {
            best.offer(set, off);
        }
        if let Some(off) = fit.ratio {
            let whole = wrong == 0 && live.count_ones() > 1;
            let more = if whole {
                Faults::NONE.with(Fault::AllRatio(Side::Currents))
            } else {
                of_channels(live & !wrong, Fault::Ratio)
            };
            best.offer(Faults(set.0 | more.0), off);
        }
        if let Some(off) = fit.capacitors {
            best.offer(set.with(Fault::Capacitors), off);
        }
    }
}

#[cfg(test)]
mod tests;
