//! What each channel shows by itself: its size over what is nominal, its angle, whether there is anything at all.

use super::expected::Expected;
use super::fault::{Fault, Faults, Side, of_channels};
use super::{degrees, moves};
use crate::math::phase;
use crate::math::root::isqrt;
use crate::record::{Phasors, Window};
use crate::settings::{CHANNELS, Wiring};

/// A voltage below this share of nominal is missing, 1/1000.
const NO_VOLTAGE: i64 = 30;
/// A current below this share of the largest is missing, 1/1000: a step of ten beside one of a half is alive.
const DEAD: i64 = 30;
/// Voltages that may be right, over nominal, 1/1000.
const RIGHT_VOLTS: core::ops::RangeInclusive<i64> = 780..=1_220;
/// Voltages that are wrong alike differ by no more than a supply's may, 1/1000.
const ALIKE_VOLTS: i64 = 1_100;
/// Distortion that no mains has, 1/1000: class 3 of IEC 61000-2-4 allows 100.
const NO_MAINS: i64 = 300;
/// Of a clipped one: a square wave's is 483.
const NO_MAINS_CLIPPED: i64 = 700;

/// A channel as it is looked at.
#[derive(Clone, Copy, Default)]
pub(super) struct Look {
    /// Over nominal or rated, 1/1000.
    pub(super) size: i64,
    /// The same in 1/100 000.
    pub(super) fine: i64,
    /// Of the fundamental.
    pub(super) angle: u32,
    /// Whether there is anything.
    pub(super) live: bool,
}

/// The channels of which it holds.
pub(super) fn mask(holds: impl Fn(usize) -> bool) -> u8 {
    (0..CHANNELS).filter(|k| holds(*k)).fold(0, |mask, k| mask | 1 << k)
}

fn size(re: i32, im: i32) -> i64 {
    i64::from(isqrt(u64::from(re.unsigned_abs()).pow(2) + u64::from(im.unsigned_abs()).pow(2))) // of less than 2^63
}

/// All of them.
pub(super) fn look(expected: &Expected, phasors: &Phasors) -> [Look; CHANNELS] {
    let mut looks = [Look::default(); CHANNELS];
    for (k, (look, (re, im))) in looks.iter_mut().zip(phasors.0).enumerate() {
        let nominal = if k < 3 { expected.volts } else { expected.amps };
        look.fine = size(re, im) * 100_000 / nominal.max(1); // below 2^32 * 2^17
        look.size = look.fine / 100;
        look.angle = phase::angle(re, im);
    }
    let largest = looks[3..].iter().fold(0, |most, look| most.max(look.size));
    let exists = |k: usize| Fault::Dead(k as u8).exists(expected.wiring);
    for (k, look) in looks.iter_mut().enumerate() {
        let size = look.size;
        look.live = exists(k) && if k < 3 { size >= NO_VOLTAGE } else { size * 1_000 >= largest * DEAD };
    }
    // Kilovolts for volts: voltages of a thousandth, still alike. They are compared with each other alone.
    let faint = mask(|k| k < 3 && exists(k) && looks[k].fine >= NO_VOLTAGE);
    let [low, high] = ends((0..3).filter(|k| faint >> k & 1 == 1).map(|k| looks[k].fine));
    if looks[..3].iter().all(|look| !look.live) && faint.count_ones() > 1 && high <= 2 * low {
        for (k, look) in looks.iter_mut().enumerate().filter(|(k, _)| faint >> k & 1 == 1) {
            let (re, im) = phasors.0[k];
            // They are below 3 % of nominal: below 2^33.
            look.fine = size(re, im) * 100_000 / (expected.volts / 1_000).max(1);
            look.live = true;
        }
    }
    looks
}

/// Smallest and largest; 0 of nothing.
pub(super) fn ends(sizes: impl Iterator<Item = i64> + Clone) -> [i64; 2] {
    [sizes.clone().min().unwrap_or(0), sizes.max().unwrap_or(0)]
}

/// Whether most voltages are far from sines.
pub(super) fn inverter(expected: &Expected, window: &Window) -> bool {
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
pub(super) fn voltage_sizes(looks: &[Look; CHANNELS]) -> (Faults, i64) {
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
    let alike = live.count_ones() > 1 && high * 1_000 <= low * ALIKE_VOLTS;
    (if alike { Faults::NONE.with(Fault::AllRatio(Side::Voltages)) } else { of_channels(wrong, Fault::Ratio) }, 1_000)
}

/// Two currents to and fro.
pub(super) fn line_lost(wiring: Wiring, looks: &[Look; CHANNELS]) -> Option<Fault> {
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
pub(super) fn side(looks: &[Look; CHANNELS], steps: moves::Steps, from: usize, near: u32) -> Option<u32> {
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
