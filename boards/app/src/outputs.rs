//! The pins: a trip relay, a start contact and three feed lamps, through `embedded-hal`.
//!
//! The relay has current while the motor may run, and its contact lies in the contactor's coil
//! circuit: a broken wire, a reset and a dead board all open the contactor. A pin that is high gives
//! current; a board with inverted drivers wraps its pins. Where a breaker has to be tripped by a shunt coil, the relay is
//! [`Relay::EnergisedToTrip`], which has to be asked for: then **a dead board and a broken wire trip nothing**, and something else has to.
//!
//! ```text
//!  L ─ emergency stop, guards ─ stop button ─ trip relay ─┬─ start button ─ start contact ─┬─ coil ─ N
//!      (hard-wired, licensed work)                        └── contactor's own contact ─────┘
//! ```
//!
//! **The contactor must seal itself in**, as drawn: what opens it - a trip, an open guard, a power cut - leaves it open when the relay closes again
//! after a reset or at power-up, and a person has to press the button. With a switch that stays closed in the button's place, or a
//! button that is held down, jammed or welded, the motor would start by itself, perhaps when it has cooled and the start contact closes: use a button that springs back, and a relay that wants
//! it released first where one may be held (ISO 14118, unexpected start-up; IEC 60204-1, 7.5). The start contact is open while a start is refused ([`Decision::start`]): the
//! rotor may turn, the motor has to rest or to cool. It opens nothing that runs, it is no guard lock, and closed it permits nobody to reach in: lock out first.
//!
//! | pin | at start, on a panic, after lost frames, when a pin fails | a trip | a start is refused |
//! |---|---|---|---|
//! | relay, energised to run | no current | no current | as it is |
//! | relay, energised to trip | no current at start and when the processor is dead or in reset; else current | current | as it is |
//! | start contact | open | open | open |
//! | feed, wait | dark | dark | by the load |
//! | stop | lit | lit | by the load |

use embedded_hal::digital::{OutputPin, PinState};
use shaftwork_core::{Decision, Feed};

use crate::commission::Walk;

/// What the core's decisions go to. Several stand beside each other as a pair: each is tried, whatever fails.
pub trait Actuators {
    /// The safe state. Every pin is tried, whatever fails.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    fn safe(&mut self) -> Result<(), PinError>;

    /// Does what the core has decided.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set; the outputs are then in the safe state as far as they can be.
    fn apply(&mut self, decision: &Decision) -> Result<(), PinError>;

    /// Tells whether something is wrong, after each of the others.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    fn alarm(&mut self, on: bool) -> Result<(), PinError> {
        let _ = on;
        Ok(())
    }
}

impl<A: Actuators, B: Actuators> Actuators for (A, B) {
    fn safe(&mut self) -> Result<(), PinError> {
        let [first, second] = [self.0.safe(), self.1.safe()];
        first.and(second)
    }

    fn apply(&mut self, decision: &Decision) -> Result<(), PinError> {
        let [first, second] = [self.0.apply(decision), self.1.apply(decision)];
        // Where one fails the other has no business going on.
        first.and(second).or_else(|error| self.safe().and(Err(error)))
    }

    fn alarm(&mut self, on: bool) -> Result<(), PinError> {
        let [first, second] = [self.0.alarm(on), self.1.alarm(on)];
        first.and(second)
    }
}

/// How the trip relay acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relay {
    /// Current while the motor may run: whatever fails opens the contactor.
    EnergisedToRun,
    /// Current on a trip: for a shunt coil. What has no power trips nothing.
    EnergisedToTrip,
}

/// A board's pins. Each may be of another type.
#[derive(Debug)]
pub struct Pins<R, T, F, W, S> {
    /// Trip relay: high while the motor may run, or on a trip, as [`Relay`] has it.
    pub relay: R,
    /// Start contact, in the start button's line: high while a start is not refused.
    pub start: T,
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
pub struct Outputs<R, T, F, W, S> {
    pins: Pins<R, T, F, W, S>,
    acts: Relay,
    told: Option<Told>,
}

/// What the pins say: whether the motor may run, whether a start is not refused, and the feed.
type Told = (bool, bool, Feed);

impl<R: OutputPin, T: OutputPin, F: OutputPin, W: OutputPin, S: OutputPin> Outputs<R, T, F, W, S> {
    /// Takes the pins and puts them into the safe state, with a relay that has current while the motor may run.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn new(pins: Pins<R, T, F, W, S>) -> Result<Self, PinError> {
        Self::acting(pins, Relay::EnergisedToRun)
    }

