//! Phase loss, and unbalance of the currents: negative over positive sequence of their fundamentals, while the largest
//! phase exceeds 15 % of rated current.
//!
//! A line open at the motor gives 100 % (symmetrical components); one lost on the far side of a delta-star transformer
//! gives currents 1 : 1 : 2 and is caught as well. Unbalance is the same with a lower pick-up and a longer delay: each per cent of
//! voltage unbalance makes six to ten of current (motor handbooks, from memory). It is
//! blocked while a current is missing ([`super::sensor_fault`]): that is a transformer's unbalance. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::settings::ElementCoefficients;
use crate::unit::{Ratio, SquareAmps};

pub(crate) fn level(c: &ElementCoefficients<Ratio>, floor: SquareAmps, view: &View) -> Level {
    match view.unbalance {
        Some(unbalance) if view.largest > floor => Level::above(&unbalance, &c.pickup, &c.dropout),
        _ => Level::Short,
    }
}
