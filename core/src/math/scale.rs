//! Multiplication by a rounded real number: `x -> round(x * mantissa / 2^shift)`.
//!
//! A [`Scale`] is the one way in which a coefficient (a gain, a resistance, a time constant) enters
//! the arithmetic. Its mantissa is normalised to 31 bits, so its own relative error is at most
//! 2^-31 (4.7e-10); the product is formed in 96 bits, rounded half up, and saturates.

use super::divide::{unsigned, wide};
use super::root::ilog2_u128;

/// A rounded real factor `mantissa / 2^shift`, relative error at most 2^-31.
///
/// ```
/// use shaftwork_core::math::scale::Scale;
/// let third = Scale::from_ratio(1, 3).unwrap();
/// assert_eq!(third.apply(3_000_000_000), 1_000_000_000);
/// assert_eq!(third.apply(-3_000_000_000), -1_000_000_000);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Scale {
    /// Zero, or of magnitude 2^30 to 2^31 - 1.
    mantissa: i32,
    /// 0 to 126.
    shift: u8,
}

impl Scale {
    /// The factor zero.
    pub const ZERO: Self = Self { mantissa: 0, shift: 0 };

    /// The factor `num / den`; `None` when `den` is zero or the factor lies outside `2^-90 ..= 2^30`
    /// (zero is allowed). Relative error at most 2^-31.
    #[must_use]
    #[inline(never)] // of settings, each many times; not of the sample path
    pub const fn from_ratio(num: i128, den: u128) -> Option<Self> {
        if den == 0 {
            return None;
        }
        if num == 0 {
            return Some(Self::ZERO);
        }
        let negative = num < 0;
        let mut n = num.unsigned_abs();
        let mut d = den;
        // Bring the quotient to 32 bits: first estimate the power of two, then divide.
        // 96 spare bits: the numerator is moved left as far as it goes, the denominator right only
        // when that is not enough, so that no digit of the quotient's first 33 is lost.
        let mut shift: i32 = 0;
        let room = n.leading_zeros() as i32;
        n <<= room;
        shift += room;
        // Now n has its top bit set; keep d below 2^94 so that the quotient has at least 33 bits.
        let d_bits = 128 - d.leading_zeros() as i32;
        if d_bits > 94 {
            let drop = d_bits - 94;
            d >>= drop;
            shift += drop;
        }
        let Some(mut q) = wide(n, d) else { return None };
        // Reduce the quotient to 31 bits, rounding half up.
        let q_bits = ilog2_u128(q) + 1;
        let drop = q_bits - 31;
        q = (q + (1 << (drop - 1))) >> drop;
        shift -= drop;
        if q == 1 << 31 {
            q >>= 1;
            shift -= 1;
        }
        if shift < 0 || shift > 120 {
            return None;
        }
        let magnitude = q as i32; // below 2^31 by construction
        Some(Self { mantissa: if negative { -magnitude } else { magnitude }, shift: shift as u8 })
    }

    /// `2^power / den`, relative error at most 2^-31; zero when `den` is zero. One division: for the
    /// sample path. `power` at most 30 plus the bits of `den`, more saturates at that.
    #[must_use]
    pub const fn reciprocal(den: u32, power: u32) -> Self {
        if den == 0 {
            return Self::ZERO;
        }
        let room = den.leading_zeros();
        let d = den << room; // 2^31 ..= 2^32 - 1
        // 2^48 / d, short by 2^-14 of it at most.
        let r = u32::MAX / ((d >> 16) + 1);
        let lacks = (1u64 << 48) - r as u64 * d as u64; // 34 bits
        // Newton's rule: short by 2^-28 of 2^62 / d, and rounded down.
        let q = ((r as u64) << 14) + ((r as u64 * (lacks >> 17) as u32 as u64) >> 17);
        let rest = (1u64 << 62) + (d >> 1) as u64 - q * d as u64; // below 2^36
        let more = ((rest >> 4) as u32 as u64 * r as u64) >> 44; // short by one at most
        let rest = rest - more * d as u64;
        let q = q + more + (rest >= d as u64) as u64; // (2^62 + d/2) / d, 2^30 ..= 2^31
        // 1/den = q / 2^(62 - room)
        let shift = 62 - room;
        let shift = shift.saturating_sub(power);
        if q >= 1 << 31 {
            Self { mantissa: 1 << 30, shift: if shift == 0 { 0 } else { shift as u8 - 1 } }
        } else {
            Self { mantissa: q as i32, shift: shift as u8 }
        }
    }

