//! Active and reactive power where they are not measured: from the current, by the motor's own curve.
//!
//! ```text
//! x  = (I / Ir)² / (V / Vr)²            what the circuit at rated voltage would draw
//! p² = curve(x), piecewise linear       p: active power at rated voltage over sqrt3 Vr Ir
//! P  = p (V / Vr)²                      Q = sqrt((V I)² - P²), lagging
//! ```
//!
//! The circuit is linear: at any voltage it draws in proportion, so one curve serves all voltages; friction alone does not
//! go with the voltage. V is the measured voltage or, where none is, the nominal one. In squares the curve is nearly a
//! straight line: `I² = Iq² + (P / V)²` with the magnetising current Iq. Below its first point it goes to nothing,
//! beyond its last one (a locked rotor) power goes with the squared current.
//!
//! An estimate: it knows nothing of a voltage that is off, of iron that saturates, of unbalance, nor whether power is
//! taken or given.

use super::shaft::current;
use crate::math::root::isqrt;
use crate::record::HalfCycle;
use crate::settings::{CurveCoefficients, JudgeCoefficients, MotorCoefficients};
use crate::unit::{SquareVolts, Watts};

/// Voltage squared per unit, Q24, from 1/1 024 (3 % of rated) to below 4: what lies outside is no running motor.
const VOLTAGES: (i64, i64) = (1 << 14, (1 << 26) - 1);
/// Squares of the current at rated voltage are kept below this, Q24: 256.
const MOST: i64 = (1 << 32) - 1;

/// The record with active and reactive power, energy and the voltage that they hold at.
pub(super) fn fill(c: &JudgeCoefficients, curve: &CurveCoefficients, half: &HalfCycle) -> HalfCycle {
    let volts = curve.voltage.unwrap_or(half.voltage_positive);
    let square = c.motor.voltage_to_unit.apply(SquareVolts::of(volts).0 as i64);
    let (active, reactive) = if square < VOLTAGES.0 { (0, 0) } else { powers(&c.motor, curve, half, square) };
    let active = Watts::from_bits(c.motor.unit_to_power.apply(active));
    HalfCycle {
        active,
        reactive: Watts::from_bits(c.motor.unit_to_power.apply(reactive)),
        energy: half.length.energy(active, c.seconds_per_frame),
        voltage_positive: volts,
        ..*half
    }
}

/// Active and reactive power, Q24, from squared voltage, Q24 within [`VOLTAGES`].
fn powers(c: &MotorCoefficients, curve: &CurveCoefficients, half: &HalfCycle, volts: i64) -> (i64, i64) {
    let volts = volts.min(VOLTAGES.1);
    let amps = current(c, half); // below 2^32
    let at_rated = ((amps << 24).checked_div(volts).unwrap_or(0)).min(MOST); // 2^56 over at least 2^14
    // p at Q24 is the root of p² at Q24 times 2^24: below 2^30 + 24 bits. Below 2^27; times a voltage below 2^26.
    let active = (i64::from(isqrt((interpolate(curve, at_rated) << 24) as u64)) * volts) >> 24;
    // (V I)²: 2^32 * 2^26 at Q48, down to Q24; below 2^34. Power at most that.
    let apparent = (amps * volts) >> 24;
    let square = ((active.min(1 << 29) * active.min(1 << 29)) >> 24).min(apparent);
    let reactive = isqrt(((apparent - square) << 24) as u64);
    (isqrt((square << 24) as u64).into(), reactive.into())
}

/// p² at Q24, below 2^30, for x at Q24 below 2^32.
fn interpolate(curve: &CurveCoefficients, x: i64) -> i64 {
    let (mut from, mut value) = (0i64, 0i64);
    for (at, square) in curve.points {
        if x < at {
            // Differences below 2^32 and 2^30; the points rise, so that none is divided by nothing.
            return value + ((square - value) * (x - from)).checked_div(at - from).unwrap_or(0);
        }
        (from, value) = (at, square);
    }
    // In proportion, held below 64.
    (value * x).checked_div(from).unwrap_or(0).min((1 << 30) - 1)
}
