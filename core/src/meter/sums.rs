//! The sums that a stretch of frames leaves behind.
//!
//! Widths, for 24-bit codes (magnitude below 2^23) over a window of at most 4 800 frames (12 cycles
//! of 40 Hz at 16 kHz, below 2^13): products 2^46 * 2^13 = 2^59; code times basis
//! 2^23 * 2^16 * 2^13 = 2^52; basis squared 2^32 * 2^13 = 2^45; codes 2^36. All fit `i64`.

use crate::settings::{CHANNELS, MAX_PAIRS};

/// Sums over frames, the first and the last of which may count by a fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Sums {
    /// How many frames, Q16.
    pub(crate) frames: u32,
    /// Samples at or beyond the converter's end.
    pub(crate) clipped: u32,
    /// Codes.
    pub(crate) code: [i64; CHANNELS],
    /// Codes times the basis' cosine, Q16.
    pub(crate) cosine: [i64; CHANNELS],
    /// Codes times the basis' sine, Q16.
    pub(crate) sine: [i64; CHANNELS],
    /// Products of codes, in the order of the wiring's pairs.
    pub(crate) product: [i64; MAX_PAIRS],
    /// Cosine squared, cosine times sine, sine squared, Q32.
    pub(crate) basis: [i64; 3],
}

impl Sums {
    pub(crate) const ZERO: Self = Self {
        frames: 0,
        clipped: 0,
        code: [0; CHANNELS],
        cosine: [0; CHANNELS],
        sine: [0; CHANNELS],
        product: [0; MAX_PAIRS],
        basis: [0; 3],
    };

    /// Adds another stretch. Wrapping: by the widths above it cannot wrap before 2^13 frames, and
    /// windows are cut before that.
    pub(crate) fn add(&mut self, other: &Self) {
        fn each<const N: usize>(a: &mut [i64; N], b: &[i64; N]) {
            for (x, y) in a.iter_mut().zip(b) {
                *x = x.wrapping_add(*y);
            }
        }
        self.frames = self.frames.saturating_add(other.frames);
        self.clipped = self.clipped.saturating_add(other.clipped);
        each(&mut self.code, &other.code);
        each(&mut self.cosine, &other.cosine);
        each(&mut self.sine, &other.sine);
        each(&mut self.product, &other.product);
        each(&mut self.basis, &other.basis);
    }
}
