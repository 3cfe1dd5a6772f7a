//! Checks of whole runs: the frames against their truth, repeatability, a wedge and a stop.

use super::fault::{Fault, Kind};
use super::feeder::hand::{Hand, Heed};
use super::feeder::{Material, Work};
use super::mill::Wedge;
use super::seed::Span;
use super::supply::{Closed, Loss, Place};
use super::terminals::Phase;
use super::*;
use std::convert::Infallible;

/// A light mill that starts at 0.1 s.
fn scenario() -> Scenario {
    Scenario {
        supply: Supply::new(400.0, 50.0, Closed { from_s: 0.1, until_s: 6.0 }),
        mill: Mill { inertia_kg_m2: 1.5, windage_nm_s2: 1.8e-3, ..Mill::default() },
        sensor: Sensor::sixteen_bits(600.0, 1400.0, 32.767),
        duration_s: 2.0,
        ..Scenario::default()
    }
}

fn feed() -> Hand {
    Hand {
        from_s: 1.5,
        until_s: 5.0,
        interval_s: Span(0.5, 1.5),
        lamp: Heed::default(),
        material: Material {
            mass_kg: Span(0.15, 0.5),
            work: Work::PerTonne(Span(20.0, 40.0)),
            burst_s: Span(0.2, 1.5),
        },
    }
}

fn collect(scenario: &Scenario, seed: u64) -> (Vec<([f64; 7], Truth)>, Vec<Event>) {
    let (mut frames, mut events) = (Vec::new(), Vec::new());
    let done = run(scenario, seed, |frame| {
        frames.push((frame.reading, frame.truth));
        events.extend_from_slice(frame.events);
        Ok::<(), Infallible>(())
    });
    assert!(done.is_ok());
    (frames, events)
}

#[test]
fn gives_as_many_frames_as_asked_for_and_the_same_ones_again() {
    let scenario = Scenario { duration_s: 0.3, ..scenario() };
    let (frames, _) = collect(&scenario, 4);
    assert_eq!(frames.len(), 1200);
    assert_eq!(frames, collect(&scenario, 4).0);
    assert_ne!(frames, collect(&scenario, 5).0);
}

/// Shaft power of the empty mill settles where the steady circuit says, and the readings' power is the input.
#[test]
fn idles_at_the_steady_point() {
    let scenario = scenario();
    let (frames, _) = collect(&scenario, 1);
    let idle = scenario.circuit.settle(|speed| scenario.mill.windage_nm(speed)).unwrap();
    let last = frames.last().unwrap().1;
    assert!((last.speed_rpm - idle.speed_rpm).abs() < 0.01);
    assert!((last.shaft_nm / idle.shaft_nm - 1.0).abs() < 1e-3);
    // The mean of v i over the last ten cycles, with converters' noise and rounding.
    let power = |r: &[f64; 7]| r[0] * r[3] + r[1] * r[4] + r[2] * r[5];
    let mean = frames[frames.len() - 800..].iter().map(|(reading, _)| power(reading)).sum::<f64>() / 800.0;
    assert!((mean / idle.input_w - 1.0).abs() < 2e-3, "mean {mean}, wanted {}", idle.input_w);
}

/// A trace may begin in the middle of a run; what happens keeps its time.
#[test]
fn a_lead_only_shifts_the_view() {
    let mut whole = scenario();
    whole.mill.hand = Some(Hand { from_s: 1.2, ..feed() });
    let mut late = whole.clone();
    late.lead_s = 1.0;
    late.duration_s = 1.0;
    late.supply.closed[0].from_s -= 1.0;
    late.mill.hand = Some(Hand { from_s: 0.2, until_s: 4.0, ..feed() });
    let (whole, _) = collect(&whole, 6);
    let (late, events) = collect(&late, 6);
    assert!(events.iter().all(|event| event.t_s >= 0.0));
    for (a, b) in whole[4000..].iter().zip(&late) {
        assert!((a.1.speed_rpm - b.1.speed_rpm).abs() < 1e-6);
        assert!((a.1.mass_kg - b.1.mass_kg).abs() < 1e-9);
    }
}

