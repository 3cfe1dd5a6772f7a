//! Commissioning: every element tried by injection while the outputs are blocked, and the outputs proven one by one.
//!
//! **Nothing here starts anything by itself, and nothing is protected meanwhile.** It is for a qualified person, on a motor whose supply is
//! locked out, isolated and proven dead (ISO 14118, unexpected start-up; IEC 60204-1, 5.4 and 7.5; the local code). Relay and start contact
//! act on a contactor's coil: with the supply on, proving them could start a mill. Secondaries of current transformers are never opened under
//! current: injection needs no wire off, because it takes the converter's place in software.
//!
//! | part | outputs |
//! |---|---|
//! | [`inject`] | safe state from before the first test until after the last; the board's own loop and its converter do not run |
//! | [`Prover`] | all without current, but the one that a person holds a button for; let go, it is off |

use shaftwork_commission::{OUTPUTS, Output, Sheet};
use shaftwork_core::Settings;
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::settings::{MAX_BYTES, encode};

use crate::outputs::{Actuators, PinError};

/// The safe state is written anew after so many blocks: pins may have been changed by somebody else.
const BLOCKS: u32 = 256;

/// Tries every element, with the outputs in their safe state all the while. `alive` is called before each eight frames, for the
/// watchdog; false breaks off. It needs room for one monitor on the stack, so let none live beside it.
///
/// # Errors
///
/// When a pin cannot be set: then nothing was tried, or no more.
pub fn inject<O: Actuators>(
    settings: &Settings,
    outputs: &mut O,
    alive: &mut dyn FnMut() -> bool,
) -> Result<Sheet, PinError> {
    let sum = crc32(encode(settings, &mut [0; MAX_BYTES]));
    block(outputs)?;
    let (mut blocks, mut blocked) = (0, Ok(()));
    let sheet = shaftwork_commission::run(settings, sum, &mut || {
        blocks = (blocks + 1) % BLOCKS;
        if blocks == 0 && blocked.is_ok() {
            blocked = block(outputs);
        }
        blocked.is_ok() && alive()
    });
    blocked.and_then(|()| block(outputs)).map(|()| sheet)
}

/// Safe, and told to be out of work.
fn block<O: Actuators>(outputs: &mut O) -> Result<(), PinError> {
    let [safe, alarm] = [outputs.safe(), outputs.alarm(true)];
    safe.and(alarm)
}

/// Outputs that can be proven one by one. Several stand beside each other as a pair.
pub trait Walk {
    /// Their names, in order.
    fn name(&self, place: usize) -> Option<&'static str>;

    /// Gives current to one of them; `None`: to none. Every pin is tried, whatever fails.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    fn only(&mut self, place: Option<usize>) -> Result<(), PinError>;
}

impl<A: Walk, B: Walk> Walk for (A, B) {
    fn name(&self, place: usize) -> Option<&'static str> {
        self.0.name(place).or_else(|| self.1.name(place.checked_sub(count(&self.0))?))
    }

    fn only(&mut self, place: Option<usize>) -> Result<(), PinError> {
        let first = count(&self.0);
        let (of_first, of_second) = match place {
            Some(place) if place >= first => (None, Some(place - first)),
            place => (place, None),
        };
        // What goes off comes before what comes on.
        let [a, b] = if of_first.is_some() {
            let b = self.1.only(None);
            [self.0.only(of_first), b]
        } else {
            [self.0.only(None), self.1.only(of_second)]
        };
        a.and(b)
    }
}

/// How many there are.
fn count(walk: &impl Walk) -> usize {
    (0..MOST).take_while(|place| walk.name(*place).is_some()).count()
}

/// Outputs that a prover remembers.
pub const MOST: usize = OUTPUTS;

/// Walks the outputs one by one. An output is on only while a person holds the button; whether it did what it should is for the person to
/// see and to say, once the button is let go.
///
/// | from | to | when |
/// |---|---|---|
/// | `Down` | `Ready` | the button is seen up: one that is down or jammed from the beginning shows nothing |
/// | `Ready` | `Shown` | it is held: this output is on |
/// | `Shown` | `Asked` | it is let go: all are off |
/// | `Asked` | `Shown` | it is held once more |
/// | `Asked` | `Down` | the person has said what was seen: the next output |
#[derive(Debug)]
pub struct Prover<W> {
    walk: W,
    at: usize,
    stage: Stage,
    found: [Option<bool>; MOST],
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    Down,
    Ready,
    Shown,
    Asked,
}

