//! What led to a decision: the core's trend, fed beside the other outputs, with memory for a minute.

use shaftwork_core::judge::event::Event;
use shaftwork_core::judge::report::{Interval, Moment};
use shaftwork_core::recorder::{Account, Point, Trend};
use shaftwork_core::settings::JudgeCoefficients;

/// A minute of half cycles at 60 Hz, and of windows.
pub struct Memory {
    points: Vec<Point>,
    feeds: Vec<u16>,
}

impl Default for Memory {
    fn default() -> Self {
        Self { points: vec![Point::default(); 7_200], feeds: vec![0; 300] }
    }
}

impl Memory {
    /// Lends it to a trend.
    pub fn trail(&mut self, c: JudgeCoefficients) -> Trail<'_> {
        Trail { c, trend: Trend::new(&mut self.points, &mut self.feeds, 1) }
    }
}

/// The trend of a replay.
pub struct Trail<'m> {
    c: JudgeCoefficients,
    trend: Trend<'m>,
}

impl Trail<'_> {
    /// A half cycle is over.
    pub fn moment(&mut self, moment: &Moment) {
        self.trend.moment(&self.c, moment);
    }

    /// A window is over.
    pub fn interval(&mut self, interval: &Interval) {
        self.trend.interval(&self.c, interval);
    }

    /// What came before, of a decision about the load.
    pub fn event(&mut self, event: &Event) -> Option<Account> {
        self.trend.event(&self.c, event)
    }
}
