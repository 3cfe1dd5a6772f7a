//! Phase reversal: the phases come in reverse order, so the motor turns, or would turn, the wrong way.
//!
//! Told by the voltages, before a start as well: negative sequence more than twice the positive one (a lost line makes both
//! alike). Where there is no voltage to look at it is told
//! by the currents while they flow. (Currents in reverse order under voltages in the right one are a wiring fault, not a
//! reversal.) What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;

pub(crate) fn level(view: &View) -> Level {
    let half = view.half;
    let reverse = if view.lives {
        half.voltage_negative.to_bits() / 2 > half.voltage_positive.to_bits()
    } else {
        view.flows && half.current_negative.to_bits() / 2 > half.current_positive.to_bits()
    };
    Level::when(reverse)
}
