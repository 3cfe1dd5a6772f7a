//! When a start is refused, and when a reset is.
//!
//! ```text
//! refused      by                                                     start   reset
//! Remote       not asked for by a person at the mill                            x
//! Trip         a trip is latched                                        x
//! Running      the motor takes current                                  x       x
//! MayTurn      the rotor may turn: not proven, not timed out            x       x
//! Rest         the rest after the last stop is not over                 x       x
//! Hot          the thermal image leaves no room for a start             x       x (its reset level)
//! Starts       as many starts in the last hour as are allowed           x
//! ```
//!
//! The first that holds is told, in this order. **Nothing here starts anything**: a board opens a contact in the start button's
//! line while a start is refused, the contactor seals itself in, and what opened it does not close it, be it after a trip, a
//! reset or a power cut. Nor is a start that is not refused a permit to open the mill: lock out first.
//!
//! Standstill is timed from the last current ([`crate::settings::Mill::coast_down_ms`]), unless a zero-speed input tells
//! it. The heat that a start leaves is learnt from the last one: the image must have room for as much again, and a tenth.

use super::running::Motor;
use crate::settings::RestartCoefficients;
use crate::time::{Instant, Span};

/// Why a start, or a reset, is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Hindrance {
    /// It was not asked for by a person at the mill.
    Remote,
    /// A trip is latched.
    Trip,
    /// The motor takes current.
    Running,
    /// The rotor may turn: standstill is neither proven nor timed out.
    MayTurn,
    /// The rest after the last stop is not over.
    Rest,
    /// The thermal image leaves no room for a start, or is above its reset level.
    Hot,
    /// As many starts in the last hour as are allowed.
    Starts,
}

/// The memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Restart {
    /// When the current went, where it was seen.
    stopped: Option<Instant>,
    /// Thermal level at the last onset, and what a start adds to it, Q32.
    onset: i64,
    heat: i64,
}

impl Restart {
    /// After a power cut: the rest begins anew, a start's heat (Q32) is as it was.
    pub(super) const fn resumed(now: Instant, heat: i64) -> Self {
        Self { stopped: Some(now), onset: 0, heat }
    }

    /// What a start adds to the thermal level, and a tenth, Q32.
    pub(super) const fn heat(&self) -> i64 {
        self.heat
    }

    /// The current has gone.
    pub(super) const fn stopped(&mut self, at: Instant) {
        self.stopped = Some(at);
    }

    /// The current has come, at this thermal level (Q32).
    pub(super) const fn started(&mut self, level: i64) {
        self.onset = level;
    }

    /// The motor has run up, at this thermal level (Q32): the start's heat is known, and a tenth more.
    pub(super) const fn ran_up(&mut self, level: i64) {
        let rise = level.saturating_sub(self.onset);
        self.heat = if rise > 0 { rise.saturating_add(rise / 10) } else { 0 };
    }

    /// How long the rest still takes.
    pub(super) fn rest(&self, c: &RestartCoefficients, now: Instant) -> Span {
        self.stopped.map_or(Span::ZERO, |at| c.rest.less(now.since(at)))
    }

    /// The thermal level (Q32) above which a start is refused.
    pub(super) fn hot(&self, c: &RestartCoefficients) -> i64 {
        c.reset_level.min((1i64 << 32).saturating_sub(self.heat)).max(0)
    }

    /// What both a start and a reset are refused for, but for heat.
    pub(super) fn stands(&self, c: &RestartCoefficients, now: Instant, motor: &Motor) -> Result<(), Hindrance> {
        match motor {
            Motor::Starting { .. } | Motor::Running { .. } => Err(Hindrance::Running),
            Motor::Fresh { .. } | Motor::Off { turns_until: Some(_) } => Err(Hindrance::MayTurn),
            Motor::Off { turns_until: None } if self.rest(c, now) > Span::ZERO => Err(Hindrance::Rest),
            Motor::Off { turns_until: None } => Ok(()),
        }
    }
}