    /// The same with a relay that acts so. One that is energised to trip gets no current yet: a board that begins would else stop a
    /// motor that runs.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn acting(pins: Pins<R, T, F, W, S>, acts: Relay) -> Result<Self, PinError> {
        let mut outputs = Self { pins, acts, told: None };
        outputs.set((acts == Relay::EnergisedToTrip, false, Feed::Stop))?;
        Ok(outputs)
    }

    /// The pins themselves, for a board's own tests.
    pub const fn pins(&self) -> &Pins<R, T, F, W, S> {
        &self.pins
    }

    fn set(&mut self, told: Told) -> Result<(), PinError> {
        if self.told == Some(told) {
            return Ok(());
        }
        let (run, start, feed) = told;
        let pins = &mut self.pins;
        // The relay first; lamps that go out before the one that comes on, so that two never shine.
        let current = run == (self.acts == Relay::EnergisedToRun);
        let mut fine = pins.relay.set_state(current.into()).is_ok();
        fine &= pins.start.set_state(start.into()).is_ok();
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
        self.told = fine.then_some(told);
        if fine { Ok(()) } else { Err(PinError) }
    }
}

impl<R: OutputPin, T: OutputPin, F: OutputPin, W: OutputPin, S: OutputPin> Actuators for Outputs<R, T, F, W, S> {
    /// Relay without current, start contact open, feed on stop.
    fn safe(&mut self) -> Result<(), PinError> {
        self.told = None; // always write: the pins may have been changed by somebody else
        self.set((false, false, Feed::Stop))
    }

    /// A trip stops the feed as well, whatever the decision says of it.
    fn apply(&mut self, decision: &Decision) -> Result<(), PinError> {
        let run = decision.trip.is_none();
        let told = (run, run && decision.start.is_none(), if run { decision.feed } else { Feed::Stop });
        self.set(told).or_else(|error| self.safe().and(Err(error)))
    }
}

impl<R: OutputPin, T: OutputPin, F: OutputPin, W: OutputPin, S: OutputPin> Walk for Outputs<R, T, F, W, S> {
    fn name(&self, place: usize) -> Option<&'static str> {
        ["trip relay", "start contact", "feed", "wait", "stop"].get(place).copied()
    }

    /// Levels of the pins themselves: a relay that is energised to trip trips while it is shown.
    fn only(&mut self, place: Option<usize>) -> Result<(), PinError> {
        self.told = None; // whoever decides next writes all
        let Pins { relay, start, feed, wait, stop } = &mut self.pins;
        let mut fine = true;
        // What goes off comes before what comes on.
        for on in [false, true] {
            let mut set = |n: usize, pin: &mut dyn FnMut(PinState) -> bool| {
                if (place == Some(n)) == on {
                    fine &= pin(on.into());
                }
            };
            set(0, &mut |level| relay.set_state(level).is_ok());
            set(1, &mut |level| start.set_state(level).is_ok());
            set(2, &mut |level| feed.set_state(level).is_ok());
            set(3, &mut |level| wait.set_state(level).is_ok());
            set(4, &mut |level| stop.set_state(level).is_ok());
        }
        if fine { Ok(()) } else { Err(PinError) }
    }
}

#[cfg(test)]
pub(crate) mod testing {
    use super::{Outputs, Pins};
    use core::cell::Cell;

