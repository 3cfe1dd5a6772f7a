//! Current transformers inside the delta beside transformers in the lines: the same motor, day and converter, and what the core makes of
//! either.
//!
//! Line currents as differences of the windings' are Kirchhoff's first law; that a star-delta starter's transformers inside the delta see
//! 0.58 of the line's current is in every handbook of starters (from memory; IEC 60947-4-1 has the starter).

use shaftwork_acceptance::rig::{Heard, Listening};
use shaftwork_core::{Cause, Moment};
use shaftwork_sim::plant::run;
use shaftwork_sim::plant::sensor::CurrentTap;
use shaftwork_sim::settings;
use shaftwork_sim::synth::story::Story;
use std::convert::Infallible;

/// A story through the core, with the transformers in one place.
fn heard(text: &str, tap: CurrentTap) -> Heard {
    let mut story = Story::parse("story", text).unwrap_or_else(|fault| panic!("{fault}"));
    story.scenario.sensor.current_tap = tap;
    let text = story.settings();
    let (settings, _) = settings::parse(&text, "story").unwrap_or_else(|faults| panic!("{faults}"));
    let mut core = Listening::to(&settings, story.scenario.rate_hz);
    let Ok(_) = run(&story.scenario, 1, |frame| {
        let [va, vb, vc, ia, ib, ic, _] = frame.reading;
        core.take([va, vb, vc, ia, ib, ic]);
        Ok::<(), Infallible>(())
    });
    core.finish()
}

/// How far the two are from each other.
#[derive(Debug, Default)]
struct Apart {
    /// Of a phase's one-cycle rms, A, in any half cycle.
    amps: f64,
    /// Of active power, kW, in any half cycle.
    kw: f64,
    /// Of electrical energy and energy in starts, shares.
    energy: f64,
    start: f64,
    /// Half cycles whose state is not the same.
    states: usize,
}

/// By how much the phases' one-cycle rms differ in a half cycle at most, A.
fn amps([a, b]: [&Moment; 2]) -> f64 {
    let rms = |k: usize| [a, b].map(|m| f64::from(m.half_cycle.current[k].root().to_bits()) / 131_072.0);
    [0, 1, 2].map(rms).into_iter().map(|[a, b]| (a - b).abs()).fold(0.0, f64::max)
}

fn apart(line: &Heard, inside: &Heard) -> Apart {
    assert_eq!(line.moments.len(), inside.moments.len());
    let mut apart = Apart::default();
    for (a, b) in line.moments.iter().zip(&inside.moments) {
        apart.amps = apart.amps.max(amps([a, b]));
        let [a_kw, b_kw] = [a, b].map(|m| m.half_cycle.active.to_bits() as f64 / 65_536.0 / 1e3);
        apart.kw = apart.kw.max((a_kw - b_kw).abs());
        apart.states += usize::from(a.state != b.state);
    }
    let share = |a: f64, b: f64| if a == 0.0 { (a - b).abs() } else { (b / a - 1.0).abs() };
    let (a, b) = (line.row(), inside.row());
    apart.energy = share(a.electrical_kwh, b.electrical_kwh);
    apart.start = share(a.start_kwh, b.start_kwh);
    apart
}

