//! Roots of integers, and the place of their highest bit: exact.

/// The largest `r` with `r * r <= x`: exact, for every `x`.
///
/// ```
/// assert_eq!(shaftwork_core::math::root::isqrt(99), 9);
/// ```
/// The upper 16 bits by Newton's rule, the lower ones by one division of 32 bits, one too large at most (P. Zimmermann,
/// "Karatsuba square root", 1999, from memory).
#[must_use]
#[inline(never)]
pub const fn isqrt(x: u64) -> u32 {
    if x == 0 {
        return 0;
    }
    let room = x.leading_zeros() & !1; // the root has its highest bit set then
    let n = x << room;
    let (high, low) = ((n >> 32) as u32, n as u32);
    let upper = root(high);
    let rest = high.wrapping_sub(upper.wrapping_mul(upper)); // at most twice `upper`
    let half = (rest << 15) | (low >> 17); // below 2^32; over `upper` at most 2^16
    let lower = half / upper;
    let left = (((half % upper) as u64) << 17) | (low & 0x1_ffff) as u64;
    // 2^32 where both digits are full: the rest is negative then.
    let root = (upper << 16).wrapping_add(lower);
    let root = if left < lower as u64 * lower as u64 { root.wrapping_sub(1) } else { root };
    root >> (room / 2)
}

/// The root of 2^30 or more, rounded down: 2^15 to 2^16 - 1.
#[inline]
const fn root(x: u32) -> u32 {
    // By a line: off by 1/19 at most. Newton's rule makes half a square of it, 1/700 and 1e-6, never short but for rounding down.
    let guess = (x >> 17) + (x >> 19) + 23_500;
    let guess = (guess + x / guess) >> 1;
    let guess = (guess + x / guess) >> 1; // at most 2^16
    let guess = guess - (guess as u64 * guess as u64 > x as u64) as u32;
    guess | 0x8000 // the bit is set, which is said for the compiler
}

/// The position of the highest set bit; 0 for zero.
pub(crate) const fn ilog2_u128(x: u128) -> i32 {
    if x == 0 { 0 } else { 127 - x.leading_zeros() as i32 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]
        #[test]
        fn root_is_exact(x in any::<u64>(), less in 0u32..64) {
            prop_assert_eq!(u64::from(isqrt(x >> less)), (x >> less).isqrt());
        }
    }

    /// Where the line is furthest off, and at squares and beside them.
    #[test]
    fn upper_half_is_exact() {
        for r in 1u32 << 15..1 << 16 {
            for x in [r * r, r * r + r, r * r + 2 * r] {
                assert_eq!(root(x), r, "{x}");
            }
        }
        for k in 0..3u32 << 16 {
            let x = (1 << 30) + (k << 14) + k % 16_384;
            assert_eq!(root(x), x.isqrt(), "{x}");
        }
    }

    #[test]
    fn root_is_exact_at_squares_and_beside_them() {
        for r in [1u64, 2, 3, 65_535, 65_536, 3_037_000_499, u32::MAX as u64] {
            assert_eq!(u64::from(isqrt(r * r)), r);
            assert_eq!(u64::from(isqrt(r * r - 1)), r - 1);
        }
        assert_eq!(isqrt(u64::MAX), u32::MAX);
        assert_eq!(isqrt(0), 0);
        for k in 0..64 {
            for x in [(1u64 << k) - 1, 1 << k, (1 << k) + 1] {
                assert_eq!(u64::from(isqrt(x)), x.isqrt(), "{x}");
            }
        }
    }
}
