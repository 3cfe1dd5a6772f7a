//! Feeding by hand: one piece after another, each a little different, as long as the feed lamp says so.
//!
//! Where there is a lamp, a person sees what it says `reaction_s` late, and not at all what lasts for less. Once it is not on "feed" he
//! looks at it before the next piece, or throws that one all the same, so often as `missed` says; who has looked waits until it is on
//! "feed" again. The same seed gives the same pieces, whether the lamp is heeded or not.

use super::super::mill::Chamber;
use super::super::seed::{Random, Span};
use super::{Material, Piece};
use serde::{Deserialize, Serialize};

/// A person who throws pieces in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hand {
    /// When the first piece may fall, s.
    pub from_s: f64,
    /// After when none falls, s.
    #[serde(default = "crate::plant::never")]
    pub until_s: f64,
    /// Time between pieces, s.
    pub interval_s: Span,
    /// How the feed lamp is heeded, where there is one.
    #[serde(default)]
    pub lamp: Heed,
    /// What is thrown.
    pub material: Material,
}

/// How a person heeds the feed lamp.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Heed {
    /// From a change of the lamp until it is seen, s.
    pub reaction_s: f64,
    /// The share of pieces that are thrown without a look at it; 1: it is not heeded.
    pub missed: f64,
}

/// Common practice, no source.
impl Default for Heed {
    fn default() -> Self {
        Self { reaction_s: 1.0, missed: 0.0 }
    }
}

/// A person at work.
#[derive(Debug, Clone)]
pub struct Throwing {
    hand: Hand,
    pieces: Random,
    looks: Random,
    next_s: f64,
    /// Whether the lamp holds the feed; none where there is no lamp.
    holds: Option<bool>,
    /// What is seen of it, and when it last was what is seen, s.
    seen: bool,
    since_s: f64,
    /// Whether the person waits for the lamp.
    waits: bool,
}

impl Throwing {
    /// From the beginning.
    pub fn new(hand: Hand, seed: u64) -> Self {
        let (pieces, looks) = (Random::stream(seed, 0), Random::stream(seed, 18));
        Self { next_s: hand.from_s, hand, pieces, looks, holds: None, seen: false, since_s: 0.0, waits: false }
    }

    /// Whether the lamp holds the feed from now on; the first time it is seen at once.
    pub const fn lamp(&mut self, holds: bool) {
        if self.holds.is_none() {
            self.seen = holds;
        }
        self.holds = Some(holds);
    }

    /// Sees the lamp at a time.
    fn look(&mut self, t_s: f64) {
        if self.holds.is_none_or(|holds| holds == self.seen) {
            self.since_s = t_s;
        } else if t_s - self.since_s >= self.hand.lamp.reaction_s {
            self.seen = !self.seen;
            self.since_s = t_s;
        }
        self.waits &= self.seen;
    }

    /// The next piece, if it falls by a time.
    pub fn next(&mut self, t_s: f64, chamber: Option<&Chamber>) -> Option<Piece> {
        self.look(t_s);
        if self.next_s > t_s || self.next_s > self.hand.until_s {
            return None;
        }
        if self.seen && !self.waits {
            self.waits = self.looks.unit() >= self.hand.lamp.missed;
        }
        if self.waits {
            // What would have been thrown comes when the wait is over.
            self.next_s = t_s;
            return None;
        }
        let piece = self.hand.material.draw(self.next_s, chamber, &mut self.pieces);
        self.next_s += self.pieces.within(self.hand.interval_s);
        Some(piece)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Work;
    use super::*;

    /// A piece a second from the first second on; the lamp is on "feed" but from 10.3 to 20.3 s and for half a second at 30.1 s.
    fn thrown(lamp: Heed, seed: u64) -> Vec<Piece> {
        let (fixed, work) = (Span(0.2, 0.2), Work::PerTonne(Span(20.0, 40.0)));
        let material = Material { mass_kg: Span(0.1, 0.5), work, burst_s: fixed };
        let hand = Hand { from_s: 1.0, until_s: f64::INFINITY, interval_s: Span(1.0, 1.0), lamp, material };
        let mut throwing = Throwing::new(hand, seed);
        let mut pieces = Vec::new();
        for n in 0..4_000 {
            let t_s = f64::from(n) / 100.0;
            throwing.lamp((10.3..20.3).contains(&t_s) || (30.1..30.6).contains(&t_s));
            pieces.extend(throwing.next(t_s, None));
        }
        pieces
    }

    fn times(pieces: &[Piece]) -> Vec<f64> {
        pieces.iter().map(|piece| piece.at_s).collect()
    }

    #[test]
    fn the_lamp_is_seen_after_the_reaction_and_what_is_shorter_never() {
        let at_once = times(&thrown(Heed { reaction_s: 0.0, missed: 0.0 }, 1));
        let pause = |times: &[f64], from: f64| times.iter().copied().find(|t_s| *t_s > from).unwrap();
        assert!((pause(&at_once, 10.1) - 20.3).abs() < 0.03, "the eleventh piece waits");
        assert!((pause(&at_once, 29.9) - 30.6).abs() < 0.03, "{at_once:?}");
        let late = times(&thrown(Heed { reaction_s: 1.0, missed: 0.0 }, 1));
        assert!((pause(&late, 10.5) - 11.0).abs() < 0.03 && (pause(&late, 11.1) - 21.3).abs() < 0.03, "{late:?}");
        let last = &late[late.iter().position(|t_s| *t_s > 22.0).unwrap()..];
        assert!(last.windows(2).all(|pair| pair[1] - pair[0] < 1.03), "half a second is not seen: {last:?}");
    }

    /// Who misses the lamp for a piece in so many throws on the mean that many more into the wait: m / (1 - m) by the geometric law.
    #[test]
    fn what_is_thrown_without_a_look() {
        let during = |missed| {
            let of = |seed| {
                let pieces = thrown(Heed { reaction_s: 0.0, missed }, seed);
                pieces.iter().filter(|piece| (10.3..20.2).contains(&piece.at_s)).count()
            };
            (1..=400).map(of).sum::<usize>() as f64 / 400.0
        };
        assert!(during(0.0) < 1e-9);
        // Of deviation sqrt(m) / (1 - m), over the root of 400: within three of these.
        assert!((during(0.5) - 1.0).abs() < 3.0 * 1.414 / 20.0, "{}", during(0.5));
        assert!((during(1.0) - 10.0).abs() < 1e-9, "{}", during(1.0));
    }

    #[test]
    fn the_lamp_changes_when_pieces_fall_but_not_which() {
        let masses = |missed| thrown(Heed { reaction_s: 1.0, missed }, 7).iter().map(|p| p.mass_kg).collect::<Vec<_>>();
        let (heeded, not) = (masses(0.0), masses(1.0));
        assert!(heeded.len() + 8 < not.len() && not.starts_with(&heeded));
    }
}
