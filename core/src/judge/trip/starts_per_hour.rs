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
use crate::math::scale::ratio_q;
use crate::settings::StartsCoefficients;
use crate::time::{Instant, Span};
use crate::unit::Ratio;

/// Starts that are kept.
pub(crate) const KEPT: usize = 16;

/// When each of the latest starts is an hour old: a ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Starts {
    until: [Instant; KEPT],
    /// Place of the oldest, and how many there are.
    oldest: u8,
    count: u8,
}

impl Starts {
    /// A start.
    pub(crate) fn begin(&mut self, c: &StartsCoefficients, onset: Instant) {
        self.keep(onset.after(c.hour));
    }

    fn keep(&mut self, until: Instant) {
        if usize::from(self.count) == KEPT {
            self.drop_oldest();
        }
        let next = self.place(self.count);
        if let Some(slot) = self.until.get_mut(next) {
            *slot = until;
        }
        self.count += 1;
    }

    const fn drop_oldest(&mut self) {
        self.oldest = (self.oldest + 1) % KEPT as u8;
        self.count -= 1;
    }

    /// Where the n-th lies, the oldest first.
    const fn place(&self, n: u8) -> usize {
        (self.oldest + n) as usize % KEPT
    }

    /// The n-th that counts, the oldest first.
    fn nth(&self, n: u8) -> Option<Instant> {
        if n < self.count { self.until.get(self.place(n)).copied() } else { None }
    }

    /// Those of the last hour.
    fn within(&mut self, now: Instant) -> u8 {
        while self.nth(0).is_some_and(|until| now >= until) {
            self.drop_oldest();
        }
        self.count
    }

    /// Those that count over one more than are allowed.
    pub(crate) fn share(&self, c: &StartsCoefficients) -> Ratio {
        Ratio::from_bits(ratio_q(self.count.into(), u64::from(c.most) + 1, 24))
    }

    /// How long until another one is allowed; nothing where it is now.
    pub(crate) fn wait(&mut self, c: &StartsCoefficients, now: Instant) -> Span {
        let surplus = self.within(now).checked_sub(c.most);
        surplus.and_then(|surplus| self.nth(surplus)).map_or(Span::ZERO, |until| until.since(now))
    }

    /// How long each still counts; none for those that are not there.
    pub(crate) fn left(&self, now: Instant) -> [Span; KEPT] {
        let mut left = [Span::ZERO; KEPT];
        for (n, left) in (0..self.count).zip(&mut left) {
            *left = self.nth(n).map_or(Span::ZERO, |until| until.since(now));
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
    Level::when(starts.within(view.now) > c.most)
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
