//! Residual current: the sum of the three line currents, fundamental, against a share of rated current.
//!
//! A motor without a neutral has none; what flows back through its frame shows as a sum. Transformers that saturate in a start make one
//! that is not there, so it is blocked while starting; a transformer that is dead makes one
//! as well, so it is blocked while a current is missing ([`super::sensor_fault`]). **This is no residual-current device**: from 20 % of rated current on it
//! tells of a burnt winding; people it does not protect. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::settings::ElementCoefficients;
use crate::unit::Amps;

pub(crate) fn level(c: &ElementCoefficients<Amps>, view: &View) -> Level {
    if view.state.running() { Level::above(&view.half.current_sum, &c.pickup, &c.dropout) } else { Level::Short }
}
