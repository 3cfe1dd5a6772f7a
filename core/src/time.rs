//! Time is the count of frames: the core has no clock.
//!
//! An instant and a span count frames with 16 fraction bits, because half cycles and windows are cut
//! at fractions of a frame. 2^48 frames are 557 years at 16 kHz.

use crate::math::divide::over;
use crate::math::scale::Scale;

/// A point in time: frames since the first, Q16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Instant(pub u64);

/// A length of time in frames, Q16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Span(pub u64);

#[cfg(feature = "defmt")]
impl defmt::Format for Instant {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "frame {=u64}", self.0 >> 16);
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Span {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "{=u64} frames", self.0 >> 16);
    }
}

impl Instant {
    /// The moment `span` later, saturating.
    #[must_use]
    pub const fn after(self, span: Span) -> Self {
        Self(self.0.saturating_add(span.0))
    }

    /// The moment `span` earlier, not before the first frame.
    #[must_use]
    pub const fn before(self, span: Span) -> Self {
        Self(self.0.saturating_sub(span.0))
    }

    /// The time since an earlier moment; nothing when `earlier` is later.
    ///
    /// ```
    /// use shaftwork_core::time::{Instant, Span};
    /// assert_eq!(Instant(5 << 16).since(Instant(3 << 16)), Span(2 << 16));
    /// ```
    #[must_use]
    pub const fn since(self, earlier: Self) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }
}

impl Span {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// A span of `ms` milliseconds at a rate in millihertz, rounded to 2^-16 frame; `None` when the
    /// rate is zero.
    ///
    /// ```
    /// use shaftwork_core::time::Span;
    /// assert_eq!(Span::from_millis(500, 4_000_000), Some(Span(2_000 << 16)));
    /// ```
    #[must_use]
    #[inline(never)] // of settings only
    pub fn from_millis(ms: u32, rate_mhz: u32) -> Option<Self> {
        // ms * rate / 10^6 frames; 32 + 32 + 16 bits in the numerator, so u128.
        let num = (u128::from(ms) * u128::from(rate_mhz)) << 16;
        if rate_mhz == 0 { None } else { Some(Self(over(num + 500_000, 1_000_000) as u64)) }
    }

    /// Both together, saturating.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// What is left without another; no time where that is longer.
    #[must_use]
    pub const fn less(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }

    /// A share (Q24, zero to one) of a span of at most 2^22 frames: 38 + 25 bits.
    pub(crate) const fn part(self, share: i64) -> Self {
        let span = if self.0 < 1 << 38 { self.0 } else { (1 << 38) - 1 };
        Self((span * share.unsigned_abs()) >> 24)
    }

    /// Energy of a steady power over this span. `seconds_per_frame` is one over the rate.
    ///
    /// Width: a span of up to 2^14 frames (Q16: 30 bits) times |power| below 2^15 MW is brought
    /// below 63 bits by dropping 12 bits of the power first when it is large; error below 1e-6.
    #[must_use]
    pub(crate) const fn energy(self, power: crate::unit::Watts, seconds_per_frame: Scale) -> crate::unit::Joules {
        let frames = if self.0 > (1 << 30) - 1 { (1 << 30) - 1 } else { self.0 as i64 };
        let bits = power.to_bits();
        // Power Q16 * frames Q16 = Q32 watt frames; the result wants Q20.
        let product =
            if bits.unsigned_abs() < 1 << 33 { (bits * frames) >> 12 } else { (bits >> 12).saturating_mul(frames) };
        crate::unit::Joules::from_bits(seconds_per_frame.apply(product))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::unit::{Joules, Watts};

    #[test]
    fn energy_of_a_kilowatt_for_an_hour_in_half_cycles() {
        // 1 kW for 1 h is 3.6 MJ (SI brochure). 360 000 half cycles of 40 frames at 4 kHz.
        let per_frame = Scale::from_ratio(1, 4000).unwrap();
        let half = Span(40 << 16).energy(Watts::from_bits(1000 << 16), per_frame);
        assert_eq!(half, Joules::from_bits(10 << 20));
        // A power above the split loses at most 2^-21 of itself.
        let big = Span(40 << 16).energy(Watts::from_bits(1_000_000_007 << 16), per_frame);
        let exact = 10_000_000.07 * 1_048_576.0; // joules at Q20
        assert!((big.to_bits() as f64 / exact - 1.0).abs() < 1e-6);
    }
}
