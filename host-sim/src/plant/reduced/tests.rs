//! The reduced model by itself: steady points, run-ups, its balance, its records. Against the full model it is held in
//! the acceptance tests.

use super::super::circuit::Circuit;
use super::super::fault::{Fault, Kind};
use super::super::feeder::hand::Hand;
use super::super::heating::Heating;
use super::super::mill::Mill;
use super::super::published::textbook;
use super::super::supply::{Bounce, Closed, Drift, Harmonic, Loss, Place, Sag, Starter, Supply, Tap};
use super::super::terminals::Phase;
use super::*;
use crate::synth::catalogue;

const NEVER: f64 = f64::INFINITY;

fn near(found: f64, wanted: f64, share: f64) {
    assert!((found / wanted - 1.0).abs() <= share, "found {found}, wanted {wanted} within {share}");
}

/// A motor that starts at 0 against windage, with so much inertia besides its own.
fn alone(circuit: &Circuit, windage_nm_s2: f64, inertia_kg_m2: f64) -> Scenario {
    let closed = Closed { from_s: 0.0, until_s: NEVER };
    Scenario {
        supply: Supply::new(circuit.line_v, circuit.frequency_hz, closed),
        circuit: circuit.clone(),
        mill: Mill { inertia_kg_m2, windage_nm_s2, ..Mill::default() },
        ..Scenario::default()
    }
}

fn collect(scenario: &Scenario) -> Vec<(HalfCycle, Truth, Vec<Event>)> {
    let mut all = Vec::new();
    let done = run(scenario, 3, |step| {
        all.push((step.record, step.truth, step.events.to_vec()));
        Ok::<(), Refused>(())
    });
    assert!(done.is_ok());
    all
}

fn amps(bits: u64) -> f64 {
    (bits as f64 / (1_u64 << 34) as f64).sqrt()
}

/// The last record and truth of a motor that settles at a slip; its windage.
fn settled(circuit: &Circuit, slip: f64) -> (HalfCycle, Truth) {
    let speed = circuit.synchronous_rad_s() * (1.0 - slip);
    let scenario = alone(circuit, circuit.at_slip(slip).shaft_nm / (speed * speed), 0.0);
    let all = collect(&Scenario { duration_s: 20.0, ..scenario });
    let (record, truth, _) = all.last().unwrap();
    (*record, *truth)
}

/// Where it settles is the steady circuit's point (whose rows from textbooks stand in its own tests) to five digits;
/// what of the record has coarser steps, to those.
#[test]
fn settles_at_the_steady_point() {
    let mut motors: Vec<(Circuit, f64)> = textbook()
        .iter()
        .map(|machine| (machine.circuit.clone(), 1.0 - machine.listed_rpm / machine.circuit.synchronous_rpm()))
        .collect();
    motors.extend([0.003, 0.015, 0.04].map(|slip| (Circuit::mill_55_kw(), slip)));
    // Chapman, Electric Machinery Fundamentals, example 7-3: 18.89 A and 12 525 W at 2.2 %.
    let chapman = Circuit {
        stator_ohm: 0.641,
        stator_leakage_ohm: 1.106,
        magnetising_ohm: 26.3,
        rotor_leakage_ohm: 0.464,
        rotor_ohm: 0.332,
        ..Circuit::textbook_50_hp()
    };
    motors.push((chapman, 0.022));
    for (circuit, slip) in motors {
        let (point, (record, truth)) = (circuit.at_slip(slip), settled(&circuit, slip));
        near(truth.speed_rpm, point.speed_rpm, 1e-6);
        near(truth.shaft_nm, point.shaft_nm, 1e-5);
        for current in record.current {
            near(amps(current.0), point.current_a, 1e-5);
        }
        near(f64::from(record.current_positive.to_bits()) / 131_072.0, point.current_a, 1e-5);
        let active = record.active.to_bits() as f64 / 65_536.0;
        near(active, point.input_w, 1e-5);
        let reactive = record.reactive.to_bits() as f64 / 65_536.0;
        near(active / active.hypot(reactive), point.power_factor, 1e-5);
        let seconds = record.length.0 as f64 / 65_536.0 / 4000.0;
        near(record.energy.to_bits() as f64 / 1_048_576.0 / seconds, point.input_w, 1e-5);
        near((record.voltage[0].0 as f64).sqrt() / 65_536.0, circuit.line_v / 3.0_f64.sqrt(), 1e-6);
    }
}

/// Two lines are left: currents and input of the two sequences one after the other (`single_phase`).
#[test]
fn settles_on_one_axis() {
    let circuit = Circuit::textbook_50_hp();
    for (place, shares) in [(Place::Motor, [0.0, 1.0, 1.0]), (Place::Upstream, [0.5, 1.0, 0.5])] {
        let mut scenario = Scenario { duration_s: 12.0, ..alone(&circuit, 4e-3, 0.0) };
        scenario.supply.losses = vec![Loss { place, phase: Phase::A, from_s: 5.0, until_s: NEVER }];
        let all = collect(&scenario);
        let (record, truth, _) = all.last().unwrap();
        let point = circuit.single_phased(1.0 - truth.speed_rpm / circuit.synchronous_rpm());
        let most = if place == Place::Motor { point.line_a() } else { 2.0 * point.sequence_a };
        for (current, share) in record.current.into_iter().zip(shares) {
            assert!((amps(current.0) / most - share).abs() < 1e-4, "{place:?}: {} of {most}", amps(current.0));
        }
        near(record.active.to_bits() as f64 / 65_536.0, point.input_w, 1e-4);
        near(truth.shaft_nm, point.air_gap_nm, 1e-4);
    }
}

