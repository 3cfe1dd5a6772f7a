//! What the loop watches beside the core: whether the plant does as it is told, the clock, and what was told of already.

use shaftwork_core::FeedInputs;
use shaftwork_core::judge::notice::Notice;

use crate::clock::Clock;
use crate::follow::{Answers, Delays, Follow};

/// The loop's memory of it.
#[derive(Debug)]
pub(crate) struct Watch {
    pub(crate) delays: Delays,
    pub(crate) answers: Answers,
    contactor: Follow,
    feeder: Follow,
    pub(crate) clock: Clock,
    /// What the inputs told of the feed last.
    pub(crate) inputs: FeedInputs,
    /// The motor runs under current.
    pub(crate) flows: bool,
    /// The converter is silent, and that was told.
    pub(crate) silent: bool,
    /// An output cannot be set, and that was told.
    pub(crate) output: bool,
}

impl Watch {
    /// At so many frames a second, mHz.
    pub(crate) fn new(rate_mhz: u32) -> Self {
        Self {
            delays: Delays::default(),
            answers: Answers::default(),
            contactor: Follow::default(),
            feeder: Follow::default(),
            clock: Clock::new(rate_mhz),
            inputs: FeedInputs::default(),
            flows: false,
            silent: false,
            output: false,
        }
    }

    /// Compares what is told with what is answered; gives what has changed.
    pub(crate) fn follow(&mut self, may_run: bool, feeds: bool) -> [Option<Notice>; 2] {
        // A relay that is closed lets the contactor be open: the button of a person.
        let told = if may_run { self.flows.then_some(true) } else { Some(false) };
        let contactor = self.contactor.take(told, self.answers.contactor, self.delays.contactor);
        let feeder = self.feeder.take(Some(feeds), self.answers.feeder, self.delays.feeder);
        [contactor.map(Notice::Contactor), feeder.map(Notice::FeederDrive)]
    }

    /// Whether anything does not do as it is told.
    pub(crate) const fn wrong(&self) -> bool {
        self.contactor.wrong() || self.feeder.wrong()
    }

    /// The inputs of the feed, without a permit while the feeder does not do as it is told.
    pub(crate) fn permitted(&self) -> FeedInputs {
        if self.feeder.wrong() { FeedInputs { permit: Some(false), ..self.inputs } } else { self.inputs }
    }
}
