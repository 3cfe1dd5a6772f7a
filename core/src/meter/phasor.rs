//! Phasors of the fundamental and their symmetrical components.
//!
//! A phasor is rms: x(t) = sqrt2 Re[X e^(j phi)], phi the basis' angle. S = V conj(I): Q > 0 lags.
//! Symmetrical components: C. L. Fortescue, "Method of symmetrical co-ordinates", AIEE 1918.

use crate::math::phase;
use crate::math::root::isqrt;
use crate::math::scale::{narrow, upper_rounded};

/// A complex rms value, in the bits of volts (Q16) or amps (Q17).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Phasor {
    pub(crate) re: i32,
    pub(crate) im: i32,
}

/// A third of a sum of a few components: at most 2^33 times 2^30/3. Off by less than 1e-9 of the sum.
const fn third(x: i64) -> i64 {
    (x * 357_913_941 + (1 << 29)) >> 30
}

/// sqrt3 / 2 at Q31.
const HALF_ROOT_THREE_Q31: i64 = 1_859_775_393;

impl Phasor {
    pub(crate) const ZERO: Self = Self { re: 0, im: 0 };

    /// The weighted sum `(w0 a + w1 b) / 3` for whole weights of magnitude at most 2.
    #[inline(never)] // in six places
    pub(crate) const fn third(a: Self, w0: i64, b: Self, w1: i64) -> Self {
        Self {
            re: narrow(third(a.re as i64 * w0 + b.re as i64 * w1)),
            im: narrow(third(a.im as i64 * w0 + b.im as i64 * w1)),
        }
    }

    /// `-(a + b)`.
    #[inline(never)] // in four places
    pub(crate) const fn minus_sum(a: Self, b: Self) -> Self {
        Self { re: narrow(-(a.re as i64) - b.re as i64), im: narrow(-(a.im as i64) - b.im as i64) }
    }

    /// The sum of three.
    pub(crate) const fn sum([a, b, c]: [Self; 3]) -> Self {
        Self {
            re: narrow(a.re as i64 + b.re as i64 + c.re as i64),
            im: narrow(a.im as i64 + b.im as i64 + c.im as i64),
        }
    }

    /// Squared magnitude; at most 2^63.
    pub(crate) const fn square(self) -> u64 {
        let (re, im) = (self.re as i64, self.im as i64);
        (re * re) as u64 + (im * im) as u64 // 2 * 2^62
    }

    /// Magnitude, rounded down.
    pub(crate) const fn magnitude(self) -> i32 {
        narrow(isqrt(self.square()) as i64)
    }

    /// Real part of `self conj(other)`: active power of V and I, at the sum of both Q-formats.
    pub(crate) const fn dot(self, other: Self) -> i64 {
        // Two products below 2^62 each: halves first would lose a bit; saturate instead.
        (self.re as i64 * other.re as i64).saturating_add(self.im as i64 * other.im as i64)
    }

    /// Imaginary part of `self conj(other)`: reactive power of V and I, lagging positive.
    pub(crate) const fn cross(self, other: Self) -> i64 {
        (self.im as i64 * other.re as i64).saturating_sub(self.re as i64 * other.im as i64)
    }

    /// How far it is turned from another one, 2^-32 turns: as far off as [`phase::angle`] is of a vector of 28 bits or more.
    pub(crate) fn angle_from(self, other: Self) -> i32 {
        let (re, im) = (self.dot(other), self.cross(other));
        // Both to 32 bits with the sign.
        let room = (re.unsigned_abs() | im.unsigned_abs()).leading_zeros().saturating_sub(1);
        let word = |x: i64| ((x << room) >> 32) as i32;
        phase::angle(word(re), word(im)) as i32
    }

    /// Turned by an angle whose cosine and sine are given at Q30.
    pub(crate) const fn turned(self, (cosine, sine): (i32, i32)) -> Self {
        let (re, im, c, s) = (self.re as i64, self.im as i64, cosine as i64, sine as i64);
        // |re c| < 2^61; the difference below 2^62.
        Self { re: narrow((re * c - im * s + (1 << 29)) >> 30), im: narrow((re * s + im * c + (1 << 29)) >> 30) }
    }
}

/// Positive and negative sequence of three phasors: each part within two steps, and 3e-10 of its phasors.
///
/// Thirds come first, so that all fits 32 bits: a sum of two is below 2^31. Only where phasors are beyond what a full scale can be
/// does it saturate.
#[inline(never)]
pub(crate) const fn sequence([a, b, c]: [Phasor; 3]) -> (Phasor, Phasor) {
    const fn third(x: i32) -> i32 {
        upper_rounded(x, 1_431_655_765) // 2^32 / 3
    }
    // a + e^(±j120) b + e^(∓j120) c = a - (b + c)/2 ± j sqrt3/2 (b - c)
    const fn parts(a: i32, b: i32, c: i32) -> (i32, i32) {
        let (a, b, c) = (third(a), third(b), third(c));
        (a - ((b + c) >> 1), (((b - c) as i64 * HALF_ROOT_THREE_Q31) >> 31) as i32)
    }
    let ((mid_re, turn_re), (mid_im, turn_im)) = (parts(a.re, b.re, c.re), parts(a.im, b.im, c.im));
    (
        Phasor { re: mid_re.saturating_sub(turn_im), im: mid_im.saturating_add(turn_re) },
        Phasor { re: mid_re.saturating_add(turn_im), im: mid_im.saturating_sub(turn_re) },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn polar(magnitude: f64, degrees: f64) -> Phasor {
        let (s, c) = degrees.to_radians().sin_cos();
        Phasor { re: (magnitude * c * 131_072.0).round() as i32, im: (magnitude * s * 131_072.0).round() as i32 }
    }

    fn magnitude(p: Phasor) -> f64 {
        f64::from(p.magnitude()) / 131_072.0
    }

    /// Gönen, Electric Power Transmission System Engineering, 2nd ed., example 9.1: the book's
    /// V1 = 3.97 and V2 = 2.52; more digits by plain arithmetic.
    #[test]
    fn textbook_components() {
        let (p, n) = sequence([polar(7.3, 12.5), polar(0.4, -100.0), polar(4.4, 154.0)]);
        assert!((magnitude(p) - 3.969_124).abs() < 1e-4 && (magnitude(n) - 2.523_542).abs() < 1e-4);
    }

    /// Two lines in a loop: both sequences are I / sqrt3 (plain arithmetic).
    #[test]
    fn single_phasing_is_all_unbalance() {
        let (p, n) = sequence([polar(10.0, 0.0), polar(-10.0, 0.0), Phasor::ZERO]);
        assert!((magnitude(p) - 5.773_503).abs() < 1e-4 && (magnitude(n) - 5.773_503).abs() < 1e-4);
    }

    #[test]
    fn extremes_do_not_overflow() {
        let ends = [i32::MIN, -i32::MAX, 0, i32::MAX];
        for re in ends {
            for im in ends {
                let p = Phasor { re, im };
                let _ = (p.square(), p.magnitude(), p.dot(p), p.cross(p), p.turned((1 << 30, 1 << 30)));
                let _ = (sequence([p, p, p]), Phasor::third(p, 2, p, -2), Phasor::minus_sum(p, p));
            }
        }
    }
}
