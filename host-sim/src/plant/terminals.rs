//! How a motor without a neutral hangs on its supply: on all three phases, on one axis only, or not at all.
//!
//! ```text
//! primary   A ---x   B ---+  C ---+        line A lost before a delta-star transformer: its windings AB and CA carry
//!                    | delta      |        one current, so ia = ic = -ib / 2 - the current lies along phase b
//! motor     a ---x   b ---+  c ---+        phase a lost at the motor: ia = 0, ib = -ic - along the axis square to a
//! ```
//!
//! Both are one thing: the current vector may only lie along an axis, and the supply's voltage acts along that axis;
//! square to it the motor is left to itself and induces what it will. The transformer is Dyn11 (winding AB gives
//! phase a) and without impedance, and nothing but the motor hangs on it: another load would hold the idle axis.

use serde::{Deserialize, Serialize};

/// A vector in the stationary frame: alpha along phase A, beta 90 degrees ahead.
pub type Vector = [f64; 2];

/// A phase or a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Phase {
    /// First.
    A,
    /// Second, 120 degrees later.
    B,
    /// Third.
    C,
}

/// A direction along which alone a current can flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    /// Of length 1.
    pub unit: Vector,
    /// The three phases of the unit vector.
    pub phases: [f64; 3],
}

/// Half the square root of 3.
const SINE_60: f64 = 0.866_025_403_784_438_6;

impl Axis {
    /// With a phase of the motor open: square to the phase.
    pub const fn without(phase: Phase) -> Self {
        match phase {
            Phase::A => Self { unit: [0.0, 1.0], phases: [0.0, SINE_60, -SINE_60] },
            Phase::B => Self { unit: [-SINE_60, -0.5], phases: [-SINE_60, 0.0, SINE_60] },
            Phase::C => Self { unit: [SINE_60, -0.5], phases: [SINE_60, -SINE_60, 0.0] },
        }
    }

    /// With a line lost before a delta-star transformer: along the phase whose winding lies between the other two.
    pub const fn fed_without(line: Phase) -> Self {
        match line {
            Phase::A => Self { unit: [-0.5, SINE_60], phases: [-0.5, 1.0, -0.5] },
            Phase::B => Self { unit: [-0.5, -SINE_60], phases: [-0.5, -0.5, 1.0] },
            Phase::C => Self { unit: [1.0, 0.0], phases: [1.0, -0.5, -0.5] },
        }
    }

    /// The part of a vector along the axis.
    pub fn along(&self, v: Vector) -> f64 {
        v[0] * self.unit[0] + v[1] * self.unit[1]
    }

    /// The part of a vector square to the axis, 90 degrees ahead of it.
    pub fn across(&self, v: Vector) -> f64 {
        v[1] * self.unit[0] - v[0] * self.unit[1]
    }

    /// The vector of two such parts.
    pub fn vector(&self, along: f64, across: f64) -> Vector {
        let [x, y] = self.unit;
        [along * x - across * y, along * y + across * x]
    }
}

/// How the windings are joined.
///
/// The circuit is that of the running motor, star or delta, as an equivalent star. A motor made for delta is started
/// in star: each winding then lies between a line and the star point instead of between two lines, so that the
/// equivalent star sees the supply turned back by 30 degrees and divided by the root of 3, and the line carries a
/// current that is changed the other way: a third of the current and of the torque.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Windings {
    /// As for running.
    Run,
    /// In star, of a motor that runs in delta.
    Star,
}

/// Turns a vector back by 30 degrees and divides it by the root of 3.
fn to_star([x, y]: Vector) -> Vector {
    let (along, across) = (0.5, 0.5 / 3.0_f64.sqrt());
    [along * x + across * y, along * y - across * x]
}

/// Turns a vector on by 30 degrees and divides it by the root of 3.
fn from_star([x, y]: Vector) -> Vector {
    let (along, across) = (0.5, 0.5 / 3.0_f64.sqrt());
    [along * x - across * y, along * y + across * x]
}

impl Windings {
    /// The terminals as the circuit sees them.
    pub(super) fn inside(self, terminals: Terminals) -> Terminals {
        match (self, terminals) {
            (Self::Run, _) | (_, Terminals::Open) => terminals,
            (Self::Star, Terminals::Fed(v)) => Terminals::Fed(to_star(v)),
            (Self::Star, Terminals::OneAxis(axis, v)) => {
                let root = 3.0_f64.sqrt();
                let unit = to_star(axis.unit).map(|x| root * x);
                Terminals::OneAxis(Axis { unit, phases: phases(unit) }, v / root)
            }
        }
    }

    /// The line's current for one of the circuit.
    pub(super) fn outside(self, current: Vector) -> Vector {
        match self {
            Self::Run => current,
            Self::Star => from_star(current),
        }
    }

    /// The terminals' voltage for one of the circuit.
    pub(super) fn volts_outside(self, volts: Vector) -> Vector {
        match self {
            Self::Run => volts,
            Self::Star => from_star(volts).map(|v| 3.0 * v),
        }
    }

    /// What of an impedance in the lines the circuit sees.
    pub(super) fn impedance_share(self) -> f64 {
        match self {
            Self::Run => 1.0,
            Self::Star => 1.0 / 3.0,
        }
    }
}

/// What the motor's terminals see.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Terminals {
    /// A voltage (phase to star point, V).
    Fed(Vector),
    /// A voltage along an axis (V), and no current square to it.
    OneAxis(Axis, f64),
    /// Nothing: the contactor is open.
    Open,
}

/// The three phases of a vector without zero sequence.
pub fn phases([alpha, beta]: Vector) -> [f64; 3] {
    let half = 3.0_f64.sqrt() / 2.0 * beta;
    [alpha, -alpha / 2.0 + half, -alpha / 2.0 - half]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_is_what_its_phases_say() {
        for phase in [Phase::A, Phase::B, Phase::C] {
            for axis in [Axis::without(phase), Axis::fed_without(phase)] {
                for (found, wanted) in phases(axis.unit).into_iter().zip(axis.phases) {
                    assert!((found - wanted).abs() < 1e-15, "{axis:?}");
                }
                let v = [3.0, -7.0];
                let back = axis.vector(axis.along(v), axis.across(v));
                assert!((back[0] - 3.0).abs() < 1e-14 && (back[1] + 7.0).abs() < 1e-14);
            }
        }
    }
}
