//! A spread of motors before the core: starts and steady loads. The truth is the plant model, whose
//! equations are checked in its own tests against published machines; limits stand beside each check.

use shaftwork_acceptance::figures::Figure;
use shaftwork_acceptance::machine::{Extra, Machine, Sheet, spread};
use shaftwork_acceptance::rig::{Heard, Known, shaft_w};
use shaftwork_acceptance::tally::Tally;
use shaftwork_core::Interval;
use shaftwork_sim::plant::supply::Closed;
use std::f64::consts::TAU;

/// Shaft power of the empty mill over rated power.
const IDLE: f64 = 0.14;

/// Nameplates of which something is left out.
const PARTS: [Sheet; 5] = [Sheet::PowerFactor, Sheet::Efficiency, Sheet::NoResistance, Sheet::NoLocked, Sheet::Least];

/// Limits of steady loads: % of rated power, of rated torque, of speed.
const STEADY: [f64; 3] = [0.5, 0.6, 0.15];

/// A start from rest; the frames' truth says how long it took, s.
fn start(m: &Machine, extra: &Extra, start_s: f64, closes_s: f64, phase_rad: f64) -> (Heard, Known, f64) {
    let mut scenario = m.scenario(m.windage(IDLE), start_s, closes_s, closes_s + 1.3 * start_s + 1.0);
    scenario.supply.phase_rad = phase_rad;
    let (heard, known) = m.play(&scenario, extra);
    let up = known.reaches(0.95 * m.circuit.synchronous_rpm()).expect("it runs up").t_s - closes_s;
    (heard, known, up)
}

/// One start without a trip; its onset, length and peak against the model's. `low`: how far below, %, the peak may lie.
fn one_start(t: &mut Tally, what: &str, (heard, known, up): &(Heard, Known, f64), closes_s: f64, low: f64) {
    t.holds(&format!("{what}: trips {:?}", heard.trips()), heard.trips().is_empty());
    let starts = heard.starts();
    t.holds(&format!("{what}: one start that ran up: {starts:?}"), starts.len() == 1 && starts[0].1.is_some());
    let Some((onset, Some([took, peak]))) = starts.first().copied() else { return };
    t.within(&format!("{what}: onset, s"), onset - closes_s, 0.02);
    t.within(&format!("{what}: start of {up:.3} s, s"), took - up, 0.05 + 0.02 * up);
    t.between(&format!("{what}: peak, %"), (peak / known.peak() - 1.0) * 100.0, low, 1.0);
}

/// Closed where the voltage is at its peak or at zero, at the end of a half cycle. Limits: exactly one start, 0.05 s
/// + 2 % of its length, -5 % .. +1 % of the sliding peak, no trip.
#[test]
fn starts_are_seen_once_and_timed() {
    let mut t = Tally::default();
    for (m, quarter) in spread().iter().zip([0.0, 1.0].into_iter().cycle()) {
        let extra = Extra { delays_s: [0.5, 1.7 * m.start_s, 1.0], ..Extra::default() };
        one_start(&mut t, m.name, &start(m, &extra, m.start_s, 0.5, quarter * TAU / 4.0), 0.5, -5.0);
    }
    t.finish();
}

/// Closed at any instant and angle. A cycle that is renewed each half may lie a quarter off the worst one, of which
/// the offset of the current makes up to 9 %: this is the limit of the peak here, the others stay.
#[test]
fn starts_at_any_instant_are_seen_once_and_timed() {
    let mut t = Tally::default();
    for m in &spread() {
        for n in 0..8 {
            let (closes_s, phase_rad) = (0.3 + 0.001_37 * f64::from(n), 0.9 * f64::from(n));
            let found = start(m, &Extra::default(), 1.0, closes_s, phase_rad);
            one_start(&mut t, &format!("{} at {closes_s:.5} s, {phase_rad:.1} rad", m.name), &found, closes_s, -9.0);
        }
    }
    t.finish();
}

/// The contactor opens and closes again: two starts, a stop between.
#[test]
fn a_second_start_is_a_start() {
    let mut t = Tally::default();
    for m in spread().iter().step_by(2) {
        let mut scenario = m.scenario(m.windage(IDLE), 1.2, 0.4, 5.0);
        scenario.supply.closed[0].until_s = 2.2;
        scenario.supply.closed.push(Closed { from_s: 2.8, until_s: 4.6 });
        let (heard, _) = m.play(&scenario, &Extra::default());
        let (trips, starts) = (heard.trips(), heard.starts());
        t.holds(&format!("{}: trips {trips:?}", m.name), trips.is_empty());
        t.holds(&format!("{}: starts {starts:?}", m.name), starts.len() == 2 && starts.iter().all(|s| s.1.is_some()));
        for (found, closes_s) in starts.iter().zip([0.4, 2.8]) {
            t.within(&format!("{}: onset, s", m.name), found.0 - closes_s, 0.02);
        }
    }
    t.finish();
}

