//! A first-order lag: what follows its target the slower the larger its time constant.
//!
//! ```text
//! tau dy/dt + y = x        y += (x - y) dt / tau      dt a half cycle, tau 1 ms to ten hours
//! ```

use super::log::ln_ratio;
use super::scale::Scale;
use crate::time::Span;

/// A level at Q32. A step of a half cycle, 1e-2 s over 36 000 s, is 2.8e-7 and thus more than a thousand units at a
/// level of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Lag {
    level: i64,
}

/// Levels and targets are kept below this: 4 096.
const MOST: i64 = 1 << 44;

/// The share of a distance that is gone after a span, at most all of it; `constant` is one over the time constant in frames.
pub(crate) fn share(constant: Scale, length: Span) -> Scale {
    // frames Q16 (at most 2^30) << 32, times one over the constant in frames: dt/tau at Q48
    Scale::from_q(constant.apply((length.0.min(1 << 30) as i64) << 32).min(1 << 48), 48)
}

/// The time that an exponential takes from one distance to another.
pub(crate) fn time(constant: Span, from: u64, to: u64) -> Span {
    let frames = Scale::from_q(ln_ratio(from, to), 24).apply(constant.0.min(i64::MAX as u64) as i64);
    Span(frames.max(0).unsigned_abs())
}

impl Lag {
    /// At a level, Q32.
    #[must_use]
    pub const fn new(level: i64) -> Self {
        Self { level }
    }

    /// Goes towards a target (Q32, kept to 0 to 4 096) for a span (at most 2^14 frames); `constant` is one over the
    /// time constant in frames.
    ///
    /// ```
    /// use shaftwork_core::{math::{lag::Lag, scale::Scale}, time::Span};
    /// let mut lag = Lag::new(0);
    /// let constant = Scale::from_ratio(1, 100).unwrap();
    /// for _ in 0..100 {
    ///     lag.update(1 << 32, constant, Span(1 << 16));
    /// }
    /// let level = lag.level() as f64 / 2f64.powi(32);
    /// assert!((level - (1.0 - 0.99f64.powi(100))).abs() < 1e-6);
    /// ```
    pub fn update(&mut self, target: i64, constant: Scale, length: Span) {
        let target = target.clamp(0, MOST);
        self.level += share(constant, length).apply(target - self.level);
    }

    /// The level, Q32.
    #[must_use]
    pub const fn level(self) -> i64 {
        self.level
    }
}
