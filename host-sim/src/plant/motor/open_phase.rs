//! The flux model with a line lost, against the two-sequence circuit of the same machine.

use super::super::circuit::rpm;
use super::super::terminals::{Axis, Phase};
use super::tests::{near, supply};
use super::*;

const H: f64 = 5e-5;

/// The balanced supply seen along an axis.
fn along(circuit: &Circuit, axis: Axis) -> impl Fn(f64) -> Terminals + Copy + use<> {
    let whole = supply(circuit, 0.4);
    move |t| match whole(t) {
        Terminals::Fed(v) => Terminals::OneAxis(axis, axis.along(v)),
        other => other,
    }
}

/// Rms of the three currents, mean speed (rpm) and input (W) over a tenth of a second; the motor goes on.
fn look(
    motor: &mut Motor,
    from_s: f64,
    terminals: impl Fn(f64) -> Terminals + Copy,
    load_nm: f64,
) -> ([f64; 3], f64, f64) {
    let (mut squares, mut speed) = ([0.0; 3], 0.0);
    let before = motor.balance();
    for n in 0..2000 {
        let t = from_s + f64::from(n) * H;
        motor.step(t, H, terminals, |_, _| load_nm);
        for (sum, i) in squares.iter_mut().zip(motor.phase_currents(terminals(t + H))) {
            *sum += i * i / 2000.0;
        }
        speed += motor.speed_rad_s() / 2000.0;
    }
    (squares.map(f64::sqrt), rpm(speed), (motor.balance() - before).electrical_j / 0.1)
}

/// The single-phasing rows of the 50 hp machine in time: run, lose a line, settle. A rotor ten times as heavy keeps the
/// pulsation of the speed (which the circuit does not know) out of the fourth digit.
#[test]
fn single_phasing_settles_where_two_sequences_say() {
    let circuit = Circuit::textbook_50_hp();
    for (torque, axis) in [
        (50.0, Axis::without(Phase::A)),
        (198.0, Axis::without(Phase::B)),
        (150.0, Axis::without(Phase::C)),
        (100.0, Axis::fed_without(Phase::A)),
    ] {
        let wanted = circuit.settle_single_phased(torque).unwrap();
        let mut motor = Motor::new(&circuit, 9.0 * circuit.inertia_kg_m2);
        motor.state[4] = circuit.synchronous_rad_s() * (1.0 - wanted.slip);
        let whole = supply(&circuit, 0.4);
        for n in 0..1_000 {
            motor.step(f64::from(n) * H, H, whole, |_, _| torque);
        }
        let one = along(&circuit, axis);
        for n in 1_000..300_000 {
            motor.step(f64::from(n) * H, H, one, |_, _| torque);
        }
        let (amps, speed, input) = look(&mut motor, 15.0, one, torque);
        println!("{torque} N m: {amps:.3?} A, {speed:.3} rpm, {input:.1} W; wanted {wanted:?}");
        for (found, share) in amps.into_iter().zip(axis.phases) {
            near(found, share.abs() * 2.0 * wanted.sequence_a, 2e-3 * wanted.sequence_a);
        }
        near(speed, wanted.speed_rpm, 0.05);
        near(input / wanted.input_w, 1.0, 1e-3);
    }
}

/// Held at standstill with a phase open: no torque on the mean, 0.866 of the locked-rotor current, none in the open
/// phase - exactly none.
#[test]
fn locked_with_a_phase_open() {
    let circuit = Circuit { inertia_kg_m2: 1e12, ..Circuit::textbook_50_hp() };
    for (x, phase) in [Phase::A, Phase::B, Phase::C].into_iter().enumerate() {
        let mut motor = Motor::new(&circuit, 0.0);
        let terminals = along(&circuit, Axis::without(phase));
        for n in 0..20_000 {
            motor.step(f64::from(n) * H, H, terminals, |_, _| 0.0);
            assert!(motor.phase_currents(terminals(f64::from(n + 1) * H))[x] == 0.0);
        }
        let before = motor.speed_rad_s();
        let (amps, _, _) = look(&mut motor, 1.0, terminals, 0.0);
        near(amps[(x + 1) % 3] / circuit.at_slip(1.0).current_a, 0.866, 5e-4);
        near(amps[(x + 1) % 3], amps[(x + 2) % 3], 1e-6);
        // 1e12 kg m2 turned by less than 1e-9 N m on the mean of a tenth of a second.
        near((motor.speed_rad_s() - before) * 1e12 / 0.1, 0.0, 1e-9);
    }
}

/// Lost while running and back again: the flux across the axis jumps to the rotor's when the phase opens (an arc's
/// worth of energy), nothing jumps when it closes, the motor returns to its point, and the energy is accounted for.
#[test]
fn a_phase_opens_and_closes_again() {
    let circuit = Circuit::mill_55_kw();
    let (whole, one) = (supply(&circuit, 0.4), along(&circuit, Axis::without(Phase::B)));
    let healthy = circuit.settle(|_| 100.0).unwrap();
    let mut motor = Motor::new(&circuit, 2.0);
    motor.state[4] = healthy.speed_rpm / rpm(1.0);
    let mut before = motor.balance();
    for n in 0..100_000_u32 {
        let t = f64::from(n) * H;
        match n {
            20_000..40_000 => motor.step(t, H, one, |_, _| 100.0),
            _ => motor.step(t, H, whole, |_, _| 100.0),
        }
        let now = motor.balance();
        if n == 20_000 {
            assert!(now.arc_j > 0.01);
        } else {
            near(now.arc_j - before.arc_j, 0.0, 1e-9);
        }
        before = now;
        if n == 39_999 {
            let (open, closed) = (motor.current(one(t + H)), motor.current(whole(t + H)));
            // But for the core's current, which follows the voltage at once.
            let jump = square([open[0] - closed[0], open[1] - closed[1]]).sqrt();
            assert!(jump <= 1.01 * circuit.core_siemens * circuit.line_v * (2.0_f64 / 3.0).sqrt(), "jump {jump} A");
        }
    }
    let (amps, speed, _) = look(&mut motor, 5.0, whole, 100.0);
    near(amps[1], healthy.current_a, 0.01);
    near(speed, healthy.speed_rpm, 0.01);
    let mut all = motor.balance();
    // What the rotor turned with in the beginning is not work of this run.
    all.kinetic_j -= 0.5 * motor.inertia_kg_m2 * (healthy.speed_rpm / rpm(1.0)).powi(2);
    near(all.rest_j() / all.electrical_j, 0.0, 1e-6);
}
