//! Shaft power, torque and speed from what the terminals show.
//!
//! Equivalent circuit of an induction motor, a phase of the star, per unit on
//! `base = sqrt3 Vr Ir` (textbook theory; loss segregation as in IEC 60034-2-1):
//!
//! ```text
//! Pe = P - Rs I²            power past the stator winding
//! Qe = Q - Xs I²            reactive power past the stator's leakage
//! E² = (Pe² + Qe²) / I²     voltage at the air gap, squared
//! Pg = Pe - Pcore V²        air-gap power
//! Q2 = Qe - E² / Xm         what the rotor's leakage takes
//! I2² = (Pg² + Q2²) / E²    rotor current, squared
//! x  = Rr I2² / Pg          slip with the running resistance
//! s  = x (1 + d s²)         slip with that of deep bars, d its rise at standstill
//! T  = (Pg - (Pfriction + Rstray I²) (1 - s)) / synchronous speed
//! P2 = T x speed
//! ```
//!
//! Of Q2² only what is beyond (0.05 E²)² counts: below that it is smaller than what an error of Xm makes of it. Where
//! it does not count and Pg is below 0.05 E² as well, slip goes linearly, `s = Rr Pg / E²`. Both limits
//! go with E², so that a motor standing at a low voltage is seen to stand.
//!
//! P, Q and I² here are those of the sequence that drives; what turns against it (negative sequence, I2) takes
//! `(Rs + Rr (1 + d) / 2) I2²` and `2 Xs I2²` and brakes with `Rr (1 + d) / 2 I2²` at a slip of two (the theory of
//! symmetrical components; both leakages are alike).
//!
//! Both resistances follow the windings' temperature ([`super::winding`]).
//!
//! Limits. Near rated load the slip's error is that of the nameplate's (IEC 60034-1 allows 20 % of slip); on the plant
//! model speed below 10 % of slip is right within 0.25 % of synchronous while load and speed change ([`super::slip`]).
//! Beyond 10 % torque is still told by the air-gap power. Speed is told there only in a run-up from rest with a known
//! inertia (within 5 % on the plant model), and shaft power is as good as `d`: an upper estimate where that is not known and taken
//! as nothing.

use super::slip::{Begun, Rotor, Slip};
use super::winding::Warm;
use crate::math::divide::signed;
use crate::math::scale::{Scale, narrow, ratio_q};
use crate::record::HalfCycle;
use crate::settings::MotorCoefficients;
use crate::time::Span;
use crate::unit::{Joules, Newtonmetres, Ratio, Rpm, SquareAmps, SquareVolts, Watts};

/// 10 % of slip at Q24, either way: the most at which speed is told. A motor is driven faster only in the first
/// cycle of a start, where nothing is steady and the figures mean nothing.
pub(super) const TOLD: i64 = ONE / 10;
/// 5 % of slip at Q24: 95 % of synchronous speed.
pub(super) const RUN_UP: i64 = ONE / 20;
/// One at Q24.
pub(super) const ONE: i64 = 1 << 24;
/// Powers and voltages per unit are kept within this, so that they are words and their squares at Q48 fit.
const MOST: i32 = 1 << 30;
/// Resistances below this: 16.
const MOST_RESISTANCE: i64 = 16 * ONE;

/// What the motor gives, over one cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Shaft {
    pub(crate) power: Watts,
    pub(crate) torque: Newtonmetres,
    /// What the slip leaves of the air gap's power in the rotor's bars, per unit Q24.
    pub(crate) rotor: i64,
    /// `None` where current is too small to tell; beyond 10 % of slip either way, but for a run-up from rest with a known
    /// inertia.
    pub(crate) speed: Option<Rpm>,
    /// Slip, Q24; one when there is nothing to tell it from.
    pub(crate) slip: i64,
}

/// A figure per unit at Q24, kept within [`MOST`].
const fn clamp(x: i64) -> i32 {
    // Both ends by one comparison: this is in twenty places.
    if x.wrapping_add(MOST as i64) as u64 <= 2 * MOST as u64 {
        x as i32
    } else if x > 0 {
        MOST
    } else {
        -MOST
    }
}

