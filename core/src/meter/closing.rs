//! Closing a stretch of frames: sums of codes -> mean products and phasors in physical units.
//!
//! The work is a numbered list of steps, so that it can be spread over blocks: step 0 makes the
//! reciprocal and the basis' inverse, then one channel a step, three products of two channels a step, and last
//! the rotation that undoes skew and transformer lead.
//!
//! * Mean product: `sum / n`, less the product of the means (so that the converter's own zero does
//!   not matter), plus the product of the means less the offsets.
//! * Phasor: least squares of `x = a cos + b sin` on the basis ([`super::fit`]).

use super::fit::Fit;
use super::pairs::{Pair, crosses, pairs, slots};
use super::phasor::Phasor;
use super::sums::Stretch;
use crate::math::phase;
use crate::math::scale::{Scale, narrow};
use crate::settings::{CHANNELS, MAX_CROSS, MAX_PAIRS, MeterCoefficients};

/// What becomes of the direct component in squares and voltage products; powers always keep it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) enum Direct {
    /// Kept: the elements look at true rms.
    Kept,
    /// Taken off: rms of windows.
    Removed,
}

/// A closing under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Closing {
    direct: Direct,
    step: u8,
    reciprocal: Scale,
    fit: Fit,
    mean_q8: [i32; CHANNELS],
    /// Bit k: channel k hardly moved.
    pub(super) still: u8,
    /// Square volts Q32, square amps Q34, watts Q16, in the order of the wiring's pairs.
    pub(super) product: [i64; MAX_PAIRS],
    /// Volts Q16, amps Q17.
    pub(super) phasor: [Phasor; CHANNELS],
    /// What the rotation changed in the active power of all phases, watts Q16.
    pub(super) power_change: i64,
}

/// Products of two channels a step.
const CROSSES: usize = 3;

/// Steps of the longest closing: basis, channels, products, rotation.
pub(super) const STEPS: u32 = (1 + CHANNELS + MAX_CROSS.div_ceil(CROSSES) + 1) as u32;

impl Closing {
    pub(super) const fn new(direct: Direct) -> Self {
        Self {
            direct,
            step: 0,
            reciprocal: Scale::ZERO,
            fit: Fit::NONE,
            mean_q8: [0; CHANNELS],
            still: 0,
            product: [0; MAX_PAIRS],
            phasor: [Phasor::ZERO; CHANNELS],
            power_change: 0,
        }
    }

    /// Begins anew. The sums are to be the same at each step that follows.
    pub(super) const fn begin(&mut self) {
        self.step = 0;
        self.still = 0;
        self.power_change = 0;
    }

    /// Does one step; true when it was the last.
    pub(super) fn advance(&mut self, c: &MeterCoefficients, sums: Stretch<'_>, phase_step: u32) -> bool {
        let (slots, crosses) = (slots(c.wiring), crosses(c.wiring));
        let step = self.step as usize;
        self.step = self.step.saturating_add(1);
        let products = 1 + slots.len();
        let last = products + crosses.len().div_ceil(CROSSES) - 1;
        if step == 0 {
            self.basis(sums);
        } else if let Some(slot) = slots.get(step - 1) {
            self.channel(c, sums, step - 1, (*slot).into());
        } else if step <= last {
            let first = (step - products) * CROSSES;
            for (place, pair) in crosses.iter().enumerate().skip(first).take(CROSSES) {
                self.cross(c, sums.cross(place), slots.len() + place, *pair);
            }
        }
        if step < last || c.rotates && step == last {
            return false;
        }
        if c.rotates {
            self.rotate(c, phase_step);
        }
        true
    }

    /// The reciprocal of the length, the fit.
    fn basis(&mut self, sums: Stretch<'_>) {
        self.reciprocal = Scale::reciprocal(sums.frames(), 16); // sum -> mean
        self.fit = Fit::new(sums.basis().map(|sum| self.reciprocal.apply(sum)));
    }

    /// The mean square that a phasor's fit has over the very frames it was fitted to. What it leaves of the mean square is
    /// distortion, free of what cutting frames does to both.
    pub(super) const fn fitted_square(&self, x: Phasor) -> u64 {
        self.fit.square(x)
    }

