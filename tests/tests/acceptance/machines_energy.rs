//! A spread of motors before the core: energies of a run in which pieces are broken. The truth is the plant model,
//! whose equations are checked in its own tests.

use shaftwork_acceptance::machine::{Extra, Machine, spread};
use shaftwork_acceptance::tally::Tally;
use shaftwork_core::State;
use shaftwork_sim::plant::feeder::hand::Hand;
use shaftwork_sim::plant::feeder::{Material, Work};
use shaftwork_sim::plant::seed::Span;

/// Shaft power of the empty mill over rated power.
const IDLE: f64 = 0.14;

/// Pieces for ten seconds of feeding that load the motor by a third, about.
fn feed(m: &Machine, from_s: f64) -> Hand {
    let scale = m.rated_w / 55e3;
    Hand {
        from_s,
        until_s: from_s + 7.5,
        interval_s: Span(0.5, 1.5),
        material: Material {
            mass_kg: Span(0.05 * scale, 0.25 * scale),
            work: Work::PerTonne(Span(15.0, 35.0)),
            burst_s: Span(0.2, 1.5),
        },
    }
}

/// Plays ten seconds of a run; with `starts` the start before it too. Idle power is set, or else must be learnt.
fn check(t: &mut Tally, m: &Machine, starts: bool, set: bool) {
    let windage = m.windage(IDLE);
    let (closes_s, begins) = if starts { (0.3, 1.3 * m.start_s + 0.5) } else { (-1.0 - 1.2 * m.start_s, 0.0) };
    // Idle power is learnt from two seconds and a window.
    let (begins, ends) = if set { (begins + 0.5, begins + 10.0) } else { (begins + 3.5, begins + 13.0) };
    let mut scenario = m.scenario(windage, m.start_s, closes_s, ends);
    scenario.mill.hand = Some(feed(m, begins));
    let idle_w = m.circuit.settle(|w| windage * w * w).expect("it idles").shaft_w;
    let (heard, known) = m.play(&scenario, &Extra { idle_w: set.then_some(idle_w), ..Extra::default() });

    let up = known.reaches(0.95 * m.circuit.synchronous_rpm()).filter(|_| starts).copied().unwrap_or_default();
    let shaft = known.end.shaft_j - up.shaft_j;
    let net = shaft - idle_w * (ends - up.t_s);
    // A start may be seen to end 0.05 s late: its power, at most the largest, is then missing.
    let late = if starts { 0.05 * m.circuit.breakdown().shaft_w * 100.0 } else { 0.0 };
    let what = format!("{} starts: {starts}, idle power set: {set}", m.name);
    let row = heard.row();
    let error = |kwh: f64, joules: f64| (kwh * 3.6e6 / joules - 1.0) * 100.0;
    t.within(&format!("{what}: electrical energy, %"), error(row.electrical_kwh, known.end.electrical_j), 0.03);
    let at_shaft = row.shaft_kwh.map_or(f64::NAN, |kwh| error(kwh, shaft));
    t.between(&format!("{what}: shaft energy, %"), at_shaft, -1.0 - late / shaft, 1.0);
    let found = row.net_kwh.map_or(f64::NAN, |kwh| error(kwh, net));
    t.between(&format!("{what}: net energy, %"), found, -1.5 - late / net, 1.5);
    t.holds(&format!("{what}: trips {:?}", heard.trips()), heard.trips().is_empty());
    let states: Vec<State> = heard.intervals.iter().map(|i| i.state).collect();
    t.holds(&format!("{what}: breaking is seen"), states.contains(&State::Breaking));
}

/// Limits: electrical 0.03 %, shaft 1 %, net 1.5 %; no trip. The trace begins while running.
#[test]
fn energies_of_a_run_with_pieces() {
    let mut t = Tally::default();
    for m in &spread() {
        check(&mut t, m, false, true);
    }
    t.finish();
}

/// The same with the idle power learnt from three seconds of it.
#[test]
fn energies_with_idle_power_learnt() {
    let mut t = Tally::default();
    for m in &spread() {
        check(&mut t, m, false, false);
    }
    t.finish();
}

/// The same with the start before it.
#[test]
fn energies_of_a_start_and_a_run() {
    let mut t = Tally::default();
    for m in &spread() {
        check(&mut t, m, true, true);
    }
    t.finish();
}
