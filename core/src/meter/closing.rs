//! Closing a stretch of frames: sums of codes -> mean products and phasors in physical units.
//!
//! The work is a numbered list of steps, so that it can be spread over blocks: first the reciprocal and the basis' inverse, then
//! three channels a step, five products of two channels a step, and last the rotation that undoes skew and transformer lead.
//!
//! * Mean product: `sum / n`, less the product of the means (so that the converter's own zero does
//!   not matter), plus the product of the means less the offsets.
//! * Phasor: least squares of `x = a cos + b sin` on the basis ([`super::fit`]).

use super::fit::Fit;
use super::mean::Mean;
use super::pairs::{Pair, Slot, crosses, slots};
use super::phasor::Phasor;
use super::sums::Stretch;
use crate::math::phase;
use crate::math::scale::Scale;
use crate::settings::{CHANNELS, MAX_PAIRS, MeterCoefficients};

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
    mean: Mean,
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

/// Channels a step.
const CHANNELS_A_STEP: usize = 3;
/// Products of two channels a step.
const CROSSES_A_STEP: usize = 5;

/// The steps: the basis, twice channels, twice products, the rotation.
pub(super) const STEPS: u32 = ROTATION as u32 + 1;
const SECOND_CHANNELS: u8 = 2;
const FIRST_CROSSES: u8 = 3;
const SECOND_CROSSES: u8 = 4;
const ROTATION: u8 = 5;

impl Closing {
    pub(super) const fn new(direct: Direct) -> Self {
        Self {
            direct,
            step: 0,
            mean: Mean::NONE,
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
    #[inline(never)]
    pub(super) fn advance(&mut self, c: &MeterCoefficients, sums: Stretch<'_>, phase_step: u32) -> bool {
        let step = self.step;
        self.step = step.saturating_add(1);
        let (slots, crosses) = (slots(c.wiring), crosses(c.wiring));
        if step == 0 {
            self.mean = Mean::over(sums.frames()); // sum -> mean
            let [cc, cs, ss] = sums.basis();
            self.fit = Fit::new([self.mean.of(cc), self.mean.of(cs), self.mean.of(ss)]);
        } else if step <= SECOND_CHANNELS {
            let first = if step == SECOND_CHANNELS { CHANNELS_A_STEP } else { 0 };
            for (place, slot) in slots.iter().enumerate().skip(first).take(CHANNELS_A_STEP) {
                self.channel(c, sums, place, *slot);
            }
        } else if step <= SECOND_CROSSES {
            let first = if step == SECOND_CROSSES { CROSSES_A_STEP } else { 0 };
            for (place, pair) in crosses.iter().enumerate().skip(first).take(CROSSES_A_STEP) {
                self.cross(c, sums.cross(place), slots.len() + place, pair);
            }
            // Most wirings have no second lot.
            if step == FIRST_CROSSES && crosses.len() <= CROSSES_A_STEP {
                self.step = ROTATION;
            }
        } else {
            self.rotate(c, phase_step);
            return true;
        }
        self.step == ROTATION && !c.rotates
    }

    /// The mean square that a phasor's fit has over the very frames it was fitted to. What it leaves of the mean square is
    /// distortion, free of what cutting frames does to both.
    pub(super) const fn fitted_square(&self, x: Phasor) -> u64 {
        self.fit.square(x)
    }

    /// A channel's mean, mean square and phasor.
    fn channel(&mut self, c: &MeterCoefficients, sums: Stretch<'_>, place: usize, slot: Slot) {
        let (sums, k) = (sums.channel(slot), slot as usize);
        let mean = ((self.mean.of(sums.code) + 0x80) >> 8) as i32; // below 2^23 * 2^8
        let raw = self.mean.of(sums.square); // Q16, 62 bits
        let squared = i64::from(mean) * i64::from(mean); // Q8 * Q8
        let central = raw - squared; // both 0 to 2^62
        // The mean's own rounding, 2^-9 of a code, leaves up to 2^-8 of its magnitude in the square, the reciprocal's 2^-30 of that.
        if central <= (1 << 16) + (i64::from(mean.unsigned_abs()) << 1) + (squared >> 29) {
            self.still |= 1 << slot as u8;
        }
        let value = match self.direct {
            Direct::Removed => central,
            Direct::Kept => {
                let less = mean.saturating_sub(c.offset_q8[k]); // 31 bits, less 29
                // The mean square of codes below 2^23 less 2^21: below 2^63.
                central + i64::from(less) * i64::from(less)
            }
        };
        if let (Some(by), Some(product)) = (c.product.get(place), self.product.get_mut(place)) {
            *product = by.apply(value).max(0);
        }
        self.mean_q8[k] = mean;
        self.phasor[k] = self.fit.phasor(sums.cosine, sums.sine, self.mean, c.phasor[k], c.phasor_halvings[k]);
    }

    /// The mean product of two channels.
    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "packed into a word its slots could be any, for the compiler"
    )]
    fn cross(&mut self, c: &MeterCoefficients, sum: Option<i64>, place: usize, pair: &Pair) {
        let (Some(sum), Some(by), Some(product)) = (sum, c.product.get(place), self.product.get_mut(place)) else {
            return;
        };
        let (i, j) = (pair.first as usize, pair.second as usize);
        let (m, n) = (self.mean_q8[i], self.mean_q8[j]);
        // Of a magnitude below 2^62 each; by the inequality of the means the difference as well.
        let central = self.mean.of(sum) - i64::from(m) * i64::from(n);
        *product = by.apply(if pair.is_power() || self.direct == Direct::Kept {
            let (m, n) = (m.saturating_sub(c.offset_q8[i]), n.saturating_sub(c.offset_q8[j]));
            central.saturating_add(i64::from(m) * i64::from(n))
        } else {
            central
        });
    }

    /// Undoes skew and lead: turns the phasors, and re-makes the fundamental's part of every product
    /// of two channels. Harmonics' parts stay as they are: for the fifth, a fifth of the amplitude on
    /// both sides and 1 degree that errs by 7e-4 of the apparent power at worst.
    #[inline(never)]
    fn rotate(&mut self, c: &MeterCoefficients, phase_step: u32) {
        let before = self.phasor;
        for ((p, skew), lead) in self.phasor.iter_mut().zip(c.skew_frames_q24).zip(c.lead) {
            // frames Q24 (at most 16) times phase a frame: 28 + 31 bits
            let skew = (i64::from(skew) * i64::from(phase_step)) >> 24;
            let angle = (skew as i32).wrapping_add(lead);
            if angle != 0 {
                *p = p.turned(phase::cos_sin_little(angle.wrapping_neg()));
            }
        }
        let squares = slots(c.wiring).len();
        let mut change = 0i64;
        for (Pair { first, second, power }, out) in
            crosses(c.wiring).iter().zip(self.product.get_mut(squares..).unwrap_or_default())
        {
            let (i, j) = (*first as usize, *second as usize);
            let more = self.phasor[i].dot(self.phasor[j]).saturating_sub(before[i].dot(before[j]));
            let more = if first.is_voltage() && !second.is_voltage() { more >> 17 } else { more };
            *out = out.saturating_add(more);
            change = change.saturating_add(more.saturating_mul(i64::from(*power)));
        }
        self.power_change = Scale::THIRD.apply(change);
    }
}
