//! A soft starter: a pair of thyristors in each line, fired later or earlier in each half wave.
//!
//! ```text
//! fired:      from alpha to 180 degrees of each half wave of the phase's voltage; nothing flows from 120 on
//! goes out:   when its current passes zero
//! conducting: three - whole    two - one axis, the third phase open    fewer - open
//! ```
//!
//! Thyristors are ideal and act between steps: a current that has passed zero within a step is cut off with what it has
//! reached by then, the energy of which (under a thousandth of the input) is counted as the arc's. With a line lost the
//! motor hangs on what is left as if the starter were not there.

use super::super::terminals::{Axis, Phase};
use super::Connection;
use std::f64::consts::{PI, TAU};

/// Which pairs conduct.
#[derive(Debug, Clone, Default)]
pub struct Thyristors {
    on: [bool; 3],
    /// Currents a step before, A.
    before: [f64; 3],
}

impl Thyristors {
    /// What they join at a moment of an angle of the supply's phase A (rad, 0 at its peak), fired at `alpha_rad`, with the
    /// currents that flow (A).
    pub fn act(&mut self, angle_rad: f64, alpha_rad: f64, currents: [f64; 3]) -> Connection {
        let fired: [bool; 3] = std::array::from_fn(|x| {
            // From the rising zero of the phase, a quarter before its peak.
            let since_zero = angle_rad + PI / 2.0 - x as f64 * TAU / 3.0;
            since_zero.rem_euclid(PI) >= alpha_rad
        });
        for x in 0..3 {
            if currents[x] * self.before[x] < 0.0 {
                self.on[x] = false;
            }
            self.on[x] |= fired[x];
        }
        let connection = self.connection();
        self.before = match connection {
            Connection::Open => [0.0; 3],
            _ => currents,
        };
        // Two must conduct for a current to flow: one that is fired alone carries none and goes out with its pulse.
        if connection == Connection::Open {
            self.on = [false; 3];
        }
        connection
    }

    /// What they join now.
    pub fn connection(&self) -> Connection {
        match self.on {
            [true, true, true] => Connection::Whole,
            [false, true, true] => Connection::OneAxis(Axis::without(Phase::A)),
            [true, false, true] => Connection::OneAxis(Axis::without(Phase::B)),
            [true, true, false] => Connection::OneAxis(Axis::without(Phase::C)),
            _ => Connection::Open,
        }
    }
}

#[cfg(test)]
mod tests;
