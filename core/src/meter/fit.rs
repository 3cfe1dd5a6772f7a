//! Least squares of `x = a cos + b sin` on the basis (c, s).
//!
//! ```text
//! C = mean c²   D = mean c s   S = mean s²        xc = mean x c   xs = mean x s
//! a = (S xc - D xs) / (C S - D²)      b = (C xs - D xc) / (C S - D²)
//! ```
//!
//! times the basis' rms length sqrt(C + S), which rounding leaves a little short of one. Without it a clean sine off nominal
//! shows 0.3 % of false distortion.
//!
//! Arithmetic: 32-bit words, so that a product takes one instruction. The means have a fixed place: their last bit is 2^-31 of full
//! scale, and four of them is what a result may be off by, 2e-9 of full scale, besides a step of the output and 2^-28 of its
//! length.

use super::mean::Mean;
use super::phasor::Phasor;
use crate::math::scale::{Scale, long, narrow, shifted, upper};

/// The inverse of a stretch's basis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Fit {
    /// S, minus D and C over the determinant, each 2^-(`shift` - 32).
    inverse: [i32; 3],
    shift: u8,
    /// How far the basis is from a circle: (C - S), and four times D; both over C + S, Q32. Not zero where a stretch is no
    /// whole number of turns.
    round: i64,
    slant: i64,
}

impl Fit {
    /// No phasor can be had.
    pub(super) const NONE: Self = Self { inverse: [0; 3], shift: 32, round: 0, slant: 0 };

    /// From the basis' means, Q48: C + S is about one.
    pub(super) fn new([cc, cs, ss]: [i64; 3]) -> Self {
        let (round, slant) = ((cc - ss) >> 16, cs >> 14);
        // Q31: each at most one, where a code of 2^16 squared is all that there is.
        let (c, d, s) = (narrow(cc >> 17), narrow(cs >> 17), narrow(ss >> 17));
        let product = |x: i32, y: i32| i64::from(x) * i64::from(y);
        // By the inequality of the means c s <= ((c + s)/2)² <= 2^60; Q62 to Q32.
        let determinant = ((product(c, s) - product(d, d)) >> 30).clamp(0, i64::from(u32::MAX)) as u32;
        if determinant < 1 << 22 {
            // Fewer than a few degrees of the basis.
            return Self { round, slant, ..Self::NONE };
        }
        let (reciprocal, shift) = Scale::reciprocal(determinant, 0).parts();
        // The length sqrt(1 + short) is 1 + short/2 within 1e-9: |short| <= 2e-4. At Q33 a half of it.
        let short = ((cc + ss - (1 << 48)) >> 16) as i32;
        let over = |x: i32| {
            // Below one half of 2^31 squared, but for a sine of less than a turn, where 31 bits still hold it.
            let mantissa = (product(x, reciprocal) >> 31) as i32;
            mantissa.saturating_add(upper(mantissa, short) >> 1)
        };
        let inverse = [over(s), over(-d), over(c)];
        Self { inverse, shift, round, slant }
    }

    /// The phasor of a channel's sums with cosine and sine; `factor` makes rms volts or amps of codes at Q16, and a code has
    /// `bits` at most, 16 to 24.
    #[inline]
    pub(super) fn phasor(&self, cosine: i64, sine: i64, mean: Mean, factor: Scale, bits: u8) -> Phasor {
        let (x, y) = (mean.halved(cosine, bits.into()), mean.halved(sine, bits.into()));
        let [s, d, c] = self.inverse;
        let product = |x: i32, y: i32| i64::from(x) * i64::from(y);
        // Each product is at most 2^62, and both only where there is no fit: of the sum the upper word.
        let (a, b) = (product(s, x).wrapping_add(product(d, y)), product(c, y).wrapping_add(product(d, x)));
        let (a, b) = ((a >> 32) as i32, (b >> 32) as i32);
        // A code at Q16 is the word times 2^(64 - shift) 2^(bits - 16).
        let (mantissa, factor_shift) = factor.parts();
        let shift = (u32::from(self.shift) + u32::from(factor_shift)).saturating_sub(48 + u32::from(bits));
        let out = |word: i32| {
            let product = product(word, mantissa); // 62 bits
            let (high, low) = ((product >> 32) as i32, product as u32);
            if shift > 32 {
                // Of the upper word, below 2^30; beyond 63 bits all is below a half.
                ((high >> (shift - 33).min(30)) + 1) >> 1
            } else if shift == 0 {
                narrow(product)
            } else {
                let s = (shift - 1) & 31;
                narrow((long(high >> s, shifted(high as u32, low, s)) + 1) >> 1)
            }
        };
        Phasor { re: out(a), im: out(b.saturating_neg()) }
    }

