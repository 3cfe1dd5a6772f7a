//! The mill: a rotor, its windage, pieces that break under the hammers, the charge in its chamber, a wedge.
//!
//! ```text
//! load(t, w) = c w^2 + [ sum of strikes(t) + wedge(t) + drag of the charge ] tanh(w / w0)
//! ```
//!
//! N m, s, rad/s, kg, J. A piece takes the work that it needs in a burst of hammer strikes, more or less regular,
//! harder at first. Strikes are torques in time, so their work falls with the speed; below half of the working speed they
//! come later as well, and a rotor that stands breaks nothing.
//! The tanh lets all that is in the mill brake a rotor without turning it back: one that is held creeps at some rpm,
//! at which the tanh leaves of the torque what the motor can give. A mill without a chamber lets pieces out as soon as they are broken.

mod chamber;
mod lump;
mod strike;
mod wedge;

use super::Answer;
use super::feeder::belt::{Belt, Carrying};
use super::feeder::hand::{Hand, Throwing};
use super::feeder::{Dropped, Piece};
pub use chamber::Chamber;
use chamber::Charge;
pub use lump::Lump;
use lump::Lumps;
use serde::{Deserialize, Serialize};
use strike::Strikes;
pub use strike::{Blow, draw};
pub use wedge::Wedge;

/// Speed below which strikes, wedge and drag fade, rad/s.
const FADE_RAD_S: f64 = 2.0;

/// Below this share of the working speed blows come the later the slower the rotor is; at standstill none comes.
const SLOW: f64 = 0.5;

/// Belt and chamber go on by so much at a time, s: the same in every model that uses them.
const TICKS_HZ: f64 = 100.0;

/// A rotor, and what falls into it and hinders it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Mill {
    /// All that turns but the motor's own rotor, seen from the motor shaft, kg m².
    pub inertia_kg_m2: f64,
    /// Windage and bearings with nothing in the mill: torque over speed squared, N m s².
    pub windage_nm_s2: f64,
    /// Speed for which the strikes' torques are reckoned, rad/s.
    pub working_rad_s: f64,
    /// Chamber and screen; none lets pieces out as soon as they are broken.
    pub chamber: Option<Chamber>,
    /// A person who feeds.
    pub hand: Option<Hand>,
    /// A belt that feeds.
    pub belt: Option<Belt>,
    /// What gets stuck.
    pub wedge: Option<Wedge>,
    /// Strikes that are given one by one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lumps: Vec<Lump>,
    /// When the belt between motor and mill is lost, s; none for never.
    pub belt_lost_s: Option<f64>,
}

/// The empty mill that goes with [`super::circuit::Circuit::mill_55_kw`].
impl Default for Mill {
    fn default() -> Self {
        Self {
            inertia_kg_m2: 16.2,
            windage_nm_s2: 1.85e-3,
            working_rad_s: 0.986 * super::circuit::Circuit::mill_55_kw().synchronous_rad_s(),
            chamber: None,
            hand: None,
            belt: None,
            wedge: None,
            lumps: Vec::new(),
            belt_lost_s: None,
        }
    }
}

impl Mill {
    /// Torque of the empty mill, N m.
    pub fn windage_nm(&self, speed_rad_s: f64) -> f64 {
        self.windage_nm_s2 * speed_rad_s * speed_rad_s.abs()
    }
}

/// The load over time, drawn from a seed.
#[derive(Debug, Clone)]
pub struct Load {
    mill: Mill,
    hand: Option<Throwing>,
    belt: Option<Carrying>,
    charge: Option<Charge>,
    strikes: Strikes,
    lumps: Lumps,
    /// When it was last.
    last_s: Option<f64>,
    /// The tick that comes next.
    tick: Option<i64>,
    fed_kg: f64,
    scale_kg: f64,
    dropped: Vec<Dropped>,
}

impl Load {
    /// The load that belongs to a seed.
    pub fn new(mill: &Mill, seed: u64) -> Self {
        Self {
            hand: mill.hand.clone().map(|hand| Throwing::new(hand, seed)),
            belt: mill.belt.clone().map(|belt| Carrying::new(belt, seed)),
            charge: mill.chamber.map(Charge::new),
            strikes: Strikes::default(),
            lumps: Lumps::new(&mill.lumps),
            last_s: None,
            tick: None,
            fed_kg: 0.0,
            scale_kg: 0.0,
            dropped: Vec::new(),
            mill: Mill { lumps: Vec::new(), ..mill.clone() },
        }
    }