impl<W: Walk> Prover<W> {
    /// Takes the outputs: none has current.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn new(mut walk: W) -> Result<Self, PinError> {
        walk.only(None)?;
        Ok(Self { walk, at: 0, stage: Stage::Down, found: [None; MOST] })
    }

    /// Which output is next; `None`: all have been walked.
    pub fn next(&self) -> Option<&'static str> {
        self.walk.name(self.at)
    }

    /// What the button is, now. To be called for ever: who stops calling leaves an output on.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set: all others are off.
    pub fn button(&mut self, held: bool) -> Result<(), PinError> {
        let there = self.next().is_some();
        self.stage = match (self.stage, held) {
            (Stage::Down, false) if there => Stage::Ready,
            (Stage::Ready | Stage::Asked, true) if there => Stage::Shown,
            (Stage::Shown, false) => Stage::Asked,
            (stage, _) => stage,
        };
        let place = if self.stage == Stage::Shown { Some(self.at) } else { None };
        self.walk.only(place).or_else(|error| {
            self.stage = Stage::Down;
            self.walk.only(None).and(Err(error))
        })
    }

    /// The person says whether it did what it should. Of what has not been shown, or is on, nothing can be said: then it tells `false`.
    pub fn seen(&mut self, as_it_should: bool) -> bool {
        let asked = self.stage == Stage::Asked;
        if let Some(found) = self.found.get_mut(self.at).filter(|_| asked) {
            *found = Some(as_it_should);
            (self.at, self.stage) = (self.at + 1, Stage::Down);
        }
        asked
    }

    /// What was seen so far, by name.
    pub fn found(&self) -> impl Iterator<Item = (&'static str, Option<bool>)> + '_ {
        self.found.iter().enumerate().map_while(|(place, found)| Some((self.walk.name(place)?, *found)))
    }

    /// Puts what was seen so far on the sheet.
    pub fn write(&self, sheet: &mut Sheet) {
        sheet.outputs.clear();
        for (name, seen) in self.found() {
            let name = name.try_into().unwrap_or_default(); // as long as the longest
            let _ = sheet.outputs.push(Output { name, seen }); // there is room for as many as are remembered
        }
    }

    /// Gives the outputs back, without current.
    ///
    /// # Errors
    ///
    /// When a pin cannot be set.
    pub fn end(mut self) -> Result<W, PinError> {
        self.walk.only(None)?;
        Ok(self.walk)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::{Drive, Speed};
    use crate::outputs::testing::{Duty, Mock};
    use crate::outputs::{Outputs, Pins};
    use shaftwork_commission::Verdict;

    type Lamps = Outputs<Mock, Mock, Mock, Mock, Mock>;

    fn outputs() -> Lamps {
        let pin = Mock::default;
        Outputs::new(Pins { relay: pin(), start: pin(), feed: pin(), wait: pin(), stop: pin() }).unwrap()
    }

    fn levels(outputs: &Lamps) -> [bool; 5] {
        let Pins { relay, start, feed, wait, stop } = outputs.pins();
        [relay.high, start.high, feed.high, wait.high, stop.high]
    }

    /// Counts how often it was made safe, and takes nothing else.
    #[derive(Default)]
    struct Watched {
        safe: u32,
        fails_at: Option<u32>,
    }

    impl Actuators for Watched {
        fn safe(&mut self) -> Result<(), PinError> {
            self.safe += 1;
            if self.fails_at == Some(self.safe) { Err(PinError) } else { Ok(()) }
        }

        fn apply(&mut self, _: &shaftwork_core::Decision) -> Result<(), PinError> {
            panic!("blocked outputs are told no decision");
        }
    }

    #[test]
    fn outputs_are_blocked_while_it_injects() {
        let mut settings = Settings::example();
        // The relay would have current all the while if a decision reached it.
        settings.trips.thermal = None;
        let mut outputs = outputs();
        let sheet = inject(&settings, &mut outputs, &mut || true).unwrap();
        assert!(sheet.passed());
        assert!(sheet.rows.iter().any(|row| row.verdict == Verdict::Passed));
        assert_eq!(levels(&outputs), [false, false, false, false, true], "safe: no current, stop lit");
        let pins = outputs.pins();
        assert_eq!(pins.feed.writes + pins.wait.writes, pins.stop.writes * 2, "never anything but the safe state");
    }

    #[test]
    fn the_safe_state_is_written_again_and_a_pin_that_fails_breaks_off() {
        let settings = Settings::example();
        let mut outputs = Watched::default();
        let mut blocks = 0;
        inject(&settings, &mut outputs, &mut || {
            blocks += 1;
            true
        })
        .unwrap();
        assert_eq!(outputs.safe, 2 + blocks / BLOCKS);
        let mut failing = Watched { fails_at: Some(2), ..Watched::default() };
        let mut after = 0;
        let failed = inject(&settings, &mut failing, &mut || {
            after += 1;
            true
        });
        assert_eq!(failed.unwrap_err(), PinError);
        assert_eq!(after, BLOCKS - 1, "not a frame more");
    }

    #[test]
    fn an_output_is_on_only_while_the_button_is_held() {
        let mut prover = Prover::new(outputs()).unwrap();
        assert_eq!(levels(&prover.walk), [false; 5]);
        assert_eq!(prover.next(), Some("trip relay"));
        prover.button(true).unwrap();
        assert_eq!(levels(&prover.walk), [false; 5], "down from the beginning");
        assert!(!prover.seen(true), "nothing was shown");
        for place in 0..5 {
            prover.button(false).unwrap();
            assert_eq!(levels(&prover.walk), [false; 5]);
            prover.button(true).unwrap();
            let mut wanted = [false; 5];
            wanted[place] = true;
            assert_eq!(levels(&prover.walk), wanted);
            assert!(!prover.seen(true), "while it is on nothing is said");
            prover.button(false).unwrap();
            assert_eq!(levels(&prover.walk), [false; 5]);
            assert!(prover.seen(place != 2));
            assert!(!prover.seen(true), "once");
        }
        prover.button(false).unwrap();
        prover.button(true).unwrap();
        assert_eq!((prover.next(), levels(&prover.walk)), (None, [false; 5]), "all have been walked");
        let found: Vec<_> = prover.found().map(|(_, found)| found).collect();
        assert_eq!(found, [Some(true), Some(true), Some(false), Some(true), Some(true)]);
        let mut sheet = inject(&Settings::example(), &mut outputs(), &mut || true).unwrap();
        assert!(sheet.passed() && sheet.outputs.is_empty());
        prover.write(&mut sheet);
        let written: Vec<_> = sheet.outputs.iter().map(|output| (output.name.as_str(), output.seen)).collect();
        assert_eq!(written, prover.found().collect::<Vec<_>>());
        assert!(!sheet.passed(), "one did not do what it should");
    }

    #[test]
    fn a_feeder_is_walked_beside_the_lamps() {
        let drive = Drive::new(Duty::default(), Speed::LiveZero, Mock::default(), Mock::default()).unwrap();
        let mut prover = Prover::new((outputs(), drive)).unwrap();
        let names: Vec<_> = prover.found().map(|(name, _)| name).collect();
        assert_eq!(names.len(), 10);
        let mut sheet = inject(&Settings::example(), &mut outputs(), &mut || false).unwrap();
        prover.write(&mut sheet);
        assert!(sheet.outputs.iter().map(|output| output.name.as_str()).eq(names.iter().copied()), "whole names");
        let mut speeds = Vec::new();
        for name in names {
            assert_eq!(prover.next(), Some(name));
            prover.button(false).unwrap();
            prover.button(true).unwrap();
            speeds.push(prover.walk.1.duty_now());
            prover.button(false).unwrap();
            assert_eq!(prover.walk.1.duty_now(), 0);
            prover.seen(true);
        }
        // 4 mA stands, 12 mA is half, 20 mA full speed; direction and sounder are shown at a feeder that stands.
        assert_eq!(speeds, [0, 0, 0, 0, 0, 200, 600, 1000, 200, 200]);
    }

    #[test]
    fn a_pin_that_fails_leaves_nothing_on() {
        let mut prover = Prover::new(outputs()).unwrap();
        prover.button(false).unwrap();
        prover.walk.pins().stop.broken.set(true);
        assert_eq!(prover.button(true), Err(PinError));
        assert_eq!(levels(&prover.walk), [false; 5]);
        assert!(!prover.seen(true));
    }
}
