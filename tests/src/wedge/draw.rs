//! What falls into the mills of the wedge study: honest pieces, and wedges.
//!
//! Everything is in units of the mill: torque over rated torque, work in seconds of rated power.
//!
//! | honest piece | drawn evenly from | why |
//! |---|---|---|
//! | mass | 0.001 to 0.015 kg per kW of rating (0.05 to 0.8 kg for 55 kW), even in its logarithm | at the intervals in [`super::mills`] the mills are loaded to 30 to 65 %: lumpy scrap is fed to 60 to 70 % (common practice, no source) |
//! | work | 20 to 60 kWh a tonne | light scrap, aluminium and castings (orders of magnitude, from the literature on shredding metal scrap, from memory) |
//! | hard strikes | one to three, 1 to 4 times rated torque, 20 to 150 ms, each rising and falling over 15 to 50 % of that; 40 to 400 ms apart | a piece is bent and compacted first, then cracks (Schubert and others, Chem. Ing. Tech. 73, 2001) |
//! | their work together | at most half of the piece's, and at most 0.25 s of rated power | the lump that breaks at once is a brittle casting at the least work a tonne, 72 kJ/kg; at most 0.0035 kg per kW of it, a quarter of the largest piece, go under the hammers together: what is larger is bent first. The rotors below lose 6 to 10 % of their energy to it, 3 to 5 % of speed. Where the draw asks for more, the strikes are shorter |
//! | the rest of its work | blows of 14 to 30 ms at 24 a second, 40 to 90 % of rated power in the mean | as in the plant's own pieces; whoever feeds waits until a piece is done, a lamp tells (a mill fed faster chokes: that is the feed's to prevent, and no wedge) |
//!
//! | wedge | drawn evenly from |
//! |---|---|
//! | torque | 2.5 to 4 times rated, beside what the pieces take |
//! | time that it takes to rise | 0.1 to 0.4 s |
//!
//! It stays. It comes in the midst of feeding.

use shaftwork_sim::plant::mill::{Lump, Wedge};
use shaftwork_sim::plant::seed::{Random, Span};

/// Mass over rated power, kg per kW: the lightest piece and the heaviest.
const MASS_KG_KW: Span = Span(0.001, 0.015);
/// Work to break it, kWh a tonne.
const WORK_KWH_T: Span = Span(20.0, 60.0);
/// Hard strikes: torque over rated torque, length, edge over length, time from one's end to the next.
const HARD: Span = Span(1.0, 4.0);
const HARD_S: Span = Span(0.020, 0.150);
const EDGE: Span = Span(0.15, 0.50);
const APART_S: Span = Span(0.040, 0.400);
/// What one piece's hard strikes may take, of its work.
const MOST_OF_WORK: f64 = 0.5;
/// What they may take, s of rated power.
pub const MOST_S: f64 = 0.25;
/// The rest.
const SOFT_S: Span = Span(0.014, 0.030);
const SOFT_HZ: f64 = 24.0;
const REST: Span = Span(0.4, 0.9);

/// Wedges.
const WEDGE: Span = Span(2.5, 4.0);
const RISE_S: Span = Span(0.1, 0.4);

/// A mill's ratings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// Shaft power, W.
    pub watts: f64,
    /// Torque at the shaft, N m.
    pub newtonmetres: f64,
}

