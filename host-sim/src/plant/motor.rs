//! The motor in time: flux linkages of stator and rotor in the stationary frame, and the shaft.
//!
//! ```text
//! d psi_s = v - Rs i                  d psi_r = -Rr i_r + j p w psi_r         J dw = Te - T_stray - T_friction - T_load
//! i_s = (Lr psi_s - Lm psi_r) / D     i_r = (Ls psi_r - Lm psi_s) / D         D = Ls Lr - Lm^2
//! i = (i_s + g v) / (1 + g Rs)        Te = 1.5 p (psi_s x i_s)                (i: line current, core loss included)
//! ```
//!
//! SI units; vectors are (alpha, beta), scaled so that their length is a phase's peak. Off the supply the line
//! current is zero, the stator flux follows the rotor's (psi_s = Lm/Lr psi_r), and the field dies with Lr/Rr; the
//! arc that takes the stator's field when a contactor opens is not modelled. Classic fourth-order Runge-Kutta with
//! a fixed step: at 0.1 ms its error in the figures tested below is under 0.01 %.

use super::circuit::{Circuit, Inductances};

/// A vector in the stationary frame: alpha along phase A, beta 90 degrees ahead.
pub type Vector = [f64; 2];

/// The longest step that keeps the errors stated above, s.
pub const LONGEST_STEP_S: f64 = 1e-4;

/// What the motor's terminals see.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Terminals {
    /// A voltage (phase to star point, V).
    Fed(Vector),
    /// Nothing: the contactor is open.
    Open,
}

/// A motor with everything that turns with it.
#[derive(Debug, Clone)]
pub struct Motor {
    circuit: Circuit,
    inductance: Inductances,
    inertia_kg_m2: f64,
    /// Stator flux, rotor flux (V s), speed (rad/s).
    state: [f64; 5],
}

impl Motor {
    /// At rest, without flux; `driven_kg_m2` is the inertia on the shaft besides the motor's own.
    pub fn new(circuit: &Circuit, driven_kg_m2: f64) -> Self {
        Self {
            circuit: circuit.clone(),
            inductance: circuit.inductances_h(),
            inertia_kg_m2: circuit.inertia_kg_m2 + driven_kg_m2,
            state: [0.0; 5],
        }
    }

    /// Speed of the shaft, rad/s.
    pub fn speed_rad_s(&self) -> f64 {
        self.state[4]
    }

    /// Line current, A.
    pub fn current(&self, terminals: Terminals) -> Vector {
        match terminals {
            Terminals::Fed(v) => self.line_current(&self.state, v),
            Terminals::Open => [0.0; 2],
        }
    }

    /// Voltage at the motor's own terminals, V: the supply's, or what the dying field induces.
    pub fn voltage(&self, terminals: Terminals) -> Vector {
        match terminals {
            Terminals::Fed(v) => v,
            Terminals::Open => {
                let slope = self.slope(&self.state, Terminals::Open, 0.0);
                [slope[0], slope[1]]
            }
        }
    }

    /// Torque on the rotor by the field, N m.
    pub fn air_gap_nm(&self, terminals: Terminals) -> f64 {
        match terminals {
            Terminals::Fed(_) => self.field_torque(&self.state),
            Terminals::Open => 0.0,
        }
    }

    /// Torque at the shaft: the field's less stray loss and friction, N m. What speeds up the rotor is part of it.
    pub fn shaft_nm(&self, terminals: Terminals) -> f64 {
        let i = self.current(terminals);
        let speed = self.speed_rad_s();
        self.air_gap_nm(terminals) - self.circuit.stray_nm(square(i) / 2.0, speed) - self.circuit.friction_nm(speed)
    }