    use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin};
    use embedded_hal::pwm::{self, SetDutyCycle};

    /// A pin that remembers its level and how often it was written, and that can be broken.
    #[derive(Debug, Default)]
    pub struct Mock {
        pub high: bool,
        pub writes: u32,
        pub broken: Cell<bool>,
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

    impl InputPin for Mock {
        fn is_high(&mut self) -> Result<bool, ErrorKind> {
            if self.broken.get() { Err(ErrorKind::Other) } else { Ok(self.high) }
        }
        fn is_low(&mut self) -> Result<bool, ErrorKind> {
            self.is_high().map(|high| !high)
        }
    }

    /// Outputs of sound pins.
    pub fn outputs() -> Outputs<Mock, Mock, Mock, Mock, Mock> {
        let [relay, start, feed, wait, stop] = [(); 5].map(|()| Mock::default());
        Outputs::new(Pins { relay, start, feed, wait, stop }).unwrap()
    }

    /// A timer's output that remembers what was written to it, and that can be broken.
    #[derive(Debug, Default)]
    pub struct Duty {
        pub permille: u16,
        pub written: Vec<u16>,
        pub broken: Cell<bool>,
    }

    impl pwm::ErrorType for Duty {
        type Error = pwm::ErrorKind;
    }

    impl SetDutyCycle for Duty {
        fn max_duty_cycle(&self) -> u16 {
            1000
        }
        fn set_duty_cycle(&mut self, duty: u16) -> Result<(), pwm::ErrorKind> {
            if self.broken.get() {
                return Err(pwm::ErrorKind::Other);
            }
            self.permille = duty;
            self.written.push(duty);
            Ok(())
        }
    }

    impl Mock {
        fn write(&mut self, high: bool) -> Result<(), ErrorKind> {
            if self.broken.get() {
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
    use shaftwork_core::judge::restart::Hindrance;
    use shaftwork_core::{Cause, Feeder};

    type Mocks = Outputs<Mock, Mock, Mock, Mock, Mock>;

    fn mocks() -> Pins<Mock, Mock, Mock, Mock, Mock> {
        Pins {
            relay: Mock { high: true, ..Mock::default() }, // as a bootloader may have left it
            start: Mock { high: true, ..Mock::default() },
            feed: Mock { high: true, ..Mock::default() },
            wait: Mock::default(),
            stop: Mock::default(),
        }
    }

    fn levels(outputs: &Mocks) -> [bool; 5] {
        let pins = outputs.pins();
        [pins.relay.high, pins.start.high, pins.feed.high, pins.wait.high, pins.stop.high]
    }

    #[test]
    fn starts_safe_whatever_the_pins_were() {
        assert_eq!(levels(&Outputs::new(mocks()).unwrap()), [false, false, false, false, true]);
    }

    /// A board that begins leaves a motor alone; a trip and the safe state after it give current.
    #[test]
    fn a_relay_that_is_energised_to_trip_has_current_for_a_trip_and_in_the_safe_state() {
        let mut outputs = Outputs::acting(mocks(), Relay::EnergisedToTrip).unwrap();
        assert_eq!(levels(&outputs), [false, false, false, false, true], "at start");
        let decision = |trip| Decision { trip, feed: Feed::Feed, feeder: Feeder::default(), start: None };
        outputs.apply(&decision(None)).unwrap();
        assert_eq!(levels(&outputs), [false, true, true, false, false]);
        outputs.apply(&decision(Some(Cause::Jam))).unwrap();
        assert_eq!(levels(&outputs), [true, false, false, false, true]);
        outputs.apply(&decision(None)).unwrap();
        outputs.safe().unwrap();
        assert_eq!(levels(&outputs), [true, false, false, false, true]);
    }

    #[test]
    fn one_lamp_for_each_decision_and_none_beside_a_trip() {
        let mut outputs = Outputs::new(mocks()).unwrap();
        for (trip, feed, start, want) in [
            (None, Feed::Feed, Some(Hindrance::Running), [true, false, true, false, false]),
            (None, Feed::Wait, Some(Hindrance::Running), [true, false, false, true, false]),
            (None, Feed::Stop, None, [true, true, false, false, true]),
            (None, Feed::Stop, Some(Hindrance::MayTurn), [true, false, false, false, true]),
            (Some(Cause::Jam), Feed::Feed, None, [false, false, false, false, true]),
        ] {
            outputs.apply(&Decision { trip, feed, feeder: Feeder::default(), start }).unwrap();
            assert_eq!(levels(&outputs), want, "{trip:?} {feed:?} {start:?}");
        }
    }

    #[test]
    fn pins_are_written_only_when_something_changes() {
        let mut outputs = Outputs::new(mocks()).unwrap();
        let decision = Decision { trip: None, feed: Feed::Feed, feeder: Feeder::default(), start: None };
        outputs.apply(&decision).unwrap();
        let before = outputs.pins().relay.writes;
        outputs.apply(&decision).unwrap();
        assert_eq!(outputs.pins().relay.writes, before);
        outputs.safe().unwrap();
        assert_eq!(outputs.pins().relay.writes, before + 1, "the safe state is always written");
    }

    /// What fails on one side is made safe on the other.
    #[test]
    fn a_pair_fails_together() {
        let [left, right] = [(); 2].map(|()| Outputs::new(mocks()).unwrap());
        left.pins.wait.broken.set(true);
        let mut both = (left, right);
        let decision = Decision { trip: None, feed: Feed::Wait, feeder: Feeder::default(), start: None };
        assert_eq!(both.apply(&decision), Err(PinError));
        assert_eq!(levels(&both.1), [false, false, false, false, true]);
        both.0.pins.wait.broken.set(false);
        both.apply(&decision).unwrap();
        assert_eq!([levels(&both.0), levels(&both.1)], [[true, true, false, true, false]; 2]);
        assert_eq!(both.safe(), Ok(()));
    }

    #[test]
    fn a_broken_lamp_opens_the_relay() {
        let pins = mocks();
        pins.feed.broken.set(true);
        assert_eq!(Outputs::new(pins).unwrap_err(), PinError);

        let mut outputs = Outputs::new(mocks()).unwrap();
        outputs.pins.wait.broken.set(true);
        assert_eq!(
            outputs.apply(&Decision { trip: None, feed: Feed::Wait, feeder: Feeder::default(), start: None }),
            Err(PinError)
        );
        assert_eq!(levels(&outputs), [false, false, false, false, true]);
    }
}
