//! Starts per hour: a start more within an hour than the motor bears.
//!
//! A cage takes up as much heat at each start as all that turns takes up kinetic energy (motor handbooks), and gives it off
//! slowly; makers limit how often (NEMA MG 10, table 2-3). The starts of the last hour are kept, at most sixteen of them.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Quiet` | `Given` | a start more than allowed within an hour |
//! | `Given` | `Quiet` | a person resets; an element that does not trip, when an hour has passed since the first of them |

use super::View;
use super::timer::Level;
use crate::settings::StartsCoefficients;
use crate::time::{Instant, Span};
use heapless::Deque;

/// Starts that are kept.
pub(crate) const KEPT: usize = 16;

/// When each of the latest starts is an hour old.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Starts(Deque<Instant, KEPT>);

impl Starts {
    /// A start.
    pub(crate) fn begin(&mut self, c: &StartsCoefficients, onset: Instant) {
        self.keep(onset.after(c.hour));
    }

    fn keep(&mut self, until: Instant) {
        if self.0.is_full() {
            self.0.pop_front();
        }
        let _ = self.0.push_back(until); // there is room
    }

    /// Those of the last hour.
    fn within(&mut self, now: Instant) -> usize {
        while self.0.front().is_some_and(|until| now >= *until) {
            self.0.pop_front();
        }
        self.0.len()
    }

    /// How long until another one is allowed; nothing where it is now.
    pub(crate) fn wait(&mut self, c: &StartsCoefficients, now: Instant) -> Span {
        let surplus = self.within(now).checked_sub(usize::from(c.most));
        let until = surplus.and_then(|surplus| self.0.iter().nth(surplus));
        until.map_or(Span::ZERO, |until| until.since(now))
    }

    /// How long each still counts; none for those that are not there.
    pub(crate) fn left(&self, now: Instant) -> [Span; KEPT] {
        let mut left = [Span::ZERO; KEPT];
        for (left, until) in left.iter_mut().zip(&self.0) {
            *left = until.since(now);
        }
        left
    }

    /// Those that count so long from now on, the oldest first.
    pub(crate) fn resume(&mut self, now: Instant, left: &[Span; KEPT]) {
        for span in left.iter().filter(|span| **span > Span::ZERO) {
            self.keep(now.after(*span));
        }
    }
}

pub(crate) fn level(c: &StartsCoefficients, starts: &mut Starts, view: &View) -> Level {
    Level::when(starts.within(view.now) > usize::from(c.most))
}
