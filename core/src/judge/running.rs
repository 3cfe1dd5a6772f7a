//! Starts seen and timed; whether the motor stands, starts, runs or coasts.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Fresh` | `Off` | the first half cycle: no current |
//! | `Fresh` | `Running` | current at running level (below 250 % of rated, or slip below 5 %) |
//! | `Fresh`, `Off` | `Starting` | one-cycle rms of a phase above 20 % of rated |
//! | `Starting` | `Running` | slip below 5 % in three half cycles running; time and energy count from when it fell below |
//! | `Starting`, `Running` | `Off` | all phases below 10 % of rated; but see [`super::star`] |

use super::shaft::{ONE, RUN_UP, Shaft};
use super::slip::Begun;
use super::star::Pause;
use crate::math::divide::signed;
use crate::settings::JudgeCoefficients;
use crate::time::{Instant, Span};
use crate::unit::SquareAmps;

/// Half cycles in a row that must show it.
const SURE: u8 = 3;

/// What the motor does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) enum Motor {
    /// Nothing seen yet, or nothing since a gap; the rotor may turn until then.
    Fresh {
        turns_until: Option<Instant>,
        /// Whether it was starting before the gap.
        again: bool,
    },
    /// No current; the rotor may turn until then, where it ever turned.
    Off { turns_until: Option<Instant> },
    /// Running up.
    Starting {
        onset: Instant,
        /// Whether it stood before.
        rest: bool,
        peak: SquareAmps,
        /// Half cycles in a row at running speed.
        fast: u8,
        /// When running speed was reached, and which share (Q24) of the half cycle around that moment came after it.
        since: Instant,
        share: i64,
        /// Slip in the middle of the last cycle, Q24.
        slip: i64,
        pause: Pause,
    },
    /// At speed.
    Running { pause: Pause },
}

/// What changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    Started { onset: Instant, again: bool },
    RanUp { at: Instant, onset: Instant, peak: SquareAmps },
    Stopped { at: Instant },
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
        // A motor that runs in star takes less than in a start.
        let fast = shaft.at_speed() && !(self.in_star() && largest > m.run_level);
        if let Self::Starting { pause, .. } | Self::Running { pause } = self
            && let Some(at) = pause.update(c, began, now, largest)
        {
            *self = Self::Off { turns_until: Some(at.after(c.coast_down)) };
            return Some(Change::Stopped { at });
        }
        if self.pauses() {
            return None;
        }
        match self {
            Self::Fresh { .. } if largest > m.onset && (fast || largest < m.run_level) => {
                *self = Self::Running { pause: Pause::Over };
                None
            }
            Self::Fresh { .. } | Self::Off { .. } if largest > m.onset => {
                let rest = self.begun() == Begun::AtRest;
                let again = matches!(self, Self::Fresh { again: true, .. });
                *self = Self::Starting {
                    onset: began,
                    rest,
                    peak: largest,
                    fast: 0,
                    since: began,
                    share: 0,
                    slip: shaft.slip,
                    pause: Pause::new(c),
                };
                Some(Change::Started { onset: began, again })
            }
            Self::Fresh { turns_until, .. } => {
                *self = Self::Off { turns_until: *turns_until };
                None
            }
            Self::Off { turns_until } => {
                if turns_until.is_some_and(|until| now >= until) {
                    *turns_until = None;
                }
                None
            }
            Self::Starting { onset, rest: _, peak, fast: count, since, share, slip, pause } => {
                *peak = (*peak).max(largest);
                let before = core::mem::replace(slip, shaft.slip);
                if !fast {
                    *count = 0;
                    return None;
                }
                if *count == 0 {
                    // Slips are those of the middles of cycles: of the last half cycle's beginning and end. 24 + 26 bits.
                    *share = signed((RUN_UP - shaft.slip) << 24, before - shaft.slip).unwrap_or(0).clamp(0, ONE);
                    *since = began.before(now.since(began).part(*share));
                }
                *count += 1;
                if *count < SURE {
                    return None;
                }
                let change = Change::RanUp { at: *since, onset: *onset, peak: *peak };
                *self = Self::Running { pause: pause.ran_up(c, now) };
                Some(change)
            }
            Self::Running { .. } => None,
        }
    }

    /// What a zero-speed input tells without current: the rotor stands, or turns though its time is over.
    pub(super) fn proven(&mut self, c: &JudgeCoefficients, now: Instant, stands: Option<bool>) {
        let (Self::Off { turns_until } | Self::Fresh { turns_until, .. }, Some(stands)) = (self, stands) else {
            return;
        };
        *turns_until = match *turns_until {
            _ if stands => None,
            None => Some(now.after(c.coast_down)),
            until => until.map(|until| until.max(now.after(Span(1)))),
        };
    }

    /// Samples are missing from `at` to `until`: what was turning may still turn.
    pub(super) fn gap(&mut self, c: &JudgeCoefficients, until: Instant) {
        let turns_until = match *self {
            Self::Fresh { turns_until, .. } | Self::Off { turns_until } => turns_until,
            Self::Starting { .. } | Self::Running { .. } => Some(until.after(c.coast_down)),
        };
        let again = matches!(self, Self::Starting { .. } | Self::Fresh { again: true, .. });
        *self = Self::Fresh { turns_until, again };
    }

    /// Onset of the start under way; none once it shows running speed, though that is not sure yet.
    pub(super) const fn onset(&self) -> Option<Instant> {
        if let Self::Starting { onset, fast: 0, .. } = self { Some(*onset) } else { None }
    }

    /// Whether running speed shows, though that is not sure yet.
    pub(super) const fn doubtful(&self) -> bool {
        matches!(self, Self::Starting { fast: 1.., .. })
    }

    /// The share (Q24) of the half cycle before the first doubtful one that came after running speed was reached.
    pub(super) const fn share(&self) -> Option<i64> {
        if let Self::Starting { fast: 1, share, .. } = self { Some(*share) } else { None }
    }

    /// How it came to turn.
    pub(super) const fn begun(&self) -> Begun {
        match self {
            Self::Off { turns_until: None } => Begun::AtRest,
            Self::Starting { rest: true, .. } => Begun::FromRest,
            _ => Begun::Otherwise,
        }
    }

    /// Whether the windings are taken to be joined in star: in a star-delta start, until the change is seen or it has run up. (A
    /// motor that runs on in star is then taken for one in delta: its slip is told a third of the true one.)
    pub(super) const fn in_star(&self) -> bool {
        matches!(self, Self::Starting { pause: Pause::Due { .. }, .. })
    }

    /// Whether the windings are in star, which a motor that has run up may be as well, or will be when current comes.
    pub(super) const fn joined_in_star(&self, c: &JudgeCoefficients) -> bool {
        match self {
            Self::Fresh { .. } => false,
            Self::Off { .. } => c.change_over.0 != 0,
            Self::Starting { pause, .. } | Self::Running { pause } => matches!(pause, Pause::Due { .. }),
        }
    }

    /// Whether the starter pauses between star and delta.
    pub(super) const fn pauses(&self) -> bool {
        matches!(self, Self::Starting { pause, .. } | Self::Running { pause } if pause.pauses())
    }

    /// Whether current flows.
    pub(super) const fn flows(&self) -> bool {
        matches!(self, Self::Starting { pause, .. } | Self::Running { pause } if !pause.pauses())
    }
}