    /// A value with `q` fraction bits (at most 64), rounded to 31 significant bits; values that
    /// would need a negative shift saturate.
    #[must_use]
    pub const fn from_q(value: i64, q: u32) -> Self {
        if value == 0 {
            return Self::ZERO;
        }
        let magnitude = value.unsigned_abs();
        let bits = 64 - magnitude.leading_zeros();
        let (mut m, mut shift) = if bits > 31 {
            let drop = bits - 31;
            ((magnitude + (1 << (drop - 1))) >> drop, q as i32 - drop as i32)
        } else {
            (magnitude << (31 - bits), q as i32 + 31 - bits as i32)
        };
        if m == 1 << 31 {
            m >>= 1;
            shift -= 1;
        }
        if shift < 0 {
            (m, shift) = (i32::MAX as u64, 0);
        }
        let m = m as i32; // below 2^31
        Self { mantissa: if value < 0 { -m } else { m }, shift: shift as u8 }
    }

    /// The product of two factors, relative error at most 2^-30 more; `None` outside the range of
    /// [`Scale::from_ratio`].
    #[must_use]
    pub const fn times(self, other: Self) -> Option<Self> {
        let shift = self.shift as u32 + other.shift as u32;
        let product = self.mantissa as i128 * other.mantissa as i128;
        if shift > 126 {
            Self::from_ratio(product >> (shift - 126), 1 << 126)
        } else {
            Self::from_ratio(product, 1 << shift)
        }
    }

    /// `round(x * self)`, halves towards plus infinity, saturating at the ends of `i64`.
    ///
    /// Width: the 64-bit `x` is split in halves of 32; each partial product has at most 63 bits. The product's three words are
    /// shifted one by one, which takes half of what a 64-bit shift by any number does.
    #[must_use]
    #[inline(never)] // in a hundred places, thirty instructions each
    pub const fn apply(self, x: i64) -> i64 {
        let m = self.mantissa as i64;
        let low_product = (x as u32 as i64).wrapping_mul(m); // |.| < 2^32 * 2^31 = 2^63
        let high_product = (x >> 32).wrapping_mul(m); // |.| <= 2^31 * 2^31 = 2^62
        let high = high_product.wrapping_add(low_product >> 32); // |.| <= 2^62 + 2^31
        let (low, middle, high) = (low_product as u32, high as u32, (high >> 32) as i32);
        let shift = self.shift as u32;
        // All but the last of the shift; then half up.
        if shift > 64 {
            let kept = if shift > 95 { 0 } else { high >> (shift - 65) }; // beyond 95 bits: below one half
            return (kept as i64 + 1) >> 1;
        }
        if shift > 32 {
            let s = shift - 33; // 0 ..= 31
            return (long(high >> s, shifted(high as u32, middle, s)) + 1) >> 1; // |high| < 2^31 - 1
        }
        if shift == 0 {
            // The whole product.
            return narrowed(if middle >> 31 == 1 { high.wrapping_add(1) } else { high }, long(middle as i32, low));
        }
        let s = shift - 1; // 0 ..= 31
        let kept = ((shifted(high as u32, middle, s) as u64) << 32) | shifted(middle, low, s) as u64;
        let half_up = kept.wrapping_add(1);
        let top = (high >> s).wrapping_add((half_up == 0) as i32);
        // 65 bits: the value where the 65th and all above it are alike.
        narrowed(if top & 1 == 1 { top.wrapping_add(1) } else { top }, ((half_up >> 1) | ((top as u64) << 63)) as i64)
    }

