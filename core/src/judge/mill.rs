//! The mill: idle power, idle or breaking, what was fed.
//!
//! Net energy is `shaft energy - idle power x (idle + breaking time)`: one formula, signed, never
//! clipped. Idle power is a setting, or the lowest level below half load that the shaft power has
//! held within 2 % of rated power for ten windows (2 s).

use super::event::State;
use super::shaft::Shaft;
use crate::settings::JudgeCoefficients;
use crate::time::{Instant, Span};
use crate::unit::Watts;

/// Windows that a level must hold to count as idle.
const HELD: u8 = 10;

/// The mill's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Mill {
    idle: Option<Watts>,
    set: bool,
    level: Level,
    state: State,
    /// When shaft power began to speak for the other state.
    doubt: Option<Instant>,
}

/// A level of shaft power that is being watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Level {
    windows: u8,
    lowest: i64,
    highest: i64,
    sum: i64,
}

impl Mill {
    pub(super) const fn new(c: &JudgeCoefficients) -> Self {
        Self {
            idle: c.idle,
            set: c.idle.is_some(),
            level: Level { windows: 0, lowest: 0, highest: 0, sum: 0 },
            state: State::Breaking,
            doubt: None,
        }
    }

    pub(super) const fn idle(&self) -> Option<Watts> {
        self.idle
    }

    /// The motor has run up, or runs at the first half cycle: the next half cycle decides at once.
    pub(super) const fn run_up(&mut self, shaft: &Shaft) {
        self.doubt = None;
        self.state = if self.near_idle(shaft) { State::Idle } else { State::Breaking };
        self.level.windows = 0;
    }

    /// Idle or breaking. A change must hold for half a second, but for one: far from idle power the mill
    /// is breaking at once.
    pub(super) fn state(&mut self, settle: Span, now: Instant, shaft: &Shaft) -> State {
        let speaks = if self.near_idle(shaft) { State::Idle } else { State::Breaking };
        if speaks == self.state {
            self.doubt = None;
        } else if speaks == State::Breaking && !self.within(shaft, 50) {
            self.state = speaks;
            self.doubt = None;
        } else {
            let since = *self.doubt.get_or_insert(now);
            if now.since(since) >= settle {
                self.state = speaks;
                self.doubt = None;
            }
        }
        self.state
    }

    /// Whether the power is within 15 % of idle power, at speed: a stalled motor gives little, too.
    const fn near_idle(&self, shaft: &Shaft) -> bool {
        shaft.at_speed() && self.within(shaft, 15)
    }

    /// Whether the power is within so many per cent of idle power.
    const fn within(&self, shaft: &Shaft, percent: i64) -> bool {
        let Some(idle) = self.idle else { return false };
        let off = shaft.power.to_bits().saturating_sub(idle.to_bits()).saturating_abs();
        off.saturating_mul(100) <= idle.to_bits().saturating_mul(percent)
    }

    /// Watches a window's mean shaft power while running at speed; learns idle power from it.
    pub(super) fn learn(&mut self, c: &JudgeCoefficients, shaft: Watts, at_speed: bool) {
        let rated = c.motor.rated_power.to_bits();
        let power = shaft.to_bits();
        if self.set || !at_speed || power > rated / 2 || power <= 0 {
            self.level.windows = 0;
            return;
        }
        let level = &mut self.level;
        let (lowest, highest) = (level.lowest.min(power), level.highest.max(power));
        if level.windows == 0 || highest - lowest > rated / 50 {
            *level = Level { windows: 1, lowest: power, highest: power, sum: power };
            return;
        }
        // Ten powers below 2^47.
        *level = Level { windows: level.windows + 1, lowest, highest, sum: level.sum.saturating_add(power) };
        if level.windows >= HELD {
            let mean = level.sum / i64::from(level.windows);
            level.windows = 0;
            if self.idle.is_none_or(|idle| mean < idle.to_bits()) {
                self.idle = Some(Watts::from_bits(mean));
            }
        }
    }
}
