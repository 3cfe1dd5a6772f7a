//! Underload: far less shaft power than the empty mill takes, so that the motor drives no mill: belt or coupling gone.
//!
//! Against a share of idle power, which must be below the 85 % at which the mill still counts as idle: an empty hopper is no
//! trip. Armed at speed, and once idle power is sure: set, or seen for a minute. While it is picked up nothing is
//! learnt. Where idle power is not known, or a voltage or a current is missing
//! ([`super::sensor_fault`]), it does nothing. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::math::scale::Scale;
use crate::settings::ElementCoefficients;
use crate::unit::Ratio;

pub(crate) fn level(c: &ElementCoefficients<Ratio>, view: &View) -> Level {
    let Some(idle) = view.idle.filter(|_| view.state.running() && view.at_speed) else { return Level::Short };
    let share = |ratio: Ratio| Scale::from_q(ratio.to_bits().into(), 24).apply(idle.to_bits());
    Level::below(&view.shaft.to_bits(), &share(c.pickup), &share(c.dropout))
}
