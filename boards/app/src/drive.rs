//! The feeder's drive: its speed as a duty cycle or a current, its direction, and the sounder before it sets off.
//!
//! | output | at start, on a panic, after lost frames, when a pin fails | a trip, no permit, a feed stop | otherwise |
//! |---|---|---|---|
//! | speed as a duty cycle | 0 % | 0 % | permille of full speed |
//! | speed as 4 to 20 mA | 0 mA | 4 mA: it stands | 20 mA is full speed |
//! | direction | forwards | forwards | backwards against a jam, at the speed that the drive is set to for it |
//! | sounder | silent | steady while a person is called, silent on a trip | before the feeder sets off |
//!
//! The sounder is one tone for a call and for a feeder that is about to move: whoever hears it keeps clear of the feeder.
//!
//! A drive that takes 4 to 20 mA is to be set to stop below 3.6 mA, where a wire is broken (NAMUR NE 43, from memory): then a wire that
//! comes off and a board in its safe state stop it alike. This stops the feeder for the process. Guards, interlocks and emergency stops
//! of the feeder act on its drive by wires of their own (IEC 60204-1, ISO 14118, the local code).

use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;
use shaftwork_core::{Decision, Feeder};

use crate::commission::Walk;
use crate::outputs::{Actuators, PinError};

/// What the drive takes for its speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speed {
    /// A duty cycle: 100 % is full speed.
    Duty,
    /// A current, made of a duty cycle by a filter and a transmitter: 100 % is 20 mA.
    LiveZero,
}

impl Speed {
    /// The duty cycle, permille, for a speed in permille; `None`: the safe state.
    fn permille(self, speed: Option<u16>) -> u16 {
        match (self, speed.map(|speed| speed.min(1000))) {
            (_, None) => 0,
            (Self::Duty, Some(speed)) => speed,
            // 4 mA of 20 are 200 permille; 16 mA more are full speed.
            (Self::LiveZero, Some(speed)) => 200 + (u32::from(speed) * 4 / 5) as u16,
        }
    }
}

/// The pins of a feeder's drive. Each may be of another type.
///
/// ```
/// # use core::convert::Infallible;
/// # struct Pin;
/// # impl embedded_hal::digital::ErrorType for Pin { type Error = Infallible; }
/// # impl embedded_hal::digital::OutputPin for Pin {
/// #     fn set_low(&mut self) -> Result<(), Infallible> { Ok(()) }
/// #     fn set_high(&mut self) -> Result<(), Infallible> { Ok(()) }
/// # }
/// # impl embedded_hal::pwm::ErrorType for Pin { type Error = Infallible; }
/// # impl embedded_hal::pwm::SetDutyCycle for Pin {
/// #     fn max_duty_cycle(&self) -> u16 { 1000 }
/// #     fn set_duty_cycle(&mut self, _: u16) -> Result<(), Infallible> { Ok(()) }
/// # }
/// # let (timer, direction, sounder) = (Pin, Pin, Pin);
/// use shaftwork_app::drive::{Drive, Speed};
/// let drive = Drive::new(timer, Speed::LiveZero, direction, sounder).unwrap();
/// // Beside the relay and the lamps: App::new(&mut monitor, source, (outputs, drive), reports, ())
/// ```
#[derive(Debug)]
pub struct Drive<P, D, S> {
    speed: P,
    takes: Speed,
    backwards: D,
    sounder: S,
    told: Option<Feeder>,
}

impl<P: SetDutyCycle, D: OutputPin, S: OutputPin> Drive<P, D, S> {
    /// Takes the pins and puts them into the safe state: `backwards` is high for the other direction.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn new(speed: P, takes: Speed, backwards: D, sounder: S) -> Result<Self, PinError> {
        let mut drive = Self { speed, takes, backwards, sounder, told: None };
        drive.safe()?;
        Ok(drive)
    }

    /// `None`: the safe state. The speed is taken off before the direction changes, and given after it.
    fn set(&mut self, feeder: Option<Feeder>) -> Result<(), PinError> {
        if feeder.is_some() && self.told == feeder {
            return Ok(());
        }
        let Feeder { permille, reverse, sounder, call, .. } = feeder.unwrap_or_default();
        let turns = self.told.is_none_or(|told| told.reverse != reverse);
        let mut fine = true;
        if turns || feeder.is_none() {
            fine &= self.duty(feeder.map(|_| 0));
        }
        fine &= self.backwards.set_state(reverse.into()).is_ok();
        fine &= self.sounder.set_state((sounder || call).into()).is_ok();
        if fine && feeder.is_some() {
            fine &= self.duty(Some(permille));
        }
        self.told = feeder.filter(|_| fine);
        if fine { Ok(()) } else { Err(PinError) }
    }

    fn duty(&mut self, speed: Option<u16>) -> bool {
        let permille = self.takes.permille(speed);
        self.speed.set_duty_cycle_fraction(permille, 1000).is_ok()
    }
}

impl<P: SetDutyCycle, D: OutputPin, S: OutputPin> Actuators for Drive<P, D, S> {
    fn safe(&mut self) -> Result<(), PinError> {
        self.set(None)
    }