/// Square of a word.
const fn square(x: i32) -> i64 {
    x as i64 * x as i64
}

/// Product of two Q24 figures.
const fn times(a: i32, b: i32) -> i64 {
    (a as i64 * b as i64) >> 24
}

/// Resistance, at least nothing, times squared current, both Q24, kept within [`MOST`].
fn loss(resistance: i32, current: u32) -> i32 {
    ((u64::from(resistance.unsigned_abs()) * u64::from(current)) >> 24).min(MOST as u64) as i32
}

/// The difference of two figures, kept within [`MOST`].
fn less(a: i32, b: i32) -> i32 {
    a.saturating_sub(b).clamp(-MOST, MOST)
}

/// Without current: no power, and nothing to tell slip from.
impl Default for Shaft {
    fn default() -> Self {
        Self { power: Watts::ZERO, torque: Newtonmetres::ZERO, rotor: 0, speed: None, slip: ONE }
    }
}

/// What is known of the motor besides a cycle's figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Now {
    /// Mean of the three squared currents over the square of the rated one, Q24: [`current`].
    pub(crate) current: u32,
    pub(crate) warm: Warm,
    /// Its windings are joined in star.
    pub(crate) star: bool,
    pub(crate) begun: Begun,
}

impl Shaft {
    /// Whether the motor turns at 95 to 110 % of synchronous speed.
    pub(crate) const fn at_speed(&self) -> bool {
        self.slip < RUN_UP && self.slip >= -TOLD
    }

    /// Power over rated power.
    pub(crate) fn load(&self, c: &MotorCoefficients) -> Ratio {
        Ratio::from_bits(narrow(c.load.apply(self.power.to_bits())))
    }

    /// Its work in a half cycle. Power is a cycle's mean, a quarter of a cycle old in the middle of the half cycle: it is
    /// carried on as it changed since `before`, half a cycle ago. Over many half cycles that adds up to nothing.
    pub(crate) fn work(&self, before: Watts, length: Span, seconds_per_frame: Scale) -> Joules {
        let change = self.power.to_bits().saturating_sub(before.to_bits()) / 2;
        length.energy(Watts::from_bits(self.power.to_bits().saturating_add(change)), seconds_per_frame)
    }

