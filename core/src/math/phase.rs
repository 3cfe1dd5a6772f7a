//! Binary angles: a full turn is 2^32, so that wrapping addition is addition of angles.
//!
//! * [`Turning`]: cosine and sine at Q16, from one frame to the next by a rotation. It serves as the basis of the least-squares fit.
//! * [`cos_sin`] and [`angle`]: coordinate rotation by shifts and adds (J. E. Volder, "The CORDIC
//!   trigonometric computing technique", IRE Trans. Electronic Computers EC-8, 1959), 30 steps.
//!   Errors below 3e-8 (cosine, sine) and 2e-8 of a turn (angle of a vector longer than 2^24).

use super::scale::upper;

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

/// Cosine and sine of an angle that grows by the same step each time.
///
/// ```text
/// c' = c + c v - s w    s' = s + s v + c w     v = cos step - 1, w = sin step
/// ```
///
/// Four products of which only the upper words are wanted, an instruction each on many processors: a table and its interpolation take
/// twice as many.
///
/// Error: what is given is rounded down to Q16, so up to 1.53e-5 too low. In a step what is carried on errs by 1.2e-9 at most (half a
/// bit of `v` and `w`, a bit of Q30 for rounding down), so that 5 000 steps from the beginning it is off by 6e-6.
///
/// ```
/// use shaftwork_core::math::phase::Turning;
/// let mut eighths = Turning::new(0, 1 << 26); // a sixty-fourth of a turn
/// let [first, .., last] = core::array::from_fn::<_, 9, _>(|_| eighths.next());
/// assert_eq!(first, (65_536, 0)); // one
/// assert!((last.0 - 46_341).abs() < 2 && (last.1 - 46_341).abs() < 2); // an eighth of a turn
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Turning {
    /// Q30.
    cosine: i32,
    /// Q30.
    sine: i32,
    /// The step's cosine less one, Q32.
    less: i32,
    /// The step's sine, Q32.
    across: i32,
}

impl Turning {
    /// At an angle; `step` at most 2^28, a sixteenth of a turn (more is taken for that).
    #[must_use]
    pub const fn new(angle: u32, step: u32) -> Self {
        let (cosine, sine) = cos_sin(angle);
        let (less, across) = little(if step > 1 << 28 { 1 << 28 } else { step as i32 });
        Self { cosine, sine, less: -less, across }
    }

    /// Cosine and sine at Q16 (65 536 is one), and on by a step.
    #[expect(clippy::inline_always, reason = "eight instructions")]
    #[inline(always)]
    pub const fn next(&mut self) -> (i32, i32) {
        let Self { cosine, sine, less, across } = *self;
        self.cosine = cosine.wrapping_add(upper(cosine, less)).wrapping_add(upper(sine, -across));
        self.sine = sine.wrapping_add(upper(sine, less)).wrapping_add(upper(cosine, across));
        (cosine >> 14, sine >> 14)
    }
}

/// A turn in radians, Q28.
const TURN_Q28: i64 = 1_686_629_713;

/// One less the cosine, and the sine, of an angle of a sixteenth of a turn at most either way: Q32, error below 1e-9.
///
/// ```text
/// sin x = x (1 - x²/6 (1 - x²/20 (1 - x²/42 (1 - x²/72))))    1 - cos x = x²/2 (1 - x²/12 (1 - x²/30 (1 - x²/56)))
/// ```
///
/// For x = 0.393 what is left out is below 1e-12 and 3e-11: the rest is rounding.
#[must_use]
pub(crate) const fn little(angle: i32) -> (i32, i32) {
    // A 1 / n, Q31.
    const fn part(n: i32) -> i32 {
        i32::MAX / n
    }
    // 1 - square rest / n, at Q31: the square is below 0.16.
    const fn term(square: i32, rest: i32, n: i32) -> i32 {
        i32::MAX - (upper(upper(square, part(n)), rest) << 1)
    }
    let x = ((angle as i64 * TURN_Q28) >> 28) as i32; // Q32, below 0.4
    let square = upper(x, x);
    let sine = term(square, term(square, term(square, i32::MAX - upper(square, part(72)), 42), 20), 6);
    let less = term(square, term(square, i32::MAX - upper(square, part(56)), 30), 12);
    (upper(square, less), ((x as i64 * sine as i64) >> 31) as i32)
}

