//! How the stator's winding and the cage warm up, and their resistances with them.
//!
//! ```text
//! tau dT/dt = r P - (T - ambient)      T, ambient in degrees C, P the part's own loss in W, r in K/W, tau in s
//! ohm(T) = ohm(reference) (k + T) / (k + reference)      k = 234.5 for copper, 225 for aluminium (IEEE 112, from memory)
//! ```
//!
//! Two bodies of one time constant each that do not heat each other; the loss of an interval is taken as even over it.
//! Core, stray and friction losses warm neither. Resistances follow ten times a second.

use serde::{Deserialize, Serialize};

/// Where the resistance of copper would vanish, degrees C below zero.
pub const COPPER_K: f64 = 234.5;
/// The same of aluminium.
pub const ALUMINIUM_K: f64 = 225.0;

/// How often temperatures go on, s.
pub(super) const INTERVAL_S: f64 = 0.1;

/// By how much a resistance rises from one temperature to another, degrees C.
pub fn rise(k: f64, from_c: f64, to_c: f64) -> f64 {
    (k + to_c) / (k + from_c)
}

/// Something that warms up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Body {
    /// How much warmer than its surroundings a watt makes it in the end, K.
    pub kelvin_per_w: f64,
    /// Time constant, s.
    pub time_constant_s: f64,
}

impl Body {
    /// The temperature after some time of an even loss.
    fn after(&self, seconds: f64, from_c: f64, loss_w: f64, ambient_c: f64) -> f64 {
        let end_c = ambient_c + self.kelvin_per_w * loss_w;
        end_c + (from_c - end_c) * (-seconds / self.time_constant_s).exp()
    }
}

/// The motor's temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Heating {
    /// Surroundings, degrees C.
    pub ambient_c: f64,
    /// Winding and cage at the beginning, the lead's if there is one, degrees C.
    pub start_c: [f64; 2],
    /// For which the circuit's resistances hold, degrees C.
    pub reference_c: f64,
    /// The stator's winding, copper.
    pub winding: Body,
    /// The rotor's cage, aluminium.
    pub cage: Body,
}

/// Orders of magnitude for the 55 kW motor (common practice, no source): cold at 20 degrees, the winding about 80 K warmer at
/// rated load; resistances hold at 95 degrees, the reference of the thermal class 130 (IEC 60034-1, from memory).
impl Default for Heating {
    fn default() -> Self {
        Self {
            ambient_c: 20.0,
            start_c: [20.0; 2],
            reference_c: 95.0,
            winding: Body { kelvin_per_w: 0.075, time_constant_s: 900.0 },
            cage: Body { kelvin_per_w: 0.12, time_constant_s: 600.0 },
        }
    }
}

/// Temperatures as they go on.
#[derive(Debug, Clone)]
pub(super) struct Warmth {
    heating: Heating,
    /// Winding and cage, degrees C.
    pub(super) now_c: [f64; 2],
    /// Heat of both when last looked at, J.
    works: [f64; 2],
}

impl Warmth {
    pub(super) fn new(heating: Heating) -> Self {
        Self { heating, now_c: heating.start_c, works: [0.0; 2] }
    }

    /// Goes on by some time, at the end of which winding and cage have had so much heat in all, J.
    pub(super) fn go_on(&mut self, seconds: f64, works: [f64; 2]) {
        let bodies = [self.heating.winding, self.heating.cage];
        for (n, body) in bodies.into_iter().enumerate() {
            let loss_w = (works[n] - self.works[n]) / seconds;
            self.now_c[n] = body.after(seconds, self.now_c[n], loss_w, self.heating.ambient_c);
        }
        self.works = works;
    }

    /// By how much the resistances of stator and rotor differ from the circuit's.
    pub(super) fn rises(&self) -> [f64; 2] {
        let from_c = self.heating.reference_c;
        [rise(COPPER_K, from_c, self.now_c[0]), rise(ALUMINIUM_K, from_c, self.now_c[1])]
    }
}

#[cfg(test)]
mod tests;
