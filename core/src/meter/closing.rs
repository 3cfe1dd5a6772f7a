//! Closing a stretch of frames: sums of codes -> mean products and phasors in physical units.
//!
//! The work is a numbered list of steps, so that it can be spread over blocks: step 0 makes the
//! reciprocal and the basis' inverse, then one product a step, one channel's phasor a step, and last
//! the rotation that undoes skew and transformer lead.
//!
//! * Mean product: `sum / n`, less the product of the means (so that the converter's own zero does
//!   not matter), plus the product of the means less the offsets.
//! * Phasor: least squares of `x = a cos + b sin` on the basis (c, s): with C = mean c², D = mean c s,
//!   S = mean s², `a = (S xc - D xs) / (C S - D²)`, `b = (C xs - D xc) / (C S - D²)`, times the basis'
//!   rms length sqrt(C + S), which interpolation leaves a little short of one.

use super::pairs::{Pair, pairs, slots};
use super::phasor::Phasor;
use super::sums::Sums;
use crate::math::phase;
use crate::math::scale::{Scale, narrow};
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
    pub(super) sums: Sums,
    direct: Direct,
    step: u8,
    reciprocal: Scale,
    inverse: [Scale; 3],
    /// How far the basis is from a circle: (mean c² - mean s²), and four times mean c s; both over
    /// their sum. Not zero where a stretch is no whole number of frames.
    oval: [Scale; 2],
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

/// Steps of the longest closing: basis, products, channels, rotation.
pub(super) const STEPS: u32 = 1 + MAX_PAIRS as u32 + CHANNELS as u32 + 1;

impl Closing {
    pub(super) const fn new(direct: Direct) -> Self {
        Self {
            sums: Sums::ZERO,
            direct,
            step: 0,
            reciprocal: Scale::ZERO,
            inverse: [Scale::ZERO; 3],
            oval: [Scale::ZERO; 2],
            mean_q8: [0; CHANNELS],
            still: 0,
            product: [0; MAX_PAIRS],
            phasor: [Phasor::ZERO; CHANNELS],
            power_change: 0,
        }
    }

    /// Takes sums to close.
    pub(super) const fn begin(&mut self, sums: &Sums) {
        self.sums = *sums;
        self.step = 0;
        self.still = 0;
        self.power_change = 0;
    }

    /// Does one step; true when it was the last.
    pub(super) fn advance(&mut self, c: &MeterCoefficients, phase_step: u32) -> bool {
        let (pairs, slots) = (pairs(c.wiring), slots(c.wiring));
        let step = self.step as usize;
        self.step = self.step.saturating_add(1);
        let products = 1 + pairs.len();
        if step == 0 {
            self.basis();
        } else if let Some(pair) = pairs.get(step - 1) {
            self.product(c, step - 1, *pair);
        } else if let Some(slot) = slots.get(step.wrapping_sub(products)) {
            self.phasor(c, *slot as usize);
        }
        let last = products + slots.len() - 1;
        if step < last {
            return false;
        }
        if c.rotates && step == last {
            return false;
        }
        if c.rotates {
            self.rotate(c, phase_step);
        }
        true
    }

    /// The reciprocal of the length, the means, the inverse of the basis' matrix.
    fn basis(&mut self) {
        let n = self.sums.frames;
        self.reciprocal = Scale::reciprocal(n, 16); // sum -> mean
        let to_q8 = self.reciprocal.up(8);
        for (mean, sum) in self.mean_q8.iter_mut().zip(&self.sums.code) {
            *mean = narrow(to_q8.apply(*sum)); // below 2^23 * 2^8
        }
        let [cc, cs, ss] = self.sums.basis.map(|sum| self.reciprocal.apply(sum)); // Q32; cc + ss is about 2^32
        self.oval = [Scale::from_q(cc - ss, 32), Scale::from_q(cs.saturating_mul(4), 32)];
        // By the inequality of the means cc * ss <= ((cc + ss)/2)^2 <= 2^62.
        let determinant = (cc.wrapping_mul(ss).wrapping_sub(cs.wrapping_mul(cs)) >> 32).clamp(0, i64::from(u32::MAX));
        if determinant < 1 << 22 {
            // Fewer than a few degrees of the basis: no phasor can be had.
            self.inverse = [Scale::ZERO; 3];
            return;
        }
        let reciprocal = Scale::reciprocal(determinant as u32, 0);
        let short = cc + ss - (1 << 32); // basis length squared less one, Q32
        self.inverse = [ss, cs, cc].map(|x| {
            let q30 = reciprocal.apply(x << 30); // 32 + 30 bits
            // The length sqrt(1 + short) is 1 + short/2 within 1e-9: |short| <= 2e-4.
            let correction = Scale::from_q(short, 33).apply(q30);
            Scale::from_q(q30.saturating_add(correction), 30)
        });
    }