    /// Goes on to a time, with the speed that the rotor has then. Called once a step, in order; a step must not be
    /// longer than a piece takes to fall (a quarter of a second).
    pub fn advance(&mut self, t_s: f64, speed_rad_s: f64) {
        let since_s = t_s - self.last_s.replace(t_s).unwrap_or(t_s);
        let pace = speed_rad_s / self.mill.working_rad_s;
        if pace < SLOW {
            let late_s = since_s * (1.0 - pace.max(0.0) / SLOW);
            self.strikes.delay(t_s, late_s);
            if let Some(charge) = &mut self.charge {
                charge.delay(t_s, late_s);
            }
        }
        self.strikes.advance(t_s);
        self.lumps.advance(t_s);
        while let Some(piece) = self.hand.as_mut().and_then(|hand| hand.next(t_s, self.mill.chamber.as_ref())) {
            self.fed_kg += piece.mass_kg;
            self.scale_kg += piece.mass_kg;
            self.dropped.push(Dropped { at_s: piece.at_s, mass_kg: piece.mass_kg });
            self.fall(&piece);
        }
        if self.belt.is_none() && self.charge.is_none() {
            return;
        }
        // Far below 2^53 ticks.
        let last = (t_s * TICKS_HZ + 1e-6).floor() as i64;
        let first = *self.tick.get_or_insert(last);
        for n in first..=last {
            self.go_on(n as f64 / TICKS_HZ, pace);
        }
        self.tick = Some(last + 1);
    }

    /// A tick of belt and chamber that ends at a time.
    fn go_on(&mut self, t_s: f64, pace: f64) {
        let h_s = 1.0 / TICKS_HZ;
        if let Some(mut belt) = self.belt.take() {
            let weighed = belt.tick(t_s, h_s);
            self.fed_kg += weighed;
            self.scale_kg += weighed * belt.scale_gain();
            while let Some(piece) = belt.next(t_s, self.mill.chamber.as_ref()) {
                self.fall(&piece);
            }
            self.belt = Some(belt);
        }
        if let Some(charge) = &mut self.charge {
            charge.tick(t_s, h_s, pace);
        }
    }

    fn fall(&mut self, piece: &Piece) {
        // A full mill takes longer over each piece.
        let slower = 1.0 + self.charge.as_ref().map_or(0.0, Charge::fill);
        self.strikes.burst(piece, slower, self.mill.working_rad_s);
        if let Some(charge) = &mut self.charge {
            charge.take(piece.mass_kg, Strikes::span_s(piece, slower));
        }
    }

    /// Torque against the motion, N m, at a time and a speed (rad/s).
    pub fn torque_nm(&self, t_s: f64, speed_rad_s: f64) -> f64 {
        self.mill.windage_nm(speed_rad_s) + self.breaking_nm(t_s, speed_rad_s)
    }

    /// The part of it that strikes, wedge and drag take, N m.
    pub fn breaking_nm(&self, t_s: f64, speed_rad_s: f64) -> f64 {
        let wedged = self.mill.wedge.map_or(0.0, |wedge| wedge.torque(t_s));
        let mut torque = self.strikes.torque(t_s) + self.lumps.torque(t_s) + wedged;
        if let Some(charge) = &self.charge {
            torque += charge.drag_nm();
        }
        torque * fade(speed_rad_s)
    }

    /// The mean of [`Load::breaking_nm`] over a span of time at one speed, N m.
    pub fn mean_breaking_nm(&self, from_s: f64, until_s: f64, speed_rad_s: f64) -> f64 {
        let wedged = self.mill.wedge.map_or(0.0, |wedge| wedge.impulse(from_s, until_s));
        let impulse = self.strikes.impulse(from_s, until_s) + self.lumps.impulse(from_s, until_s) + wedged;
        let drag = self.charge.as_ref().map_or(0.0, Charge::drag_nm);
        (impulse / (until_s - from_s) + drag) * fade(speed_rad_s)
    }

    /// Mass fed so far, kg: what was thrown in, and what has passed the belt's scale.
    pub fn fed_kg(&self) -> f64 {
        self.fed_kg
    }

    /// The same as the scale has it, kg.
    pub fn scale_kg(&self) -> f64 {
        self.scale_kg
    }

    /// What lies in the chamber, kg; nothing where there is none.
    pub fn charge_kg(&self) -> f64 {
        self.charge.as_ref().map_or(0.0, Charge::charge_kg)
    }

    /// What has left through the screen, kg; nothing where there is none.
    pub fn out_kg(&self) -> f64 {
        self.charge.as_ref().map_or(0.0, Charge::out_kg)
    }

    /// Sets the belt's drive, as a share of full speed; its own programme no longer counts.
    pub fn set_belt(&mut self, share: f64) {
        if let Some(belt) = &mut self.belt {
            belt.set(share);
        }
    }

    /// Heeds what is answered of the feed.
    pub fn answer(&mut self, answer: Answer) {
        if let Some(belt) = &mut self.belt {
            belt.answer(answer.belt.or(answer.hold.then_some(0.0)));
        }
        if let Some(hand) = &mut self.hand {
            hand.lamp(answer.hold);
        }
    }

    /// What has been thrown in by hand since the last time, in order.
    pub fn dropped(&mut self) -> std::vec::Drain<'_, Dropped> {
        self.dropped.drain(..)
    }
}

/// What a rotor feels of strikes, wedge and drag: all of it but near standstill.
pub(super) fn fade(speed_rad_s: f64) -> f64 {
    let x = speed_rad_s / FADE_RAD_S;
    // From 19.1 on the tangent is 1 to the last bit.
    if x > 20.0 { 1.0 } else { x.tanh() }
}

#[cfg(test)]
mod tests;
