//! Shifts against a run whose frames lie at the shifted times.

use super::super::mill::Mill;
use super::super::motor::Impedance;
use super::super::sensor::{Converter, Sensor};
use super::super::supply::{Closed, Loss, Place, Sag, Starter, Supply, Tap};
use super::super::terminals::Phase;
use super::super::{Scenario, run};
use super::*;
use std::convert::Infallible;

/// The model's step at 4 kHz, s.
const STEP_S: f64 = 1.0 / 12_000.0;

#[test]
fn equal_shifts_are_taken_together() {
    let lead = |phase_deg, skew_us| Transducer { phase_deg, skew_us, ..Transducer::default() };
    assert_eq!(shifts(&[Transducer::default(); 6], 50.0), []);
    let all = [lead(0.0, 0.0), lead(0.0, 10.0), lead(0.0, 20.0), lead(0.18, 0.0), lead(0.0, 10.0), lead(-1.8, 0.0)];
    let found = shifts(&all, 50.0);
    assert_eq!(found.iter().map(|shift| shift.channels.iter().filter(|c| **c).count()).collect::<Vec<_>>(), [3, 1, 1]);
    // 1.8 degrees of 20 ms are 100 µs.
    for (shift, us) in found.iter().zip([10.0, 20.0, -100.0]) {
        assert!((shift.by_s * 1e6 - us).abs() < 1e-9, "{shift:?}");
    }
}

/// Without noise and with 32 bits, so that readings are the model's own.
fn sensor() -> Sensor {
    let fine = |full_scale| Converter { bits: 32, full_scale, noise_counts: 0.0 };
    Sensor { voltage: fine(1000.0), current: fine(3000.0), mass: fine(1.0), ..Sensor::default() }
}

fn readings(scenario: &Scenario) -> Vec<[f64; 7]> {
    let mut all = Vec::new();
    let Ok(_) = run(scenario, 1, |frame| {
        all.push(frame.reading);
        Ok::<(), Infallible>(())
    });
    all
}

/// What is read a step after each frame, or before, is what a run with a frame at each step reads there: over a start with
/// a hard sag, a lost line and a stop. `edge` places the edges in the steps, as a share of one after a frame.
fn shows_the_other_time(forward: bool, edge: f64, change: impl Fn(&mut Scenario)) {
    let at = |s: f64| ((s * 4000.0).round() * 3.0 + edge) * STEP_S;
    let mut scenario = Scenario { sensor: sensor(), duration_s: 1.0, ..Scenario::default() };
    scenario.mill = Mill { inertia_kg_m2: 0.2, ..Mill::default() };
    scenario.supply = Supply {
        closed: vec![Closed { from_s: at(0.05), until_s: at(0.8) }],
        sags: vec![Sag { from_s: at(0.2), until_s: at(0.3), ramp_s: 0.0, depth: 0.4 }],
        losses: vec![Loss { place: Place::Upstream, phase: Phase::B, from_s: at(0.5), until_s: at(0.6) }],
        impedance: Impedance { ohm: 0.01, henry: 50e-6 },
        ..Supply::default()
    };
    change(&mut scenario);
    let each = readings(&Scenario { rate_hz: 12_000.0, ..scenario.clone() });
    let skew_us = STEP_S * if forward { 1e6 } else { -1e6 };
    scenario.sensor.transducers = [Transducer { skew_us, ..Transducer::default() }; 6];
    for (n, found) in readings(&scenario).iter().enumerate().skip(1) {
        let wanted = &each[if forward { 3 * n + 1 } else { 3 * n - 1 }];
        for c in 0..6 {
            assert!((found[c] - wanted[c]).abs() < 1e-5, "frame {n}, channel {c}: {} for {}", found[c], wanted[c]);
        }
    }
}

#[test]
fn a_shift_reads_the_other_time() {
    for (forward, edge) in [(true, 0.2), (true, -0.3), (true, 1.7), (false, 0.2), (false, -1.3), (false, -2.4)] {
        for tap in [Tap::Line, Tap::Motor] {
            shows_the_other_time(forward, edge, |s| s.supply.tap = tap);
            shows_the_other_time(forward, edge, |s| {
                s.supply.tap = tap;
                s.supply.losses[0].place = Place::Motor;
            });
        }
        let starter = Starter::StarDelta { star_s: 0.35, pause_s: 0.05 };
        shows_the_other_time(forward, edge, |s| s.supply.starter = starter);
    }
    let starter = Starter::Soft { from_deg: 100.0, ramp_s: 0.6 };
    shows_the_other_time(true, 0.2, |s| s.supply.starter = starter);
}