    /// The factor times 2^`power`; `power` beyond the shift saturates at it.
    #[must_use]
    pub const fn up(self, power: u8) -> Self {
        Self { mantissa: self.mantissa, shift: self.shift.saturating_sub(power) }
    }

    /// A third, for sums of three.
    pub const THIRD: Self = match Self::from_ratio(1, 3) {
        Some(third) => third,
        None => Self::ZERO,
    };

    /// The factor as mantissa and shift, for printing what was rounded.
    #[must_use]
    pub const fn parts(self) -> (i32, u8) {
        (self.mantissa, self.shift)
    }
}

/// An `i64` brought into `i32`, symmetrically: the smallest is `-i32::MAX`.
pub(crate) const fn narrow(x: i64) -> i32 {
    let low = x as i32;
    if low as i64 == x && low != i32::MIN {
        low
    } else if x < 0 {
        -i32::MAX
    } else {
        i32::MAX
    }
}

/// The upper word of a product.
#[expect(clippy::inline_always, reason = "an instruction")]
#[inline(always)]
pub(crate) const fn upper(x: i32, y: i32) -> i32 {
    ((x as i64 * y as i64) >> 32) as i32
}

/// The same to the nearest, halves up: the product is at most 2^62.
#[expect(clippy::inline_always, reason = "an instruction")]
#[inline(always)]
pub(crate) const fn upper_rounded(x: i32, y: i32) -> i32 {
    ((x as i64 * y as i64 + (1 << 31)) >> 32) as i32
}

/// Two words as one number.
pub(crate) const fn long(high: i32, low: u32) -> i64 {
    ((high as i64) << 32) | low as i64
}

/// The lower word of two after a shift by less than a word.
pub(crate) const fn shifted(high: u32, low: u32, by: u32) -> u32 {
    (low >> by) | ((high << 1) << (31 - by))
}

/// A value, or the end that it lies beyond: `beyond` is what the words above it hold more than its sign, and has the sign of all.
const fn narrowed(beyond: i32, value: i64) -> i64 {
    if beyond == 0 {
        value
    } else if beyond > 0 {
        i64::MAX
    } else {
        i64::MIN
    }
}

