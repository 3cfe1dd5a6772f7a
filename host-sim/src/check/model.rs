//! The model's own error: what is left when every figure and every instrument is right, by docs/accuracy.md.
//!
//! Of shaft power over its grid of motors, voltages, unbalance and loads; of the energies of a run by its minute of hammering.

use serde::Serialize;

use crate::settings::Settings;

/// What the grid found for settings that tell so much.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Model {
    /// What is told, in the grid's words.
    pub told: &'static str,
    /// Windings as warm as told, % of rated power.
    pub warm_pct: f64,
    /// Cold windings.
    pub cold_pct: f64,
    /// Limit of a run's shaft energy, % of it, be the windings warm or cold: the document's promise, or what cold windings
    /// make of it where the settings do not tell how they warm.
    pub shaft_energy_pct: f64,
    /// The same of net energy.
    pub net_energy_pct: f64,
}

/// Rounded up from the document; a test holds them against it.
const GRID: [Model; 4] = [
    Model { told: "nameplate", warm_pct: 1.6, cold_pct: 4.2, shaft_energy_pct: 2.1, net_energy_pct: 2.3 },
    Model {
        told: "and curves, locked rotor",
        warm_pct: 0.2,
        cold_pct: 3.7,
        shaft_energy_pct: 2.2,
        net_energy_pct: 2.5,
    },
    Model { told: "and stator resistance", warm_pct: 0.2, cold_pct: 3.7, shaft_energy_pct: 2.2, net_energy_pct: 2.5 },
    Model { told: "and [winding]", warm_pct: 0.2, cold_pct: 0.3, shaft_energy_pct: 0.5, net_energy_pct: 1.0 },
];

/// That of these settings.
pub fn model(settings: &Settings) -> Model {
    let motor = &settings.motor;
    let curves = motor.efficiency_pct.is_some()
        && motor.power_factor_pct.is_some()
        && motor.locked_rotor_current_a.is_some()
        && motor.locked_rotor_torque_pct.is_some();
    let resistance = curves && motor.stator_resistance_ohm.is_some();
    let winding = resistance && settings.winding.is_some();
    GRID[usize::from(curves) + usize::from(resistance) + usize::from(winding)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::testing::{good, parsed, with};

    /// The figures are those of the document, which `cargo xtask accuracy` makes: not less, and not more than a tenth.
    #[test]
    fn the_figures_are_the_documents() {
        let document = include_str!("../../../docs/accuracy.md");
        for Model { told, warm_pct, cold_pct, .. } in GRID {
            for (windings, pct) in [("warm", warm_pct), ("cold", cold_pct)] {
                let head = format!("| {told} | {windings} | ");
                let rows = document.lines().filter(|line| line.starts_with(&head) && line.contains('('));
                let cells = rows.flat_map(|line| line.split('|').skip(4));
                let errors = cells.filter_map(|cell| cell.split_whitespace().next()?.parse::<f64>().ok());
                let worst = errors.fold(0.0, f64::max);
                assert!(worst > 0.0 && (worst..worst + 0.1).contains(&pct), "{head}: {worst}, here {pct}");
            }
        }
    }

    /// Of energies: the promise of the document, "shaft energy of hammering within 0.5 %, net within 1 %", and where its table
    /// has more, that, rounded up to a tenth.
    #[test]
    fn the_energies_are_the_documents() {
        let document = include_str!("../../../docs/accuracy.md");
        let after = |words: &str| {
            let (_, rest) = document.split_once(words).unwrap();
            rest.split_once(" %").unwrap().0.parse::<f64>().unwrap()
        };
        let promised = [after("shaft energy of hammering within "), after(" %, net within ")];
        for Model { told, shaft_energy_pct, net_energy_pct, .. } in GRID {
            let heads = ["warm", "cold"].map(|windings| format!("| {told} | {windings} | "));
            let rows: Vec<&str> = document
                .lines()
                .filter(|line| heads.iter().any(|head| line.starts_with(head)) && !line.contains('('))
                .collect();
            assert_eq!(rows.len(), 2, "{told}");
            for (column, pct) in [shaft_energy_pct, net_energy_pct].into_iter().enumerate() {
                let cells =
                    rows.iter().map(|line| line.split('|').nth(3 + column).unwrap().trim().parse::<f64>().unwrap());
                let worst = cells.fold(0.0, f64::max);
                let wanted = promised[column].max((worst * 10.0).ceil() / 10.0);
                assert!((pct - wanted).abs() < 1e-9, "{told}: {wanted}, here {pct}");
            }
        }
    }

    #[test]
    fn what_is_told_decides() {
        assert_eq!(model(&parsed(&good()).0), GRID[0]);
        let curves = "efficiency_pct = [[50, 93.5], [100, 93.76]]\npower_factor_pct = [[50, 78], [100, 87.7]]\n\
                      locked_rotor_current_a = 600\nlocked_rotor_torque_pct = 200";
        assert_eq!(model(&parsed(&with("motor", curves)).0), GRID[1]);
        let resistance = format!("{curves}\nstator_resistance_ohm = 0.045");
        assert_eq!(model(&parsed(&with("motor", &resistance)).0), GRID[2]);
        let warm = format!("{}\n[winding]\ntime_constant_s = 900\n", with("motor", &resistance));
        assert_eq!(model(&parsed(&warm).0), GRID[3]);
    }
}