/// Times to shares of synchronous speed, s.
fn reached<const N: usize>(all: &[(HalfCycle, Truth, Vec<Event>)], sync_rpm: f64, shares: [f64; N]) -> [f64; N] {
    shares.map(|share| {
        let level = share * sync_rpm;
        let after = all.iter().position(|(_, truth, _)| truth.speed_rpm >= level).unwrap();
        let (b, a) = (all[after].1, after.checked_sub(1).map_or(Truth::default(), |n| all[n].1));
        a.t_s + (b.t_s - a.t_s) * (level - a.speed_rpm) / (b.speed_rpm - a.speed_rpm)
    })
}

/// Free acceleration of the 50 hp machine of Krause, Wasynczuk and Sudhoff with 5 and 20 times its inertia: 95 and 99 %
/// of synchronous speed after the times of an independent solver of eighth order, and rotor heat over kinetic energy.
#[test]
fn free_acceleration_of_heavy_rotors() {
    let circuit = Circuit::textbook_50_hp();
    for (times, wanted, heat) in [(5.0, [2.421, 2.959], 1.0243), (20.0, [9.581, 11.764], 1.0032)] {
        let inertia = (times - 1.0) * circuit.inertia_kg_m2;
        let all = collect(&Scenario { duration_s: times, ..alone(&circuit, 0.0, inertia) });
        let found = reached(&all, circuit.synchronous_rpm(), [0.95, 0.99]);
        let balance = all.last().unwrap().1.balance;
        println!("{times}: {found:.4?}, {:.4}", balance.rotor_j / balance.kinetic_j);
        for (found, wanted) in found.into_iter().zip(wanted) {
            near(found, wanted, 5e-4);
        }
        near(balance.rotor_j / balance.kinetic_j, heat, 1e-3);
    }
}

/// All four machines alone, whose speed swings with the torque: times to 50, 90, 95 and 99 % of synchronous speed of the
/// same solver, within 0.2 %.
#[test]
fn free_acceleration_of_four_machines() {
    let wanted = [
        [0.1568, 0.2937, 0.3340, 0.4198],
        [0.2784, 0.4614, 0.5084, 0.6069],
        [1.0244, 1.3619, 1.3878, 1.4115],
        [1.8649, 2.3909, 2.4223, 2.4478],
    ];
    for (machine, wanted) in textbook().iter().zip(wanted) {
        let all = collect(&Scenario { duration_s: 4.0, ..alone(&machine.circuit, 0.0, 0.0) });
        let found = reached(&all, 1800.0, [0.5, 0.9, 0.95, 0.99]);
        println!("{} hp: {found:.4?}", machine.horsepower);
        for (found, wanted) in found.into_iter().zip(wanted) {
            near(found, wanted, 2e-3);
        }
    }
}

/// Supply = losses + shaft + stored within a hundred-thousandth, over each scenario of the catalogue and over what else
/// the mains do.
#[test]
fn the_balance_closes() {
    let mut scenarios: Vec<(String, Scenario)> = Vec::new();
    for story in catalogue::all().filter(|story| Reduced::new(&story.scenario, 1).is_ok()) {
        scenarios.push((story.name, story.scenario));
    }
    assert!(scenarios.len() > 10, "most of the catalogue can be run");
    let mut add = |name: &str, change: &dyn Fn(&mut Scenario)| {
        let mut scenario = alone(&Circuit::mill_55_kw(), 1.8e-3, 1.5);
        change(&mut scenario);
        scenarios.push((name.to_owned(), scenario));
    };
    let sag = Sag { from_s: 3.0, until_s: 3.3, ramp_s: 0.0, depth: 0.9 };
    add("sudden sag", &|s| s.supply.sags = vec![sag]);
    add("interruption", &|s| s.supply.sags = vec![Sag { depth: 1.0, ..sag }]);
    add("lost belt", &|s| s.mill.belt_lost_s = Some(3.003));
    add("warm", &|s| s.heating = Some(Heating::default()));
    add("drift", &|s| s.supply.drifts = vec![Drift { from_s: 3.0, until_s: 4.0, by_hz: -1.5 }]);
    add("restart", &|s| {
        s.supply.closed[0].until_s = 3.001;
        s.supply.closed.push(Closed { from_s: 3.157, until_s: NEVER });
    });
    for place in [Place::Motor, Place::Upstream] {
        let loss = Loss { place, phase: Phase::C, from_s: 3.003, until_s: 3.6 };
        add("line lost and back", &|s| s.supply.losses = vec![loss]);
        add("start without a line", &|s| s.supply.losses = vec![Loss { from_s: -1.0, until_s: NEVER, ..loss }]);
    }
    for (name, scenario) in scenarios {
        let end = collect(&scenario).last().unwrap().1.balance;
        let rest = end.rest_j() / end.electrical_j.abs().max(end.kinetic_j.abs());
        println!("{name}: {rest:.1e}");
        assert!(rest.abs() < 1e-5, "{name}: {rest:e} is missing");
    }
}