/// Cosine and sine at Q30 of a binary angle, error below 3e-8: a tenth of the work where it is little, a sixteenth of a turn at most
/// either way.
#[must_use]
pub(crate) const fn cos_sin_little(angle: i32) -> (i32, i32) {
    if angle.unsigned_abs() > 1 << 28 {
        return cos_sin(angle as u32);
    }
    let (less, sine) = little(angle);
    ((1 << 30) - (less >> 2), sine >> 2)
}

/// Cosine and sine at Q30 of a binary angle; error below 3e-8.
///
/// ```
/// use shaftwork_core::math::phase::cos_sin;
/// let (c, s) = cos_sin(1 << 29); // an eighth of a turn
/// assert!((c - 759_250_125).abs() < 32 && (s - 759_250_125).abs() < 32);
/// ```
#[must_use]
pub const fn cos_sin(angle: u32) -> (i32, i32) {
    // Bring the angle into a quarter turn either side of zero, where the rotation converges.
    let turned = angle.wrapping_add(1 << 30) >> 31 == 1;
    let mut rest = if turned { angle.wrapping_add(1 << 31) } else { angle } as i32;
    let (mut x, mut y) = (SHORTENING, 0i32);
    let mut k = 0;
    while k < ARCTAN.len() {
        let (dx, dy, step) = (y >> k, x >> k, ARCTAN[k]);
        if rest >= 0 {
            (x, y, rest) = (x - dx, y + dy, rest - step);
        } else {
            (x, y, rest) = (x + dx, y - dy, rest + step);
        }
        k += 1;
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

    /// Every 2^16th angle of the whole circle against the platform's f64 library.
    #[test]
    fn grid_against_f64() {
        let (mut worst_exact, mut worst_angle) = (0f64, 0f64);
        for k in 0..(1u32 << 16) {
            let a = k << 16;
            let t = f64::from(a) / 4_294_967_296.0 * TAU;
            let (c, s) = cos_sin(a);
            let q = f64::from(1 << 30);
            worst_exact = worst_exact.max((f64::from(c) / q - t.cos()).abs()).max((f64::from(s) / q - t.sin()).abs());
            let r = f64::from(1 << 25);
            let back = angle((r * t.cos()).round() as i32, (r * t.sin()).round() as i32);
            worst_angle = worst_angle.max(f64::from(back.wrapping_sub(a) as i32).abs() / 4_294_967_296.0);
        }
        assert!(worst_exact < 3e-8, "{worst_exact}");
        assert!(worst_angle < 2e-8, "{worst_angle}");
    }

    /// The longest windows (4 800 frames) of the slowest and the quickest steps, from any angle.
    #[test]
    fn turning_against_f64() {
        let (mut worst, mut carried) = (0f64, 0f64);
        for step in [10_737_418, 13_421_773, 40_000_001, 107_374_182, 154_618_823, 1 << 28] {
            for first in (0..64).map(|k| k << 26) {
                let mut turning = Turning::new(first, step);
                for n in 0..5_000 {
                    let angle = first.wrapping_add(step.wrapping_mul(n));
                    let (sine, cosine) = (f64::from(angle) / 4_294_967_296.0 * TAU).sin_cos();
                    let kept = [turning.cosine, turning.sine].map(|x| f64::from(x) / 1_073_741_824.0);
                    let (c, s) = turning.next();
                    for ((wanted, kept), given) in [cosine, sine].into_iter().zip(kept).zip([c, s]) {
                        carried = carried.max((kept - wanted).abs());
                        let low = wanted - f64::from(given) / 65_536.0;
                        worst = worst.max(low.abs());
                    }
                }
            }
        }
        assert!(carried < 6e-6 && worst < 2.2e-5, "{carried:e} {worst:e}");
    }

    #[test]
    fn little_against_f64() {
        for k in -(1 << 14)..=(1 << 14) {
            let angle = k << 14;
            let (sine, cosine) = (f64::from(angle) / 4_294_967_296.0 * TAU).sin_cos();
            let (less, across) = little(angle);
            let [less, across] = [less, across].map(|x| f64::from(x) / 4_294_967_296.0);
            assert!((less - (1.0 - cosine)).abs() < 1e-9 && (across - sine).abs() < 1e-9, "{angle} {less} {across}");
        }
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
