//! What brings pieces to the mill, and what they are made of.

pub mod belt;
pub mod hand;

use super::breakage::Law;
use super::mill::{Blow, Chamber, draw};
use super::seed::{Random, Span};
use serde::{Deserialize, Serialize};

/// Joules in a kilowatt-hour a tonne, by the kilogram.
pub const J_PER_KG: f64 = 3600.0;

/// Opening that Kick's law works down to where the mill has no screen, mm.
const NO_SCREEN_MM: f64 = 50.0;

/// What pieces are like. Orders of magnitude (from memory, of the literature on shredding metal scrap): 20 to 60 kWh
/// a tonne for light scrap and castings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Mass of a piece, kg.
    pub mass_kg: Span,
    /// What it takes to break it.
    pub work: Work,
    /// How long a piece is struck, s: the lightest and the heaviest, about.
    pub burst_s: Span,
}

/// What it takes to break a piece.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Work {
    /// So many kWh a tonne, whatever its size.
    PerTonne(Span),
    /// By Kick's law down to the opening of the screen.
    Kick {
        /// The law's constant: toughness, kJ/kg.
        toughness_kj_kg: Span,
        /// Size of a piece as it is fed, mm.
        size_mm: Span,
    },
}

impl Work {
    fn draw_j(self, mass_kg: f64, chamber: Option<&Chamber>, random: &mut Random) -> f64 {
        match self {
            Self::PerTonne(kwh_t) => mass_kg * random.within(kwh_t) * J_PER_KG,
            Self::Kick { toughness_kj_kg, size_mm } => {
                let opening_mm = chamber.map_or(NO_SCREEN_MM, |chamber| chamber.opening_mm);
                let (toughness, size) = (random.within(toughness_kj_kg), random.within(size_mm));
                // What fits through the screen already needs no breaking.
                mass_kg * 1000.0 * Law::Kick.work(toughness, size.max(opening_mm), opening_mm)
            }
        }
    }
}

/// A piece as it falls.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// When it falls, s.
    pub at_s: f64,
    /// Its mass, kg.
    pub mass_kg: f64,
    /// What it takes to break it, J.
    pub work_j: f64,
    /// How long it is struck, s.
    pub burst_s: f64,
    /// The blows that break it.
    pub blows: Vec<Blow>,
}

/// A piece that was thrown in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dropped {
    /// When, s.
    pub at_s: f64,
    /// Its mass, kg.
    pub mass_kg: f64,
}

impl Material {
    fn draw(&self, at_s: f64, chamber: Option<&Chamber>, random: &mut Random) -> Piece {
        let mass_kg = random.within(self.mass_kg);
        self.draw_of(at_s, mass_kg, chamber, random)
    }

    fn draw_of(&self, at_s: f64, mass_kg: f64, chamber: Option<&Chamber>, random: &mut Random) -> Piece {
        let work_j = self.work.draw_j(mass_kg, chamber, random);
        let burst_s = self.burst_s.at(0.7 * self.mass_kg.share(mass_kg) + 0.3 * random.unit());
        Piece { at_s, mass_kg, work_j, burst_s, blows: draw(burst_s, random) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twice the opening's logarithm, twice the work: Kick. A piece that passes the screen takes none.
    #[test]
    fn kicks_law_gives_the_work() {
        let chamber =
            |opening_mm| Chamber { opening_mm, full_kg: 10.0, passing_s: 1.0, capacity_kg_s: 1.0, drag_nm: 0.0 };
        let work = Work::Kick { toughness_kj_kg: Span(60.0, 60.0), size_mm: Span(80.0, 80.0) };
        let of = |opening_mm| work.draw_j(2.0, Some(&chamber(opening_mm)), &mut Random::new(1));
        assert!((of(20.0) - 2.0 * 60_000.0 * 4.0_f64.ln()).abs() < 1e-6);
        assert!((of(40.0) - of(20.0) / 2.0).abs() < 1e-6);
        assert!(of(90.0).abs() < 1e-12);
    }
}