/// Half cycles without gaps, windows of 10 cycles at 50 Hz and of 12 at 60, a first record of half a cycle, a fragment at
/// the end; their energy is the plant's.
#[test]
fn records_are_those_of_the_meter() {
    for (hertz, rate_hz, in_window) in [(50.0, 4000.0, 20), (60.0, 3210.7, 24)] {
        let circuit = Circuit { frequency_hz: hertz, ..Circuit::mill_55_kw() };
        let scenario = Scenario { rate_hz, duration_s: 1.003, ..alone(&circuit, 0.0, 1.0) };
        let all = collect(&scenario);
        assert_eq!(all.len(), 2 * hertz as usize + 1);
        let mut end = 0;
        for (n, (record, truth, _)) in all.iter().enumerate() {
            assert_eq!(record.end.0, end + record.length.0, "no gap");
            let whole = n + 1 < all.len();
            assert_eq!(record.closes_window, whole && (n + 1) % in_window == 0);
            let frames = record.length.0 as f64 / 65_536.0;
            assert!(!whole || (frames - rate_hz / hertz / 2.0).abs() < 2e-5, "{frames}");
            let cycle = record.cycle.0 as f64 / 65_536.0 / (rate_hz / hertz);
            assert!((cycle - if n == 0 { 0.5 } else { 1.0 }).abs() < 1e-6);
            assert!((truth.t_s * rate_hz - record.end.0 as f64 / 65_536.0).abs() < 1e-4);
            end = record.end.0;
        }
        let sum: f64 = all.iter().map(|(record, ..)| record.energy.to_bits() as f64 / 1_048_576.0).sum();
        near(sum, all.last().unwrap().1.electrical_j, 1e-6);
        let (last, before) = (all[all.len() - 1].0, all[all.len() - 2].0);
        assert_eq!((last.current, last.active), (before.current, before.active), "a fragment has its forerunner's");
    }
}

/// What happens is told in its half cycle; the same seed gives the same records, another one others.
#[test]
fn a_seed_gives_the_same_records() {
    let scenario = Scenario { duration_s: 8.0, ..catalogue::find("hand-fed").unwrap().scenario };
    assert!(scenario.mill.hand.as_ref().is_some_and(|hand: &Hand| hand.from_s < 8.0));
    let all = |seed| {
        let mut all = Vec::new();
        let end = run(&scenario, seed, |step| {
            let length = step.record.length.0 as f64 / 65_536.0 / 4000.0;
            assert!(step.events.iter().all(|e| e.t_s <= step.truth.t_s && e.t_s > step.truth.t_s - length - 1e-9));
            all.push((step.record, step.truth, step.events.len()));
            Ok::<(), Refused>(())
        });
        assert!(end.is_ok_and(|end| end.mass_kg > 0.5));
        all
    };
    let first = all(4);
    assert_eq!(first, all(4));
    assert_ne!(first, all(5));
    assert!(first.iter().any(|(.., events)| *events > 0));
}

#[test]
fn what_it_cannot_do_is_refused_in_words() {
    let refused = |change: &dyn Fn(&mut Scenario)| {
        let mut scenario = alone(&Circuit::mill_55_kw(), 1.8e-3, 1.5);
        change(&mut scenario);
        Reduced::new(&scenario, 1).map(|_| ()).unwrap_err()
    };
    let soft = refused(&|s| s.supply.starter = Starter::Soft { from_deg: 90.0, ramp_s: 3.0 });
    assert_eq!(soft, Refused::SoftStarter);
    assert!(soft.to_string().contains("soft starter"));
    let harmonic = Harmonic { order: 5, share: 0.02, phase_rad: 0.0 };
    assert_eq!(refused(&|s| s.supply.harmonics = vec![harmonic]), Refused::Harmonics);
    let loss = Loss { place: Place::Motor, phase: Phase::A, from_s: 1.0, until_s: 2.0 };
    let floating = refused(&|s| {
        s.supply.losses = vec![loss];
        s.supply.tap = Tap::Motor;
    });
    assert_eq!(floating, Refused::FloatingTap);
    assert_eq!(refused(&|s| s.supply.capacitors_kvar = 10.0), Refused::Capacitors);
    assert_eq!(refused(&|s| s.supply.bounce = Some(Bounce { count: 3, within_s: 5e-3 })), Refused::Bounce);
    let fault = Fault { channel: 3, kind: Kind::Dead, from_s: 1.0, until_s: 2.0 };
    assert_eq!(refused(&|s| s.sensor.faults = vec![fault]), Refused::Readings);
    assert_eq!(refused(&|s| s.sensor.transducers[0].skew_us = 5.0), Refused::Readings);
    assert_eq!(refused(&|s| s.rate_hz = 0.0), Refused::NoFrequency);
}
