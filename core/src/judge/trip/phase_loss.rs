//! Phase loss: a line is missing.
//!
//! Negative over positive sequence of the currents' fundamentals, while the largest phase exceeds
//! 15 % of rated current. A line open at the motor gives 100 % (symmetrical components); one lost on
//! the far side of a delta-star transformer gives currents 1 : 1 : 2 and is caught as well. What the
//! timer does is in [`super::timer`].

use super::View;
use super::timer::{Level, Timer};
use crate::settings::PhaseLossCoefficients;

pub(crate) fn update(c: &PhaseLossCoefficients, timer: &mut Timer, view: &View) -> bool {
    let level = match view.unbalance {
        Some(unbalance) if view.largest > c.floor && unbalance > c.pickup => Level::Beyond,
        Some(unbalance) if view.largest > c.floor && unbalance >= c.dropout => Level::Between,
        _ => Level::Short,
    };
    timer.update(view.now, level, c.delay)
}
