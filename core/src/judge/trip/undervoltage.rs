//! Undervoltage: the lowest phase, against a share of the nominal voltage.
//!
//! Armed only while current flows, so that a stopped mill whose voltage is taken on the motor's side
//! of the contactor does not trip. The longer delay holds while starting. What the timer does is in
//! [`super::timer`].

use super::View;
use super::timer::{Level, Timer};
use crate::judge::event::State;
use crate::settings::UndervoltageCoefficients;

/// The element's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Undervoltage {
    pub(crate) timer: Timer,
    /// Whether the delay of a start was running: the two delays do not add up.
    starting: bool,
}

pub(crate) fn update(c: &UndervoltageCoefficients, memory: &mut Undervoltage, view: &View) -> bool {
    let starting = view.state == State::Starting;
    if starting != memory.starting {
        // At run-up the time starts anew with the shorter delay.
        memory.timer.forget();
        memory.starting = starting;
    }
    let level = if !(starting || view.state.running()) {
        Level::Short
    } else if view.lowest < c.pickup {
        Level::Beyond
    } else if view.lowest <= c.dropout {
        Level::Between
    } else {
        Level::Short
    };
    memory.timer.update(view.now, level, if starting { c.start_delay } else { c.delay })
}
