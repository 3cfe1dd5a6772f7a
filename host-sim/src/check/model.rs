//! The model's own error of shaft power: what is left when every figure and every instrument is right, by the grid of
//! motors, voltages, unbalance and loads in docs/accuracy.md.

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
}

/// Rounded up from the grid; a test holds them against it.
const GRID: [Model; 4] = [
    Model { told: "nameplate", warm_pct: 1.4, cold_pct: 4.0 },
    Model { told: "and curves, locked rotor", warm_pct: 0.3, cold_pct: 3.5 },
    Model { told: "and stator resistance", warm_pct: 0.3, cold_pct: 3.5 },
    Model { told: "and [winding]", warm_pct: 0.3, cold_pct: 0.4 },
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
        for Model { told, warm_pct, cold_pct } in GRID {
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