    /// The mean square that a phasor's fit has over the very frames it was fitted to:
    /// 2 (C re² + S im² - 2 D re im), with C + S brought to one. What it leaves of the mean square is
    /// distortion, free of what cutting frames does to both.
    pub(super) fn fitted_square(&self, x: Phasor) -> u64 {
        let (re, im) = (i64::from(x.re), i64::from(x.im));
        let [round, slant] = self.oval;
        let change = round.apply(re * re - im * im).saturating_sub(slant.apply(re * im));
        x.square().saturating_add_signed(change)
    }

    fn product(&mut self, c: &MeterCoefficients, place: usize, Pair { first, second, .. }: Pair) {
        let (Some(sum), Some(factor), Some(out)) =
            (self.sums.product.get(place), c.product.get(place), self.product.get_mut(place))
        else {
            return;
        };
        let mean = |k: u8| self.mean_q8.get(k as usize).copied().unwrap_or(0);
        let offset = |k: u8| c.offset_q8.get(k as usize).copied().unwrap_or(0);
        let raw = self.reciprocal.up(16).apply(*sum); // Q16, 62 bits
        let (m, n) = (i64::from(mean(first)), i64::from(mean(second)));
        let central = raw.saturating_sub(m * n); // Q8 * Q8
        // The mean's own rounding, 2^-9 of a code, leaves up to 2^-8 of its magnitude in the square, the reciprocal's 2^-30 of that.
        if first == second && central <= (1 << 16) + (m.abs() << 1) + ((m * m) >> 29) {
            self.still |= 1 << (first & 7);
        }
        let power = first < 3 && second >= 3;
        let value = if power || self.direct == Direct::Kept {
            let (m, n) = (m - i64::from(offset(first)), n - i64::from(offset(second)));
            central.saturating_add(m.saturating_mul(n))
        } else {
            central
        };
        let scaled = factor.apply(value);
        *out = if first == second { scaled.max(0) } else { scaled };
    }

    fn phasor(&mut self, c: &MeterCoefficients, k: usize) {
        let (Some(&re), Some(&im), Some(factor), Some(out)) =
            (self.sums.cosine.get(k), self.sums.sine.get(k), c.phasor.get(k), self.phasor.get_mut(k))
        else {
            return;
        };
        let (xc, xs) = (self.reciprocal.apply(re), self.reciprocal.apply(im)); // code Q16, 39 bits
        let [ss, cs, cc] = self.inverse;
        let a = ss.apply(xc).saturating_sub(cs.apply(xs));
        let b = cc.apply(xs).saturating_sub(cs.apply(xc));
        *out = Phasor { re: narrow(factor.apply(a)), im: narrow(factor.apply(b.saturating_neg())) };
    }

    /// Undoes skew and lead: turns the phasors, and re-makes the fundamental's part of every product
    /// of two channels. Harmonics' parts stay as they are: for the fifth, a fifth of the amplitude on
    /// both sides and 1 degree that errs by 7e-4 of the apparent power at worst.
    fn rotate(&mut self, c: &MeterCoefficients, phase_step: u32) {
        let before = self.phasor;
        for (k, p) in self.phasor.iter_mut().enumerate() {
            // frames Q24 (at most 16) times phase a frame: 28 + 31 bits
            let skew = (i64::from(c.skew_frames_q24[k]) * i64::from(phase_step)) >> 24;
            let angle = (skew as i32).wrapping_add(c.lead[k]);
            if angle != 0 {
                *p = p.turned(phase::cos_sin((angle as u32).wrapping_neg()));
            }
        }
        for (Pair { first, second, power }, out) in pairs(c.wiring).iter().zip(&mut self.product) {
            let (i, j) = (*first as usize % CHANNELS, *second as usize % CHANNELS);
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
