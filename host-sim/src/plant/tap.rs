//! What the meter's three voltage inputs see: phase to the supply's neutral.
//!
//! ```text
//! line side, all lines whole     v - R i - L di + zero sequence
//! line side, a lost upstream     along the axis as above; across it what the motor induces, nothing when it is open
//! line side, a lost at motor     the whole source; b and c less the drop of their current
//! motor side, a lost at motor    b, c as above; a floats: va = (vb + vc) / 2 + 3/2 e_a,  e_a: winding a to star point
//! ```

use super::motor::Motor;
use super::supply::{Supply, Tap};
use super::terminals::{Terminals, phases};

/// Volts at a time, where the motor's terminals see what they are said to.
pub fn volts(supply: &Supply, motor: &Motor, t_s: f64, terminals: Terminals) -> [f64; 3] {
    let zero = supply.zero_v(t_s);
    let common = |v: [f64; 3]| if supply.harmonics.is_empty() { v } else { v.map(|v| v + zero) };
    let upstream = supply.upstream(t_s);
    let source = || match upstream {
        Some(axis) => axis.phases.map(|share| share * axis.along(supply.voltage(t_s))),
        None => phases(supply.voltage(t_s)),
    };
    match (terminals, supply.tap) {
        (Terminals::Open, Tap::Line) => common(source()),
        (Terminals::Open, Tap::Motor) => phases(motor.voltage(terminals)),
        (Terminals::OneAxis(axis, along), tap) if upstream.is_none() => {
            let own = motor.voltage(terminals);
            let drop = along - axis.along(own);
            let whole = common(source());
            let mut seen = std::array::from_fn(|x| whole[x] - axis.phases[x] * drop);
            if let (Tap::Motor, Some(x)) = (tap, axis.phases.iter().position(|share| *share == 0.0)) {
                seen[x] = f64::midpoint(seen[(x + 1) % 3], seen[(x + 2) % 3]) + 1.5 * phases(own)[x];
            }
            seen
        }
        _ => common(phases(motor.voltage(terminals))),
    }
}

#[cfg(test)]
mod tests;
