//! The feed's coefficients: shares at Q32, steps for one window of 0.2 s.

use crate::math::scale::Scale;
use crate::time::Span;
use crate::unit::Ratio;

/// The feed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FeedCoefficients {
    /// Wait above this load.
    pub stop: Ratio,
    /// ... held so long.
    pub stop_delay: Span,
    /// Wait when a window's mean is above this load.
    pub surge: Ratio,
    /// Go on below this load.
    pub resume: Ratio,
    /// ... held so long.
    pub resume_delay: Span,
    /// The feeder that is governed.
    pub feeder: Option<FeederCoefficients>,
}

/// A feeder. Shares of rated power, of rated current and of full speed are at Q32: 2^32 is the whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FeederCoefficients {
    /// Load to be held.
    pub target: i64,
    /// The load's 95th percentile is held below this.
    pub peak: Option<i64>,
    /// Half of the band within which nothing is changed.
    pub deadband: i64,
    /// Kc.
    pub gain: Scale,
    /// Kc h / Ti: what an error adds to the integral in a step of h = 0.2 s.
    pub integral: Scale,
    /// h / Ti: what comes back of what the output could not follow.
    pub back: Scale,
    /// h / (T + h) of the filter's time constant T.
    pub filter: Scale,
    /// Windows from the feeder to the load.
    pub delay: u16,
    /// Up and down by at most so much in a step.
    pub up: i64,
    /// See `up`.
    pub down: i64,
    /// Slowest and fastest.
    pub least: i64,
    /// See `least`.
    pub most: i64,
    /// Share of the last good speed to begin with.
    pub restart: Scale,
    /// How long the sounder sounds first.
    pub sounder: Span,
    /// Largest current over rated current.
    pub current: i64,
    /// Thermal level from which on the target falls.
    pub thermal: i64,
    /// One over what is left from there to the trip level.
    pub cooling: Scale,
    /// Load not accounted for, over that accounted for.
    pub charge: Option<Scale>,
    /// How long the load stays up after a stop before it is a jam.
    pub jam_delay: Span,
    /// How long the feeder is reversed.
    pub reverse: Span,
    /// Tries before a person is called.
    pub tries: u8,
    /// ... within this.
    pub within: Span,
    /// The search for the best target.
    pub search: Option<SearchCoefficients>,
}

/// The search. Shares of rated power at Q32.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SearchCoefficients {
    /// Lowest and highest target.
    pub lowest: i64,
    /// See `lowest`.
    pub highest: i64,
    /// The stop level: the 95th percentile of the load stays below it.
    pub ceiling: i64,
    /// Step.
    pub step: i64,
    /// Windows that a target is measured.
    pub dwell: u32,
}
