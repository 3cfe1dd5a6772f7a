//! A spread of motors before the core: energies of a run in which pieces are broken. The truth is the plant model,
//! whose equations are checked in its own tests.

use shaftwork_acceptance::machine::{Extra, Machine, spread};
use shaftwork_acceptance::tally::Tally;
use shaftwork_core::State;
use shaftwork_sim::plant::feeder::hand::{Hand, Heed};
use shaftwork_sim::plant::feeder::{Material, Work};
use shaftwork_sim::plant::seed::Span;

/// Shaft power of the empty mill over rated power.
const IDLE: f64 = 0.14;

/// Pieces for ten seconds of feeding that load the motor by a third, about: broken in so many seconds.
fn feed(m: &Machine, from_s: f64, burst_s: Span) -> Hand {
    let scale = m.rated_w / 55e3;
    Hand {
        from_s,
        until_s: from_s + 7.5,
        interval_s: Span(0.5, 1.5),
        lamp: Heed::default(),
        material: Material {
            mass_kg: Span(0.05 * scale, 0.25 * scale),
            work: Work::PerTonne(Span(15.0, 35.0)),
            burst_s,
        },
    }
}

/// A run: with the start before it or without, its idle power set or to be learnt, its pieces broken in so many seconds.
#[derive(Debug, Clone, Copy)]
struct Kind {
    starts: bool,
    set: bool,
    burst_s: Span,
}

const PLAIN: Kind = Kind { starts: false, set: true, burst_s: Span(0.2, 1.5) };

/// Plays ten seconds of a run; gives its highest current over rated.
fn check(t: &mut Tally, m: &Machine, Kind { starts, set, burst_s }: Kind) -> f64 {
    let windage = m.windage(IDLE);
    let (closes_s, begins) = if starts { (0.3, 1.3 * m.start_s + 0.5) } else { (-1.0 - 1.2 * m.start_s, 0.0) };
    // Idle power is learnt from two seconds and a window.
    let (begins, ends) = if set { (begins + 0.5, begins + 10.0) } else { (begins + 3.5, begins + 13.0) };
    let mut scenario = m.scenario(windage, m.start_s, closes_s, ends);
    scenario.mill.hand = Some(feed(m, begins, burst_s));
    let idle_w = m.circuit.settle(|w| windage * w * w).expect("it idles").shaft_w;
    let (heard, known) = m.play(&scenario, &Extra { idle_w: set.then_some(idle_w), ..Extra::default() });

    let up = known.reaches(0.95 * m.circuit.synchronous_rpm()).filter(|_| starts).copied().unwrap_or_default();
    let shaft = known.end.shaft_j - up.shaft_j;
    let net = shaft - idle_w * (ends - up.t_s);
    let what = format!("{} starts: {starts}, idle power set: {set}", m.name);
    let row = heard.row();
    let error = |kwh: f64, joules: f64| (kwh * 3.6e6 / joules - 1.0) * 100.0;
    t.within(&format!("{what}: electrical energy, %"), error(row.electrical_kwh, known.end.electrical_j), 0.03);
    let at_shaft = row.shaft_kwh.map_or(f64::NAN, |kwh| error(kwh, shaft));
    t.within(&format!("{what}: shaft energy, %"), at_shaft, 0.5);
    let found = row.net_kwh.map_or(f64::NAN, |kwh| error(kwh, net));
    t.within(&format!("{what}: net energy, %"), found, 1.0);
    t.holds(&format!("{what}: trips {:?}", heard.trips()), heard.trips().is_empty());
    let states: Vec<State> = heard.intervals.iter().map(|i| i.state).collect();
    t.holds(&format!("{what}: breaking is seen"), states.contains(&State::Breaking));
    row.peak_current_a.unwrap_or_default() / m.plate().rated.current_a
}

/// Limits: electrical 0.03 %, shaft 0.5 %, net 1 %; no trip. The trace begins while running.
#[test]
fn energies_of_a_run_with_pieces() {
    let mut t = Tally::default();
    for m in &spread() {
        check(&mut t, m, PLAIN);
    }
    t.finish();
}

/// The same with the idle power learnt from three seconds of it.
#[test]
fn energies_with_idle_power_learnt() {
    let mut t = Tally::default();
    for m in &spread() {
        check(&mut t, m, Kind { set: false, ..PLAIN });
    }
    t.finish();
}

/// The same with the start before it.
#[test]
fn energies_of_a_start_and_a_run() {
    let mut t = Tally::default();
    for m in &spread() {
        check(&mut t, m, Kind { starts: true, ..PLAIN });
    }
    t.finish();
}

/// The same with pieces that strike: each is broken in 0.05 to 0.3 s, so that the current rises to 1.2 to 3 times rated
/// within a few half cycles. Losses go with its square, so that of its mean over an interval they would be far too low.
#[test]
fn energies_of_a_run_with_strikes() {
    let mut t = Tally::default();
    for m in &spread() {
        let highest = check(&mut t, m, Kind { burst_s: Span(0.05, 0.3), ..PLAIN });
        t.holds(&format!("{}: it is struck, {highest:.2} of rated current", m.name), highest > 1.2);
    }
    t.finish();
}
