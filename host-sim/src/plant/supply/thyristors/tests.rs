//! A soft start: conduction against the textbook's limits, and a start that is gentler than a direct one.

use super::super::{Closed, Starter, Supply, Tap};
use crate::plant::circuit::Circuit;
use crate::plant::mill::Mill;
use crate::plant::motor::Motor;
use crate::plant::sensor::Sensor;
use crate::plant::{Scenario, Truth, run};
use std::convert::Infallible;

const H: f64 = 2e-5;

fn supply() -> Supply {
    Supply::new(400.0, 50.0, Closed { from_s: 0.0, until_s: f64::INFINITY })
}

/// Rms of the three currents of a motor held at standstill behind thyristors fired at an angle, A.
fn held(alpha_deg: f64) -> [f64; 3] {
    let supply = supply();
    let mut motor = Motor::new(&Circuit::mill_55_kw(), 1e12);
    let mut thyristors = super::Thyristors::default();
    let mut squares = [0.0; 3];
    for n in 0..50_000 {
        let t = f64::from(n) * H;
        let before = motor.phase_currents(supply.terminals(t, thyristors.connection()));
        let connection = thyristors.act(supply.angle_rad(t), f64::to_radians(alpha_deg), before);
        motor.step(t, H, |t| supply.terminals(t, connection), |_, _| 0.0);
        if n >= 40_000 {
            for (sum, i) in squares.iter_mut().zip(motor.phase_currents(supply.terminals(t + H, connection))) {
                *sum += i * i / 10_000.0;
            }
        }
    }
    squares.map(f64::sqrt)
}

/// Fired before the load's angle the current never stops: as if there were no thyristors. With pulses that
/// end with the half wave no two lines are fired together from 120 degrees on. Between, later firing gives less, the
/// same in all phases (textbooks of power electronics on the three-phase voltage controller, from memory).
#[test]
fn later_firing_gives_less_current() {
    let locked = Circuit::mill_55_kw().at_slip(1.0);
    let angle = locked.power_factor.acos().to_degrees();
    let full = held(angle - 10.0);
    for amps in full {
        assert!((amps / locked.current_a - 1.0).abs() < 1e-3, "{amps} A, wanted {} A", locked.current_a);
    }
    let mut last = full[0];
    for alpha in [80.0, 90.0, 100.0, 110.0] {
        let amps = held(alpha);
        println!("{alpha} degrees: {amps:.1?} A");
        assert!(amps[0] < 0.95 * last && amps[0] > 0.0);
        assert!((amps[1] / amps[0] - 1.0).abs() < 0.01 && (amps[2] / amps[0] - 1.0).abs() < 0.01);
        last = amps[0];
    }
    assert!(held(121.0).iter().all(|amps| *amps < 1e-9));
}

/// The whole plant: the same light mill arrives at the same speed, later, with a lower peak.
#[test]
fn a_soft_start_is_gentler() {
    let start = |starter| {
        let scenario = Scenario {
            supply: Supply { starter, tap: Tap::Motor, ..supply() },
            mill: Mill { inertia_kg_m2: 1.5, windage_nm_s2: 1.8e-3, ..Mill::default() },
            sensor: Sensor::sixteen_bits(900.0, 2800.0, 32.767),
            rate_hz: 8000.0,
            duration_s: 4.0,
            ..Scenario::default()
        };
        let (mut peak, mut reached, mut last) = (0.0_f64, f64::NAN, Truth::default());
        let Ok(_) = run(&scenario, 1, |frame| {
            peak = frame.reading[3..6].iter().fold(peak, |most, i| most.max(i.abs()));
            if reached.is_nan() && frame.truth.speed_rpm > 1425.0 {
                reached = frame.truth.t_s;
            }
            last = frame.truth;
            Ok::<(), Infallible>(())
        });
        let balance = last.balance;
        assert!(balance.arc_j < 1e-3 * balance.electrical_j, "currents are cut off near zero");
        (peak, reached, last.speed_rpm)
    };
    let (direct, soft) = (start(Starter::Direct), start(Starter::Soft { from_deg: 115.0, ramp_s: 3.0 }));
    println!("direct {direct:?}, soft {soft:?}");
    assert!(soft.0 < 0.8 * direct.0 && soft.1 > 1.5 * direct.1 && (soft.2 - direct.2).abs() < 0.1);
}
