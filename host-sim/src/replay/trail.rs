//! What led to a decision: memory for the core's trend, a minute of it at 60 Hz.

use shaftwork_core::recorder::{Point, Trend};
use shaftwork_core::settings::JudgeCoefficients;

/// Half cycles and windows of a minute.
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
    pub fn trend(&mut self, c: &JudgeCoefficients) -> Trend<'_> {
        Trend::new(c, &mut self.points, &mut self.feeds, 1)
    }
}
