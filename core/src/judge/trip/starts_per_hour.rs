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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Action;

    /// No time passes in a power cut: each start counts on for as long as it would have, and nothing else counts.
    #[test]
    fn starts_count_on_after_a_power_cut() {
        let c = StartsCoefficients { most: 2, hour: Span(3_600), action: Action::Trip };
        let mut before = Starts::default();
        before.begin(&c, Instant(0));
        before.begin(&c, Instant(1_000));
        let left = before.left(Instant(1_600));
        assert_eq!(left[..3], [Span(2_000), Span(3_000), Span::ZERO]);
        let mut after = Starts::default();
        after.resume(Instant(50), &left);
        assert_eq!(after.within(Instant(50)), 2);
        assert_eq!(after.wait(&c, Instant(50)), Span(2_000), "until the first is an hour old");
        assert_eq!(after.wait(&c, Instant(2_049)), Span(1));
        assert_eq!(after.wait(&c, Instant(2_050)), Span::ZERO);
        assert_eq!([after.within(Instant(3_049)), after.within(Instant(3_050))], [1, 0]);
    }
}
