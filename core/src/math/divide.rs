//! Division of 64 and of 128 bits, each once in the image.
//!
//! A core with a 32-bit divider takes some 150 instructions for a 64-bit quotient of the compiler's, whatever is divided. Here what
//! fits 32 bits takes one division, the rest two digits of 16 bits (D. E. Knuth, "The Art of Computer Programming", 2, 4.3.1,
//! algorithm D; a divisor beyond 32 bits by its first 32: H. S. Warren, "Hacker's Delight", 9-5; both from memory). 128 bits
//! are for settings alone: the compiler writes them out wherever one stands, 700 bytes each time.

/// `num / den`, rounded down; `None` when `den` is zero.
///
/// ```
/// use shaftwork_core::math::divide::wide;
/// assert_eq!(wide(7 << 100, 2 << 100), Some(3));
/// assert_eq!(wide(7, 0), None);
/// ```
#[must_use]
#[inline]
pub const fn wide(num: u128, den: u128) -> Option<u128> {
    if den == 0 { None } else { Some(over(num, den)) }
}

/// `num / den` of a denominator that is known not to be zero: zero is taken for one.
#[inline(never)] // see the module
pub(crate) const fn over(num: u128, den: u128) -> u128 {
    match num.checked_div(den) {
        Some(quotient) => quotient,
        None => num,
    }
}

/// `num / den`, rounded towards zero, saturating; `None` when `den` is zero.
///
/// ```
/// use shaftwork_core::math::divide::signed;
/// assert_eq!([signed(-7, 2), signed(7, -2), signed(1, 0)], [Some(-3), Some(-3), None]);
/// assert_eq!(signed(i64::MIN, -1), Some(i64::MAX));
/// ```
#[must_use]
#[inline(never)]
pub const fn signed(num: i64, den: i64) -> Option<i64> {
    if den == 0 {
        return None;
    }
    let magnitude = quotient(num.unsigned_abs(), den.unsigned_abs());
    Some(if (num < 0) == (den < 0) {
        if magnitude > i64::MAX as u64 { i64::MAX } else { magnitude as i64 }
    } else {
        (magnitude as i64).wrapping_neg() // at most 2^63
    })
}

/// `num / den`, rounded down; `None` when `den` is zero.
///
/// ```
/// use shaftwork_core::math::divide::unsigned;
/// assert_eq!([unsigned(u64::MAX, 3), unsigned(1, 0)], [Some(u64::MAX / 3), None]);
/// ```
#[must_use]
#[inline]
pub const fn unsigned(num: u64, den: u64) -> Option<u64> {
    if den == 0 { None } else { Some(quotient(num, den)) }
}

/// `num / den` of a whole number that is not zero, rounded towards zero.
pub(crate) const fn by(num: i64, den: u32) -> i64 {
    let magnitude = quotient(num.unsigned_abs(), den as u64) as i64; // 2^63 only where `den` is one
    if num < 0 { magnitude.wrapping_neg() } else { magnitude }
}

/// A part of a whole number, one over `den`, rounded down; all of it where `den` is zero.
pub(crate) const fn part(num: u64, den: u32) -> u64 {
    if den == 0 { num } else { quotient(num, den as u64) }
}

/// One digit of 32 bits; nothing by nothing is nothing.
#[cfg(any(test, not(target_pointer_width = "64")))]
#[inline]
const fn short(num: u32, den: u32) -> u32 {
    match num.checked_div(den) {
        Some(quotient) => quotient,
        None => 0,
    }
}

/// `num / den`; 0 where `den` is zero. A processor with 64-bit registers has an instruction for it.
#[cfg(target_pointer_width = "64")]
#[inline]
const fn quotient(num: u64, den: u64) -> u64 {
    match num.checked_div(den) {
        Some(quotient) => quotient,
        None => 0,
    }
}

