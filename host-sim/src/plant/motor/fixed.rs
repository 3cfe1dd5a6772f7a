//! What of a motor and its source does not change from step to step.

use super::super::circuit::{Circuit, Inductances};
use super::super::terminals::Windings;
use serde::{Deserialize, Serialize};

/// A resistance and an inductance in each phase.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Impedance {
    /// Ohm.
    pub ohm: f64,
    /// Henry.
    pub henry: f64,
}

/// What does not change from step to step, so that no step divides by it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fixed {
    /// Ls, Lr, Lm over D, 1/H.
    pub(super) stator: f64,
    pub(super) rotor: f64,
    pub(super) mutual: f64,
    /// Lm over Lr.
    pub(super) ratio: f64,
    /// Of stator and source, ohm.
    pub(super) ohm: f64,
    /// How the rotor's slope acts on the voltage behind the source; by what that voltage is divided, inverse.
    pub(super) by_rotor: f64,
    pub(super) divisor: f64,
    /// Synchronous speed, rad/s.
    pub(super) synchronous: f64,
    /// Braking torques for a unit of current squared and of speed.
    pub(super) stray: f64,
    pub(super) friction: f64,
}

impl Fixed {
    pub(super) fn new(circuit: &Circuit, source: Impedance, windings: Windings) -> Self {
        let Inductances { stator, rotor, mutual } = circuit.inductances_h();
        let det = stator * rotor - mutual * mutual;
        let share = windings.impedance_share();
        let (ohm, henry) = (circuit.stator_ohm + share * source.ohm, share * source.henry);
        Self {
            stator: stator / det,
            rotor: rotor / det,
            mutual: mutual / det,
            ratio: mutual / rotor,
            ohm,
            by_rotor: henry * mutual / det,
            divisor: 1.0 / (1.0 + ohm * circuit.core_siemens + henry * rotor / det),
            synchronous: circuit.synchronous_rad_s(),
            stray: circuit.stray_nm(1.0, 1.0),
            friction: circuit.friction_nm(1.0),
        }
    }
}
