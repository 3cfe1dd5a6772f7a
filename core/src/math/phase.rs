//! Binary angles: a full turn is 2^32, so that wrapping addition is addition of angles.
//!
//! * [`basis`]: cosine and sine at Q16 by linear interpolation in a table of 256 steps. Error at
//!   most 9.1e-5: pi²/(2*256²) = 7.53e-5 from the chord, twice half a step of 2^-16 from rounding. It serves as the basis of
//!   the least-squares fit, whose result does not depend on the basis' length; nothing else may use it.
//! * [`cos_sin`] and [`angle`]: coordinate rotation by shifts and adds (J. E. Volder, "The CORDIC
//!   trigonometric computing technique", IRE Trans. Electronic Computers EC-8, 1959), 30 steps.
//!   Errors below 3e-8 (cosine, sine) and 2e-8 of a turn (angle of a vector longer than 2^24).

use super::table::SINE;

/// arctan(2^-k) in 2^-32 turns for k = 0..30.
const ARCTAN: [i32; 30] = [
    536_870_912,
    316_933_406,
    167_458_907,
    85_004_756,
    42_667_331,
    21_354_465,
    10_679_838,
    5_340_245,
    2_670_163,
    1_335_087,
    667_544,
    333_772,
    166_886,
    83_443,
    41_722,
    20_861,
    10_430,
    5_215,
    2_608,
    1_304,
    652,
    326,
    163,
    81,
    41,
    20,
    10,
    5,
    3,
    1,
];

/// The product of cos(arctan(2^-k)) for k = 0..30, Q30: what the rotation's lengthening is undone by.
const SHORTENING: i32 = 652_032_874;

/// Cosine and sine at Q16 (65 536 is one) of a binary angle; error at most 9.1e-5.
///
/// ```
/// use shaftwork_core::math::phase::basis;
/// assert_eq!(basis(0), (65_536, 0));
/// assert_eq!(basis(1 << 30), (0, 65_536)); // a quarter turn
/// ```
#[must_use]
#[inline]
pub fn basis(angle: u32) -> (i32, i32) {
    let place = (angle >> 24) as usize; // 0..=255: with 64 + 1 added still inside the table of 322
    let fraction = ((angle >> 8) & 0xffff) as i32; // Q16
    let between = |a: i32, b: i32| a + (((b - a) * fraction + 0x8000) >> 16); // |b - a| <= 1 609: 27 bits
    (between(SINE[place + 64], SINE[place + 65]), between(SINE[place], SINE[place + 1]))
}

/// Cosine and sine at Q30 of a binary angle; error below 3e-8.
///
/// ```
/// use shaftwork_core::math::phase::cos_sin;
/// let (c, s) = cos_sin(1 << 29); // an eighth of a turn
/// assert!((c - 759_250_125).abs() < 32 && (s - 759_250_125).abs() < 32);
/// ```
#[must_use]
pub fn cos_sin(angle: u32) -> (i32, i32) {
    // Bring the angle into a quarter turn either side of zero, where the rotation converges.
    let turned = angle.wrapping_add(1 << 30) >> 31 == 1;
    let mut rest = if turned { angle.wrapping_add(1 << 31) } else { angle } as i32;
    let (mut x, mut y) = (SHORTENING, 0i32);
    for (k, step) in ARCTAN.iter().enumerate() {
        let (dx, dy) = (y >> k, x >> k);
        if rest >= 0 {
            (x, y, rest) = (x - dx, y + dy, rest - step);
        } else {
            (x, y, rest) = (x + dx, y - dy, rest + step);
        }
    }
    if turned { (-x, -y) } else { (x, y) }
}

/// The binary angle of the vector `(x, y)`, counted from the x axis towards the y axis; 0 for the
/// zero vector. Error below 2e-8 of a turn for vectors longer than 2^24, growing as 1/length below.
///
/// ```
/// use shaftwork_core::math::phase::angle;
/// let error = angle(0, 1 << 28).wrapping_sub(1 << 30) as i32;
/// assert!(error.abs() < 100);
/// ```
#[must_use]
pub fn angle(x: i32, y: i32) -> u32 {
    if x == 0 && y == 0 {
        return 0;
    }
    // Bring the longer side to 28 or 29 bits: the rotation lengthens by 1.65, so 31 bits hold it.
    let longest = x.unsigned_abs() | y.unsigned_abs();
    let room = longest.leading_zeros() as i32 - 3;
    let fit = |v: i32| if room >= 0 { v << room } else { v >> -room };
    let (mut x, mut y) = (fit(x), fit(y));
    let mut turn = 0u32;
    if x < 0 {
        (x, y, turn) = (-x, -y, 1 << 31);
    }
    for (k, step) in ARCTAN.iter().enumerate() {
        let (dx, dy) = (y >> k, x >> k);
        if y >= 0 {
            (x, y, turn) = (x + dx, y - dy, turn.wrapping_add(*step as u32));
        } else {
            (x, y, turn) = (x - dx, y + dy, turn.wrapping_sub(*step as u32));
        }
    }
    turn
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::TAU;

    /// Every 2^12th angle of the whole circle against the platform's f64 library.
    #[test]
    fn grid_against_f64() {
        let (mut worst_basis, mut worst_exact, mut worst_angle) = (0f64, 0f64, 0f64);
        for k in 0..(1u32 << 20) {
            let a = k << 12;
            let t = f64::from(a) / 4_294_967_296.0 * TAU;
            let (c, s) = basis(a);
            worst_basis = worst_basis
                .max((f64::from(c) / 65_536.0 - t.cos()).abs())
                .max((f64::from(s) / 65_536.0 - t.sin()).abs());
            if k % 16 == 0 {
                let (c, s) = cos_sin(a);
                let q = f64::from(1 << 30);
                worst_exact =
                    worst_exact.max((f64::from(c) / q - t.cos()).abs()).max((f64::from(s) / q - t.sin()).abs());
                let r = f64::from(1 << 25);
                let back = angle((r * t.cos()).round() as i32, (r * t.sin()).round() as i32);
                worst_angle = worst_angle.max(f64::from(back.wrapping_sub(a) as i32).abs() / 4_294_967_296.0);
            }
        }
        assert!(worst_basis < 9.1e-5, "{worst_basis}");
        assert!(worst_exact < 3e-8, "{worst_exact}");
        assert!(worst_angle < 2e-8, "{worst_angle}");
    }

    #[test]
    fn angle_takes_any_vector() {
        for x in [i32::MIN, -1, 0, 1, i32::MAX] {
            for y in [i32::MIN, -1, 0, 1, i32::MAX] {
                let got = f64::from(angle(x, y)) / 4_294_967_296.0;
                let want = f64::from(y).atan2(f64::from(x)).rem_euclid(TAU) / TAU;
                let off = (got - want + 0.5).rem_euclid(1.0) - 0.5;
                assert!(off.abs() < 1e-6 || (x == 0 && y == 0), "{x} {y} {got} {want}");
            }
        }
    }
}
