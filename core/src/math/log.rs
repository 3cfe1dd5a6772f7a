//! Natural logarithm of a ratio, for times that an exponential foretells.

use super::divide::unsigned;

/// One over log2 e at Q31: ln 2.
const LN_2_Q31: i64 = 1_488_522_236;

/// `ln(num / den)` for `num >= den`, Q24, rounded down; absolute error below 2^-22 (2.4e-7). Zero for a ratio below one, and
/// where either is zero. At most `ln(2^64)`, 44.4.
///
/// ```
/// use shaftwork_core::math::log::ln_ratio;
/// let e = ln_ratio(2_718_281_828, 1_000_000_000) as f64 / f64::from(1 << 24);
/// assert!((e - 1.0).abs() < 3e-7);
/// ```
#[must_use]
pub const fn ln_ratio(num: u64, den: u64) -> i64 {
    if num <= den || den == 0 {
        return 0;
    }
    // Both with the highest bit set: a quotient between 1/2 and 2, at Q31.
    let (n, d) = (num << num.leading_zeros(), den << den.leading_zeros());
    let mut whole = den.leading_zeros() as i64 - num.leading_zeros() as i64;
    let Some(mut m) = unsigned(n >> 1, d >> 32) else { return 0 }; // n/2 / (d / 2^32): Q31
    if m < 1 << 31 {
        m <<= 1;
        whole -= 1;
    }
    // Squaring doubles the logarithm: its bits come one by one.
    let mut log2 = whole << 26;
    let mut bit = 1i64 << 25;
    while bit > 0 {
        m = (m * m) >> 31; // 2^32 squared, at most
        if m >= 1 << 32 {
            m >>= 1;
            log2 += bit;
        }
        bit >>= 1;
    }
    (log2 * LN_2_Q31) >> 33 // 32 + 31 bits; Q26 + Q31 - Q24
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn within_its_bound_over_the_whole_range() {
        let mut worst: f64 = 0.0;
        for shift in 0..60 {
            for k in 0..200u64 {
                let den = 1 + (k * 7_919) % 1_000 + (1 << (shift / 3));
                let num = den + ((k * k * 31) << shift.min(40)) / 7;
                let found = ln_ratio(num, den) as f64 / f64::from(1 << 24);
                worst = worst.max((found - (num as f64 / den as f64).ln()).abs());
            }
        }
        assert!(worst < 2.4e-7, "{worst:e}");
        assert_eq!([ln_ratio(1, 2), ln_ratio(5, 5), ln_ratio(5, 0), ln_ratio(0, 0)], [0; 4]);
        let most = ln_ratio(u64::MAX, 1) as f64 / f64::from(1 << 24);
        assert!((most - 64.0 * core::f64::consts::LN_2).abs() < 1e-6, "{most}");
    }
}
