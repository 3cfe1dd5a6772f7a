//! Undervoltage: the lowest phase, against a share of the nominal voltage.
//!
//! Armed only while current flows, so that a stopped mill whose voltage is taken on the motor's side
//! of the contactor does not trip. The longer delay holds while starting; at run-up the time starts anew. What the timer does is in
//! [`super::timer`].

use super::View;
use super::timer::Level;
use crate::judge::event::State;
use crate::settings::UndervoltageCoefficients;

pub(crate) fn level(c: &UndervoltageCoefficients, view: &View) -> Level {
    if view.state == State::Starting || view.state.running() {
        Level::below(&view.lowest, &c.element.pickup, &c.element.dropout)
    } else {
        Level::Short
    }
}
