//! What the meter sees, against phasors.

use super::super::circuit::Circuit;
use super::super::motor::Impedance;
use super::super::supply::{Closed, Loss, Place};
use super::super::terminals::Phase;
use super::*;
use std::f64::consts::TAU;

const H: f64 = 5e-5;

fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "found {found}, wanted {wanted} +- {tolerance}");
}

fn supply() -> Supply {
    Supply::new(400.0, 50.0, Closed { from_s: 0.0, until_s: f64::INFINITY })
}

fn lost(place: Place, phase: Phase) -> Vec<Loss> {
    vec![Loss { place, phase, from_s: -1.0, until_s: f64::INFINITY }]
}

/// A motor that is held or runs freely, two seconds on.
fn settled(supply: &Supply, held: bool, from_speed: f64) -> Motor {
    let inertia = if held { 1e12 } else { 2.0 };
    let mut motor = Motor::new(&Circuit::mill_55_kw(), inertia).behind(supply.impedance).turning(from_speed);
    for n in 0..40_000 {
        let t = f64::from(n) * H;
        let connection = supply.connection(t);
        motor.step(t, H, |t| supply.terminals(t, connection), |_, _| 0.0);
    }
    motor
}

/// Rms of the three inputs and of the three currents over ten cycles more.
fn look(supply: &Supply, mut motor: Motor) -> ([f64; 3], [f64; 3]) {
    let (mut seen, mut amps) = ([0.0; 3], [0.0; 3]);
    for n in 40_000..44_000 {
        let t = f64::from(n) * H;
        let connection = supply.connection(t);
        let terminals = supply.terminals(t, connection);
        let volts = volts(supply, &motor, t, terminals);
        let i = motor.phase_currents(terminals);
        for x in 0..3 {
            seen[x] += volts[x] * volts[x] / 4000.0;
            amps[x] += i[x] * i[x] / 4000.0;
        }
        motor.step(t, H, |t| supply.terminals(t, connection), |_, _| 0.0);
    }
    (seen.map(f64::sqrt), amps.map(f64::sqrt))
}

/// Held at standstill behind an impedance: current and voltage are those of two impedances in series.
#[test]
fn an_impedance_pulls_the_voltage_down() {
    let circuit = Circuit::mill_55_kw();
    let locked = circuit.at_slip(1.0);
    let phase_v = 400.0 / 3.0_f64.sqrt();
    let z = phase_v / locked.current_a;
    let (r, x) = (z * locked.power_factor, z * (1.0 - locked.power_factor.powi(2)).sqrt());
    let source = Impedance { ohm: 0.02, henry: 150e-6 };
    let wanted = phase_v / (r + source.ohm).hypot(x + TAU * 50.0 * source.henry);
    let supply = Supply { impedance: source, ..supply() };
    for tap in [Tap::Line, Tap::Motor] {
        let supply = Supply { tap, ..supply.clone() };
        let (volts, amps) = look(&supply, settled(&supply, true, 0.0));
        for n in 0..3 {
            // The core's current in the source's inductance is taken as steady within a step: a few parts in 10^4.
            near(amps[n] / wanted, 1.0, 1e-3);
            near(volts[n] / (wanted * z), 1.0, 1e-3);
        }
    }
}

/// A phase lost at the motor, held at standstill: the line side sees three whole voltages, the motor side half of one at
/// the floating terminal (the middle of the other two; nothing turns that could induce more).
#[test]
fn a_phase_lost_at_a_motor_that_stands() {
    let phase_v = 400.0 / 3.0_f64.sqrt();
    for (x, phase) in [Phase::A, Phase::B, Phase::C].into_iter().enumerate() {
        let line = Supply { losses: lost(Place::Motor, phase), ..supply() };
        let motor = Supply { tap: Tap::Motor, ..line.clone() };
        let (volts, amps) = look(&line, settled(&line, true, 0.0));
        assert!(amps[x] == 0.0 && amps[(x + 1) % 3] > 300.0);
        for v in volts {
            near(v, phase_v, 1e-6);
        }
        let (volts, _) = look(&motor, settled(&motor, true, 0.0));
        near(volts[x], phase_v / 2.0, 0.01);
        near(volts[(x + 1) % 3], phase_v, 1e-6);
    }
}

/// Lost while it runs free: the motor induces most of the missing voltage, which is why a voltage relay on the motor's
/// side may not notice (common practice). Across the axis stands |Z1 - Z2| / |Z1 + Z2| of the whole voltage, Z1 and Z2
/// the impedances to the two sequences: 0.89 for 7.3 and 0.42 ohm; the floating terminal has 3/2 of it less 1/2.
#[test]
fn a_running_motor_makes_the_lost_phase() {
    let phase_v = 400.0 / 3.0_f64.sqrt();
    let sync = Circuit::mill_55_kw().synchronous_rad_s();
    for place in [Place::Motor, Place::Upstream] {
        let supply = Supply { losses: lost(place, Phase::A), tap: Tap::Motor, ..supply() };
        let (volts, _) = look(&supply, settled(&supply, false, sync));
        let [a, b, c] = volts.map(|v| v / phase_v);
        let across = match place {
            Place::Motor => (a + 0.5) / 1.5,
            // a and c are the sum and the difference of half the whole and 0.866 of what stands across.
            Place::Upstream => ((f64::midpoint(a * a, c * c) - 0.25) / 0.75).sqrt(),
        };
        near(across, 0.89, 0.006);
        near(b, 1.0, 1e-6);
    }
}

/// Lost before the transformer, motor off or held: 1/2, 1, 1/2 - the windings AB and CA in series.
#[test]
fn a_line_lost_upstream_without_a_turning_motor() {
    let phase_v = 400.0 / 3.0_f64.sqrt();
    let mut supply = Supply { losses: lost(Place::Upstream, Phase::A), ..supply() };
    let held = look(&supply, settled(&supply, true, 0.0)).0;
    supply.closed[0].from_s = 1e9;
    let off = look(&supply, settled(&supply, true, 0.0)).0;
    for volts in [held, off] {
        for (v, share) in volts.into_iter().zip([0.5, 1.0, 0.5]) {
            near(v, share * phase_v, 0.01);
        }
    }
}
