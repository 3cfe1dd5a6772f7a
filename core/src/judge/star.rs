//! A star-delta starter: its pause is no stop, and before it the windings are joined in star.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Due` | `Since` | no current; in star a third of the usual limit |
//! | `Due` | `Over` | more current than a motor in star takes, for a tenth of a second, or a leap of it: the pause was not seen |
//! | `Due` | `Over` | half a minute after the run-up, with current transformers inside the delta |
//! | `Since` | `Over` | current again |
//! | `Since` | stopped | no current for half a second: it had been switched off when the current went |
//! | `Over` | stopped | no current |
//!
//! In star a motor takes a third of delta's current: below 270 % of rated where its locked-rotor current is eight times
//! rated, but for the offset of the first cycles. In delta a motor that is not nearly up to speed takes more than 350 %; one
//! that is leaps to three times star's current (a starter that does not open in between, a log too slow to show it).
//!
//! With transformers inside the delta the meter makes line currents of the windings' by what is told here ([`crate::meter::Meter::in_star`]).
//! During a pause nothing flows, so that no record mixes both. Until a change is told whose pause was not seen, the lines read a root of
//! three too low: a leap by a fifth within a half cycle is then enough, 300 % of rated current as well, and half a minute after the
//! run-up star is no longer believed. Told without cause, the lines read a root of three too high until the current is gone.

use crate::math::divide::part;
use crate::settings::JudgeCoefficients;
use crate::time::Instant;
use crate::unit::SquareAmps;

/// Half cycles in a row that must show it, longer than the first cycles' offset.
const SURE: u8 = 10;

/// The pause between star and delta.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) enum Pause {
    /// Still to come.
    Due {
        /// Half cycles in a row with more current than star's.
        high: u8,
        /// Half cycles since the onset, as far as they count, and the current of the last one.
        seen: u8,
        before: SquareAmps,
        /// When it is no longer waited for, of a motor that has run up.
        until: Instant,
    },
    /// Without current since then.
    Since(Instant),
    /// It has been, or never comes.
    Over,
}

impl Pause {
    /// As a start begins.
    pub(super) const fn new(c: &JudgeCoefficients) -> Self {
        if c.change_over.0 == 0 { Self::Over } else { Self::due() }
    }

    const fn due() -> Self {
        Self::Due { high: 0, seen: 0, before: SquareAmps(0), until: Instant(u64::MAX) }
    }

    /// As a start is over.
    pub(super) const fn ran_up(self, c: &JudgeCoefficients, now: Instant) -> Self {
        match self {
            Self::Due { high, seen, before, .. } => {
                Self::Due { high, seen, before, until: now.after(c.motor.star_longest) }
            }
            other => other,
        }
    }

    /// Takes the largest current of a half cycle from `began` to `now`; when the motor has been stopped, if it has.
    pub(super) fn update(
        &mut self,
        c: &JudgeCoefficients,
        began: Instant,
        now: Instant,
        largest: SquareAmps,
    ) -> Option<Instant> {
        let gone = largest < c.motor.gone;
        match self {
            Self::Over if gone => return Some(now),
            Self::Due { .. } if largest.0 < part(c.motor.gone.0, 9) => *self = Self::Since(began),
            Self::Due { until, .. } if now >= *until => *self = Self::Over,
            Self::Due { high, seen, before, .. } => {
                // A cycle's mean: 1 to 3 times the current is 1 to 5 times its mean square at first.
                let leaps = *seen >= SURE && part(largest.0, 3) > part(before.0, c.motor.star_leap);
                *high = if largest > c.motor.star_most { *high + 1 } else { 0 };
                (*seen, *before) = (seen.saturating_add(1), largest);
                if leaps || *high >= SURE {
                    *self = Self::Over;
                }
            }
            Self::Since(since) if gone && now.since(*since) >= c.change_over => return Some(*since),
            Self::Since(_) if !gone => *self = Self::Over,
            Self::Since(_) | Self::Over => {}
        }
        None
    }

    /// Whether there is no current just now, and that is no stop.
    pub(super) const fn pauses(&self) -> bool {
        matches!(self, Self::Since(_))
    }
}
