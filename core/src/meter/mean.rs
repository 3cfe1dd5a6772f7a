//! Means of sums: one over a stretch's length, found once and used for each sum.

use crate::math::scale::Scale;

/// One over a number of frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Mean {
    /// 0, or 2^30 to 2^31 - 1.
    mantissa: i32,
    /// Sum times mantissa over 2^`shift` is the mean at Q16: 1 to 31.
    shift: u8,
}

impl Mean {
    /// Of nothing.
    pub(super) const NONE: Self = Self { mantissa: 0, shift: 1 };

    /// Of frames at Q16; of fewer than 2^-12 of one everything is zero.
    pub(super) const fn over(frames: u32) -> Self {
        if frames < 16 {
            return Self::NONE;
        }
        // 2^4 frames have a shift of 2, 2^32 one of 30.
        let (mantissa, shift) = Scale::reciprocal(frames, 32).parts();
        Self { mantissa, shift }
    }

    /// The mean of a sum, Q16, rounded down; relative error of the reciprocal 2^-31. Of values below 2^46, which is what
    /// codes of 24 bits make, a mean has 62 bits.
    #[expect(clippy::inline_always, reason = "ten instructions")]
    #[inline(always)]
    pub(super) const fn of(self, sum: i64) -> i64 {
        let (high, low) = self.product(sum);
        let s = self.shift as u32 & 31;
        let upper = (((high >> 32) as i32) << (31 - s) << 1) | ((high as u32) >> s) as i32;
        let lower = ((high as u32) << (31 - s) << 1) | (low >> s);
        ((upper as i64) << 32) | lower as i64
    }

    /// The mean of a sum of codes times basis, whose Q16 and the mean's make Q32, halved `times` (16 to 24): 31 bits. Of four
    /// frames or more; a shorter stretch has no fit.
    #[expect(clippy::inline_always, reason = "seven instructions")]
    #[inline(always)]
    pub(super) const fn halved(self, sum: i64, times: u32) -> i32 {
        let (high, _) = self.product(sum);
        // Four frames have a shift of 16, so that the lower word is never wanted.
        let s = (self.shift as u32 + times).saturating_sub(32) & 31;
        (high >> s) as i32
    }

    /// Sum times mantissa: 64 bits above 32.
    #[expect(clippy::inline_always, reason = "two instructions")]
    #[inline(always)]
    const fn product(self, sum: i64) -> (i64, u32) {
        let m = self.mantissa as u32 as u64; // never negative
        let low = (sum as u32 as u64) * m; // 32 bits by 31
        ((sum >> 32) as i32 as i64 * self.mantissa as i64 + (low >> 32) as i64, low as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    extern crate std;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]
        #[test]
        fn means_are_those_of_the_sums(frames in 16u32..4_800 << 16, fewer in 0u32..24, value in -(1i64 << 46)..1 << 46, less in 0u32..46, times in 16u32..=24) {
            let (frames, value) = ((frames >> fewer).max(16), value >> less);
            let sum = (i128::from(value) * i128::from(frames)) >> 16;
            let mean = Mean::over(frames);
            let exact = ((sum << 32) as f64) / f64::from(frames);
            let found = mean.of(sum as i64) as f64;
            prop_assert!((found - exact).abs() <= 1.0 + 1e-9 * exact.abs(), "{found} {exact}");
            if frames >= 4 << 16 {
                // A code of `times` bits by the basis: half of full scale at most.
                let value = value >> (46 + 2 - 16 - times.min(24));
                let sum = (i128::from(value) * i128::from(frames)) >> 16;
                let exact = ((sum << 32) as f64) / f64::from(frames) / f64::from(1u32 << times);
                let found = f64::from(mean.halved(sum as i64, times));
                prop_assert!((found - exact).abs() <= 1.0 + 1e-9 * exact.abs(), "{found} {exact}");
            }
        }
    }
}
