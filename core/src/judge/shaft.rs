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
//! T  = (Pg - Pfriction (1 - s) - Rstray I²) / synchronous speed
//! P2 = T x speed
//! ```
//!
//! Q2 counts only beyond 0.05 E²: below that it is smaller than what an error of Xm makes of it. Where
//! it does not count and Pg is below 0.05 E² as well, slip goes linearly, `s = Rr Pg / E²`. Both limits
//! go with E², so that a motor standing at a low voltage is seen to stand.
//!
//! P, Q and I² here are those of the sequence that drives; what turns against it (negative sequence, I2) takes
//! `(Rs + Rr (1 + d) / 2) I2²` and `2 Xs I2²` and brakes with `Rr (1 + d) / 2 I2²` at a slip of two (the theory of
//! symmetrical components; both leakages are alike).
//!
//! Both resistances follow the windings' temperature ([`super::winding`]).
//!
//! Limits: steady state within a cycle. Near rated load
//! the slip's error is that of the nameplate's (20 % of slip is allowed by IEC 60034-1); on run-up it
//! follows within about two cycles. Beyond 10 % of slip torque is still told by the air-gap power; speed is not told
//! at all, and shaft power is as good as `d`: an upper estimate where that is not known and taken as nothing.

use super::winding::Warm;
use crate::math::scale::{narrow, ratio_q};
use crate::record::HalfCycle;
use crate::settings::MotorCoefficients;
use crate::unit::{Newtonmetres, Ratio, Rpm, SquareAmps, SquareVolts, Watts};

/// 10 % of slip at Q24, either way: the most at which speed is told. A motor is driven faster only in the first
/// cycle of a start, where nothing is steady and the figures mean nothing.
const TOLD: i64 = ONE / 10;
/// 5 % of slip at Q24: 95 % of synchronous speed.
const RUN_UP: i64 = ONE / 20;
/// One at Q24.
const ONE: i64 = 1 << 24;
/// Powers and voltages per unit are kept below this, so that their squares at Q48 fit.
const MOST: i64 = 64 * ONE;
/// Squared currents below this: 16 times rated. Times a coefficient below 2^30: 62 bits.
const MOST_SQUARE: i64 = 256 * ONE;
/// One over the rotor's admittance below which its leakage cannot be told from an error of Xm.
const SMALL: i64 = 20;
/// Slip is kept between -0.2 (driven) and 1 (locked).
const SLIP: (i64, i64) = (-ONE / 5, ONE);

/// What the motor gives, over one cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Shaft {
    pub(crate) power: Watts,
    pub(crate) torque: Newtonmetres,
    /// `None` where current is too small to tell, or slip beyond 10 % either way.
    pub(crate) speed: Option<Rpm>,
    /// Slip, Q24; one when there is nothing to tell it from.
    pub(crate) slip: i64,
}

const fn clamp(x: i64) -> i64 {
    if x > MOST {
        MOST
    } else if x < -MOST {
        -MOST
    } else {
        x
    }
}

