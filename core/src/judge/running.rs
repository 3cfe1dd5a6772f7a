//! Starts seen and timed; whether the motor stands, starts, runs or coasts.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Fresh` | `Off` | the first half cycle: no current |
//! | `Fresh` | `Running` | current at running level (below 250 % of rated, or slip below 5 %) |
//! | `Fresh`, `Off` | `Starting` | one-cycle rms of a phase above 20 % of rated |
//! | `Starting` | `Running` | slip below 5 % in three half cycles running; time and energy count from when it fell below |
//! | `Starting`, `Running` | `Off` | all phases below 10 % of rated; the first time after a star-delta start only for half a second |

use super::shaft::{ONE, RUN_UP, Shaft};
use super::slip::Begun;
use crate::settings::JudgeCoefficients;
use crate::time::{Instant, Span};
use crate::unit::SquareAmps;

/// Half cycles in a row that must show it.
const SURE: u8 = 3;

/// The pause of a star-delta starter between star and delta, which is no stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pause {
    /// Still to come.
    Due,
    /// Without current since then.
    Since(Instant),
    /// It has been, or never comes.
    Over,
}

impl Pause {
    /// Takes whether there is current in a half cycle from `began` to `now`; whether the motor has been stopped, and when.
    fn update(&mut self, most: Span, began: Instant, now: Instant, gone: bool) -> Option<Instant> {
        match *self {
            Self::Over if gone => return Some(now),
            Self::Due if gone => *self = Self::Since(began),
            Self::Since(since) if gone && now.since(since) >= most => return Some(since),
            Self::Since(_) if !gone => *self = Self::Over,
            _ => {}
        }
        None
    }
}

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
    Started { onset: Instant },
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
        let fast = shaft.at_speed();
        if let Self::Starting { pause, .. } | Self::Running { pause } = self
            && let Some(at) = pause.update(c.change_over, began, now, largest < m.gone)
        {
            *self = Self::Off { turns_until: Some(at.after(c.coast_down)) };
            return Some(Change::Stopped { at });
        }
        match self {
            Self::Fresh { .. } if largest > m.onset && (fast || largest < m.run_level) => {
                *self = Self::Running { pause: Pause::Over };
                None
            }
            Self::Fresh { .. } | Self::Off { .. } if largest > m.onset => {
                let rest = self.begun() == Begun::AtRest;
                let pause = if c.change_over == Span::ZERO { Pause::Over } else { Pause::Due };
                *self = Self::Starting {
                    onset: began,
                    rest,
                    peak: largest,
                    fast: 0,
                    since: began,
                    share: 0,
                    slip: shaft.slip,
                    pause,
                };
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
            Self::Starting { onset, rest: _, peak, fast: count, since, share, slip, pause } => {
                *peak = (*peak).max(largest);
                let before = core::mem::replace(slip, shaft.slip);
                if !fast {
                    *count = 0;
                    return None;
                }
                if *count == 0 {
                    // Slips are those of the middles of cycles: of the last half cycle's beginning and end. 24 + 26 bits.
                    *share = ((RUN_UP - shaft.slip) << 24).checked_div(before - shaft.slip).unwrap_or(0).clamp(0, ONE);
                    *since = began.before(now.since(began).part(*share));
                }
                *count += 1;
                if *count < SURE {
                    return None;
                }
                let change = Change::RanUp { at: *since, onset: *onset, peak: *peak };
                *self = Self::Running { pause: *pause };
                Some(change)
            }
            Self::Running { .. } => None,
        }
    }

    /// Samples are missing from `at` to `until`: what was turning may still turn.
    pub(super) fn gap(&mut self, c: &JudgeCoefficients, until: Instant) {
        let turns_until = match *self {
            Self::Fresh { turns_until } | Self::Off { turns_until } => turns_until,
            Self::Starting { .. } | Self::Running { .. } => Some(until.after(c.coast_down)),
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

    /// Whether the windings are joined in star: before a star-delta starter has changed over.
    pub(super) const fn in_star(&self) -> bool {
        matches!(self, Self::Starting { pause: Pause::Due, .. } | Self::Running { pause: Pause::Due })
    }

    /// Whether the starter pauses between star and delta.
    pub(super) const fn pauses(&self) -> bool {
        matches!(self, Self::Starting { pause: Pause::Since(_), .. } | Self::Running { pause: Pause::Since(_) })
    }

    /// Whether current flows.
    pub(super) const fn flows(&self) -> bool {
        matches!(self, Self::Starting { pause, .. } | Self::Running { pause } if !matches!(pause, Pause::Since(_)))
    }
}