/// What goes through the shaft ends as windage, broken pieces and speed.
#[test]
fn shaft_work_is_accounted_for() {
    let mut scenario = Scenario { duration_s: 6.0, ..scenario() };
    scenario.mill.hand = Some(feed());
    let (frames, events) = collect(&scenario, 2);
    let last = frames.last().unwrap().1;
    let dt = 1.0 / scenario.rate_hz;
    let speed = |truth: &Truth| truth.speed_rpm / rpm(1.0);
    let windage: f64 = frames.iter().map(|(_, truth)| scenario.mill.windage_nm(speed(truth)) * speed(truth) * dt).sum();
    let inertia = scenario.mill.inertia_kg_m2 + scenario.circuit.inertia_kg_m2;
    let stored = 0.5 * inertia * speed(&last).powi(2);
    let rest = last.shaft_j - windage - stored - last.breaking_j;
    assert!((rest / last.shaft_j).abs() < 1e-3, "rest {rest} of {}", last.shaft_j);
    assert!(last.electrical_j > last.shaft_j && last.breaking_j > 0.0);
    let fed: f64 = events.iter().map(|event| if let What::Piece(kg) = event.what { kg } else { 0.0 }).sum();
    assert!((fed - last.mass_kg).abs() < 1e-9 && fed > 0.3);
    for pair in frames.windows(2) {
        assert!(pair[1].0[6] >= pair[0].0[6], "the mass fed never falls");
    }
}

/// A wedge beyond breakdown drags the motor down; when the contactor opens the currents are gone, the mains stay.
#[test]
fn a_wedge_stalls_and_a_stop_leaves_no_current() {
    let mut scenario = Scenario { duration_s: 4.0, ..scenario() };
    scenario.mill.wedge = Some(Wedge { at_s: 1.5, rise_s: 0.2, torque_nm: 1300.0, until_s: f64::INFINITY });
    scenario.supply.closed[0].until_s = 3.5;
    let (frames, events) = collect(&scenario, 2);
    let at = |t: f64| frames[(t * 4000.0) as usize];
    assert!(at(1.49).1.speed_rpm > 1480.0);
    assert!(at(3.4).1.speed_rpm < 100.0);
    let largest = |from: f64, to: f64| {
        let span = &frames[(from * 4000.0) as usize..(to * 4000.0) as usize];
        span.iter().flat_map(|(r, _)| &r[3..6]).fold(0.0_f64, |most, x| most.max(x.abs()))
    };
    let locked = scenario.circuit.at_slip(1.0).current_a;
    assert!((largest(3.3, 3.4) / (locked * 2.0_f64.sqrt()) - 1.0).abs() < 0.02);
    assert!(largest(3.501, 4.0) < 0.2, "noise only");
    assert!(frames[14_500..].iter().any(|(r, _)| r[0] > 300.0));
    assert!(at(3.9).1.shaft_nm.abs() < 1.0);
    assert_eq!(
        events.iter().map(|event| event.what).collect::<Vec<_>>(),
        [What::Closes, What::WedgeBegins, What::Opens]
    );
}

