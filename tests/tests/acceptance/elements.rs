//! The elements that are off unless given, over the catalogue's scenarios and over faults put into one: who speaks, when, and who must not.
//!
//! The plant's motor is checked in its own tests; what a lost line or a dead transformer does to the sequences is Fortescue's.

use shaftwork_acceptance::hear::{Story, hear};
use shaftwork_core::{Cause, EventKind};

const ALL: &str = "
[trip.overvoltage]
pickup_pct = 115
delay_s = 1
[trip.phase_reversal]
[trip.current_unbalance]
pickup_pct = 30
delay_s = 1
[trip.residual_current]
pickup_pct = 20
delay_s = 0.2
[trip.underload]
pickup_pct = 50
delay_s = 2
[trip.sensor_fault]
[trip.starts_per_hour]
most = 5
";

fn with_all(text: String) -> String {
    text + ALL
}

/// What the further elements said: when, which, whether it began; trips of the five left out.
fn said(story: &Story) -> Vec<(f64, Cause, bool)> {
    let further = |cause| {
        !matches!(
            cause,
            Cause::ThermalOverload | Cause::Jam | Cause::LongStart | Cause::PhaseLoss | Cause::Undervoltage
        )
    };
    let heard = &story.heard;
    let told = heard.events.iter().filter_map(|event| {
        let (cause, begins) = match event.kind {
            EventKind::Trip { cause, .. } | EventKind::Alarm { cause, .. } => (cause, true),
            EventKind::AlarmEnds { cause, .. } => (cause, false),
            _ => return None,
        };
        further(cause).then(|| (heard.seconds(event.at.0), cause, begins))
    });
    told.collect()
}

/// Honest work, starts of every kind, sags and jams: none of them speaks. A lost line is unbalance and no sensor's fault.
#[test]
fn who_must_not_speak_does_not() {
    for name in [
        "idle",
        "hand-fed",
        "belt-fed",
        "choke",
        "cold-start",
        "hot-restart",
        "star-delta-start",
        "star-delta-inside",
        "soft-start",
        "light-start",
        "sag",
        "rough-mains",
        "wedge",
        "light-jam",
        "worn-hammers",
        "no-load",
        "demo",
    ] {
        let story = hear(name, with_all, 45.0, |_, _| ());
        assert_eq!(said(&story), [], "{name}");
    }
    for name in ["lost-phase", "lost-phase-upstream"] {
        let story = hear(name, with_all, 20.0, |_, _| ());
        assert!(matches!(said(&story)[..], [(_, Cause::CurrentUnbalance, true)]), "{name}: {:?}", said(&story));
    }
}

/// From 10 s on the transformer of one phase is dead: feed stop within five cycles.
#[test]
fn a_dead_transformer() {
    let story = hear("dead-sensor", with_all, 12.0, |_, _| ());
    let [(at, Cause::SensorFault, true)] = said(&story)[..] else { panic!("{:?}", said(&story)) };
    assert!((10.0..10.1).contains(&at), "{at}");
    assert_eq!(story.heard.trips(), [], "the five are not fooled within this time");
}

/// From 16 s on a transformer inside the delta is dead. An open winding looks alike (the lines' negative sequence is half the positive one,
/// own arithmetic): it is told as unbalance, which may trip, and not taken for a sensor's fault, which would block it.
#[test]
fn a_dead_transformer_inside_the_delta() {
    let story = hear("star-delta-inside", with_all, 24.0, |t_s, readings| {
        if t_s >= 16.0 {
            readings[3] = 0.0;
        }
    });
    assert!(matches!(said(&story)[..], [(at, Cause::CurrentUnbalance, true)] if at > 16.0), "{:?}", said(&story));
}

/// From 20 s on the motor runs alone: two seconds of delay, and some to be at that power.
#[test]
fn a_lost_belt() {
    let story = hear("lost-belt", with_all, 40.0, |_, _| ());
    let [(at, Cause::Underload, true)] = said(&story)[..] else { panic!("{:?}", said(&story)) };
    assert!((22.0..24.0).contains(&at), "{at}");
}