/// Limits: exactly one start, run-up within 10 % of its length.
#[test]
fn starts_are_seen_with_less_of_the_nameplate() {
    let mut t = Tally::default();
    for m in spread().iter().filter(|m| m.start_s < 6.0) {
        for sheet in PARTS {
            let extra = Extra { sheet, ..Extra::default() };
            let (heard, _, up) = start(m, &extra, m.start_s, 0.5, 0.3);
            t.holds(&format!("{} {sheet:?}: trips {:?}", m.name, heard.trips()), heard.trips().is_empty());
            let starts = heard.starts();
            t.holds(&format!("{} {sheet:?}: one start: {starts:?}", m.name), starts.len() == 1);
            let took = starts.first().and_then(|s| s.1).map_or(f64::NAN, |s| s[0]);
            t.within(&format!("{} {sheet:?}: start of {up:.3} s, %", m.name), (took / up - 1.0) * 100.0, 10.0);
        }
    }
    t.finish();
}

/// Means of the intervals that lie whole in a steady state against the model's.
fn steady(t: &mut Tally, what: &str, m: &Machine, (heard, known): &(Heard, Known), limits: [f64; 3]) {
    let from_s = 0.4;
    let rated = m.plate().rated;
    let late: Vec<_> = heard.intervals.iter().filter(|i| heard.seconds(i.window.end.0) > from_s + 0.25).collect();
    let mean = |figure: &dyn Fn(&Interval) -> f64| late.iter().map(|i| figure(i)).sum::<f64>() / late.len() as f64;
    let until = known.truth.last().expect("there are frames").t_s;
    let power = mean(&|i| i.shaft.value()) - known.mean(from_s, until, shaft_w);
    let torque = mean(&|i| i.torque.value()) - known.mean(from_s, until, |k| k.shaft_nm);
    let rpm = known.mean(from_s, until, |k| k.speed_rpm);
    let speed = mean(&|i| i.speed.map_or(f64::NAN, Figure::value)) / rpm - 1.0;
    t.within(&format!("{what}: shaft power, % of rated"), power / m.rated_w * 100.0, limits[0]);
    t.within(&format!("{what}: torque, % of rated"), torque / rated.shaft_nm * 100.0, limits[1]);
    t.within(&format!("{what}: speed, %"), speed * 100.0, limits[2]);
    t.holds(&format!("{what}: trips {:?}", heard.trips()), heard.trips().is_empty());
    t.holds(&format!("{what}: starts {:?}", heard.starts()), heard.starts().is_empty());
}

/// Limits: 0.5 % of rated power, 0.6 % of rated torque, 0.15 % of speed; the trace begins while running.
#[test]
fn steady_loads_are_found() {
    let mut t = Tally::default();
    for m in &spread() {
        for load in [0.15, 0.25, 0.5, 0.75, 1.0, 1.2] {
            let scenario = m.scenario(m.windage(load), 0.6, -2.5, 1.6);
            steady(&mut t, &format!("{} {load}", m.name), m, &m.play(&scenario, &Extra::default()), STEADY);
        }
    }
    t.finish();
}

/// The same with the mains off their nominal values.
#[test]
fn steady_loads_are_found_off_nominal() {
    let mut t = Tally::default();
    for m in &spread() {
        for (voltage, hertz) in [(0.95, 1.0), (1.05, 1.0), (1.0, 0.99), (1.0, 1.01)] {
            for load in [0.15, 0.6, 1.0] {
                let mut scenario = m.scenario(m.windage(load), 0.6, -2.5, 1.6);
                scenario.supply.line_v *= voltage;
                scenario.supply.frequency_hz *= hertz;
                let what = format!("{} {load} at {voltage} V {hertz} Hz", m.name);
                steady(&mut t, &what, m, &m.play(&scenario, &Extra::default()), STEADY);
            }
        }
    }
    t.finish();
}

/// The same with less of the nameplate. Without curves the split of the losses is a guess: 1.5 % is what such a guess
/// may miss (the losses of these motors are 5 to 10 % of rated power, a fifth to a half of them stay at no load).
#[test]
fn steady_loads_are_found_with_less_of_the_nameplate() {
    let mut t = Tally::default();
    for m in &spread() {
        for sheet in PARTS {
            let limits = if matches!(sheet, Sheet::NoResistance | Sheet::NoLocked) { STEADY } else { [1.5, 1.5, 0.15] };
            for load in [0.15, 1.0] {
                let found = m.play(&m.scenario(m.windage(load), 0.6, -2.5, 1.2), &Extra { sheet, ..Extra::default() });
                steady(&mut t, &format!("{} {load} {sheet:?}", m.name), m, &found, limits);
            }
        }
    }
    t.finish();
}
