//! A spread of motors before the core: jam, sag, lost phase, locked rotor. The truth is the plant model and the
//! one-cycle rms of its currents, sample by sample; currents with a lost phase are written by hand.

use shaftwork_acceptance::machine::{Extra, Machine, spread};
use shaftwork_acceptance::rig::Listening;
use shaftwork_acceptance::tally::Tally;
use shaftwork_core::Cause;
use shaftwork_sim::plant::mill::Wedge;
use shaftwork_sim::plant::supply::Sag;
use std::f64::consts::{SQRT_2, TAU};

/// Limits: -0.03 .. +0.06 s about the crossing of 200 % plus the delay; the trace begins while running.
#[test]
fn a_wedge_trips_jam() {
    let mut t = Tally::default();
    for m in &spread() {
        let start_s = m.start_s.min(5.0);
        for (rise_s, over) in [(0.15, 1.5), (0.4, 1.25)] {
            let mut scenario = m.scenario(m.windage(0.15), start_s, -1.0 - 1.2 * start_s, 4.0);
            let torque_nm = over * m.circuit.breakdown().shaft_nm;
            scenario.mill.wedge = Some(Wedge { at_s: 0.8, rise_s, torque_nm, until_s: f64::INFINITY });
            let (heard, known) = m.play(&scenario, &Extra::default());
            let spans = known.above(2.0 * m.plate().rated.current_a);
            let crossing = spans.iter().find(|s| s[1] - s[0] > 0.6).map_or(f64::NAN, |s| s[0]);
            let trips = heard.trips();
            let what = format!("{} wedge of {over} in {rise_s} s: {trips:?}", m.name);
            let at = trips.first().filter(|(cause, _)| *cause == Cause::Jam).map_or(f64::NAN, |(_, at)| *at);
            t.between(&what, at - crossing - 0.5, -0.03, 0.06);
            t.holds(&format!("{what}: starts {:?}", heard.starts()), heard.starts().is_empty());
        }
    }
    t.finish();
}

/// Undervoltage 80 % for 2 s, jam 200 % for 0.5 s: nothing may trip, wherever the model's own current allows it.
#[test]
fn a_sag_is_borne() {
    let mut t = Tally::default();
    for m in &spread() {
        for (left, lasts_s, load) in [(0.70, 0.5, 0.7), (0.72, 1.5, 0.7), (0.75, 1.0, 0.9)] {
            let mut scenario = m.scenario(m.windage(load), 3.0, -4.6, 2.0 + lasts_s);
            scenario.supply.sags = vec![Sag { from_s: 0.7, until_s: 0.7 + lasts_s, ramp_s: 0.01, depth: 1.0 - left }];
            let (heard, known) = m.play(&scenario, &Extra::default());
            let longest = known.above(2.0 * m.plate().rated.current_a).iter().map(|s| s[1] - s[0]).fold(0.0, f64::max);
            let what = format!("{} {left} for {lasts_s} s at {load}, over 200 % for {longest:.2} s", m.name);
            t.holds(&format!("{what}: the motor bears it"), longest < 0.45);
            t.holds(&format!("{what}: trips {:?}", heard.trips()), heard.trips().is_empty());
            t.holds(&format!("{what}: starts {:?}", heard.starts()), heard.starts().is_empty());
        }
    }
    t.finish();
}

/// Six channels by hand: balanced until `lost_s`, then as `after` says (multiples of the current, by phase).
fn by_hand(m: &Machine, lost_s: f64, after: impl Fn(f64, usize) -> f64) -> Vec<(Cause, f64)> {
    let mut core = Listening::new(m, &Extra::default());
    let volts = m.circuit.line_v / 3f64.sqrt() * SQRT_2;
    let amps = 0.6 * m.plate().rated.current_a * SQRT_2;
    for k in 0..(3.5 * m.rate_hz) as u64 {
        let s = k as f64 / m.rate_hz;
        let angle = TAU * (m.circuit.frequency_hz * s).fract();
        let third = |p: usize| angle - p as f64 * TAU / 3.0;
        core.take(std::array::from_fn(|c| match c {
            0..3 => volts * third(c).cos(),
            _ if s < lost_s => amps * (third(c - 3) - 0.6).cos(),
            _ => amps * after(angle, c - 3),
        }));
    }
    core.finish().trips()
}

/// A line open at the motor (Ia = -Ib, Ic = 0), and one lost beyond a delta-star transformer (1 : 1 : -2): the
/// negative sequence equals the positive one in both (symmetrical components). Limits: -0.02 .. +0.25 s.
#[test]
fn a_lost_phase_trips() {
    let mut t = Tally::default();
    for (n, m) in spread().iter().enumerate() {
        let lost_s = 1.2 + 0.0013 * n as f64;
        let cases = [("at the motor", [1.7, -1.7, 0.0]), ("upstream", [0.9, 0.9, -1.8])];
        for ((place, share), turn) in cases.into_iter().zip([0, 1]) {
            let trips = by_hand(m, lost_s, |angle, p| share[(p + n + turn) % 3] * (angle + 0.2).cos());
            let what = format!("{} {place}: {trips:?}", m.name);
            let first = trips.first().filter(|(cause, _)| *cause == Cause::PhaseLoss);
            t.between(&what, first.map_or(f64::NAN, |(_, at)| *at) - lost_s - 1.0, -0.02, 0.25);
        }
    }
    t.finish();
}

/// A rotor that is held from the first: long start, -0.05 .. +0.12 s about its delay, and no jam.
#[test]
fn a_locked_rotor_is_a_long_start() {
    let mut t = Tally::default();
    for m in &spread() {
        let mut scenario = m.scenario(m.windage(0.15), 3.0, 0.4, 3.0);
        let torque_nm = 2.0 * m.circuit.breakdown().shaft_nm;
        scenario.mill.wedge = Some(Wedge { at_s: -1.0, rise_s: 0.1, torque_nm, until_s: f64::INFINITY });
        let (heard, _) = m.play(&scenario, &Extra { delays_s: [0.5, 1.8, 1.0], ..Extra::default() });
        let trips = heard.trips();
        let what = format!("{}: {trips:?}", m.name);
        let first = trips.first().filter(|(cause, _)| *cause == Cause::LongStart);
        t.between(&what, first.map_or(f64::NAN, |(_, at)| *at) - 0.4 - 1.8, -0.05, 0.12);
        t.holds(&format!("{what}: one start"), heard.starts().len() == 1 && trips.len() == 1);
    }
    t.finish();
}
