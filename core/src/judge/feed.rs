//! The feed decision: feed, wait, or stop.
//!
//! | from | to | when |
//! |---|---|---|
//! | any | `Stop` | the mill does not run, a trip is latched, an element holds the feed, or samples are missing |
//! | `Stop` | `Wait` | none of these |
//! | `Feed` | `Wait` | the load has been above the stop level for its delay |
//! | `Wait` | `Feed` | the load has been below the resume level for its delay |

use super::report::Feed;
use crate::settings::FeedCoefficients;
use crate::time::Instant;
use crate::unit::Ratio;

/// The decision's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Feeding {
    now: Feed,
    /// Since when the load has spoken for a change.
    since: Option<Instant>,
}

impl Feeding {
    pub(super) fn update(&mut self, c: &FeedCoefficients, now: Instant, may: bool, load: Ratio) {
        if !may {
            *self = Self::default();
            return;
        }
        let (wants, delay, next) = match self.now {
            Feed::Stop => {
                *self = Self { now: Feed::Wait, since: None };
                return;
            }
            Feed::Feed => (load > c.stop, c.stop_delay, Feed::Wait),
            Feed::Wait => (load < c.resume, c.resume_delay, Feed::Feed),
        };
        if !wants {
            self.since = None;
        } else if now.since(*self.since.get_or_insert(now)) >= delay {
            *self = Self { now: next, since: None };
        }
    }

    /// Samples are missing: nobody knows the load, so nothing is fed.
    pub(super) const fn gap(&mut self) {
        *self = Self { now: Feed::Stop, since: None };
    }

    pub(super) const fn feed(&self) -> Feed {
        self.now
    }
}