    /// A channel's mean, mean square and phasor.
    fn channel(&mut self, c: &MeterCoefficients, sums: Stretch<'_>, place: usize, k: usize) {
        let (Some(sums), Some(factor), Some(offset)) = (sums.channel(k), c.phasor.get(k), c.offset_q8.get(k)) else {
            return;
        };
        let mean = narrow(self.reciprocal.up(8).apply(sums.code)); // below 2^23 * 2^8
        let raw = self.reciprocal.up(16).apply(sums.square); // Q16, 62 bits
        let squared = i64::from(mean) * i64::from(mean); // Q8 * Q8
        let central = raw.saturating_sub(squared);
        // The mean's own rounding, 2^-9 of a code, leaves up to 2^-8 of its magnitude in the square, the reciprocal's 2^-30 of that.
        if central <= (1 << 16) + (i64::from(mean.unsigned_abs()) << 1) + (squared >> 29) {
            self.still |= 1 << (k & 7);
        }
        let value = match self.direct {
            Direct::Removed => central,
            Direct::Kept => {
                let less = i64::from(mean.saturating_sub(*offset)); // 31 bits, less 29
                central.saturating_add(less * less)
            }
        };
        if let (Some(by), Some(product)) = (c.product.get(place), self.product.get_mut(place)) {
            *product = by.apply(value).max(0);
        }
        if let (Some(to), Some(phasor)) = (self.mean_q8.get_mut(k), self.phasor.get_mut(k)) {
            *to = mean;
            *phasor = self.fit.phasor(sums.cosine, sums.sine, self.reciprocal, *factor);
        }
    }

    /// The mean product of two channels.
    fn cross(&mut self, c: &MeterCoefficients, sum: Option<i64>, place: usize, Pair { first: i, second: j, .. }: Pair) {
        let (Some(sum), Some(by), Some(product)) = (sum, c.product.get(place), self.product.get_mut(place)) else {
            return;
        };
        let mean = |k: u8| self.mean_q8.get(k as usize).copied().unwrap_or(0);
        let (m, n) = (mean(i), mean(j));
        let central = self.reciprocal.up(16).apply(sum).saturating_sub(i64::from(m) * i64::from(n));
        let power = i < 3 && j >= 3;
        *product = by.apply(if power || self.direct == Direct::Kept {
            let less = |mean: i32, k: u8| mean.saturating_sub(c.offset_q8.get(k as usize).copied().unwrap_or(0));
            central.saturating_add(i64::from(less(m, i)) * i64::from(less(n, j)))
        } else {
            central
        });
    }

    /// Undoes skew and lead: turns the phasors, and re-makes the fundamental's part of every product
    /// of two channels. Harmonics' parts stay as they are: for the fifth, a fifth of the amplitude on
    /// both sides and 1 degree that errs by 7e-4 of the apparent power at worst.
    fn rotate(&mut self, c: &MeterCoefficients, phase_step: u32) {
        let before = self.phasor;
        for ((p, skew), lead) in self.phasor.iter_mut().zip(c.skew_frames_q24).zip(c.lead) {
            // frames Q24 (at most 16) times phase a frame: 28 + 31 bits
            let skew = (i64::from(skew) * i64::from(phase_step)) >> 24;
            let angle = (skew as i32).wrapping_add(lead);
            if angle != 0 {
                *p = p.turned(phase::cos_sin((angle as u32).wrapping_neg()));
            }
        }
        for (Pair { first, second, power }, out) in pairs(c.wiring).iter().zip(&mut self.product) {
            let (i, j) = ((*first as usize).min(CHANNELS - 1), (*second as usize).min(CHANNELS - 1));
            if i == j {
                continue;
            }
            let change = self.phasor[i].dot(self.phasor[j]).saturating_sub(before[i].dot(before[j]));
            let change = if i < 3 && j >= 3 { change >> 17 } else { change };
            *out = out.saturating_add(change);
            self.power_change =
                self.power_change.saturating_add(Scale::THIRD.apply(change.saturating_mul(i64::from(*power))));
        }
    }
}
