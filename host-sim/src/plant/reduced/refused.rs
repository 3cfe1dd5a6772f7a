//! What the reduced model cannot do, told in words before a run begins.

use super::super::Scenario;
use super::super::supply::{Place, Starter, Tap};
use super::super::transducer::Transducer;

/// A part of a scenario that would have to be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Thyristors.
    #[error("the reduced model has no soft starter: take the full model, or the starter direct or star-delta")]
    SoftStarter,
    /// Harmonics of the source.
    #[error("the reduced model has no harmonics: take the full model, or leave them out")]
    Harmonics,
    /// What floats on the motor's side of a break.
    #[error("the reduced model does not know the voltage behind a line lost at the motor: measure on the line's side")]
    FloatingTap,
    /// Capacitors beside the motor.
    #[error("the reduced model has no capacitors beside the motor: take the full model, or leave them out")]
    Capacitors,
    /// Contacts that bounce.
    #[error("the reduced model has no bouncing contacts: take the full model, or leave the bounce out")]
    Bounce,
    /// Transducers that err, channels that fail.
    #[error("the reduced model makes records of the truth: take the full model for transducers and channels that err")]
    Readings,
    /// A frequency or a rate that is no number above zero.
    #[error("the reduced model needs a frequency and a rate of frames above zero")]
    NoFrequency,
}

/// Whether a scenario can be run.
pub(super) fn check(scenario: &Scenario) -> Result<(), Refused> {
    let supply = &scenario.supply;
    if matches!(supply.starter, Starter::Soft { .. }) {
        return Err(Refused::SoftStarter);
    }
    if !supply.harmonics.is_empty() {
        return Err(Refused::Harmonics);
    }
    if supply.tap == Tap::Motor && supply.losses.iter().any(|loss| loss.place == Place::Motor) {
        return Err(Refused::FloatingTap);
    }
    if supply.capacitors_kvar != 0.0 {
        return Err(Refused::Capacitors);
    }
    if supply.bounce.is_some() {
        return Err(Refused::Bounce);
    }
    let sensor = &scenario.sensor;
    if !sensor.faults.is_empty() || sensor.transducers.iter().any(|one| *one != Transducer::default()) {
        return Err(Refused::Readings);
    }
    let sound = |x: f64| x.is_finite() && x > 0.0;
    if sound(supply.frequency_hz) && sound(scenario.rate_hz) { Ok(()) } else { Err(Refused::NoFrequency) }
}
