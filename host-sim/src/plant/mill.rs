//! The mill: a rotor, its windage, pieces that break under the hammers, and a wedge.
//!
//! ```text
//! load(t, w) = c w^2 + [ sum of strikes(t) + wedge(t) ] tanh(w / w0)
//! strike(t)  = peak (1 - cos(2 pi x)) / 2,  0 <= x = (t - at) / width <= 1,   work at speed w: peak width w / 2
//! ```
//!
//! N m, s, rad/s, kg, J. A piece of mass m needs m times its specific breaking work; it takes this in a burst of
//! hammer strikes, more or less regular, harder at first. Strikes are torques in time, so their work falls with the
//! speed, as the hammers' frequency does. Orders of magnitude (from memory, of the literature on shredding metal
//! scrap): 20 to 60 kWh a tonne for light scrap and castings. The tanh lets strikes and wedge hold a rotor that has
//! stopped without turning it back.

use super::seed::{Random, Span};
use std::f64::consts::TAU;

/// Joules in a kilowatt-hour a tonne, by the kilogram.
pub const J_PER_KG: f64 = 3600.0;

/// Speed below which strikes and wedge fade, rad/s.
const FADE_RAD_S: f64 = 2.0;

/// Length of a single strike, s: the shortest and the longest.
const STRIKE_S: Span = Span(0.014, 0.030);

/// Strikes a second that a piece takes, about.
const STRIKES_HZ: f64 = 24.0;

/// Time from the scale to the hammers, s.
const FALL_S: f64 = 0.25;

/// A rotor and what hinders it.
#[derive(Debug, Clone, PartialEq)]
pub struct Mill {
    /// All that turns but the motor's own rotor, seen from the motor shaft, kg m².
    pub inertia_kg_m2: f64,
    /// Windage and bearings with nothing in the mill: torque over speed squared, N m s².
    pub windage_nm_s2: f64,
    /// Speed for which the strikes' torques are reckoned, rad/s.
    pub working_rad_s: f64,
    /// What is fed.
    pub feed: Option<Feed>,
    /// What gets stuck.
    pub wedge: Option<Wedge>,
}

impl Mill {
    /// Torque of the empty mill, N m.
    pub fn windage_nm(&self, speed_rad_s: f64) -> f64 {
        self.windage_nm_s2 * speed_rad_s * speed_rad_s.abs()
    }
}

/// Feeding by hand: one piece after another, each a little different.
#[derive(Debug, Clone, PartialEq)]
pub struct Feed {
    /// When the first piece may fall, s.
    pub from_s: f64,
    /// After when none falls, s.
    pub until_s: f64,
    /// Time between pieces, s.
    pub interval_s: Span,
    /// Mass of a piece, kg.
    pub mass_kg: Span,
    /// Breaking work, kWh a tonne.
    pub work_kwh_t: Span,
    /// How long a piece is struck, s: the lightest and the heaviest, about.
    pub burst_s: Span,
}

/// A piece that is stuck between rotor and casing: torque that rises and stays until the piece comes loose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wedge {
    /// When it begins, s.
    pub at_s: f64,
    /// How long the torque takes to rise, s (0.1 to 0.4 is usual).
    pub rise_s: f64,
    /// Torque that stays, N m.
    pub torque_nm: f64,
    /// When the piece comes loose, s; infinity for never.
    pub until_s: f64,
}

impl Wedge {
    fn torque(&self, t_s: f64) -> f64 {
        let x = if t_s < self.until_s { ((t_s - self.at_s) / self.rise_s).clamp(0.0, 1.0) } else { 0.0 };
        self.torque_nm * x * x * (3.0 - 2.0 * x)
    }
}

/// A piece as it falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// When it leaves the scale and counts as fed, s.
    pub at_s: f64,
    /// Its mass, kg.
    pub mass_kg: f64,
    /// What it takes to break it, J.
    pub work_j: f64,
}

/// One blow of the hammers.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Strike {
    at_s: f64,
    width_s: f64,
    peak_nm: f64,
}

/// The load over time, drawn from a seed.
#[derive(Debug, Clone)]
pub struct Load {
    mill: Mill,
    pieces: Vec<Piece>,
    strikes: Vec<Strike>,
    /// Strikes before this one are over.
    first: usize,
}

impl Load {
    /// Draws the pieces and their strikes.
    pub fn new(mill: &Mill, random: &mut Random) -> Self {
        let (mut pieces, mut strikes) = (Vec::new(), Vec::new());
        if let Some(feed) = &mill.feed {
            let mut at_s = feed.from_s;
            while at_s <= feed.until_s {
                let mass_kg = random.within(feed.mass_kg);
                let piece = Piece { at_s, mass_kg, work_j: mass_kg * random.within(feed.work_kwh_t) * J_PER_KG };
                let size = 0.7 * feed.mass_kg.share(mass_kg) + 0.3 * random.unit();
                burst(&piece, feed.burst_s.at(size), mill.working_rad_s, random, &mut strikes);
                pieces.push(piece);
                at_s += random.within(feed.interval_s);
            }
        }
        strikes.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        Self { mill: mill.clone(), pieces, strikes, first: 0 }
    }

