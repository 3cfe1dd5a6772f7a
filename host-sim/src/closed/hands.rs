//! What lies between core and plant: the outputs go to contactor, belt and lamp; a person looks after the inputs.
//!
//! The person keeps the permit on while the guards are closed, releases the feed two seconds after the mill runs (or after it was
//! stopped so that it wants a person), and comes half a minute after being called. Nobody starts the motor again. Whoever throws pieces
//! in heeds the lamp as the scenario says ([`crate::plant::feeder::hand`]), also beside a belt that is governed.

use std::cell::RefCell;
use std::rc::Rc;

use shaftwork_core::judge::report::{Decision, Feed};
use shaftwork_core::{FeedInputs, FeedMode};

use super::staircase::{Shown, Staircase};
use crate::plant::Answer;

/// How long a person takes to see that the feed may be released, s.
const SEES_S: f64 = 2.0;
/// How long to come when called, s.
const COMES_S: f64 = 30.0;
/// Speed of a belt that is told to run backwards, as a share of full speed.
const BACKWARDS: f64 = 0.3;

/// Shared by the loop and the plant.
#[derive(Debug, Clone)]
pub struct Hands(Rc<RefCell<Held>>);

#[derive(Debug)]
struct Held {
    answer: Answer,
    inputs: FeedInputs,
    /// Whether the belt goes by the governor.
    governed: bool,
    rate_hz: f64,
    /// For how long the feed has been stopped though the mill runs, s.
    stopped_s: f64,
    /// The steps of a step test, if that is what the person does.
    stairs: Option<Staircase>,
}

impl Hands {
    /// At a rate of frames; `governed` where the settings have a feeder.
    pub fn new(rate_hz: f64, governed: bool, mode: FeedMode) -> Self {
        let inputs = FeedInputs { permit: Some(true), mode, release: false };
        let answer = Answer { hold: true, ..Answer::default() };
        Self(Rc::new(RefCell::new(Held { answer, inputs, governed, rate_hz, stopped_s: 0.0, stairs: None })))
    }

    /// Those of a person who makes a step test.
    pub fn stepping(rate_hz: f64, stairs: Staircase) -> Self {
        let hands = Self::new(rate_hz, true, stairs.mode());
        hands.0.borrow_mut().stairs = Some(stairs);
        hands
    }

    /// What the core has decided, `frames` after the last time; whether the mill runs.
    pub fn take(&self, decision: &Decision, runs: bool, frames: usize) {
        let mut held = self.0.borrow_mut();
        let feeder = decision.feeder;
        let belt = if feeder.reverse { -BACKWARDS } else { f64::from(feeder.permille) / 1000.0 };
        held.answer = Answer {
            belt: held.governed.then_some(belt),
            hold: decision.feed != Feed::Feed,
            open: decision.trip.is_some(),
        };
        let length_s = frames as f64 / held.rate_hz;
        if let Some(stairs) = &mut held.stairs {
            let feeds = decision.trip.is_none() && decision.feed == Feed::Feed;
            stairs.pass(length_s, Shown { runs, feeds });
            let (mode, release) = (stairs.mode(), stairs.releases());
            held.inputs = FeedInputs { mode, release, ..held.inputs };
            return;
        }
        let waits = runs && decision.trip.is_none() && decision.feed == Feed::Stop;
        held.stopped_s = if waits { held.stopped_s + length_s } else { 0.0 };
        let after_s = if feeder.call { COMES_S } else { SEES_S };
        held.inputs.release = held.stopped_s >= after_s;
    }

    /// What the plant has to heed.
    pub fn answer(&self) -> Answer {
        self.0.borrow().answer
    }

    /// What is written down now, and whether the test is at its end.
    pub fn noted(&self) -> (Vec<String>, bool) {
        let mut held = self.0.borrow_mut();
        let stairs = held.stairs.as_mut();
        stairs.map_or((Vec::new(), false), |stairs| (std::iter::from_fn(|| stairs.note()).collect(), stairs.over()))
    }

    /// What the core's inputs tell.
    pub fn inputs(&self) -> FeedInputs {
        self.0.borrow().inputs
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::judge::report::Feeder;

    /// The belt of a governed feeder is told its speed, and the lamp tells whoever throws beside it; without one the lamp tells both.
    #[test]
    fn the_lamp_is_for_everybody() {
        let answer = |governed, feed, reverse| {
            let hands = Hands::new(2_000.0, governed, FeedMode::Automatic);
            let feeder = Feeder { reverse, ..Feeder::default() };
            hands.take(&Decision { trip: None, feed, feeder, start: None }, true, 8);
            (hands.answer().belt, hands.answer().hold)
        };
        assert_eq!(answer(true, Feed::Feed, false), (Some(0.0), false));
        assert_eq!(answer(true, Feed::Wait, true), (Some(-BACKWARDS), true));
        assert_eq!(answer(false, Feed::Wait, false), (None, true));
        assert_eq!(answer(false, Feed::Stop, false), (None, true));
        assert_eq!(answer(false, Feed::Feed, false), (None, false));
    }
}