/// Product of two Q24 figures below [`MOST`]: 30 + 30 bits.
const fn times(a: i64, b: i64) -> i64 {
    (clamp(a) * clamp(b)) >> 24
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

    /// From one cycle's figures. Nothing without current.
    pub(super) fn of(c: &MotorCoefficients, half: &HalfCycle, warm: Warm) -> Self {
        if squares(half) < c.gone.0 {
            return Self { slip: ONE, ..Self::default() };
        }
        let current = current(c, half);
        let loss = |resistance: i32, current: i64| clamp((i64::from(resistance) * current) >> 24);
        let active = clamp(c.power_to_unit.apply(half.active.to_bits()));
        let reactive = clamp(c.power_to_unit.apply(half.reactive.to_bits()));
        // Phases in reverse order have their voltage in the negative sequence.
        let volts = half.voltage_positive.max(half.voltage_negative);
        let voltage = clamp(c.voltage_to_unit.apply(SquareVolts::of(volts).0 as i64));

        // A resistance below 64 times one below 8: 33 bits, times a square of 32.
        let stator = (i64::from(c.stator_resistance) * warm.stator) >> 24;
        // What turns against the motor: its current, and what it takes through stator and rotor at a slip of two.
        let against = against(c, half).min(current);
        let rotor = ((i64::from(c.rotor_resistance) * warm.rotor) >> 24).min(MOST / 4);
        let braking = (standing(c, rotor) / 2 * against) >> 24;
        let (active, current) = (clamp(active - braking - ((stator.min(MOST / 4) * against) >> 24)), current - against);
        let reactive = clamp(reactive - 2 * loss(c.stator_leakage, against));
        let past_stator = clamp(active - clamp((stator.min(MOST / 4) * current) >> 24));
        let past_leakage = clamp(reactive - loss(c.stator_leakage, current));
        let air_gap = clamp(past_stator - times(c.core_loss.into(), voltage));
        // Q48 / Q24; each square is below 2^60.
        let emf = (past_stator * past_stator + past_leakage * past_leakage).checked_div(current).map_or(0, clamp);
        let magnetising = times(emf, c.magnetising_admittance.into());
        let slip = deep(c.deep_bar.into(), slip(rotor, air_gap, clamp(past_leakage - magnetising), emf));

        let turning = ONE - slip;
        let net = air_gap - times(c.friction_loss.into(), turning) - loss(c.stray, current + against) - braking;
        // Synchronous speed goes with the frequency: a cycle's length against the rated one.
        let frequency = frequency(c, half);
        let net_watts = c.unit_to_power.apply(net);
        let torque_at_rated = c.power_to_torque.apply(net_watts);
        let torque = torque_at_rated.saturating_mul(ONE).checked_div(frequency).unwrap_or(0);
        Self {
            power: Watts::from_bits(c.unit_to_power.apply(times(net, turning))),
            torque: Newtonmetres::from_bits(narrow(torque)),
            // Further from synchronous speed the rotor's resistance is no longer the rated one.
            speed: (slip.abs() <= TOLD)
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

/// Slip with deep bars from that with the running resistance: the least `s = x (1 + d s²)`, Q24, by halving sixteen
/// times (2^-16 of synchronous speed). Near zero both are the same.
///
/// The terminals show `x = s / (1 + d s²)`, which rises to `s = 1 / sqrt d` and falls again: what a rotor shows at
/// standstill it shows at `s = 1 / d` as well. A motor that shows that much, or what it shows from 0.95 / d on, is taken
/// to stand.
pub(super) fn deep(deep_bar: i64, apparent: i64) -> i64 {
    if deep_bar == 0 || apparent < TOLD / 2 {
        return apparent;
    }
    // x at most 1, d below 16, s at most 1 at Q24: 24 + 28 bits.
    let law = |s: i64| (apparent * (ONE + ((deep_bar * ((s * s) >> 24)) >> 24))) >> 24;
    let (mut low, mut high) = (apparent, (ONE * ONE / 20 * 19).checked_div(deep_bar).map_or(ONE, |most| most.min(ONE)));
    if low >= high || high < law(high) {
        return ONE;
    }
    for _ in 0..16 {
        let middle = i64::midpoint(low, high);
        if middle < law(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    i64::midpoint(low, high)
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

fn slip(rotor: i64, air_gap: i64, rotor_leakage: i64, emf: i64) -> i64 {
    let small = emf / SMALL;
    let leakage = (rotor_leakage - small).max(0);
    let slip = if air_gap.abs() < small && leakage == 0 {
        // Rr Q24 * Pg Q24 / E² Q24
        (rotor * air_gap).checked_div(emf)
    } else {
        let current =
            (air_gap * air_gap + leakage * leakage).checked_div(emf).map_or(0, |square| square.clamp(0, MOST_SQUARE));
        (rotor * current).checked_div(air_gap)
    };
    slip.unwrap_or(ONE).clamp(SLIP.0, SLIP.1)
}
