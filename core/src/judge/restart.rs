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
//! Rotor        the rotor's bars leave no room for a start's heat        x
//! Starts       as many starts in the last hour as are allowed           x       x (if that tripped)
//! ```
//!
//! The first that holds is told, in this order. **Nothing here starts anything**: a board opens a contact in the start button's
//! line while a start is refused, the contactor seals itself in, and what opened it does not close it, be it after a trip, a
//! reset or a power cut. Nor is a start that is not refused a permit to open the mill: lock out first.
//!
//! Standstill is timed from the last current, and from the first half cycle after power-up, of which nobody knows what was before
//! ([`crate::settings::Mill::coast_down_ms`]), unless a zero-speed input tells it; a tachometer above a hundredth of synchronous speed
//! tells that it turns, one at nought may be dead. Without a current transformer that works nobody sees current: three dead ones look
//! like a motor at rest.
//!
//! The heat that a start leaves is learnt from the last one: the image must have room for as much again, and a tenth; below a
//! twentieth of the trip level it counts as cold, whatever a start has left.

use super::event::{Cause, EventKind};
use super::memory::Memory;
use super::queue::Queue;
use super::running::Motor;
use crate::math::divide::by;
use crate::settings::{JudgeCoefficients, RestartCoefficients};
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
    /// The rotor's bars leave no room for the heat of a start.
    Rotor,
    /// As many starts in the last hour as are allowed; of a reset, that this is what tripped.
    Starts,
}

/// Below this level the image counts as cold, Q32: a twentieth of the trip level.
const COLD: i64 = (1 << 32) / 20;

/// The memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Restart {
    /// From when on the rotor would stand if it turned when power came.
    known: Instant,
    /// When the current went, where it was seen.
    stopped: Option<Instant>,
    /// Thermal level at the last onset, and what a start adds to it, Q32.
    onset: i64,
    heat: i64,
}

impl Restart {
    /// Power has come: the rotor may turn.
    pub(super) const fn new(now: Instant, coast_down: Span) -> Self {
        Self { known: now.after(coast_down), stopped: None, onset: 0, heat: 0 }
    }

    /// After a power cut: the rest begins anew, a start's heat (Q32) is as it was.
    pub(super) const fn resumed(now: Instant, coast_down: Span, heat: i64) -> Self {
        Self { stopped: Some(now), heat, ..Self::new(now, coast_down) }
    }

    /// A zero-speed input has proven that the rotor stands.
    pub(super) const fn proven(&mut self, now: Instant) {
        self.known = now;
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
        self.heat = if rise > 0 { rise.saturating_add(by(rise, 10)) } else { 0 };
    }

    /// How long the rotor may still turn without current, as [`Restart::stands`] has it.
    fn turns(&self, now: Instant, motor: &Motor) -> Span {
        let (Motor::Off { turns_until } | Motor::Fresh { turns_until, .. }) = motor else { return Span::ZERO };
        turns_until.map_or(Span::ZERO, |until| until.since(now)).max(self.known.since(now))
    }

    /// How long the rest still takes.
    pub(super) fn rest(&self, c: &RestartCoefficients, now: Instant) -> Span {
        self.stopped.map_or(Span::ZERO, |at| c.rest.less(now.since(at)))
    }

    /// The thermal level (Q32) above which a start is refused.
    pub(super) fn hot(&self, c: &RestartCoefficients) -> i64 {
        c.reset_level.min((1i64 << 32).saturating_sub(self.heat).max(COLD))
    }

    /// What both a start and a reset are refused for, but for heat.
    #[inline(never)] // in two places
    pub(super) fn stands(&self, c: &RestartCoefficients, now: Instant, motor: &Motor) -> Result<(), Hindrance> {
        match motor {
            Motor::Starting { .. } | Motor::Running { .. } => Err(Hindrance::Running),
            Motor::Fresh { .. } | Motor::Off { turns_until: Some(_) } => Err(Hindrance::MayTurn),
            Motor::Off { turns_until: None } if now < self.known => Err(Hindrance::MayTurn),
            Motor::Off { turns_until: None } if self.rest(c, now) > Span::ZERO => Err(Hindrance::Rest),
            Motor::Off { turns_until: None } => Ok(()),
        }
    }
}

impl Memory {
    /// A person resets the latched trips; `here` is one at the mill, who sees it.
    ///
    /// # Errors
    ///
    /// Why it is refused (the table above): what is latched stays so.
    pub(super) fn reset(
        &mut self,
        c: &JudgeCoefficients,
        at: Instant,
        here: bool,
        events: &mut Queue,
    ) -> Result<(), Hindrance> {
        let hot = self.trips.thermal_q32() > c.restart.reset_level;
        let taken = match self.restart.stands(&c.restart, at, &self.motor) {
            _ if !here => Err(Hindrance::Remote),
            Ok(()) if hot => Err(Hindrance::Hot),
            Ok(()) if self.trips.latched() == Some(Cause::StartsPerHour) => {
                if self.trips.starts_wait(&c.trips, at) > Span::ZERO { Err(Hindrance::Starts) } else { Ok(()) }
            }
            taken => taken,
        };
        if taken.is_ok() {
            self.trips.reset();
            self.start = self.hindrance(c, at);
        }
        // A button that is held down must not fill the queue.
        let told = core::mem::replace(&mut self.refused, taken.err());
        if taken.is_ok() || told != self.refused {
            let kind = taken.map_or_else(EventKind::ResetRefused, |()| EventKind::Reset);
            events.push(&mut self.totals.lost_events, at, kind);
        }
        taken
    }

    /// What is foretold: how long until the thermal image trips if the current stays as it is, and until a start is no longer
    /// refused if the motor rests; `None` where nothing comes by itself.
    pub(super) fn foretold(&mut self, c: &JudgeCoefficients, now: Instant) -> [Option<Span>; 2] {
        if self.motor.flows() {
            return [self.trips.time_to_trip(&c.trips), None];
        }
        let stands = self.restart.turns(now, &self.motor);
        let waits = [
            self.restart.rest(&c.restart, now),
            self.trips.time_to_cool(&c.trips, self.restart.hot(&c.restart)),
            self.rotor.wait(c.restart.rotor.as_ref()),
            self.trips.starts_wait(&c.trips, now),
        ];
        let longest = waits.into_iter().fold(stands, Span::max);
        [None, if self.trips.latched().is_none() { Some(longest) } else { None }]
    }

    /// Why a start is refused.
    pub(super) fn hindrance(&mut self, c: &JudgeCoefficients, now: Instant) -> Option<Hindrance> {
        if self.trips.latched().is_some() {
            return Some(Hindrance::Trip);
        }
        if let Err(hindrance) = self.restart.stands(&c.restart, now, &self.motor) {
            return Some(hindrance);
        }
        if self.trips.thermal_q32() > self.restart.hot(&c.restart) {
            return Some(Hindrance::Hot);
        }
        if self.rotor.wait(c.restart.rotor.as_ref()) > Span::ZERO {
            return Some(Hindrance::Rotor);
        }
        (self.trips.starts_wait(&c.trips, now) > Span::ZERO).then_some(Hindrance::Starts)
    }
}