/// Faults put into a mill that is fed by hand, from 5 s on: each is told, by whom it should be, within its delay and five cycles.
#[test]
fn faults_of_channels_and_supply() {
    type Change = fn(&mut [f64; 6]);
    let faults: [(&str, Cause, f64, Change); 9] = [
        ("a voltage missing", Cause::SensorFault, 0.06, |r| r[1] = 0.0),
        ("a voltage stuck", Cause::SensorFault, 0.06, |r| r[2] = 123.0),
        ("all voltages missing", Cause::SensorFault, 0.06, |r| r[..3].fill(0.0)),
        ("a current missing", Cause::SensorFault, 0.06, |r| r[4] = 0.0),
        ("a current stuck", Cause::SensorFault, 0.06, |r| r[5] = 40.0),
        ("a voltage twice as large", Cause::SensorFault, 0.06, |r| r[0] *= 2.0),
        ("an eighth too much voltage", Cause::Overvoltage, 1.0, |r| r[..3].iter_mut().for_each(|v| *v *= 1.18)),
        ("currents and voltages of two phases swapped", Cause::PhaseReversal, 0.1, |r| {
            r.swap(0, 1);
            r.swap(3, 4);
        }),
        ("a third of a current through the frame", Cause::ResidualCurrent, 0.2, |r| r[3] *= 1.9),
    ];
    for (what, cause, delay_s, change) in faults {
        let story = hear("hand-fed", with_all, 8.0, |t_s, readings| {
            if t_s >= 5.0 {
                change(readings);
            }
        });
        let all = said(&story);
        let first = all.iter().find(|(_, found, _)| *found == cause);
        let Some((at, ..)) = first else { panic!("{what}: {all:?}") };
        assert!((5.0..5.1 + delay_s).contains(at), "{what}: {all:?}");
    }
}

/// A current that sticks at a large value looks like one to the elements that keep the direct component: its fault is told first, before the
/// jam's delay is over.
#[test]
fn a_stuck_current_is_told_before_it_can_trip() {
    let story = hear("idle", with_all, 8.0, |t_s, readings| {
        if t_s >= 5.0 {
            readings[3] = 500.0;
        }
    });
    let [(at, Cause::SensorFault, true)] = said(&story)[..] else { panic!("{:?}", said(&story)) };
    assert!((5.0..5.1).contains(&at), "{at}");
    let [(Cause::Jam, tripped)] = story.heard.trips()[..] else { panic!("{:?}", story.heard.trips()) };
    assert!(tripped > at, "what nobody can tell from a jam is taken for one: fail safe");
}

/// A start by star-delta and one by a soft starter that are given less time than they take: caught at the delay, whatever the current.
#[test]
fn starts_at_lowered_voltage_that_take_too_long() {
    for name in ["star-delta-start", "star-delta-inside", "soft-start", "cold-start"] {
        let honest = hear(name, |text| text, 25.0, |_, _| ());
        let (onset, up) = honest.heard.starts()[0];
        let [takes_s, _] = up.expect("it runs up");
        assert_eq!(honest.heard.trips(), [], "{name}");
        let delay_s = (takes_s * 0.6).round();
        let short = |text: String| {
            let (head, tail) = text.split_once("[trip.long_start]").expect("the table is there");
            let rest = tail.split_once("[trip.phase_loss]").expect("the next one is there").1;
            format!("{head}[trip.long_start]\ndelay_s = {delay_s:?}\n\n[trip.phase_loss]{rest}")
        };
        let caught = hear(name, short, onset + delay_s + 1.0, |_, _| ());
        let [(Cause::LongStart, at)] = caught.heard.trips()[..] else { panic!("{name}: {:?}", caught.heard.trips()) };
        // To the frame: at the very end of the delay three doubles leave some 1e-15 s of either sign.
        let late_frames = ((at - onset - delay_s) * 4_000.0).round();
        assert!((0.0..160.0).contains(&late_frames), "{name}: {at} s, {delay_s} s after {onset} s");
    }
}
