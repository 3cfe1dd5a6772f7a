//! Whether what was told happens: the contactor by its auxiliary contact, the feeder by its running signal.
//!
//! | told | answer, for longer than the delay | what is done |
//! |---|---|---|
//! | relay open | contactor closed | alarm, event: **the motor cannot be stopped from here**; the feed is on stop anyway |
//! | relay closed, current flows | contactor open | alarm, event: the contact or its wire is wrong |
//! | feeder stands | it runs | alarm, event; the permit is withheld until it stands |
//! | feeder runs | it stands | alarm, event; the permit is withheld: a person at the mill has to release the feed anew |
//!
//! An input that is not there tells nothing, and nothing is concluded from it. A contactor whose contacts are welded is a case for the
//! circuit's own means (IEC 60204-1, 9.4.3): this only tells it.

use shaftwork_core::judge::notice::Answer;

/// What the plant answers; `None` where there is no such input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Answers {
    /// The contactor's auxiliary contact: it is closed.
    pub contactor: Option<bool>,
    /// The feeder runs, either way.
    pub feeder: Option<bool>,
}

/// Blocks after which an answer has to be there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Delays {
    /// Contactors change over within 30 to 150 ms (common practice, no source).
    pub contactor: u32,
    /// The drive's ramp, and the feeder's coasting.
    pub feeder: u32,
}

impl Default for Delays {
    /// Half a second and four seconds at 4 kHz.
    fn default() -> Self {
        Self { contactor: 250, feeder: 2_000 }
    }
}

/// Watches one thing that is told.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Follow {
    /// Readings in a row with an answer other than what is told.
    other: u32,
    wrong: bool,
}

impl Follow {
    /// To be called once a block with what is told (`None`: either is right) and answered. Gives what has changed.
    pub(crate) fn take(&mut self, told: Option<bool>, answer: Option<bool>, delay: u32) -> Option<Answer> {
        let differs = told.zip(answer).filter(|(told, answer)| told != answer);
        let Some((told, _)) = differs else {
            self.other = 0;
            return core::mem::take(&mut self.wrong).then_some(Answer::Follows);
        };
        self.other = self.other.saturating_add(1);
        if self.wrong || self.other <= delay {
            return None;
        }
        self.wrong = true;
        Some(if told { Answer::Stands } else { Answer::RunsOn })
    }

    pub(crate) const fn wrong(self) -> bool {
        self.wrong
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_told_once_after_the_delay_and_once_when_it_follows() {
        let mut follow = Follow::default();
        let mut take = |told, answer| follow.take(told, answer, 3);
        for _ in 0..3 {
            assert_eq!(take(Some(false), Some(true)), None, "a contactor takes its time");
        }
        assert_eq!(take(Some(false), Some(true)), Some(Answer::RunsOn));
        assert_eq!(take(Some(false), Some(true)), None);
        assert_eq!(take(Some(false), Some(false)), Some(Answer::Follows));
        assert_eq!(take(Some(false), Some(false)), None);
        for told in [None, Some(true)] {
            for _ in 0..10 {
                assert_eq!(take(told, None), None, "no input, no conclusion");
                assert_eq!(take(None, Some(true)), None, "either is right");
            }
        }
        for _ in 0..3 {
            assert_eq!(take(Some(true), Some(false)), None);
        }
        assert_eq!(take(Some(true), Some(false)), Some(Answer::Stands));
    }
}
