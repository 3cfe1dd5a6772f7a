//! A contact that tells that all is well: it opens on a fault of the board, a trip, a call, a contactor or feeder that does not follow, and
//! when the board has no power.

use embedded_hal::digital::OutputPin;
use shaftwork_core::Decision;

use crate::commission::Walk;
use crate::outputs::{Actuators, PinError};

/// The contact: high while all is well. It stands beside the other outputs as one of a pair.
#[derive(Debug)]
pub struct Alarm<A> {
    well: A,
    told: Option<bool>,
}

impl<A: OutputPin> Alarm<A> {
    /// Takes the pin, which goes low: nothing is known yet.
    ///
    /// # Errors
    ///
    /// When the pin cannot be set.
    pub fn new(well: A) -> Result<Self, PinError> {
        let mut alarm = Self { well, told: None };
        alarm.alarm(true)?;
        Ok(alarm)
    }

    /// The pin itself, for a board's own tests.
    pub const fn pin(&self) -> &A {
        &self.well
    }
}

impl<A: OutputPin> Actuators for Alarm<A> {
    fn safe(&mut self) -> Result<(), PinError> {
        self.told = None; // always write: the pin may have been changed by somebody else
        self.alarm(true)
    }

    fn apply(&mut self, _: &Decision) -> Result<(), PinError> {
        Ok(())
    }

    fn alarm(&mut self, on: bool) -> Result<(), PinError> {
        if self.told != Some(on) {
            self.told = None;
            self.well.set_state((!on).into()).map_err(|_| PinError)?;
            self.told = Some(on);
        }
        Ok(())
    }
}

impl<A: OutputPin> Walk for Alarm<A> {
    fn name(&self, place: usize) -> Option<&'static str> {
        if place == 0 { Some("alarm contact") } else { None }
    }

    fn only(&mut self, place: Option<usize>) -> Result<(), PinError> {
        self.told = None; // whoever tells next writes it
        self.well.set_state((place == Some(0)).into()).map_err(|_| PinError)
    }
}
