//! Motors drawn by chance, so that nobody chose them.
//!
//! Size, voltage, frequency and poles are met ones. The circuit's figures per unit lie in the range that [`machine`](crate::machine) has,
//! wider by a tenth to a fifth: resistances fall with size, magnetising with the number of poles (from memory, after no motor
//! in particular). Drawn again is a motor that does not bear 125 % of its rating at 95 % of its voltage, for it could not be asked, and one
//! whose locked-rotor current is not four to eight times the rated one, the usual band (common practice, no source).

use shaftwork_sim::plant::circuit::Circuit;
use shaftwork_sim::plant::seed::{Random, Span};

use crate::machine::{Machine, PerUnit};

/// Motors in a draw.
const MOTORS: usize = 6;
/// IEC 60072-1, kW.
const SIZES_KW: [f64; 15] = [5.5, 7.5, 11.0, 15.0, 18.5, 22.0, 30.0, 37.0, 45.0, 55.0, 75.0, 90.0, 110.0, 132.0, 160.0];
/// V between lines, Hz.
const SUPPLIES: [[f64; 2]; 9] = [
    [230.0, 50.0],
    [400.0, 50.0],
    [500.0, 50.0],
    [690.0, 50.0],
    [230.0, 60.0],
    [380.0, 60.0],
    [460.0, 60.0],
    [575.0, 60.0],
    [690.0, 60.0],
];
/// Poles, and the magnetising reactance that goes with them.
const POLES: [(u32, Span); 4] = [(2, Span(3.1, 4.0)), (4, Span(2.5, 3.7)), (6, Span(2.2, 3.1)), (8, Span(2.0, 2.7))];

/// The motors of a draw; its number is the seed.
#[must_use]
pub fn drawn(draw: u64) -> Vec<Machine> {
    let mut chance = Random::new(draw);
    let motors = std::iter::repeat_with(|| one(&mut chance)).filter(|machine| bears(machine) && usual(machine));
    motors.take(MOTORS).collect()
}

fn one(chance: &mut Random) -> Machine {
    let kilowatts = *pick(chance, &SIZES_KW);
    let [line_v, hertz] = *pick(chance, &SUPPLIES);
    let (poles, magnetising) = *pick(chance, &POLES);
    let [smallest, .., largest] = SIZES_KW;
    let share = (kilowatts / smallest).ln() / (largest / smallest).ln();
    // Along the sizes by equal factors, a fifth off either way.
    let mut falls = |from: f64, to: f64| from * (to / from).powf(share) * chance.within(Span(0.8, 1.2));
    let (r1, r2) = (falls(0.042, 0.013), falls(0.037, 0.011));
    let unit = PerUnit {
        r1,
        x: chance.within(Span(0.075, 0.125)),
        xm: chance.within(magnetising),
        r2,
        deep: chance.within(Span(0.0, 2.5)),
        losses: [Span(0.010, 0.022), Span(0.009, 0.016), Span(0.005, 0.020)].map(|span| chance.within(span)),
    };
    Machine {
        name: format!("{kilowatts} kW {line_v} V {hertz} Hz, {poles} poles").leak(), // six short words for the whole run of a test
        circuit: unit.circuit(kilowatts, line_v, hertz, poles),
        rated_w: kilowatts * 1e3,
        rate_hz: 4_000.0,
        bits: 16,
        start_s: 3.0,
    }
}

fn bears(machine: &Machine) -> bool {
    let low = Circuit { line_v: 0.95 * machine.circuit.line_v, ..machine.circuit.clone() };
    low.at_shaft_w(1.25 * machine.rated_w).is_some()
}

fn usual(machine: &Machine) -> bool {
    let plate = machine.plate();
    (4.0..=8.0).contains(&(plate.locked.current_a / plate.rated.current_a))
}

fn pick<'a, T>(chance: &mut Random, of: &'a [T]) -> &'a T {
    &of[(chance.unit() * of.len() as f64) as usize]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{Extra, Sheet};
    use shaftwork_sim::settings;

    /// Each has a nameplate that the settings take, and no two draws are alike.
    #[test]
    fn draws_are_motors() {
        let mut names = Vec::new();
        for machine in (1..=20).flat_map(drawn) {
            for sheet in [Sheet::Whole, Sheet::Least] {
                let text = machine.settings(&Extra { sheet, ..Extra::default() });
                assert!(settings::parse(&text, "mill.toml").is_ok(), "{}: {text}", machine.name);
            }
            names.push(format!("{} {}", machine.name, machine.circuit.stator_ohm));
        }
        names.sort_unstable();
        assert!(names.windows(2).all(|two| two[0] != two[1]));
    }
}
