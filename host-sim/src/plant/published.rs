//! Four machines of a textbook, for checks against other people's programs.
//!
//! Krause, Wasynczuk and Sudhoff, *Analysis of Electric Machinery*: 4 poles, 60 Hz, ohms per star phase. Parameters
//! of the 3, 50 and 2 250 hp machines from reproductions of its table, those of the 500 hp machine from memory.
//! They have no losses but those of the windings. The torques and currents printed beside them in the book are base
//! values (rated power over synchronous speed), not what the circuit gives at the printed speed.

use super::circuit::Circuit;

/// A machine of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    /// Rated horsepower, by which it is known.
    pub horsepower: u32,
    /// Speed printed in the table, rpm.
    pub listed_rpm: f64,
    /// Its circuit.
    pub circuit: Circuit,
}

/// The four machines, smallest first.
pub const fn textbook() -> [Published; 4] {
    [
        machine(3, 220.0, 1710.0, [0.435, 0.754, 26.13, 0.816], 0.089),
        Published { horsepower: 50, listed_rpm: 1705.0, circuit: Circuit::textbook_50_hp() },
        machine(500, 2300.0, 1773.0, [0.262, 1.206, 54.02, 0.187], 11.06),
        machine(2250, 2300.0, 1786.0, [0.029, 0.226, 13.04, 0.022], 63.87),
    ]
}

/// Stator resistance, leakage of either side, magnetising reactance, rotor resistance: ohm.
const fn machine(
    horsepower: u32,
    line_v: f64,
    listed_rpm: f64,
    [stator, leakage, magnetising, rotor]: [f64; 4],
    inertia_kg_m2: f64,
) -> Published {
    let circuit = Circuit {
        line_v,
        stator_ohm: stator,
        stator_leakage_ohm: leakage,
        magnetising_ohm: magnetising,
        rotor_leakage_ohm: leakage,
        rotor_ohm: rotor,
        inertia_kg_m2,
        ..Circuit::textbook_50_hp()
    };
    Published { horsepower, listed_rpm, circuit }
}