/// Adds the strikes of a piece that comes under the hammers at a time; tells when it is done.
pub fn piece(at_s: f64, rating: Rating, random: &mut Random, strikes: &mut Vec<Lump>) -> f64 {
    let mass_kg_kw = MASS_KG_KW.0 * (MASS_KG_KW.1 / MASS_KG_KW.0).powf(random.unit());
    // kWh a tonne are 3.6 kJ a kilogram: kJ per kW are seconds of rated power.
    let work_s = mass_kg_kw * random.within(WORK_KWH_T) * 3.6;
    let count = 1 + (3.0 * random.unit()) as usize;
    let mut hard: Vec<Lump> = (0..count)
        .map(|_| {
            let length_s = random.within(HARD_S);
            let edge_s = random.within(EDGE) * length_s;
            Lump { at_s: 0.0, length_s, edge_s, torque_nm: rating.newtonmetres * random.within(HARD) }
        })
        .collect();
    let asked_s: f64 = hard.iter().map(|lump| work_of(lump, rating)).sum();
    let shorter = (MOST_S.min(MOST_OF_WORK * work_s) / asked_s).min(1.0);
    let mut next_s = at_s;
    for lump in &mut hard {
        lump.length_s *= shorter;
        lump.edge_s *= shorter;
        lump.at_s = next_s;
        next_s += lump.length_s + random.within(APART_S);
    }
    let left_s = work_s - asked_s * shorter;
    strikes.append(&mut hard);

    let burst_s = left_s / random.within(REST);
    // Some seconds at most.
    let blows = ((burst_s * SOFT_HZ) as usize).max(3);
    let weights: Vec<f64> = (0..blows).map(|_| 0.5 + random.unit()).collect();
    let whole: f64 = weights.iter().sum();
    for (n, weight) in weights.into_iter().enumerate() {
        let length_s = random.within(SOFT_S);
        let blow_s = left_s * weight / whole;
        strikes.push(Lump {
            at_s: next_s + (n as f64 + random.unit()) / blows as f64 * burst_s,
            length_s,
            edge_s: length_s / 2.0,
            torque_nm: rating.newtonmetres * blow_s / (length_s / 2.0),
        });
    }
    next_s + burst_s
}

/// Work of a strike at rated speed, s of rated power.
fn work_of(lump: &Lump, rating: Rating) -> f64 {
    lump.torque_nm / rating.newtonmetres * (lump.length_s - lump.edge_s)
}

/// A wedge that begins at a time.
pub fn wedge(at_s: f64, rating: Rating, random: &mut Random) -> Wedge {
    let torque_nm = rating.newtonmetres * random.within(WEDGE);
    Wedge { at_s, rise_s: random.within(RISE_S), torque_nm, until_s: f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATING: Rating = Rating { watts: 55_000.0, newtonmetres: 356.0 };

    /// Amplitudes reach the wedges', work keeps its bounds, and the lengths go to 150 ms.
    #[test]
    fn pieces_are_as_the_table_says() {
        let mut random = Random::new(1);
        let (mut highest, mut longest, mut over, mut works) = (0.0_f64, 0.0_f64, 0, 0.0);
        let pieces = 20_000;
        for _ in 0..pieces {
            let mut strikes = Vec::new();
            piece(0.0, RATING, &mut random, &mut strikes);
            let hard: Vec<&Lump> = strikes.iter().take_while(|lump| lump.edge_s < 0.4999 * lump.length_s).collect();
            let torques: Vec<f64> = hard.iter().map(|lump| lump.torque_nm / RATING.newtonmetres).collect();
            highest = torques.iter().copied().fold(highest, f64::max);
            over += usize::from(torques.iter().any(|t| *t > WEDGE.0));
            longest = hard.iter().map(|lump| lump.length_s).fold(longest, f64::max);
            let hard_s: f64 = hard.iter().map(|lump| work_of(lump, RATING)).sum();
            let work_s: f64 = strikes.iter().map(|lump| work_of(lump, RATING)).sum();
            assert!(hard_s < MOST_S + 1e-9 && hard_s < MOST_OF_WORK * work_s + 1e-9, "{hard_s} of {work_s}");
            assert!((0.07..3.3).contains(&work_s), "{work_s}");
            works += work_s;
        }
        assert!(highest > 3.99 && highest <= 4.0, "{highest}");
        assert!(longest > 0.145 && longest <= 0.15, "{longest}");
        assert!(over > pieces / 2, "{over} of {pieces} reach a wedge's torque");
        let mean = works / f64::from(pieces as u32);
        assert!((mean - 0.745).abs() < 0.02, "{mean} s of rated power a piece");
    }
}