    fn apply(&mut self, decision: &Decision) -> Result<(), PinError> {
        // A trip stops the feed, whatever the decision says of it.
        let feeder = if decision.trip.is_none() { decision.feeder } else { Feeder::default() };
        self.set(Some(feeder)).or_else(|error| self.safe().and(Err(error)))
    }
}

impl<P: SetDutyCycle, D: OutputPin, S: OutputPin> Walk for Drive<P, D, S> {
    fn name(&self, place: usize) -> Option<&'static str> {
        ["feeder at 0 %", "feeder at 50 %", "feeder at 100 %", "direction", "sounder"].get(place).copied()
    }

    fn only(&mut self, place: Option<usize>) -> Result<(), PinError> {
        let shown = match place {
            Some(0) => Feeder::default(),
            Some(1) => Feeder { permille: 500, ..Feeder::default() },
            Some(2) => Feeder { permille: 1000, ..Feeder::default() },
            Some(3) => Feeder { reverse: true, ..Feeder::default() },
            Some(4) => Feeder { sounder: true, ..Feeder::default() },
            _ => return self.set(None),
        };
        self.set(Some(shown))
    }
}

#[cfg(test)]
impl<D, S> Drive<crate::outputs::testing::Duty, D, S> {
    /// The duty cycle now, permille.
    pub(crate) const fn duty_now(&self) -> u16 {
        self.speed.permille
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing::{Duty, Mock};
    use shaftwork_core::{Cause, Feed};

    fn drive(takes: Speed) -> Drive<Duty, Mock, Mock> {
        // As a bootloader may have left it.
        let left = Duty { permille: 700, ..Duty::default() };
        Drive::new(left, takes, Mock { high: true, ..Mock::default() }, Mock { high: true, ..Mock::default() }).unwrap()
    }

    fn decided(permille: u16, reverse: bool) -> Decision {
        let feeder = Feeder { permille, reverse, ..Feeder::default() };
        Decision { trip: None, feed: Feed::Feed, feeder, start: None }
    }

    fn levels(drive: &Drive<Duty, Mock, Mock>) -> (u16, bool, bool) {
        (drive.speed.permille, drive.backwards.high, drive.sounder.high)
    }

    #[test]
    fn starts_safe_whatever_the_pins_were() {
        assert_eq!(levels(&drive(Speed::Duty)), (0, false, false));
        assert_eq!(levels(&drive(Speed::LiveZero)), (0, false, false));
    }

    /// 4 mA stands and 20 mA is full speed (IEC 60381-1, from memory); 100 % are 20 mA here.
    #[test]
    fn a_speed_is_a_duty_cycle_or_a_current() {
        for (permille, duty, live) in [(0, 0, 200), (500, 500, 600), (1000, 1000, 1000), (2000, 1000, 1000)] {
            for (takes, wanted) in [(Speed::Duty, duty), (Speed::LiveZero, live)] {
                let mut drive = drive(takes);
                drive.apply(&decided(permille, false)).unwrap();
                assert_eq!(drive.speed.permille, wanted, "{permille} {takes:?}");
                drive.safe().unwrap();
                assert_eq!(drive.speed.permille, 0, "less than 3.6 mA tells the drive of a fault");
            }
        }
    }

    /// It never turns round under speed.
    #[test]
    fn the_speed_is_taken_off_before_it_turns_round() {
        let mut drive = drive(Speed::Duty);
        drive.apply(&decided(800, false)).unwrap();
        drive.speed.written.clear();
        drive.apply(&decided(300, true)).unwrap();
        assert_eq!((drive.speed.written.as_slice(), drive.backwards.high), (&[0, 300][..], true));
        drive.speed.written.clear();
        drive.apply(&decided(400, true)).unwrap();
        assert_eq!(drive.speed.written, [400]);
        drive.apply(&decided(400, true)).unwrap();
        assert_eq!(drive.speed.written, [400], "written only when something changes");
    }

    #[test]
    fn a_trip_stops_it_and_a_call_sounds() {
        let mut drive = drive(Speed::Duty);
        drive.apply(&decided(800, false)).unwrap();
        drive.apply(&Decision { trip: Some(Cause::Jam), ..decided(800, false) }).unwrap();
        assert_eq!(levels(&drive), (0, false, false));
        let call = Feeder { call: true, ..Feeder::default() };
        drive.apply(&Decision { feeder: call, ..decided(0, false) }).unwrap();
        assert_eq!(levels(&drive), (0, false, true));
    }

    /// All else is put into the safe state, and it is told.
    #[test]
    fn a_broken_pin_takes_the_speed_off() {
        let mut drive = drive(Speed::LiveZero);
        drive.apply(&decided(800, false)).unwrap();
        drive.backwards.broken.set(true);
        assert_eq!(drive.apply(&decided(300, true)), Err(PinError));
        assert_eq!(drive.speed.permille, 0);
        drive.backwards.broken.set(false);
        drive.speed.broken.set(true);
        assert_eq!(drive.apply(&decided(300, false)), Err(PinError));
    }
}