    /// The mean square that a phasor has over the very frames it was fitted to: 2 (C re² + S im² - 2 D re im), with C + S brought
    /// to one.
    pub(super) const fn square(&self, x: Phasor) -> u64 {
        let (re, im) = (x.re as i64, x.im as i64);
        let (round, slant) = (Scale::from_q(self.round, 32), Scale::from_q(self.slant, 32));
        let change = round.apply(re * re - im * im).saturating_sub(slant.apply(re * im));
        x.square().saturating_add_signed(change)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::{SQRT_2, TAU};
    use proptest::prelude::*;
    extern crate std;

    proptest! {
        /// Any sine over any stretch from a quarter of a turn on, against f64: within 2e-8 of its length, 1e-8 of full scale and a step of the output.
        #[test]
        fn against_f64(
            bits in 16u8..=24, part in prop::sample::select(std::vec![1e-6, 1e-3, 0.1, 1.0]),
            angle in 0.0..TAU, frames in prop_oneof![14u32..90, 14u32..800], turn in 0.0125..0.036f64, gain in prop::sample::select(std::vec![1.5e-4, 0.03, 9.0]),
        ) {
            let full = f64::from((1 << (bits - 1)) - 1);
            let amplitude = full * part;
            let (mut sums, mut basis) = ([0i64; 2], [0i64; 3]);
            for n in 0..frames {
                let phase = f64::from(n) * turn * TAU;
                let [c, s] = [phase.cos(), phase.sin()].map(|x| (x * 65_536.0).round() as i64);
                let x = (amplitude * (phase + angle).cos()).round() as i64;
                sums = [sums[0] + x * c, sums[1] + x * s];
                basis = [basis[0] + c * c, basis[1] + c * s, basis[2] + s * s];
            }
            let mean = Mean::over(frames << 16);
            let fit = Fit::new(basis.map(|sum| mean.of(sum)));
            let factor = Scale::from_ratio((gain * 1e9 / SQRT_2) as i128, 1_000_000_000).unwrap();
            let found = fit.phasor(sums[0], sums[1], mean, factor, bits);
            // The same fit of the same sums.
            let n = f64::from(frames);
            let [cc, cs, ss] = basis.map(|sum| sum as f64 / n / 65_536f64.powi(2));
            let [xc, xs] = sums.map(|sum| sum as f64 / n / 65_536.0);
            let scale = (gain * 1e9 / SQRT_2).floor() / 1e9 * 65_536.0 * (cc + ss).sqrt() / (cc * ss - cs * cs);
            let wanted = [(ss * xc - cs * xs) * scale, -(cc * xs - cs * xc) * scale];
            let length = wanted[0].hypot(wanted[1]);
            for (found, wanted) in [(found.re, wanted[0]), (found.im, wanted[1])] {
                let off = (f64::from(found) - wanted.clamp(-2_147_483_647.0, 2_147_483_647.0)).abs();
                prop_assert!(off <= 1.0 + 2e-8 * length + 1e-8 * full * scale, "{found} {wanted}");
            }
        }

        #[test]
        fn any_sums(cosine in any::<i64>(), sine in any::<i64>(), basis in prop::array::uniform3(0i64..1 << 48), n in any::<u32>(), num in 1i128..1 << 40, bits in 16u8..=24) {
            let fit = Fit::new(basis);
            let factor = Scale::from_ratio(num, 1 << 30).unwrap();
            let p = fit.phasor(cosine, sine, Mean::over(n), factor, bits);
            let _ = fit.square(p);
        }
    }
}