/// A line lost at the motor carries nothing, one lost upstream leaves 1 : 2 : 1; both are told, and the run goes on as
/// before once the line is back.
#[test]
fn a_lost_line_shows_and_is_told() {
    let rms = |frames: &[([f64; 7], Truth)], c: usize| {
        (frames.iter().map(|(r, _)| r[c] * r[c]).sum::<f64>() / frames.len() as f64).sqrt()
    };
    for (place, shares) in [(Place::Motor, [1.0, 0.0, 1.0]), (Place::Upstream, [0.5, 0.5, 1.0])] {
        let loss = Loss { place, phase: Phase::B, from_s: 1.5, until_s: 2.5 };
        let mut scenario = Scenario { duration_s: 4.0, ..scenario() };
        scenario.supply.losses = vec![loss];
        let (frames, events) = collect(&scenario, 3);
        let told: Vec<(f64, What)> = events.iter().map(|event| (event.t_s, event.what)).collect();
        assert_eq!(told, [(0.1, What::Closes), (1.5, What::LineLost(loss)), (2.5, What::LineBack(loss))]);
        let lost = &frames[8000..10_000];
        let most = rms(lost, 5);
        for (c, share) in shares.into_iter().enumerate() {
            assert!((rms(lost, 3 + c) / most - share).abs() < 2e-3, "{place:?}, phase {c}");
        }
        let (before, after) = (&frames[5200..6000], &frames[15_200..16_000]);
        for c in 0..6 {
            assert!((rms(after, c) / rms(before, c) - 1.0).abs() < 1e-3, "{place:?}, channel {c}");
        }
    }
}

/// A fault spoils its channel alone, for its time, and is told.
#[test]
fn a_fault_of_a_channel_shows_and_is_told() {
    let mut scenario = Scenario { duration_s: 1.0, ..scenario() };
    let (sound, _) = collect(&scenario, 3);
    let fault = |channel, kind| Fault { channel, kind, from_s: 0.5, until_s: 0.75 };
    let faults = [fault(1, Kind::Dead), fault(3, Kind::Reversed), fault(5, Kind::Scaled(0.5))];
    scenario.sensor.faults = faults.to_vec();
    let (frames, events) = collect(&scenario, 3);
    for (n, (found, wanted)) in frames.iter().zip(&sound).enumerate() {
        let shares = if (2000..3000).contains(&n) { [1.0, 0.0, 1.0, -1.0, 1.0, 0.5, 1.0] } else { [1.0; 7] };
        for (c, share) in shares.into_iter().enumerate() {
            assert!((found.0[c] - share * wanted.0[c]).abs() < 1e-9, "frame {n}, channel {c}");
        }
    }
    let told: Vec<(f64, What)> = events.iter().skip(1).map(|event| (event.t_s, event.what)).collect();
    let (begins, ends) = (faults.map(What::FaultBegins), faults.map(What::FaultEnds));
    assert_eq!(told, [begins.map(|what| (0.5, what)), ends.map(|what| (0.75, what))].concat());
}

/// Capacitors take their kvar off the meter's reactive power and leave the active one: Q here is the mean of
/// (va (ib - ic) + vb (ic - ia) + vc (ia - ib)) / root 3 with the sign of a lagging current.
#[test]
fn capacitors_take_off_their_kvar() {
    let powers = |kvar: f64| {
        let mut scenario = scenario();
        scenario.supply.capacitors_kvar = kvar;
        let (frames, _) = collect(&scenario, 1);
        let late = &frames[frames.len() - 800..];
        let mean = |of: fn(&[f64; 7]) -> f64| late.iter().map(|(r, _)| of(r)).sum::<f64>() / 800.0;
        let active = mean(|r| r[0] * r[3] + r[1] * r[4] + r[2] * r[5]);
        let turned = mean(|r| r[0] * (r[4] - r[5]) + r[1] * (r[5] - r[3]) + r[2] * (r[3] - r[4]));
        (active, -turned / 3.0_f64.sqrt(), late[0].1)
    };
    let (bare, with) = (powers(0.0), powers(12.0));
    assert!(bare.1 > 20e3, "the motor lags: {} var", bare.1);
    assert!((bare.1 - with.1 - 12e3).abs() < 5.0, "{} var, {} var with capacitors", bare.1, with.1);
    assert!((bare.0 - with.0).abs() < 5.0, "{} W, {} W", bare.0, with.0);
    assert_eq!(bare.2, with.2, "the motor does not notice");
}

#[test]
fn an_error_stops_the_run() {
    let mut seen = 0;
    let done = run(&scenario(), 1, |_| {
        seen += 1;
        if seen == 10 { Err("full") } else { Ok(()) }
    });
    assert_eq!((done.unwrap_err(), seen), ("full", 10));
}