    /// Goes on from `t_s` by `h_s`. `supply` gives the terminals at a time and stays either fed or open over the
    /// step; `load` gives the torque against the motion at a time and a speed (rad/s).
    pub fn step(&mut self, t_s: f64, h_s: f64, supply: impl Fn(f64) -> Terminals, load: impl Fn(f64, f64) -> f64) {
        let (start, middle, end) = (supply(t_s), supply(t_s + h_s / 2.0), supply(t_s + h_s));
        if start == Terminals::Open {
            let ratio = self.inductance.mutual / self.inductance.rotor;
            self.state[0] = ratio * self.state[2];
            self.state[1] = ratio * self.state[3];
        }
        let y = self.state;
        let at = |y: [f64; 5], t: f64, terminals| self.slope(&y, terminals, load(t, y[4]));
        let k1 = at(y, t_s, start);
        let k2 = at(moved(&y, &k1, h_s / 2.0), t_s + h_s / 2.0, middle);
        let k3 = at(moved(&y, &k2, h_s / 2.0), t_s + h_s / 2.0, middle);
        let k4 = at(moved(&y, &k3, h_s), t_s + h_s, end);
        for n in 0..5 {
            self.state[n] += h_s / 6.0 * (k1[n] + 2.0 * (k2[n] + k3[n]) + k4[n]);
        }
    }

    /// The time derivative of the state.
    fn slope(&self, y: &[f64; 5], terminals: Terminals, load_nm: f64) -> [f64; 5] {
        let Inductances { stator, rotor, mutual } = self.inductance;
        let speed = y[4];
        let electrical = self.circuit.pole_pairs * speed;
        let resistance = self.circuit.rotor_ohm_at(speed);
        let (stator_slope, rotor_current, line, torque) = match terminals {
            Terminals::Fed(v) => {
                let det = stator * rotor - mutual * mutual;
                let i = self.line_current(y, v);
                let i_r = [(stator * y[2] - mutual * y[0]) / det, (stator * y[3] - mutual * y[1]) / det];
                let r = self.circuit.stator_ohm;
                (Some([v[0] - r * i[0], v[1] - r * i[1]]), i_r, i, self.field_torque(y))
            }
            Terminals::Open => (None, [y[2] / rotor, y[3] / rotor], [0.0; 2], 0.0),
        };
        let rotor_slope =
            [-resistance * rotor_current[0] - electrical * y[3], -resistance * rotor_current[1] + electrical * y[2]];
        let ratio = mutual / rotor;
        let stator_slope = stator_slope.unwrap_or([ratio * rotor_slope[0], ratio * rotor_slope[1]]);
        let brakes = self.circuit.stray_nm(square(line) / 2.0, speed) + self.circuit.friction_nm(speed);
        let acceleration = (torque - brakes - load_nm) / self.inertia_kg_m2;
        [stator_slope[0], stator_slope[1], rotor_slope[0], rotor_slope[1], acceleration]
    }

    fn stator_current(&self, y: &[f64; 5]) -> Vector {
        let Inductances { stator, rotor, mutual } = self.inductance;
        let det = stator * rotor - mutual * mutual;
        [(rotor * y[0] - mutual * y[2]) / det, (rotor * y[1] - mutual * y[3]) / det]
    }

    fn line_current(&self, y: &[f64; 5], v: Vector) -> Vector {
        let i = self.stator_current(y);
        let g = self.circuit.core_siemens;
        let share = 1.0 + g * self.circuit.stator_ohm;
        [(i[0] + g * v[0]) / share, (i[1] + g * v[1]) / share]
    }

    fn field_torque(&self, y: &[f64; 5]) -> f64 {
        let i = self.stator_current(y);
        1.5 * self.circuit.pole_pairs * (y[0] * i[1] - y[1] * i[0])
    }
}

fn moved(y: &[f64; 5], slope: &[f64; 5], h: f64) -> [f64; 5] {
    std::array::from_fn(|n| y[n] + h * slope[n])
}

fn square(v: Vector) -> f64 {
    v[0] * v[0] + v[1] * v[1]
}

#[cfg(test)]
mod tests;
