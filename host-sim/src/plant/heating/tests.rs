//! Warming up against the standard's factors, a measured motor, and the end of a long run.

use super::super::mill::Mill;
use super::super::supply::{Closed, Supply};
use super::super::{Scenario, Truth, run};
use super::*;
use std::convert::Infallible;

fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "found {found}, wanted {wanted} +- {tolerance}");
}

/// R2 = R1 (k + t2) / (k + t1), IEEE 112 (from memory), worked out by hand.
#[test]
fn resistances_rise_by_the_standards_factors() {
    near(rise(COPPER_K, 25.0, 115.0), 1.346_82, 5e-6);
    near(rise(COPPER_K, 20.0, 90.0), 1.275_05, 5e-6);
    near(rise(ALUMINIUM_K, 20.0, 90.0), 1.285_71, 5e-6);
}

/// The 18.5 kW delta motor of Haumer, Kral, Kapeller, Baeuml, Gragger, "The AdvancedMachines Library: Loss Models for
/// Electric Machines", 2009: 0.56 ohm a winding at 20 degrees, 32.85 A in the line, 770.13 W of copper loss at 90 degrees.
/// They take 0.00392 a kelvin, which differs by 0.05 %.
#[test]
fn copper_loss_of_a_measured_motor() {
    let ohm = 0.56 * rise(COPPER_K, 20.0, 90.0);
    near(3.0 * ohm * (32.85 / 3.0_f64.sqrt()).powi(2) / 770.13, 1.0, 1e-3);
}

/// However long the interval, a body follows 1 - exp(-t / tau): 63.2 % after one time constant.
#[test]
fn a_body_follows_its_time_constant() {
    let heating = Heating { winding: Body { kelvin_per_w: 0.1, time_constant_s: 50.0 }, ..Heating::default() };
    for parts in [1, 10, 500] {
        let mut warmth = Warmth::new(heating);
        for n in 1..=parts {
            warmth.go_on(50.0 / f64::from(parts), [1000.0 * 50.0 * f64::from(n) / f64::from(parts), 0.0]);
        }
        near(warmth.now_c[0], 20.0 + 100.0 * (1.0 - (-1.0_f64).exp()), 1e-9);
        near(warmth.now_c[1], 20.0, 1e-12);
    }
}

/// A loaded motor whose bodies are quick: from cold through a start until the temperatures stand.
fn warm_run() -> (Scenario, Vec<Truth>) {
    let heating = Heating {
        winding: Body { kelvin_per_w: 0.08, time_constant_s: 1.5 },
        cage: Body { kelvin_per_w: 0.12, time_constant_s: 1.0 },
        ..Heating::default()
    };
    let scenario = Scenario {
        heating: Some(heating),
        supply: Supply::new(400.0, 50.0, Closed { from_s: 0.5, until_s: f64::INFINITY }),
        mill: Mill { inertia_kg_m2: 1.5, windage_nm_s2: 0.0135, ..Mill::default() },
        duration_s: 20.0,
        ..Scenario::default()
    };
    let mut all = Vec::new();
    let Ok(end) = run(&scenario, 1, |frame| {
        all.push(frame.truth);
        Ok::<(), Infallible>(())
    });
    all.push(end);
    (scenario, all)
}

/// At the end the temperatures are ambient and loss times thermal resistance, the losses those of the steady circuit with
/// the resistances of these temperatures; the energy balance closes over the whole.
#[test]
fn a_long_run_settles_at_losses_times_thermal_resistance() {
    let (scenario, truths) = warm_run();
    let (late, end) = (&truths[truths.len() - 4001], truths[truths.len() - 1]);
    let heating = scenario.heating.unwrap();
    let [winding, cage] = end.motor_c.unwrap();
    let loss = |of: fn(&Truth) -> f64| of(&end) - of(late);
    let (stator_w, rotor_w) = (loss(|t| t.balance.stator_j), loss(|t| t.balance.rotor_j));
    near(winding, 20.0 + 0.08 * stator_w, 0.01);
    near(cage, 20.0 + 0.12 * rotor_w, 0.01);
    assert!(winding > 60.0 && cage > 60.0, "{winding}, {cage}");
    let mut warm = scenario.circuit.clone();
    warm.stator_ohm *= rise(COPPER_K, heating.reference_c, winding);
    warm.rotor_ohm *= rise(ALUMINIUM_K, heating.reference_c, cage);
    let point = warm.settle(|speed| scenario.mill.windage_nm(speed)).unwrap();
    near(stator_w / point.losses_w[0], 1.0, 2e-4);
    near(rotor_w / point.losses_w[2], 1.0, 2e-4);
    near(end.speed_rpm, point.speed_rpm, 0.01);
    near(end.balance.rest_j() / end.balance.electrical_j, 0.0, 1e-4);
}

/// Before anything flows the motor has the temperature that it was given; without heating none is told.
#[test]
fn begins_as_given() {
    let (scenario, truths) = warm_run();
    assert_eq!(truths[0].motor_c, Some([20.0; 2]));
    let plain = Scenario { heating: None, duration_s: 0.01, ..scenario };
    let Ok(end) = run(&plain, 1, |_| Ok::<(), Infallible>(()));
    assert_eq!(end.motor_c, None);
}
