//! Where the motor's energy goes.
//!
//! ```text
//! electrical = stator + core + rotor + stray + friction + arc + load + more stored (field, rotation)
//! ```
//!
//! Joule. Electrical work is taken at the motor's terminals, behind the source's impedance. Every work is summed
//! inside the Runge-Kutta step with the weights of its stages, so that the sum closes as well as the step itself; the
//! stored energies follow from the state and are not summed: the two sides are reckoned apart.

use std::ops::Sub;

/// Works since the beginning, and energies stored now, J.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// Taken at the motor's terminals.
    pub electrical_j: f64,
    /// Heat of the stator's winding.
    pub stator_j: f64,
    /// Heat of the iron.
    pub core_j: f64,
    /// Heat of the rotor's cage.
    pub rotor_j: f64,
    /// Stray load loss.
    pub stray_j: f64,
    /// Friction and own fan.
    pub friction_j: f64,
    /// The field that a contactor cuts off.
    pub arc_j: f64,
    /// Taken by the load: windage, pieces, wedge.
    pub load_j: f64,
    /// Stored in the motor's field.
    pub magnetic_j: f64,
    /// Stored in all that turns.
    pub kinetic_j: f64,
}

impl Balance {
    /// Work of the shaft: what the load took and what speeds up all that turns.
    pub fn shaft_j(&self) -> f64 {
        self.load_j + self.kinetic_j
    }

    /// What is missing from the balance: a measure of the model's error.
    pub fn rest_j(&self) -> f64 {
        let lost = self.stator_j + self.core_j + self.rotor_j + self.stray_j + self.friction_j + self.arc_j;
        self.electrical_j - lost - self.load_j - self.magnetic_j - self.kinetic_j
    }
}

/// From one moment to another.
impl Sub for Balance {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self {
            electrical_j: self.electrical_j - other.electrical_j,
            stator_j: self.stator_j - other.stator_j,
            core_j: self.core_j - other.core_j,
            rotor_j: self.rotor_j - other.rotor_j,
            stray_j: self.stray_j - other.stray_j,
            friction_j: self.friction_j - other.friction_j,
            arc_j: self.arc_j - other.arc_j,
            load_j: self.load_j - other.load_j,
            magnetic_j: self.magnetic_j - other.magnetic_j,
            kinetic_j: self.kinetic_j - other.kinetic_j,
        }
    }
}

/// Powers at one moment, W, in the order electrical, stator, core, rotor, stray, friction, load.
pub type Powers = [f64; 7];

impl Balance {
    /// Adds powers over a time.
    pub fn add(&mut self, powers: &Powers, seconds: f64) {
        let works = [
            &mut self.electrical_j,
            &mut self.stator_j,
            &mut self.core_j,
            &mut self.rotor_j,
            &mut self.stray_j,
            &mut self.friction_j,
            &mut self.load_j,
        ];
        for (work, power) in works.into_iter().zip(powers) {
            *work += seconds * power;
        }
    }
}

#[cfg(test)]
mod tests;
