//! Phase reversal: the phases come in reverse order, so the motor turns, or would turn, the wrong way.
//!
//! Told by the voltages, before a start as well: negative sequence more than twice the positive one (a lost line makes both
//! alike). Where there is no voltage to look at it is told
//! by the currents while they flow. (Currents in reverse order under voltages in the right one are a wiring fault, not a
//! reversal.) What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::record::HalfCycle;

pub(crate) fn level(view: &View) -> Level {
    let half = view.half;
    Level::when(if view.lives {
        voltages(half)
    } else {
        view.flows && more(half.current_negative.to_bits(), half.current_positive.to_bits())
    })
}

/// Whether the voltages come in reverse order.
pub(crate) const fn voltages(half: &HalfCycle) -> bool {
    more(half.voltage_negative.to_bits(), half.voltage_positive.to_bits())
}

/// Whether the negative sequence is more than twice the positive one.
const fn more(negative: i32, positive: i32) -> bool {
    negative / 2 > positive
}
