//! The blows of the hammers on a piece.
//!
//! ```text
//! strike(t) = peak (1 - cos(2 pi x)) / 2,  0 <= x = (t - at) / width <= 1,   work at speed w: peak width w / 2
//! ```

use super::super::feeder::Piece;
use super::super::seed::{Random, Span};
use std::collections::VecDeque;
use std::f64::consts::TAU;

/// Length of a single strike, s: the shortest and the longest.
const STRIKE_S: Span = Span(0.014, 0.030);

/// Strikes a second that a piece takes, about.
const STRIKES_HZ: f64 = 24.0;

/// Time from the feeder to the hammers, s.
const FALL_S: f64 = 0.25;

/// A blow that a piece will take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blow {
    /// When, as a share of the burst.
    share: f64,
    /// Its part of the work, against the others'.
    weight: f64,
    width_s: f64,
}

/// Draws the blows of a burst of a length.
pub fn draw(burst_s: f64, random: &mut Random) -> Vec<Blow> {
    // Bursts last seconds at most: the count is small.
    let count = ((burst_s * STRIKES_HZ) as usize).max(3);
    let blow = |n: usize| {
        let share = (n as f64 + random.unit()) / count as f64;
        let weight = (0.5 + random.unit()) * (1.3 - share);
        Blow { share, weight, width_s: random.within(STRIKE_S) }
    };
    (0..count).map(blow).collect()
}

/// One blow.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Strike {
    at_s: f64,
    width_s: f64,
    peak_nm: f64,
}

impl Strike {
    fn torque(&self, t_s: f64) -> f64 {
        let x = (t_s - self.at_s) / self.width_s;
        if (0.0..=1.0).contains(&x) { self.peak_nm * 0.5 * (1.0 - (TAU * x).cos()) } else { 0.0 }
    }

    fn impulse(&self, from_s: f64, until_s: f64) -> f64 {
        let by = |t_s: f64| {
            let x = ((t_s - self.at_s) / self.width_s).clamp(0.0, 1.0);
            x - (TAU * x).sin() / TAU
        };
        self.peak_nm * 0.5 * self.width_s * (by(until_s) - by(from_s))
    }
}

/// Blows that are under way or to come, in order of time.
#[derive(Debug, Clone, Default)]
pub(super) struct Strikes {
    all: VecDeque<Strike>,
}

impl Strikes {
    /// A piece falls; together its blows do its work at the working speed. A mill that is full spreads them over
    /// `slower` times the piece's own time.
    pub(super) fn burst(&mut self, piece: &Piece, slower: f64, speed_rad_s: f64) {
        let weights: f64 = piece.blows.iter().map(|blow| blow.weight).sum();
        for Blow { share, weight, width_s } in &piece.blows {
            let at_s = piece.at_s + FALL_S + share * piece.burst_s * slower;
            let peak_nm = weight * (piece.work_j / weights / (width_s * 0.5 * speed_rad_s));
            let place = self.all.partition_point(|other| other.at_s <= at_s);
            self.all.insert(place, Strike { at_s, width_s: *width_s, peak_nm });
        }
    }

    /// When the hammers begin with a piece, and have done with it, s.
    pub(super) fn span_s(piece: &Piece, slower: f64) -> [f64; 2] {
        let begins = piece.at_s + FALL_S;
        [begins, begins + piece.burst_s * slower]
    }

    /// Forgets those that are over.
    pub(super) fn advance(&mut self, t_s: f64) {
        while self.all.front().is_some_and(|strike| strike.at_s + STRIKE_S.1 < t_s) {
            self.all.pop_front();
        }
    }

    /// Those that are still to come at a time come so much later: all by the same, so that their order stays.
    pub(super) fn delay(&mut self, t_s: f64, by_s: f64) {
        self.all.iter_mut().filter(|strike| strike.at_s > t_s).for_each(|strike| strike.at_s += by_s);
    }

    /// Torque at a time, N m.
    pub(super) fn torque(&self, t_s: f64) -> f64 {
        self.all.iter().take_while(|strike| strike.at_s <= t_s).map(|strike| strike.torque(t_s)).sum()
    }

    /// Torque over a span of time, N m s.
    pub(super) fn impulse(&self, from_s: f64, until_s: f64) -> f64 {
        let begun = self.all.iter().take_while(|strike| strike.at_s <= until_s);
        begun.map(|strike| strike.impulse(from_s, until_s)).sum()
    }
}
