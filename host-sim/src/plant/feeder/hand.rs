//! Feeding by hand: one piece after another, each a little different.

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
    /// What is thrown.
    pub material: Material,
}

/// A person at work.
#[derive(Debug, Clone)]
pub struct Throwing {
    hand: Hand,
    random: Random,
    next_s: f64,
    waits: bool,
}

impl Throwing {
    /// From the beginning.
    pub fn new(hand: Hand, random: Random) -> Self {
        Self { next_s: hand.from_s, hand, random, waits: false }
    }

    /// Whether the person waits: what would have been thrown comes when the wait is over.
    pub const fn wait(&mut self, waits: bool) {
        self.waits = waits;
    }

    /// The next piece, if it falls by a time.
    pub fn next(&mut self, t_s: f64, chamber: Option<&Chamber>) -> Option<Piece> {
        if self.waits {
            self.next_s = self.next_s.max(t_s);
            return None;
        }
        if self.next_s > t_s || self.next_s > self.hand.until_s {
            return None;
        }
        let piece = self.hand.material.draw(self.next_s, chamber, &mut self.random);
        self.next_s += self.random.within(self.hand.interval_s);
        Some(piece)
    }
}
