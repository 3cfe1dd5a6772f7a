//! The belt between motor and mill, once it is lost: the mill's rotor goes on by itself.
//!
//! ```text
//! J dw/dt = -load(t, w),   work = integral of load w dt
//! ```
//!
//! From that step on the motor turns alone, with its own inertia and no load; the rotor begins with the speed that both
//! had, and what it has stored stays its own. Classic Runge-Kutta, the work summed with the weights of its stages, as in
//! `motor`.

/// A rotor without a motor.
#[derive(Debug, Clone)]
pub(super) struct Rotor {
    inertia_kg_m2: f64,
    speed_rad_s: f64,
    /// What the load took, J.
    load_j: f64,
}

impl Rotor {
    pub(super) fn new(inertia_kg_m2: f64, speed_rad_s: f64) -> Self {
        Self { inertia_kg_m2, speed_rad_s, load_j: 0.0 }
    }

    pub(super) fn speed_rad_s(&self) -> f64 {
        self.speed_rad_s
    }

    /// Taken by the load so far, J.
    pub(super) fn load_j(&self) -> f64 {
        self.load_j
    }

    /// Stored in the rotor, J.
    pub(super) fn kinetic_j(&self) -> f64 {
        0.5 * self.inertia_kg_m2 * self.speed_rad_s * self.speed_rad_s
    }

    /// Goes on from `t_s` by `h_s` against a torque at a time and a speed (rad/s).
    pub(super) fn step(&mut self, t_s: f64, h_s: f64, load: impl Fn(f64, f64) -> f64) {
        // Acceleration and power.
        let at = |t: f64, speed: f64| {
            let torque = load(t, speed);
            (-torque / self.inertia_kg_m2, torque * speed)
        };
        let (speed, half) = (self.speed_rad_s, h_s / 2.0);
        let (a1, p1) = at(t_s, speed);
        let (a2, p2) = at(t_s + half, speed + half * a1);
        let (a3, p3) = at(t_s + half, speed + half * a2);
        let (a4, p4) = at(t_s + h_s, speed + h_s * a3);
        self.speed_rad_s += h_s / 6.0 * (a1 + 2.0 * (a2 + a3) + a4);
        self.load_j += h_s / 6.0 * (p1 + 2.0 * (p2 + p3) + p4);
    }
}

#[cfg(test)]
mod tests;
