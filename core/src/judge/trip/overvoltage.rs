//! Overvoltage: the highest phase, against a share of the nominal voltage. Armed always: insulation does not mind whether the motor
//! runs. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::settings::ElementCoefficients;
use crate::unit::SquareVolts;

pub(crate) fn level(c: &ElementCoefficients<SquareVolts>, view: &View) -> Level {
    Level::above(&view.highest, &c.pickup, &c.dropout)
}