/// A start, as it is changed, and the trips that are due.
type Case = (&'static str, &'static str, &'static [Cause]);

/// Starters whose pause is seen, and one without any.
const SEEN: [Case; 12] = [
    ("a start", "like = \"star-delta-start\"", &[]),
    ("a bare contactor", "like = \"cold-start\"\nduration_s = 10", &[]),
    (
        "running on dirty mains",
        "like = \"rough-mains\"\nduration_s = 45\nsupply.starter.star-delta = { star_s = 4, pause_s = 0.05 }",
        &[],
    ),
    (
        "a start on dirty mains",
        "like = \"star-delta-start\"\n\
         supply.impedance = { ohm = 0.012, henry = 3e-5 }\n\
         supply.unbalance = { share = 0.02, phase_rad = 0.6 }\n\
         supply.harmonics = [{ order = 5, share = 0.05, phase_rad = 1.0 }, { order = 7, share = 0.03, phase_rad = 2.0 }]",
        &[],
    ),
    (
        "a line lost in delta",
        "like = \"star-delta-start\"\nduration_s = 20\n\
         supply.losses = [{ place = \"motor\", phase = \"a\", from_s = 15.0 }]",
        &[Cause::PhaseLoss],
    ),
    (
        "a line lost before a transformer",
        "like = \"star-delta-start\"\nduration_s = 20\n\
         supply.losses = [{ place = \"upstream\", phase = \"b\", from_s = 15.0 }]",
        &[Cause::PhaseLoss],
    ),
    (
        "a line lost in star",
        "like = \"star-delta-start\"\nduration_s = 8\n\
         supply.losses = [{ place = \"motor\", phase = \"a\", from_s = 5.0 }]",
        &[Cause::PhaseLoss],
    ),
    ("a long pause", "like = \"star-delta-start\"\nsupply.starter.star-delta = { star_s = 8, pause_s = 0.15 }", &[]),
    ("a short pause", "like = \"star-delta-start\"\nsupply.starter.star-delta = { star_s = 8, pause_s = 0.03 }", &[]),
    ("run up in star", "like = \"star-delta-start\"\nmill.inertia_kg_m2 = 2.6", &[]),
    (
        "a stalled start",
        "like = \"star-delta-start\"\nduration_s = 20\n\
         mill.wedge = { at_s = 2.5, rise_s = 0.3, torque_nm = 3000.0 }",
        &[Cause::LongStart],
    ),
    (
        "a wedge while running",
        "like = \"wedge\"\nsupply.starter.star-delta = { star_s = 4, pause_s = 0.05 }",
        &[Cause::Jam],
    ),
];

/// Every half cycle within a count of the converter (0.045 A, in a line the noise of two) and 10 W, energy within 5 millionths, every
/// state and trip at the same half cycle.
#[test]
fn what_is_measured_inside_is_what_the_lines_carry() {
    for (name, text, due) in SEEN {
        let [line, inside] = [CurrentTap::Line, CurrentTap::DeltaAb].map(|tap| heard(text, tap));
        let apart = apart(&line, &inside);
        assert!(apart.amps < 0.045 && apart.kw < 0.01 && apart.states == 0, "{name}: {apart:?}");
        assert!(apart.energy < 5e-6 && apart.start < 5e-6, "{name}: {apart:?}");
        assert_eq!(line.trips(), inside.trips(), "{name}");
        assert_eq!(inside.trips().iter().map(|(cause, _)| *cause).collect::<Vec<_>>(), due, "{name}");
        let ups = |heard: &Heard| heard.starts().into_iter().map(|(onset_s, up)| (onset_s, up.map(|[s, _]| s)));
        for ((a_s, a), (b_s, b)) in ups(&line).zip(ups(&inside)) {
            assert!(
                (a_s - b_s).abs() < 1e-3 && (a.unwrap_or(0.0) - b.unwrap_or(0.0)).abs() < 1e-3,
                "{name}: {a:?} s, {b:?} s"
            );
        }
        assert_eq!(line.starts().len(), inside.starts().len(), "{name}");
    }
}

/// Starters that do not open in between, or for less than a cycle.
const UNSEEN: [(&str, &str); 4] = [
    ("a pause of 15 ms", "supply.starter.star-delta = { star_s = 8, pause_s = 0.015 }"),
    ("no pause", "supply.starter.star-delta = { star_s = 8, pause_s = 0.0 }"),
    ("no pause, far from speed", "supply.starter.star-delta = { star_s = 3, pause_s = 0.0 }"),
    ("no pause, run up in star", "mill.inertia_kg_m2 = 2.6\nsupply.starter.star-delta = { star_s = 8, pause_s = 0.0 }"),
];

/// Told by the leap of the current within 0.1 s; what is read too low until then is less than 0.2 % of a start's energy and 2 % of its
/// peak, and afterwards nothing is.
#[test]
fn a_change_that_is_not_seen_is_told_by_its_leap() {
    for (name, change) in UNSEEN {
        let text = format!("like = \"star-delta-start\"\n{change}");
        let [line, inside] = [CurrentTap::Line, CurrentTap::DeltaAb].map(|tap| heard(&text, tap));
        let far = apart(&line, &inside);
        assert!(far.energy < 2e-3 && far.start < 2e-3 && far.states == 0, "{name}: {far:?}");
        let both = line.moments.iter().zip(&inside.moments);
        let wrong = both.clone().filter(|(a, b)| amps([a, b]) > 0.045).count();
        assert!((1..=10).contains(&wrong), "{name}: {wrong} half cycles");
        let last = both.rev().take(500).map(|(a, b)| amps([a, b])).fold(0.0, f64::max);
        assert!(last < 0.045, "{name}: {last} A at the end");
        let peaks = |heard: &Heard| heard.starts().first().and_then(|start| start.1).expect("it runs up")[1];
        assert!((peaks(&inside) / peaks(&line) - 1.0).abs() < 0.02, "{name}");
        assert_eq!((line.trips(), inside.trips()), (vec![], vec![]), "{name}");
    }
}
