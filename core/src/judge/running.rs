//! Starts seen and timed; whether the motor stands, starts, runs or coasts.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Fresh` | `Off` | the first half cycle: no current |
//! | `Fresh` | `Running` | current at running level (below 250 % of rated, or slip below 5 %) |
//! | `Fresh`, `Off` | `Starting` | one-cycle rms of a phase above 20 % of rated |
//! | `Starting` | `Running` | slip below 5 % in three half cycles running; time and energy count from the first of them |
//! | `Starting`, `Running` | `Off` | all phases below 10 % of rated |

use super::shaft::Shaft;
use crate::settings::JudgeCoefficients;
use crate::time::Instant;
use crate::unit::SquareAmps;

/// Half cycles in a row that must show it.
const SURE: u8 = 3;

/// What the motor does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Motor {
    /// Nothing seen yet, or nothing since a gap; the rotor may turn until then.
    Fresh { turns_until: Option<Instant> },
    /// No current; the rotor may turn until then, where it ever turned.
    Off { turns_until: Option<Instant> },
    /// Running up.
    Starting {
        onset: Instant,
        peak: SquareAmps,
        /// Half cycles in a row at running speed, and the middle of the first one's cycle.
        fast: u8,
        since: Instant,
    },
    /// At speed.
    Running,
}

/// What changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    Started { onset: Instant },
    RanUp { at: Instant, onset: Instant, peak: SquareAmps },
    Stopped,
}

impl Motor {
    /// Takes a half cycle that began at `began` and ended at `now`.
    pub(super) fn update(
        &mut self,
        c: &JudgeCoefficients,
        began: Instant,
        now: Instant,
        largest: SquareAmps,
        shaft: &Shaft,
    ) -> Option<Change> {
        let m = &c.motor;
        let fast = shaft.at_speed();
        match self {
            Self::Fresh { .. } if largest > m.onset && (fast || largest < m.run_level) => {
                *self = Self::Running;
                None
            }
            Self::Fresh { .. } | Self::Off { .. } if largest > m.onset => {
                *self = Self::Starting { onset: began, peak: largest, fast: 0, since: began };
                Some(Change::Started { onset: began })
            }
            Self::Fresh { turns_until } => {
                *self = Self::Off { turns_until: *turns_until };
                None
            }
            Self::Off { turns_until } => {
                if turns_until.is_some_and(|until| now >= until) {
                    *turns_until = None;
                }
                None
            }
            Self::Starting { .. } | Self::Running if largest < m.gone => {
                *self = Self::Off { turns_until: Some(now.after(c.coast_down)) };
                Some(Change::Stopped)
            }
            Self::Starting { onset, peak, fast: count, since } => {
                *peak = (*peak).max(largest);
                if !fast {
                    *count = 0;
                    return None;
                }
                if *count == 0 {
                    *since = began; // the middle of the cycle that ends now
                }
                *count += 1;
                if *count < SURE {
                    return None;
                }
                let change = Change::RanUp { at: *since, onset: *onset, peak: *peak };
                *self = Self::Running;
                Some(change)
            }
            Self::Running => None,
        }
    }

    /// Samples are missing from `at` to `until`: what was turning may still turn.
    pub(super) fn gap(&mut self, c: &JudgeCoefficients, until: Instant) {
        let turns_until = match *self {
            Self::Fresh { turns_until } | Self::Off { turns_until } => turns_until,
            Self::Starting { .. } | Self::Running => Some(until.after(c.coast_down)),
        };
        *self = Self::Fresh { turns_until };
    }

    /// Onset of the start under way; none once it shows running speed, though that is not sure yet.
    pub(super) const fn onset(&self) -> Option<Instant> {
        if let Self::Starting { onset, fast: 0, .. } = self { Some(*onset) } else { None }
    }

    /// Whether running speed shows, though that is not sure yet.
    pub(super) const fn doubtful(&self) -> bool {
        matches!(self, Self::Starting { fast: 1.., .. })
    }

    /// Whether current flows.
    pub(super) const fn flows(&self) -> bool {
        matches!(self, Self::Starting { .. } | Self::Running)
    }
}
