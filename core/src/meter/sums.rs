//! The sums that a stretch of frames leaves behind.
//!
//! Widths, for 24-bit codes (magnitude below 2^23) over a window of at most 4 800 frames (12 cycles
//! of 40 Hz at 16 kHz, below 2^13): products 2^46 * 2^13 = 2^59; code times basis
//! 2^23 * 2^16 * 2^13 = 2^52; basis squared 2^32 * 2^13 = 2^45; codes 2^36. All fit `i64`.

use crate::settings::{CHANNELS, MAX_CROSS};

/// A channel's sums over frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Channel {
    /// Codes squared.
    pub(crate) square: i64,
    /// Codes times the basis' cosine, Q16.
    pub(crate) cosine: i64,
    /// Codes times the basis' sine, Q16.
    pub(crate) sine: i64,
    /// Codes.
    pub(crate) code: i64,
}

/// Sums over frames, the first and the last of which may count by a fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Sums {
    /// How many frames, Q16.
    pub(crate) frames: u32,
    /// Samples at or beyond the converter's end.
    pub(crate) clipped: u32,
    /// Each channel's own.
    pub(crate) channel: [Channel; CHANNELS],
    /// Products of two channels' codes, in the order of the wiring's pairs.
    pub(crate) cross: [i64; MAX_CROSS],
    /// Cosine squared, cosine times sine, sine squared, Q32.
    pub(crate) basis: [i64; 3],
}

impl Sums {
    pub(crate) const ZERO: Self = Self {
        frames: 0,
        clipped: 0,
        channel: [Channel { square: 0, cosine: 0, sine: 0, code: 0 }; CHANNELS],
        cross: [0; MAX_CROSS],
        basis: [0; 3],
    };

    /// Adds another stretch. Wrapping: by the widths above it cannot wrap before 2^13 frames, and windows are cut before that.
    pub(crate) fn add(&mut self, other: &Self) {
        self.frames = self.frames.saturating_add(other.frames);
        self.clipped = self.clipped.saturating_add(other.clipped);
        for (to, from) in self.channel.iter_mut().zip(&other.channel) {
            *to = to.plus(from);
        }
        for (to, from) in self.cross.iter_mut().zip(&other.cross).chain(self.basis.iter_mut().zip(&other.basis)) {
            *to = to.wrapping_add(*from);
        }
    }
}

impl Channel {
    fn plus(&self, other: &Self) -> Self {
        Self {
            square: self.square.wrapping_add(other.square),
            cosine: self.cosine.wrapping_add(other.cosine),
            sine: self.sine.wrapping_add(other.sine),
            code: self.code.wrapping_add(other.code),
        }
    }
}

/// Two stretches as one: what is asked for is added when it is, for that costs less than keeping their sum.
#[derive(Clone, Copy)]
pub(crate) struct Both<'a>(pub(crate) &'a Sums, pub(crate) &'a Sums);

impl<'a> Both<'a> {
    /// One stretch by itself.
    pub(crate) const fn one(sums: &'a Sums) -> Self {
        Self(sums, &Sums::ZERO)
    }

    pub(crate) const fn frames(self) -> u32 {
        self.0.frames.saturating_add(self.1.frames)
    }

    pub(crate) const fn clipped(self) -> u32 {
        self.0.clipped.saturating_add(self.1.clipped)
    }

    pub(crate) fn channel(self, k: usize) -> Option<Channel> {
        Some(self.0.channel.get(k)?.plus(self.1.channel.get(k)?))
    }

    pub(crate) fn cross(self, place: usize) -> Option<i64> {
        Some(self.0.cross.get(place)?.wrapping_add(*self.1.cross.get(place)?))
    }

    pub(crate) fn basis(self) -> [i64; 3] {
        let ([a, b, c], [d, e, f]) = (self.0.basis, self.1.basis);
        [a.wrapping_add(d), b.wrapping_add(e), c.wrapping_add(f)]
    }
}
