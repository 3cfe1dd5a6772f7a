//! The mill: idle or breaking.
//!
//! Net energy is `shaft energy - idle power x (idle + breaking time)`: one formula, signed, never
//! clipped. What idle power is, [`super::idle`] learns.

use super::event::State;
use super::idle::{Idle, within};
use super::shaft::Shaft;
use super::trip::timer::Timer;
use crate::settings::JudgeCoefficients;
use crate::time::{Instant, Span};

/// The mill's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Mill {
    pub(super) idle: Idle,
    state: State,
    /// Shaft power speaks for the other state.
    doubt: Timer,
}

impl Mill {
    pub(super) const fn new(c: &JudgeCoefficients) -> Self {
        Self { idle: Idle::new(c), state: State::Breaking, doubt: Timer::Quiet }
    }

    /// The motor has run up, or runs at the first half cycle: the next half cycle decides at once.
    pub(super) const fn run_up(&mut self, shaft: &Shaft) {
        self.doubt = Timer::Quiet;
        self.state = if self.near_idle(shaft) { State::Idle } else { State::Breaking };
        self.idle.cut();
    }

    /// Idle or breaking. A change must hold for half a second, but for one: far from idle power the mill
    /// is breaking at once.
    pub(super) fn state(&mut self, settle: Span, now: Instant, shaft: &Shaft) -> State {
        let speaks = if self.near_idle(shaft) { State::Idle } else { State::Breaking };
        let other = speaks != self.state;
        let far = speaks == State::Breaking && !self.within(shaft, 50);
        if self.doubt.held(now, other, settle) || other && far {
            (self.state, self.doubt) = (speaks, Timer::Quiet);
        }
        self.state
    }

    /// Whether the power is within 15 % of idle power, at speed: a stalled motor gives little, too.
    #[inline(never)] // in three places
    const fn near_idle(&self, shaft: &Shaft) -> bool {
        shaft.at_speed() && self.within(shaft, 15)
    }

    /// Whether the power is within so many per cent of idle power.
    const fn within(&self, shaft: &Shaft, percent: i64) -> bool {
        let Some(idle) = self.idle.power() else { return false };
        within(shaft.power.to_bits(), idle, percent)
    }
}
