//! A lost belt: the rotor by itself against the closed form, and in a whole run.

use super::super::circuit::rpm;
use super::super::mill::{Mill, Wedge};
use super::super::supply::{Closed, Supply};
use super::super::{Event, Scenario, Truth, What, run};
use super::*;
use std::convert::Infallible;

/// J dw/dt = -c w^2 has the solution w0 / (1 + c w0 t / J).
#[test]
fn windage_slows_the_rotor_as_the_closed_form_says() {
    let (j, c, w0, h) = (16.2, 1.85e-3, 155.0, 1e-3);
    let mut rotor = Rotor::new(j, w0);
    let before = rotor.kinetic_j();
    for n in 0..60_000 {
        rotor.step(f64::from(n) * h, h, |_, w| c * w * w.abs());
    }
    let wanted = w0 / (1.0 + c * w0 * 60.0 / j);
    assert!((rotor.speed_rad_s() / wanted - 1.0).abs() < 1e-9);
    assert!((rotor.load_j() / (before - rotor.kinetic_j()) - 1.0).abs() < 1e-9);
}

fn played(scenario: &Scenario) -> (Vec<Truth>, Vec<Event>) {
    let (mut all, mut events) = (Vec::new(), Vec::<Event>::new());
    let Ok(end) = run(scenario, 1, |frame| {
        all.push(frame.truth);
        events.extend(frame.events);
        Ok::<(), Infallible>(())
    });
    all.push(end);
    (all, events)
}

fn scenario() -> Scenario {
    Scenario {
        supply: Supply::new(400.0, 50.0, Closed { from_s: 0.1, until_s: f64::INFINITY }),
        mill: Mill { inertia_kg_m2: 1.5, belt_lost_s: Some(2.0), ..Mill::default() },
        duration_s: 6.0,
        ..Scenario::default()
    }
}

/// The motor goes on alone to where the steady circuit has it without a load; the mill coasts by its windage; the event is
/// told once; the balance closes over the loss.
#[test]
fn the_motor_turns_alone_and_the_mill_coasts() {
    let scenario = scenario();
    let (truths, events) = played(&scenario);
    let (at, end) = (|t: f64| truths[(t * 4000.0) as usize], truths[truths.len() - 1]);
    let told: Vec<(f64, What)> = events.iter().map(|event| (event.t_s, event.what)).collect();
    assert_eq!(told, [(0.1, What::Closes), (2.0, What::BeltLost)]);
    assert!(truths[..8000].iter().all(|t| (t.mill_rpm - t.speed_rpm).abs() < 1e-12));
    let alone = scenario.circuit.settle(|_| 0.0).unwrap();
    assert!((end.speed_rpm - alone.speed_rpm).abs() < 0.01, "{} rpm", end.speed_rpm);
    let (w0, c) = (at(2.0).mill_rpm / rpm(1.0), scenario.mill.windage_nm_s2);
    let wanted = w0 / (1.0 + c * w0 * 4.0 / 1.5);
    // Between the frame and the step's edge half a step may lie.
    assert!((end.mill_rpm / rpm(1.0) / wanted - 1.0).abs() < 1e-4, "{} rpm", end.mill_rpm);
    // The stored energy is shared out, not lost: it passes on evenly from the frame before to the one after.
    let (before, after) = (at(2.0).balance, truths[8001].balance);
    assert!((after.kinetic_j - before.kinetic_j).abs() < 1.0, "{} J, {} J", before.kinetic_j, after.kinetic_j);
    assert!((end.balance.rest_j() / end.balance.electrical_j).abs() < 1e-4);
}

/// A wedge after the loss stops the mill and leaves the motor alone; the work that breaks is the mill's own.
#[test]
fn a_wedge_behind_a_lost_belt_is_no_load() {
    let mut scenario = scenario();
    scenario.mill.wedge = Some(Wedge { at_s: 3.0, rise_s: 0.2, torque_nm: 1300.0, until_s: f64::INFINITY });
    let (truths, _) = played(&scenario);
    let (before, end) = (truths[12_000], truths[truths.len() - 1]);
    assert!(end.mill_rpm < 1.0 && end.speed_rpm > 1495.0, "{} rpm, {} rpm", end.mill_rpm, end.speed_rpm);
    let stored = 0.5 * 1.5 * (before.mill_rpm / rpm(1.0)).powi(2);
    assert!(end.breaking_j > 0.9 * stored && end.breaking_j < stored, "{} J of {stored} J", end.breaking_j);
    assert!((end.balance.rest_j() / end.balance.electrical_j).abs() < 1e-4);
}

/// Without current the motor, lighter, stops by its own losses while the mill still turns.
#[test]
fn each_coasts_by_itself() {
    let mut scenario = scenario();
    scenario.supply.closed[0].until_s = 2.5;
    scenario.duration_s = 30.0;
    let (truths, _) = played(&scenario);
    let end = truths[truths.len() - 1];
    let lossless = end.balance;
    assert!(end.speed_rpm < 1400.0 && end.mill_rpm > 100.0 && (end.speed_rpm - end.mill_rpm).abs() > 10.0, "{end:?}");
    assert!((lossless.rest_j() / lossless.electrical_j).abs() < 1e-4);
}