    /// From one cycle's figures. Nothing without current. The circuit is that of delta where the motor is started in
    /// star: then each winding has a root of three less voltage than the line's, and as much more current for the same power.
    #[inline(never)]
    pub(super) fn of(c: &MotorCoefficients, half: &HalfCycle, now: Now, memory: &mut Slip) -> Self {
        if squares(half) < c.gone.0 {
            memory.forget();
            return Self::default();
        }
        let in_star = |square: u32| if now.star { square.saturating_mul(3) } else { square };
        let current = in_star(now.current);
        let active = clamp(c.power_to_unit.apply(half.active.to_bits()));
        let reactive = clamp(c.power_to_unit.apply(half.reactive.to_bits()));
        // Phases in reverse order have their voltage in the negative sequence.
        let volts = half.voltage_positive.max(half.voltage_negative);
        let voltage = clamp(c.voltage_to_unit.apply(SquareVolts::of(volts).0 as i64));
        let voltage = if now.star { voltage / 3 } else { voltage };

        let stator = warmed(c.stator_resistance, now.warm.stator);
        let rotor = warmed(c.rotor_resistance, now.warm.rotor);
        // What turns against the motor: its current, and what it takes through stator and rotor at a slip of two.
        let against = in_star(against(c, half)).min(current);
        let braking = loss(standing(c, rotor) / 2, against);
        let active = less(active.saturating_sub(braking), loss(stator, against));
        let shunt = loss(c.stator_leakage, against);
        let reactive = less(reactive.saturating_sub(shunt), shunt);
        let current = current - against;
        let past_stator = less(active, loss(stator, current));
        let past_leakage = less(reactive, loss(c.stator_leakage, current));
        let air_gap = less(past_stator, clamp(times(c.core_loss, voltage)));
        // Q48 / Q24; each square is below 2^60.
        let emf = signed(square(past_stator) + square(past_leakage), current.into()).map_or(0, clamp);
        let leakage = less(past_leakage, clamp(times(emf, c.magnetising_admittance)));
        let slip = memory.of(c, now.begun, Rotor { resistance: rotor, air_gap, leakage, emf });

        // Slip is between -0.2 and 1.
        let (slip, turning) = (slip as i32, (ONE - slip) as i32);
        // The stray figure may have either sign: 31 + 32 bits.
        let stray = (i64::from(c.stray) * i64::from(current + against)) >> 24;
        let brakes = times(clamp(i64::from(c.friction_loss) + i64::from(clamp(stray))), turning);
        let net = i64::from(air_gap) - brakes - i64::from(braking);
        // Synchronous speed goes with the frequency: a cycle's length against the rated one.
        let frequency = frequency(c, half);
        let net_watts = c.unit_to_power.apply(net);
        let torque_at_rated = c.power_to_torque.apply(net_watts);
        let torque = signed(torque_at_rated.saturating_mul(ONE), frequency.into()).unwrap_or(0);
        // Further from synchronous speed the rotor's resistance is no longer the rated one.
        let speed = || Rpm::from_bits(narrow(times(c.synchronous_rpm, clamp(times(frequency, turning)))));
        Self {
            power: Watts::from_bits(c.unit_to_power.apply(times(clamp(net), turning))),
            torque: Newtonmetres::from_bits(narrow(torque)),
            rotor: times(air_gap, slip),
            speed: memory.tells.then(speed),
            slip: slip.into(),
        }
    }
}

/// Frequency over rated frequency, Q24: exact for a whole cycle; one where the cycle is cut short.
fn frequency(c: &MotorCoefficients, half: &HalfCycle) -> i32 {
    const WHOLE: i32 = ONE as i32;
    let ratio = ratio_q(c.rated_cycle.into(), half.cycle.0, 24);
    if (WHOLE / 4 * 3..=WHOLE / 4 * 5).contains(&ratio) { ratio } else { WHOLE }
}

/// Sum of the three squared currents, Q34.
fn squares(half: &HalfCycle) -> u64 {
    half.current.iter().fold(0u64, |sum, square| sum.saturating_add(square.0))
}

/// Their mean over the square of rated current, Q24, below 256.
pub(super) fn current(c: &MotorCoefficients, half: &HalfCycle) -> u32 {
    per_unit(c, squares(half))
}

/// Square of the current that turns against the motor, over the square of rated current, Q24, below 256.
fn against(c: &MotorCoefficients, half: &HalfCycle) -> u32 {
    // Phases in reverse order have their current in the negative sequence. Three squares, each below 2^62: saturated.
    per_unit(c, SquareAmps::of(half.current_negative.min(half.current_positive)).0.saturating_mul(3))
}

/// Three squares' mean over the square of rated current, Q24, kept below 256: 16 times rated current.
fn per_unit(c: &MotorCoefficients, squares: u64) -> u32 {
    let mean = c.square_to_unit.apply(i64::try_from(squares).unwrap_or(i64::MAX));
    u32::try_from(mean).unwrap_or(if mean < 0 { 0 } else { u32::MAX })
}

/// A resistance below 64, of windings that make it up to eight times as large: 33 bits; kept below [`MOST_RESISTANCE`].
fn warmed(resistance: i32, warm: i64) -> i32 {
    ((i64::from(resistance) * warm) >> 24).min(MOST_RESISTANCE) as i32
}

/// Rotor resistance at standstill and beyond from that while running, Q24, below 16.
fn standing(c: &MotorCoefficients, rotor: i32) -> i32 {
    // 28 bits times one below 17 at Q24.
    ((i64::from(rotor) * (ONE + i64::from(c.deep_bar))) >> 24).min(MOST_RESISTANCE) as i32
}
