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
const KEPT: usize = 16;

/// The latest starts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Starts(Deque<Instant, KEPT>);

impl Starts {
    /// A start.
    pub(crate) fn begin(&mut self, onset: Instant) {
        if self.0.is_full() {
            self.0.pop_front();
        }
        let _ = self.0.push_back(onset); // there is room
    }

    /// Those of the last hour.
    fn within(&mut self, now: Instant, hour: Span) -> usize {
        while self.0.front().is_some_and(|first| now.since(*first) >= hour) {
            self.0.pop_front();
        }
        self.0.len()
    }

    /// How long until another one is allowed; nothing where it is now.
    pub(crate) fn wait(&mut self, c: &StartsCoefficients, now: Instant) -> Span {
        let surplus = self.within(now, c.hour).checked_sub(usize::from(c.most));
        let first = surplus.and_then(|surplus| self.0.iter().nth(surplus));
        first.map_or(Span::ZERO, |first| first.after(c.hour).since(now))
    }
}

pub(crate) fn level(c: &StartsCoefficients, starts: &mut Starts, view: &View) -> Level {
    Level::when(starts.within(view.now, c.hour) > usize::from(c.most))
}
