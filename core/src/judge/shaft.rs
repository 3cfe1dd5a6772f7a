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
use crate::math::divide::{by, signed};
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
/// Powers and voltages per unit are kept below this, so that their squares at Q48 fit.
const MOST: i64 = 64 * ONE;
/// Squared currents below this: 16 times rated. Times a coefficient below 2^30: 62 bits.
pub(super) const MOST_SQUARE: i64 = 256 * ONE;

/// What the motor gives, over one cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Shaft {
    pub(crate) power: Watts,
    pub(crate) torque: Newtonmetres,
    /// What the slip leaves of the air gap's power in the rotor's bars.
    pub(crate) rotor: Watts,
    /// `None` where current is too small to tell; beyond 10 % of slip either way, but for a run-up from rest with a known
    /// inertia.
    pub(crate) speed: Option<Rpm>,
    /// Slip, Q24; one when there is nothing to tell it from.
    pub(crate) slip: i64,
}

const fn clamp(x: i64) -> i64 {
    // Both ends by one comparison: this is in twenty places.
    if x.wrapping_add(MOST) as u64 <= 2 * MOST as u64 {
        x
    } else if x > 0 {
        MOST
    } else {
        -MOST
    }
}

/// Square of a figure below [`MOST`].
const fn square(x: i64) -> i64 {
    x as i32 as i64 * x as i32 as i64
}

/// Product of two Q24 figures below [`MOST`]: 30 + 30 bits.
const fn times(a: i64, b: i64) -> i64 {
    // Said to be below 32 bits, a product is one instruction.
    (clamp(a) as i32 as i64 * clamp(b) as i32 as i64) >> 24
}

/// Without current: no power, and nothing to tell slip from.
impl Default for Shaft {
    fn default() -> Self {
        Self { power: Watts::ZERO, torque: Newtonmetres::ZERO, rotor: Watts::ZERO, speed: None, slip: ONE }
    }
}

/// What is known of the motor besides a cycle's figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Now {
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
    pub(super) fn of(c: &MotorCoefficients, half: &HalfCycle, now: Now, memory: &mut Slip) -> Self {
        if squares(half) < c.gone.0 {
            memory.forget();
            return Self::default();
        }
        let in_star = |square: i64| if now.star { (3 * square).min(MOST_SQUARE) } else { square };
        let current = in_star(current(c, half));
        let loss = |resistance: i32, current: i64| clamp((i64::from(resistance) * current) >> 24);
        let active = clamp(c.power_to_unit.apply(half.active.to_bits()));
        let reactive = clamp(c.power_to_unit.apply(half.reactive.to_bits()));
        // Phases in reverse order have their voltage in the negative sequence.
        let volts = half.voltage_positive.max(half.voltage_negative);
        let voltage = clamp(c.voltage_to_unit.apply(SquareVolts::of(volts).0 as i64));
        let voltage = if now.star { by(voltage, 3) } else { voltage };

        // A resistance below 64 times one below 8: 33 bits, times a square of 32.
        let stator = (i64::from(c.stator_resistance) * now.warm.stator) >> 24;
        // What turns against the motor: its current, and what it takes through stator and rotor at a slip of two.
        let against = in_star(against(c, half)).min(current);
        let rotor = ((i64::from(c.rotor_resistance) * now.warm.rotor) >> 24).min(MOST / 4);
        let braking = (standing(c, rotor) / 2 * against) >> 24;
        let (active, current) = (clamp(active - braking - ((stator.min(MOST / 4) * against) >> 24)), current - against);
        let reactive = clamp(reactive - 2 * loss(c.stator_leakage, against));
        let past_stator = clamp(active - clamp((stator.min(MOST / 4) * current) >> 24));
        let past_leakage = clamp(reactive - loss(c.stator_leakage, current));
        let air_gap = clamp(past_stator - times(c.core_loss.into(), voltage));
        // Q48 / Q24; each square is below 2^60.
        let emf = signed(square(past_stator) + square(past_leakage), current).map_or(0, clamp);
        let magnetising = times(emf, c.magnetising_admittance.into());
        let leakage = clamp(past_leakage - magnetising);
        let slip = memory.of(c, now.begun, Rotor { resistance: rotor, air_gap, leakage, emf });

        let turning = ONE - slip;
        let brakes = times(i64::from(c.friction_loss) + loss(c.stray, current + against), turning);
        let net = air_gap - brakes - braking;
        // Synchronous speed goes with the frequency: a cycle's length against the rated one.
        let frequency = frequency(c, half);
        let net_watts = c.unit_to_power.apply(net);
        let torque_at_rated = c.power_to_torque.apply(net_watts);
        let torque = signed(torque_at_rated.saturating_mul(ONE), frequency).unwrap_or(0);
        Self {
            power: Watts::from_bits(c.unit_to_power.apply(times(net, turning))),
            torque: Newtonmetres::from_bits(narrow(torque)),
            rotor: Watts::from_bits(c.unit_to_power.apply(times(air_gap, slip))),
            // Further from synchronous speed the rotor's resistance is no longer the rated one.
            speed: memory
                .tells
                .then(|| Rpm::from_bits(narrow(times(i64::from(c.synchronous_rpm), times(frequency, turning))))),
            slip,
        }
    }
}

/// Frequency over rated frequency, Q24: exact for a whole cycle; one where the cycle is cut short.
fn frequency(c: &MotorCoefficients, half: &HalfCycle) -> i64 {
    let ratio = i64::from(ratio_q(c.rated_cycle.into(), half.cycle.0, 24));
    if (ONE * 3 / 4..=ONE * 5 / 4).contains(&ratio) { ratio } else { ONE }
}

/// Sum of the three squared currents, Q34.
fn squares(half: &HalfCycle) -> u64 {
    half.current.iter().fold(0u64, |sum, square| sum.saturating_add(square.0))
}

/// Their mean over the square of rated current, Q24, below 256.
pub(super) fn current(c: &MotorCoefficients, half: &HalfCycle) -> i64 {
    c.square_to_unit.apply(i64::try_from(squares(half)).unwrap_or(i64::MAX)).clamp(0, MOST_SQUARE)
}

/// Square of the current that turns against the motor, over the square of rated current, Q24, below 256.
fn against(c: &MotorCoefficients, half: &HalfCycle) -> i64 {
    // Phases in reverse order have their current in the negative sequence. Three squares, each below 2^62: saturated.
    let square = SquareAmps::of(half.current_negative.min(half.current_positive)).0;
    c.square_to_unit.apply(i64::try_from(square.saturating_mul(3)).unwrap_or(i64::MAX)).clamp(0, MOST_SQUARE)
}

/// Rotor resistance at standstill and beyond from that while running, Q24, below 16.
fn standing(c: &MotorCoefficients, rotor: i64) -> i64 {
    // 28 bits times one below 17 at Q24.
    ((rotor * (ONE + i64::from(c.deep_bar))) >> 24).min(MOST / 4)
}