/// The same with a divider of 32 bits.
#[cfg(not(target_pointer_width = "64"))]
const fn quotient(num: u64, den: u64) -> u64 {
    in_digits(num, den)
}

/// `num / den` by digits; 0 where `den` is zero.
#[cfg(any(test, not(target_pointer_width = "64")))]
#[inline(never)]
const fn in_digits(num: u64, den: u64) -> u64 {
    let (high, low) = ((num >> 32) as u32, num as u32);
    if den >> 32 == 0 {
        let den = den as u32;
        if high == 0 {
            return short(low, den) as u64;
        }
        if den == 0 {
            return 0; // as the other way
        }
        let first = short(high, den);
        let rest = high.wrapping_sub(first.wrapping_mul(den)); // below `den`
        let room = den.leading_zeros() & 31;
        let num = (((rest as u64) << 32) | low as u64) << room;
        return ((first as u64) << 32) | digits(num, den << room) as u64;
    }
    // The quotient is below 2^32. Its first guess, of half the numerator over the 32 highest bits, is one too large at most.
    let room = den.leading_zeros() & 31;
    let guess = ((digits(num >> 1, ((den << room) >> 32) as u32) as u64) << room) >> 31;
    let guess = guess.saturating_sub(1);
    if num.wrapping_sub(guess.wrapping_mul(den)) >= den { guess + 1 } else { guess }
}

/// `num / den`, where `den` has its highest bit set and the quotient fits 32 bits: two digits of 16 bits.
#[cfg(any(test, not(target_pointer_width = "64")))]
#[inline]
const fn digits(num: u64, den: u32) -> u32 {
    let (high, low) = ((num >> 32) as u32, num as u32);
    let (first, rest) = digit(high, low >> 16, den);
    let (second, _) = digit(rest, low & 0xffff, den);
    (first << 16).wrapping_add(second)
}

/// `(high, next) / den` for `high` below `den` and a digit of 16 bits; the rest as well.
#[cfg(any(test, not(target_pointer_width = "64")))]
#[inline]
const fn digit(high: u32, next: u32, den: u32) -> (u32, u32) {
    let (upper, lower) = ((den >> 16) | 0x8000, den & 0xffff); // the bit is set: said for the compiler
    let mut guess = high / upper; // at most 2^16 + 1, and two too large at most
    let mut rest = high - guess * upper;
    while guess > 0xffff || guess * lower > ((rest << 16) | next) {
        guess -= 1;
        rest += upper;
        if rest > 0xffff {
            break;
        }
    }
    // Modulo 2^32: the rest is below `den`.
    (guess, ((high << 16) | next).wrapping_sub(guess.wrapping_mul(den)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Around powers of two, where digits and guesses turn over.
    fn ends() -> impl Iterator<Item = u64> {
        (0..64).flat_map(|k| [-2i64, -1, 0, 1, 2].map(|off| (1u64 << k).wrapping_add_signed(off)))
    }

    #[test]
    fn exact_around_powers_of_two() {
        for num in ends() {
            for den in ends() {
                assert_eq!(unsigned(num, den), num.checked_div(den), "{num} / {den}");
                assert_eq!(in_digits(num, den), num.checked_div(den).unwrap_or(0), "{num} / {den}");
                let (n, d) = (num.cast_signed(), den.cast_signed());
                assert_eq!(signed(n, d), if d == 0 { None } else { Some(n.saturating_div(d)) }, "{n} / {d}");
            }
        }
        assert_eq!([by(-7, 2), by(7, 3), by(i64::MIN, 1)], [-3, 2, i64::MIN]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]
        #[test]
        fn exact(num in any::<u64>(), den in any::<u64>(), less in 0u32..64, lesser in 0u32..64) {
            let (num, den) = (num >> less, den >> lesser);
            prop_assert_eq!(unsigned(num, den), num.checked_div(den));
            prop_assert_eq!(in_digits(num, den), num.checked_div(den).unwrap_or(0));
        }
    }
}
