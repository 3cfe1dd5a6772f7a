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
use crate::math::divide::{by, signed};
use crate::math::root::isqrt;
use crate::math::scale::ratio_q;
use crate::record::{HalfCycle, Window};
use crate::settings::{CurveCoefficients, JudgeCoefficients};
use crate::unit::{Ratio, SquareVolts, Watts};

/// Voltage squared per unit, Q24, from 1/1 024 (3 % of rated) to below 4: what lies outside is no running motor.
const VOLTAGES: (i64, i64) = (1 << 14, (1 << 26) - 1);
/// Squares of the current at rated voltage are kept below this, Q24: 256.
const MOST: i64 = (1 << 32) - 1;

/// Fills in active and reactive power, energy and the voltage that they hold at, of a motor in star or not.
#[inline(never)]
pub(super) fn fill(c: &JudgeCoefficients, curve: &CurveCoefficients, half: &mut HalfCycle, star: bool) {
    let volts = curve.voltage.unwrap_or(half.voltage_positive);
    // In star each winding has a third of the squared voltage, and thrice the squared current at the same power.
    let (amps, square) =
        (i64::from(current(&c.motor, half)), c.motor.voltage_to_unit.apply(SquareVolts::of(volts).0 as i64));
    let (amps, square) = if star { ((3 * amps).min(MOST), by(square, 3)) } else { (amps, square) };
    let (active, reactive) = if square < VOLTAGES.0 { (0, 0) } else { powers(curve, amps, square) };
    let active = Watts::from_bits(c.motor.unit_to_power.apply(active));
    half.active = active;
    half.reactive = Watts::from_bits(c.motor.unit_to_power.apply(reactive));
    half.energy = half.length.energy(active, c.seconds_per_frame);
    half.voltage_positive = volts;
}

/// Estimated powers into a window; without voltages the apparent power follows from them.
pub(super) fn window(window: &mut Window, (active, reactive): (Watts, Watts)) {
    // Tens of bits off: below 2^31 each, to 2^25 W; a sixty-fourth of a watt.
    let part = |power: Watts| (power.to_bits() >> 10).clamp(-(1 << 31), 1 << 31).unsigned_abs();
    let (p, q) = (part(active), part(reactive));
    let apparent = if window.apparent == Watts::ZERO {
        Watts::from_bits(i64::from(isqrt(p * p + q * q)) << 10)
    } else {
        window.apparent
    };
    let most = apparent.to_bits().saturating_abs();
    let factor = Ratio::from_bits(ratio_q(active.to_bits().min(most).max(-most), most.unsigned_abs(), 24));
    (window.active, window.reactive, window.apparent) = (active, reactive, apparent);
    window.power_factor = window.current_unbalance.map(|_| factor);
}

/// Active and reactive power, Q24, from squared current below 2^32 and voltage, Q24 within [`VOLTAGES`].
fn powers(curve: &CurveCoefficients, amps: i64, volts: i64) -> (i64, i64) {
    let volts = volts.min(VOLTAGES.1);
    let at_rated = signed(amps << 24, volts).unwrap_or(0).min(MOST); // 2^56 over at least 2^14
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
            return value + signed((square - value) * (x - from), at - from).unwrap_or(0);
        }
        (from, value) = (at, square);
    }
    // In proportion, held below 64.
    signed(value * x, from).unwrap_or(0).min((1 << 30) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{CURVE_POINTS, PowerCurve, Settings};
    use crate::time::Span;
    use crate::unit::{Amps, SquareAmps, Volts};
    use proptest::prelude::*;

    /// A magnetising current of 0.4 and a power that is the rest: p² = 0.8 (x - 0.16) from there on.
    fn points() -> [(u32, u32); CURVE_POINTS] {
        core::array::from_fn(|k| {
            let amps = 0.4 + 0.35 * k as f64;
            let watts = (0.8 * (amps * amps - 0.16)).sqrt();
            ((amps * 1e6) as u32, (watts * 1e6) as u32)
        })
    }

    fn filled(blind: bool, amps: f64, volts: f64) -> HalfCycle {
        let mut settings = Settings { curve: Some(PowerCurve { points: points() }), ..Settings::example() };
        if blind {
            settings.supply.wiring = crate::settings::Wiring::CurrentsOnly;
        }
        let c = settings.build().unwrap().judge;
        let mut half = HalfCycle {
            length: Span(40 << 16),
            cycle: Span(80 << 16),
            current: [SquareAmps::of(Amps::from_bits((amps * 131_072.0) as i32)); 3],
            voltage_positive: Volts::from_bits((volts * 65_536.0) as i32),
            ..HalfCycle::default()
        };
        fill(&c, c.curve.as_ref().unwrap(), &mut half, false);
        half
    }

    /// The formulas at the head of this file in f64, 400 V and 96.5 A rated: within 1e-4 of the apparent power, and 2e-4
    /// of rated power.
    #[test]
    fn powers_by_their_formulas() {
        let base = 3f64.sqrt() * 400.0 * 96.5;
        for blind in [false, true] {
            for v in [0.5, 0.9, 1.0, 1.1, 1.5] {
                for i in [0.0, 0.02, 0.2, 0.3999, 0.45, 0.7, 1.0, 1.3, 2.0, 5.0, 5.65, 8.0, 14.0] {
                    let half = filled(blind, i * 96.5, v * 400.0 / 3f64.sqrt());
                    let v = if blind { 1.0 } else { v };
                    let x = (i / v).powi(2);
                    let last = (0.4_f64 + 0.35 * 15.0).powi(2);
                    let square = if x < last { 0.8 * (x - 0.16) } else { 0.8 * (last - 0.16) * x / last };
                    let p = square.clamp(0.0, 64.0).sqrt();
                    let (active, apparent) = (p * v * v, v * i);
                    let bound = 1e-4 * apparent + 2e-4;
                    let found = half.active.to_bits() as f64 / 65_536.0 / base;
                    assert!((found - active).abs() < bound, "{i} of rated current at {v}: {found}, {active} wanted");
                    let reactive = half.reactive.to_bits() as f64 / 65_536.0 / base;
                    assert!((reactive.hypot(found) - apparent).abs() < bound, "{reactive} {found} {apparent}");
                    let joules = half.energy.to_bits() as f64 / 1_048_576.0;
                    assert!((joules - found * base * 0.01).abs() < 1e-3 + 1e-6 * joules, "{joules}");
                }
            }
        }
        assert_eq!(filled(false, 96.5, 5.0).active, Watts::ZERO, "no voltage, no power");
    }

    proptest! {
        /// Whatever comes, nothing overflows, and power is neither given back nor more than apparent.
        #[test]
        fn any_record(squares in prop::array::uniform3(any::<u64>()), volts in any::<i32>(), active in any::<i64>(), reactive in any::<i64>()) {
            let settings = Settings { curve: Some(PowerCurve { points: points() }), ..Settings::example() };
            let c = settings.build().unwrap().judge;
            let mut filled = HalfCycle { current: squares.map(SquareAmps), voltage_positive: Volts::from_bits(volts), ..HalfCycle::default() };
            fill(&c, c.curve.as_ref().unwrap(), &mut filled, false);
            prop_assert!(filled.active >= Watts::ZERO && filled.reactive >= Watts::ZERO);
            let powers = (Watts::from_bits(active), Watts::from_bits(reactive));
            let mut found = Window { current_unbalance: Some(Ratio::ZERO), ..Window::default() };
            window(&mut found, powers);
            prop_assert!(found.power_factor.is_some_and(|pf| pf.to_bits().abs() <= (1 << 24) + 1) || found.apparent == Watts::ZERO);
        }
    }
}
