//! Roots of integers, and the place of their highest bit: exact.

/// The largest `r` with `r * r <= x`: exact, for every `x`.
///
/// ```
/// assert_eq!(shaftwork_core::math::root::isqrt(99), 9);
/// ```
#[must_use]
#[inline]
pub const fn isqrt(x: u64) -> u32 {
    x.isqrt() as u32 // at most 2^32 - 1
}

/// The position of the highest set bit; 0 for zero.
pub(crate) const fn ilog2_u128(x: u128) -> i32 {
    if x == 0 { 0 } else { 127 - x.leading_zeros() as i32 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn root_is_exact_at_squares_and_beside_them() {
        for r in [1u64, 2, 3, 65_535, 65_536, 3_037_000_499, u32::MAX as u64] {
            assert_eq!(u64::from(isqrt(r * r)), r);
            assert_eq!(u64::from(isqrt(r * r - 1)), r - 1);
        }
        assert_eq!(isqrt(u64::MAX), u32::MAX);
        assert_eq!(isqrt(0), 0);
    }
}
