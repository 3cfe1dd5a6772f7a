//! Phasors: rms values as vectors, in 1/64 of a millivolt or of a milliampere.

use shaftwork_core::math::phase::cos_sin;

/// Steps of a vector in a milliunit.
pub(crate) const STEPS: i64 = 64;
/// A third of a turn, a binary angle.
const THIRD: u32 = 0x5555_5555;
/// No component is longer: 33 kV, 33 kA. Times a cosine at Q30 it has 61 bits.
const MOST: i64 = 1 << 31;

/// A phasor, rms, 1/64 mV or 1/64 mA a step; the real axis is phase A's voltage. Components saturate at 2^31.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Vector {
    /// Along the real axis.
    pub re: i64,
    /// A quarter turn ahead of it.
    pub im: i64,
}

impl Vector {
    /// Nothing.
    pub const ZERO: Self = Self { re: 0, im: 0 };

    /// So many millivolts or milliamperes, this far ahead of the real axis (2^32 is a turn). Error below a step and 3e-8.
    ///
    /// ```
    /// use shaftwork_commission::Vector;
    /// assert_eq!(Vector::milli(1_000, 0).re, 64_000);
    /// ```
    #[must_use]
    pub fn milli(milli: u32, angle: u32) -> Self {
        Self { re: i64::from(milli) * STEPS, im: 0 }.turned(angle)
    }

    /// Turned ahead by a binary angle.
    #[must_use]
    pub fn turned(self, angle: u32) -> Self {
        let (Self { re, im }, (c, s)) = (self.clamped(), cos_sin(angle));
        let (c, s) = (i64::from(c), i64::from(s));
        // 31 + 30 bits, and one for the sum.
        let down = |x: i64| (x + (1 << 29)) >> 30;
        Self { re: down(re * c - im * s), im: down(re * s + im * c) }
    }

    /// So many parts per million of it.
    #[must_use]
    pub fn ppm(self, ppm: u32) -> Self {
        // 31 + 32 bits.
        let part = |x: i64| (x * i64::from(ppm.min(1 << 30))) / 1_000_000;
        let Self { re, im } = self.clamped();
        Self { re: part(re), im: part(im) }.clamped()
    }

    /// Both together.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self { re: self.re.saturating_add(other.re), im: self.im.saturating_add(other.im) }.clamped()
    }

    /// What is left without the other.
    #[must_use]
    pub fn less(self, other: Self) -> Self {
        Self { re: self.re.saturating_sub(other.re), im: self.im.saturating_sub(other.im) }.clamped()
    }

    /// A third of it.
    #[must_use]
    pub fn third(self) -> Self {
        Self { re: self.re / 3, im: self.im / 3 }
    }

    /// Its length.
    #[must_use]
    pub fn length(self) -> i64 {
        let Self { re, im } = self.clamped();
        let square = |x: i64| x.unsigned_abs() * x.unsigned_abs(); // 62 bits
        i64::from(shaftwork_core::math::root::isqrt(square(re) + square(im)))
    }

    fn clamped(self) -> Self {
        Self { re: self.re.clamp(-MOST, MOST), im: self.im.clamp(-MOST, MOST) }
    }
}

/// Three phases of a positive, a negative and a zero sequence (C. L. Fortescue, 1918: symmetrical components).
#[must_use]
pub fn phases(positive: Vector, negative: Vector, zero: Vector) -> [Vector; 3] {
    let back = THIRD.wrapping_neg();
    [
        positive.plus(negative).plus(zero),
        positive.turned(back).plus(negative.turned(THIRD)).plus(zero),
        positive.turned(THIRD).plus(negative.turned(back)).plus(zero),
    ]
}