    /// The pieces in the order in which they fall.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Forgets the strikes that are over. Times asked for later must not lie before this one.
    pub fn advance(&mut self, t_s: f64) {
        while self.strikes.get(self.first).is_some_and(|strike| strike.at_s + STRIKE_S.1 < t_s) {
            self.first += 1;
        }
    }

    /// Torque against the motion, N m, at a time and a speed (rad/s).
    pub fn torque_nm(&self, t_s: f64, speed_rad_s: f64) -> f64 {
        self.mill.windage_nm(speed_rad_s) + self.breaking_nm(t_s, speed_rad_s)
    }

    /// The part of it that pieces and wedge take, N m.
    pub fn breaking_nm(&self, t_s: f64, speed_rad_s: f64) -> f64 {
        let struck: f64 =
            self.strikes[self.first..].iter().take_while(|strike| strike.at_s <= t_s).map(|s| s.torque(t_s)).sum();
        let wedged = self.mill.wedge.map_or(0.0, |wedge| wedge.torque(t_s));
        (struck + wedged) * (speed_rad_s / FADE_RAD_S).tanh()
    }
}

impl Strike {
    fn torque(&self, t_s: f64) -> f64 {
        let x = (t_s - self.at_s) / self.width_s;
        if (0.0..=1.0).contains(&x) { self.peak_nm * 0.5 * (1.0 - (TAU * x).cos()) } else { 0.0 }
    }
}

/// Draws the strikes of one piece; together they do its work at the working speed.
fn burst(piece: &Piece, length_s: f64, speed_rad_s: f64, random: &mut Random, strikes: &mut Vec<Strike>) {
    // Bursts last seconds at most: the count is small.
    let count = ((length_s * STRIKES_HZ) as usize).max(3);
    let begin = strikes.len();
    let mut weights = 0.0;
    for n in 0..count {
        let share = (n as f64 + random.unit()) / count as f64;
        let weight = (0.5 + random.unit()) * (1.3 - share);
        weights += weight;
        let width_s = random.within(STRIKE_S);
        let at_s = piece.at_s + FALL_S + share * length_s;
        // The weight for now; the peak follows once their sum is known.
        strikes.push(Strike { at_s, width_s, peak_nm: weight });
    }
    for strike in &mut strikes[begin..] {
        strike.peak_nm *= piece.work_j / weights / (strike.width_s * 0.5 * speed_rad_s);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mill() -> Mill {
        let feed = Feed {
            from_s: 1.0,
            until_s: 61.0,
            interval_s: Span(0.6, 1.4),
            mass_kg: Span(0.15, 0.6),
            work_kwh_t: Span(20.0, 40.0),
            burst_s: Span(0.2, 1.5),
        };
        Mill { inertia_kg_m2: 15.0, windage_nm_s2: 2e-3, working_rad_s: 155.0, feed: Some(feed), wedge: None }
    }

    /// At the working speed the strikes take just what the pieces need.
    #[test]
    fn strikes_do_the_work_of_the_pieces() {
        let mill = mill();
        let mut load = Load::new(&mill, &mut Random::new(3));
        let needed: f64 = load.pieces().iter().map(|piece| piece.work_j).sum();
        let h = 1e-4;
        let mut done = 0.0;
        for n in 0..650_000 {
            let t = f64::from(n) * h;
            load.advance(t);
            done += load.breaking_nm(t, mill.working_rad_s) * mill.working_rad_s * h;
        }
        assert!((done / needed - 1.0).abs() < 1e-5, "done {done}, needed {needed}");
    }

    #[test]
    fn pieces_are_as_asked_for() {
        let load = Load::new(&mill(), &mut Random::new(3));
        let mut last = 1.0 - 0.6;
        for piece in load.pieces() {
            assert!((0.15..0.6).contains(&piece.mass_kg));
            let work = piece.work_j / piece.mass_kg / J_PER_KG;
            assert!((20.0..40.0).contains(&work));
            assert!(piece.at_s - last > 0.6 - 1e-9 && piece.at_s <= 61.0);
            last = piece.at_s;
        }
        assert!((50..75).contains(&load.pieces().len()));
    }

    #[test]
    fn a_seed_gives_the_same_load_and_another_seed_another() {
        let draw = |seed| Load::new(&mill(), &mut Random::new(seed)).pieces().to_vec();
        assert_eq!(draw(8), draw(8));
        assert_ne!(draw(8), draw(9));
    }

    #[test]
    fn a_wedge_rises_and_stays() {
        let wedge = Wedge { at_s: 2.0, rise_s: 0.2, torque_nm: 900.0, until_s: 200.0 };
        let load = Load::new(&Mill { feed: None, wedge: Some(wedge), ..mill() }, &mut Random::new(1));
        for (t, wanted) in [(1.9, 0.0), (2.1, 450.0), (2.2, 900.0), (100.0, 900.0), (200.0, 0.0)] {
            assert!((load.breaking_nm(t, 150.0) - wanted).abs() < 1e-9);
        }
        assert!(load.breaking_nm(9.0, 0.0).abs() < 1e-9, "a stopped rotor is not turned back");
    }

    #[test]
    fn windage_opposes_the_motion() {
        let mill = mill();
        assert!((mill.windage_nm(100.0) - 20.0).abs() < 1e-9);
        assert!((mill.windage_nm(-100.0) + 20.0).abs() < 1e-9);
    }
}
