//! Sums over frames, as running totals: a stretch's own are the difference of the totals at its ends.
//!
//! So a half cycle, the cycle that ends with it and the window need no sums of their own to be added up or cleared, and what
//! one stretch gets of a frame that is cut the next one lacks, to the last bit.
//!
//! Widths. The totals wrap: modulo 2^64 a difference is right as long as it fits itself. For 24-bit codes (magnitude below 2^23)
//! over a window of at most 4 800 frames (12 cycles of 40 Hz at 16 kHz, below 2^13): products 2^46 * 2^13 = 2^59; code times basis
//! 2^23 * 2^16 * 2^13 = 2^52; basis squared 2^32 * 2^13 = 2^45; codes 2^36. All fit `i64`; frames at Q16, 2^29, fit `u32`.

use super::pairs::Slot;
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

/// Totals of all frames up to a moment, which may lie within a frame.
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
}

/// A stretch of frames, by the totals at its end and at its beginning: what is asked for is taken off when it is, for that costs
/// less than keeping the difference.
#[derive(Clone, Copy)]
pub(crate) struct Stretch<'a> {
    pub(crate) end: &'a Sums,
    pub(crate) begin: &'a Sums,
}

impl Stretch<'_> {
    /// How many frames, Q16.
    pub(crate) const fn frames(self) -> u32 {
        self.end.frames.wrapping_sub(self.begin.frames)
    }

    pub(crate) const fn clipped(self) -> u32 {
        self.end.clipped.wrapping_sub(self.begin.clipped)
    }

    pub(crate) const fn channel(self, slot: Slot) -> Channel {
        let (end, begin) = (&self.end.channel[slot as usize], &self.begin.channel[slot as usize]);
        Channel {
            square: end.square.wrapping_sub(begin.square),
            cosine: end.cosine.wrapping_sub(begin.cosine),
            sine: end.sine.wrapping_sub(begin.sine),
            code: end.code.wrapping_sub(begin.code),
        }
    }

    /// The sum of a channel's codes.
    pub(crate) const fn code(self, slot: Slot) -> i64 {
        self.end.channel[slot as usize].code.wrapping_sub(self.begin.channel[slot as usize].code)
    }

    pub(crate) fn cross(self, place: usize) -> Option<i64> {
        Some(self.end.cross.get(place)?.wrapping_sub(*self.begin.cross.get(place)?))
    }

    pub(crate) fn basis(self) -> [i64; 3] {
        let ([a, b, c], [d, e, f]) = (self.end.basis, self.begin.basis);
        [a.wrapping_sub(d), b.wrapping_sub(e), c.wrapping_sub(f)]
    }
}
