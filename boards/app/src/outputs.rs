//! The pins: a trip relay and three feed lamps, through `embedded-hal`.
//!
//! The relay has current while the motor may run, and its contact lies in the contactor's coil
//! circuit: a broken wire, a reset and a dead board all open the contactor. A pin that is high gives
//! current; a board with inverted drivers wraps its pins.

use embedded_hal::digital::OutputPin;
use shaftwork_core::{Decision, Feed};

/// A board's pins. Each may be of another type.
#[derive(Debug)]
pub struct Pins<R, F, W, S> {
    /// Trip relay: high while the motor may run.
    pub relay: R,
    /// Lamp or belt contact "feed".
    pub feed: F,
    /// Lamp "wait".
    pub wait: W,
    /// Lamp "stop".
    pub stop: S,
}

/// A pin could not be set. All others were still put into the safe state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PinError;

/// The pins, and what they were last told.
#[derive(Debug)]
pub struct Outputs<R, F, W, S> {
    pins: Pins<R, F, W, S>,
    told: Option<(bool, Feed)>,
}

impl<R: OutputPin, F: OutputPin, W: OutputPin, S: OutputPin> Outputs<R, F, W, S> {
    /// Takes the pins and puts them into the safe state.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn new(pins: Pins<R, F, W, S>) -> Result<Self, PinError> {
        let mut outputs = Self { pins, told: None };
        outputs.safe()?;
        Ok(outputs)
    }

    /// The safe state: relay without current, feed on stop. Every pin is tried, whatever fails.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn safe(&mut self) -> Result<(), PinError> {
        self.told = None; // always write: the pins may have been changed by somebody else
        self.set(false, Feed::Stop)
    }

    /// Does what the core has decided. A trip stops the feed as well, whatever the decision says of it.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set; the outputs are then in the safe state as far as they can be.
    pub fn apply(&mut self, decision: &Decision) -> Result<(), PinError> {
        let run = decision.trip.is_none();
        self.set(run, if run { decision.feed } else { Feed::Stop }).or_else(|error| self.safe().and(Err(error)))
    }

    /// The pins themselves, for a board's own tests.
    pub const fn pins(&self) -> &Pins<R, F, W, S> {
        &self.pins
    }

    fn set(&mut self, run: bool, feed: Feed) -> Result<(), PinError> {
        if self.told == Some((run, feed)) {
            return Ok(());
        }
        let pins = &mut self.pins;
        // The relay first; lamps that go out before the one that comes on, so that two never shine.
        let mut fine = pins.relay.set_state(run.into()).is_ok();
        if feed != Feed::Feed {
            fine &= pins.feed.set_low().is_ok();
        }
        if feed != Feed::Wait {
            fine &= pins.wait.set_low().is_ok();
        }
        if feed != Feed::Stop {
            fine &= pins.stop.set_low().is_ok();
        }
        fine &= match feed {
            Feed::Feed => pins.feed.set_high().is_ok(),
            Feed::Wait => pins.wait.set_high().is_ok(),
            Feed::Stop => pins.stop.set_high().is_ok(),
        };
        self.told = if fine { Some((run, feed)) } else { None };
        if fine { Ok(()) } else { Err(PinError) }
    }
}

#[cfg(test)]
pub(crate) mod testing {
    use embedded_hal::digital::{ErrorKind, ErrorType, OutputPin};

    /// A pin that remembers its level and how often it was written, and that can be broken.
    #[derive(Debug, Default)]
    pub struct Mock {
        pub high: bool,
        pub writes: u32,
        pub broken: bool,
    }

    impl ErrorType for Mock {
        type Error = ErrorKind;
    }

    impl OutputPin for Mock {
        fn set_low(&mut self) -> Result<(), ErrorKind> {
            self.write(false)
        }
        fn set_high(&mut self) -> Result<(), ErrorKind> {
            self.write(true)
        }
    }

    impl Mock {
        fn write(&mut self, high: bool) -> Result<(), ErrorKind> {
            if self.broken {
                return Err(ErrorKind::Other);
            }
            self.high = high;
            self.writes += 1;
            Ok(())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::testing::Mock;
    use super::*;
    use shaftwork_core::Cause;

    type Mocks = Outputs<Mock, Mock, Mock, Mock>;

    fn mocks() -> Pins<Mock, Mock, Mock, Mock> {
        Pins {
            relay: Mock { high: true, ..Mock::default() }, // as a bootloader may have left it
            feed: Mock { high: true, ..Mock::default() },
            wait: Mock::default(),
            stop: Mock::default(),
        }
    }

    fn levels(outputs: &Mocks) -> [bool; 4] {
        let pins = outputs.pins();
        [pins.relay.high, pins.feed.high, pins.wait.high, pins.stop.high]
    }

    #[test]
    fn starts_safe_whatever_the_pins_were() {
        assert_eq!(levels(&Outputs::new(mocks()).unwrap()), [false, false, false, true]);
    }

    #[test]
    fn one_lamp_for_each_decision_and_none_beside_a_trip() {
        let mut outputs = Outputs::new(mocks()).unwrap();
        for (trip, feed, want) in [
            (None, Feed::Feed, [true, true, false, false]),
            (None, Feed::Wait, [true, false, true, false]),
            (None, Feed::Stop, [true, false, false, true]),
            (Some(Cause::Jam), Feed::Feed, [false, false, false, true]),
        ] {
            outputs.apply(&Decision { trip, feed, start: None }).unwrap();
            assert_eq!(levels(&outputs), want, "{trip:?} {feed:?}");
        }
    }

    #[test]
    fn pins_are_written_only_when_something_changes() {
        let mut outputs = Outputs::new(mocks()).unwrap();
        let decision = Decision { trip: None, feed: Feed::Feed, start: None };
        outputs.apply(&decision).unwrap();
        let before = outputs.pins().relay.writes;
        outputs.apply(&decision).unwrap();
        assert_eq!(outputs.pins().relay.writes, before);
        outputs.safe().unwrap();
        assert_eq!(outputs.pins().relay.writes, before + 1, "the safe state is always written");
    }

    #[test]
    fn a_broken_lamp_opens_the_relay() {
        let mut pins = mocks();
        pins.feed.broken = true;
        assert_eq!(Outputs::new(pins).unwrap_err(), PinError);

        let mut outputs = Outputs::new(mocks()).unwrap();
        outputs.pins.wait.broken = true;
        assert_eq!(outputs.apply(&Decision { trip: None, feed: Feed::Wait, start: None }), Err(PinError));
        assert_eq!(levels(&outputs), [false, false, false, true]);
    }
}
