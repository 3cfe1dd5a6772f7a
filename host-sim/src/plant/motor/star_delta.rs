//! The windings in star instead of delta: a third of current and torque.

use super::super::terminals::{Axis, Phase};
use super::tests::{near, supply};
use super::*;

const H: f64 = 5e-5;

/// Rms of phase currents, and mean torque, of a motor held at a speed behind a source, on the mean of 0.2 s.
fn held(windings: Windings, speed: f64, source: Impedance, axis: Option<Axis>) -> ([f64; 3], f64) {
    let circuit = Circuit::mill_55_kw();
    let whole = supply(&circuit, 0.3);
    let terminals = |t: f64| match (whole(t), axis) {
        (Terminals::Fed(v), Some(axis)) => Terminals::OneAxis(axis, axis.along(v)),
        (terminals, _) => terminals,
    };
    let mut motor = Motor::new(&circuit, 1e12).behind(source).turning(speed);
    motor.join(windings);
    let (mut squares, mut torque) = ([0.0; 3], 0.0);
    for n in 0..44_000 {
        let t = f64::from(n) * H;
        motor.step(t, H, terminals, |_, _| 0.0);
        if n >= 40_000 {
            let terminals = terminals(t + H);
            for (sum, i) in squares.iter_mut().zip(motor.phase_currents(terminals)) {
                *sum += i * i / 4000.0;
            }
            torque += motor.air_gap_nm(terminals) / 4000.0;
        }
    }
    (squares.map(f64::sqrt), torque)
}

/// A third of the line current and of the torque at the same speed: every handbook of starters.
#[test]
fn star_takes_a_third() {
    let sync = Circuit::mill_55_kw().synchronous_rad_s();
    for speed in [0.0, 0.5 * sync, 0.97 * sync] {
        let (run, star) = (
            held(Windings::Run, speed, Impedance::default(), None),
            held(Windings::Star, speed, Impedance::default(), None),
        );
        for n in 0..3 {
            near(star.0[n] / run.0[n], 1.0 / 3.0, 1e-9);
        }
        near(star.1 / run.1, 1.0 / 3.0, 1e-9);
    }
}

/// Behind a source the motor in star is the same motor with three times the impedance: a line impedance weighs a third.
#[test]
fn a_source_weighs_a_third() {
    let weak = Impedance { ohm: 0.03, henry: 150e-6 };
    let third = Impedance { ohm: 0.01, henry: 50e-6 };
    let (run, star) = (held(Windings::Run, 0.0, third, None), held(Windings::Star, 0.0, weak, None));
    for n in 0..3 {
        near(star.0[n] / run.0[n], 1.0 / 3.0, 1e-6);
    }
}

/// An open line stays without current in star as well.
#[test]
fn a_line_lost_in_star() {
    for (x, phase) in [Phase::A, Phase::B, Phase::C].into_iter().enumerate() {
        let (amps, _) = held(Windings::Star, 0.0, Impedance::default(), Some(Axis::without(phase)));
        let locked = Circuit::mill_55_kw().at_slip(1.0).current_a;
        near(amps[x], 0.0, 0.0);
        near(amps[(x + 1) % 3] / (locked / 3.0), 0.866, 1e-3);
    }
}
