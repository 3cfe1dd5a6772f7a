//! Checks of the flux model: balance of energy, the steady point, coasting.

use super::*;
use std::f64::consts::TAU;

pub(super) fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "found {found}, wanted {wanted} +- {tolerance}");
}

/// A balanced supply at the motor's rating; phase A is `peak cos(w t + phase)`.
pub(super) fn supply(circuit: &Circuit, phase: f64) -> impl Fn(f64) -> Terminals + Copy + use<> {
    let peak = circuit.line_v * (2.0_f64 / 3.0).sqrt();
    let w = TAU * circuit.frequency_hz;
    move |t| {
        let (sin, cos) = (w * t + phase).sin_cos();
        Terminals::Fed([peak * cos, peak * sin])
    }
}

/// Energy in = losses + field + rotation, over a run-up with all losses and a load, to 1e-6 of what went in.
#[test]
fn energy_balances() {
    let circuit = Circuit::mill_55_kw();
    let supply = supply(&circuit, 0.3);
    let load = |t: f64, w: f64| 0.005 * w * w + 300.0 * ((t - 0.6) / 0.1).clamp(0.0, 1.0);
    let mut motor = Motor::new(&circuit, 1.0);
    let Inductances { stator, rotor, mutual } = motor.inductance;
    let det = stator * rotor - mutual * mutual;
    // Watts in, lost or delivered; and joules stored.
    let powers = |m: &Motor, t: f64| {
        let Terminals::Fed(v) = supply(t) else { unreachable!() };
        let (i, y) = (m.current(Terminals::Fed(v)), &m.state);
        let e = [v[0] - circuit.stator_ohm * i[0], v[1] - circuit.stator_ohm * i[1]];
        let i_r = [(stator * y[2] - mutual * y[0]) / det, (stator * y[3] - mutual * y[1]) / det];
        let lost = 1.5
            * (circuit.stator_ohm * square(i)
                + circuit.core_siemens * square(e)
                + circuit.rotor_ohm_at(y[4]) * square(i_r));
        let braked = (circuit.stray_nm(square(i) / 2.0, y[4]) + circuit.friction_nm(y[4]) + load(t, y[4])) * y[4];
        [1.5 * (v[0] * i[0] + v[1] * i[1]), lost + braked]
    };
    let stored = |m: &Motor| {
        let (i, y) = (m.stator_current(&m.state), &m.state);
        let i_r = [(stator * y[2] - mutual * y[0]) / det, (stator * y[3] - mutual * y[1]) / det];
        0.75 * (y[0] * i[0] + y[1] * i[1] + y[2] * i_r[0] + y[3] * i_r[1]) + 0.5 * m.inertia_kg_m2 * y[4] * y[4]
    };
    let h = 2.5e-5;
    let (mut taken, mut given) = (0.0, 0.0);
    // Simpson's rule over pairs of steps.
    for n in 0..20_000_u32 {
        let t = f64::from(2 * n) * h;
        let a = powers(&motor, t);
        motor.step(t, h, supply, load);
        let b = powers(&motor, t + h);
        motor.step(t + h, h, supply, load);
        let c = powers(&motor, t + 2.0 * h);
        taken += h / 3.0 * (a[0] + 4.0 * b[0] + c[0]);
        given += h / 3.0 * (a[1] + 4.0 * b[1] + c[1]);
    }
    let rest = (taken - given - stored(&motor)) / taken;
    println!("taken {taken:.1} J, relative rest {rest:.2e}");
    near(rest, 0.0, 1e-6);
}

/// Left to run, the flux model arrives at the steady point of the same circuit.
#[test]
fn settles_where_the_circuit_says() {
    let circuit = Circuit::mill_55_kw();
    let point = circuit.at_shaft_w(55_000.0).unwrap();
    let supply = supply(&circuit, 0.0);
    let mut motor = Motor::new(&circuit, 0.5);
    let h = LONGEST_STEP_S;
    for n in 0..30_000_u32 {
        motor.step(f64::from(n) * h, h, supply, |t, _| point.shaft_nm * t.min(1.0));
    }
    let terminals = supply(3.0);
    near(motor.speed_rad_s() * 30.0 / std::f64::consts::PI, point.speed_rpm, 1e-3);
    near(motor.shaft_nm(terminals), point.shaft_nm, 1e-2);
    near(square(motor.current(terminals)).sqrt() / 2.0_f64.sqrt(), point.current_a, 1e-3);
}

/// Off the supply: no current, no torque, a voltage that dies with the rotor's time constant, and a rotor that
/// coasts as exp(-t J w_sync^2 / P_friction) would have it.
#[test]
fn coasts_when_open() {
    let circuit = Circuit { deep_bar: 0.0, ..Circuit::mill_55_kw() };
    let supply = supply(&circuit, 0.0);
    let mut motor = Motor::new(&circuit, 2.0);
    let h = LONGEST_STEP_S;
    for n in 0..20_000_u32 {
        motor.step(f64::from(n) * h, h, supply, |_, _| 0.0);
    }
    let (speed, flux) = (motor.speed_rad_s(), motor.state[2].hypot(motor.state[3]));
    for n in 0..5_000_u32 {
        motor.step(2.0 + f64::from(n) * h, h, |_| Terminals::Open, |_, _| 0.0);
    }
    near(square(motor.current(Terminals::Open)), 0.0, 0.0);
    near(motor.air_gap_nm(Terminals::Open), 0.0, 0.0);
    let sync = circuit.synchronous_rad_s();
    let rate = circuit.friction_w / (sync * sync) / motor.inertia_kg_m2;
    near(motor.speed_rad_s(), speed * (-0.5 * rate).exp(), 1e-9);
    let left = motor.state[2].hypot(motor.state[3]) / flux;
    near(left, (-0.5 * circuit.rotor_ohm / motor.inductance.rotor).exp(), 1e-6);
    let volts = square(motor.voltage(Terminals::Open)).sqrt();
    assert!(volts > 0.0 && volts < 326.6 * left);
}