/// `num / den` as a signed fraction with `q` fraction bits, rounded towards zero, saturating at
/// `i32`; zero when `den` is zero. `q` at most 32.
#[must_use]
pub const fn ratio_q(num: i64, den: u64, q: u32) -> i32 {
    if den == 0 {
        return 0;
    }
    let negative = num < 0;
    let mut n = num.unsigned_abs();
    let mut d = den;
    // Make room for the q bits on the left; what does not fit is taken off the denominator.
    let room = n.leading_zeros();
    if room >= q {
        n <<= q;
    } else {
        n <<= room;
        d >>= q - room;
    }
    let Some(quotient) = unsigned(n, d) else {
        return if negative { -i32::MAX } else { i32::MAX };
    };
    let magnitude = if quotient > i32::MAX as u64 { i32::MAX } else { quotient as i32 };
    if negative { -magnitude } else { magnitude }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn known_products() {
        // Plain arithmetic; no source needed.
        let one = Scale::from_ratio(1, 1).unwrap();
        for x in [0, 1, -1, i64::MAX, i64::MIN, 1 << 40] {
            assert_eq!(one.apply(x), x);
        }
        let half = Scale::from_ratio(1, 2).unwrap();
        assert_eq!((half.apply(3), half.apply(-3)), (2, -1), "halves go up");
        let big = Scale::from_ratio(1 << 20, 1).unwrap();
        assert_eq!(big.apply(i64::MAX), i64::MAX);
        assert_eq!(big.apply(i64::MIN), i64::MIN);
        assert!(Scale::from_ratio(1, 0).is_none());
    }

    #[test]
    fn quick_makers_agree_with_the_exact_one() {
        for den in [1u32, 2, 3, 1 << 16, 40 << 16, (40 << 16) + 12_345, u32::MAX] {
            for power in [0, 16, 24] {
                let (quick, exact) =
                    (Scale::reciprocal(den, power), Scale::from_ratio(1 << power, u128::from(den)).unwrap());
                let x = 1i64 << 50;
                assert!((quick.apply(x) as f64 / exact.apply(x) as f64 - 1.0).abs() < 1e-9, "{den} {power}");
            }
        }
        for value in [1i64, -1, 12_345_678_901, i64::MAX, i64::MIN, (1 << 31) - 1, 1 << 31] {
            let (quick, exact) = (Scale::from_q(value, 60), Scale::from_ratio(i128::from(value), 1 << 60).unwrap());
            assert!(
                (quick.apply(1 << 58) - exact.apply(1 << 58)).abs() <= 1 + (quick.apply(1 << 58).abs() >> 30),
                "{value}"
            );
        }
        assert_eq!(Scale::reciprocal(0, 3), Scale::ZERO);
    }

    #[test]
    fn reciprocals_are_exact() {
        let near = (0..32).flat_map(|k| (-9..=9i64).map(move |off| (1i64 << k) + off));
        for den in near.chain((0..100_000).map(|k| (1 << 31) + k * 21_473 + k % 7)) {
            let Some(den) = u32::try_from(den).ok().filter(|den| *den > 0) else { continue };
            let d = u64::from(den << den.leading_zeros());
            let (mantissa, shift) = Scale::reciprocal(den, 0).parts();
            let wanted = ((1u64 << 62) + d / 2) / d;
            let wanted = if wanted == 1 << 31 {
                (1 << 30, 61 - den.leading_zeros())
            } else {
                (wanted, 62 - den.leading_zeros())
            };
            assert_eq!((mantissa as u64, u32::from(shift)), wanted, "{den}");
        }
    }

    #[test]
    fn ratio_saturates_and_is_total() {
        assert_eq!(ratio_q(1, 2, 24), 1 << 23);
        assert_eq!(ratio_q(-1, 2, 24), -(1 << 23));
        assert_eq!(ratio_q(i64::MAX, 1, 24), i32::MAX);
        assert_eq!(ratio_q(i64::MIN, 1, 24), -i32::MAX);
        assert_eq!(ratio_q(5, 0, 24), 0);
    }

    #[test]
    fn wide_ratios_keep_their_size() {
        // The same value once with a narrow and once with a wide denominator.
        for wide in [60u32, 66, 70, 80] {
            let (a, b) = (Scale::from_ratio(3 << 20, 7 << 20).unwrap(), Scale::from_ratio(3 << 40, 7 << wide).unwrap());
            assert!(((a.apply(1 << 50) >> (wide - 40)) - b.apply(1 << 50)).abs() <= 1, "{wide}");
        }
    }

    proptest! {
        #[test]
        fn close_to_the_real_product(num in -1_000_000_000_000i128..1_000_000_000_000, den in 1u128..1_000_000_000_000, x in any::<i64>()) {
            let Some(scale) = Scale::from_ratio(num, den) else { return Ok(()) };
            let exact = x as f64 * (num as f64 / den as f64);
            let got = scale.apply(x) as f64;
            let clipped = exact.clamp(i64::MIN as f64, i64::MAX as f64);
            prop_assert!((got - clipped).abs() <= 0.5 + 1e-9 * clipped.abs(), "{got} {clipped}");
        }

        #[test]
        fn products_of_factors(a in 1i128..1_000_000_000, b in 1u128..1_000_000_000, c in 1i128..1_000_000_000, d in 1u128..1_000_000_000) {
            let (p, q) = (Scale::from_ratio(a, b).unwrap(), Scale::from_ratio(c, d).unwrap());
            if let (Some(r), Some(s)) = (p.times(q), Scale::from_ratio(a * c, b * d)) {
                let x = 1i64 << 52;
                let (u, v) = (r.apply(x) as f64, s.apply(x) as f64);
                prop_assert!((u - v).abs() <= 1.0 + 2e-9 * v.abs());
            }
        }
    }
}
