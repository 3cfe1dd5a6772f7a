//! Tests of scenario files: what they leave out, what they lay over, what is refused.

use super::*;
use crate::plant::fault::Kind;
use crate::plant::feeder::Work;
use crate::plant::seed::Span;
use crate::plant::supply::{Bounce, Closed, Starter};
use crate::plant::transducer::Transducer;

fn parse(text: &str) -> Story {
    Story::parse("mine.toml", text).unwrap_or_else(|fault| panic!("{fault}"))
}

/// The whole text of a scenario tells the same scenario.
#[test]
fn what_is_shown_can_be_read_back() {
    for story in catalogue::all() {
        let text = story.text();
        let back = Story::parse(&story.name, &text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
        assert_eq!(back, story, "{text}");
        assert!(!story.about.is_empty() && story.about.len() < 120, "{}: {}", story.name, story.about);
    }
}

#[test]
fn nothing_said_is_the_usual_mill_running_empty() {
    let story = parse("");
    let Scenario { circuit, supply, mill, lead_s, .. } = &story.scenario;
    assert_eq!((circuit, mill), (&Circuit::default(), &Mill::default()));
    assert_eq!(supply.closed, [Closed::ALWAYS]);
    assert!((*lead_s - RUNNING_LEAD_S).abs() < 1e-9, "a mill that runs has been started");
    assert!(parse("supply.closed = [{ from_s = 2 }]").scenario.lead_s.abs() < 1e-9);
}

/// What the electrical side can do besides is asked for by key, and is shown again.
#[test]
fn transducers_faults_heating_bounce_and_a_lost_belt_can_be_asked_for() {
    let text = "mill.belt_lost_s = 9\nsupply.capacitors_kvar = 12.5\nsupply.bounce = { count = 3, within_s = 0.005 }\n\
        [heating]\nambient_c = 35\n\
        [sensor]\ntransducers = [{}, {}, {}, { phase_deg = 0.5 }, { skew_us = 12 }, { ratio_error_pct = -1 }]\n\
        faults = [{ channel = 3, kind = \"dead\", from_s = 4 }, { channel = 4, kind = { scaled = 2 }, from_s = 1, until_s = 2 }]";
    let story = parse(text);
    let Scenario { mill, supply, heating, sensor, .. } = &story.scenario;
    assert_eq!((mill.belt_lost_s, supply.bounce), (Some(9.0), Some(Bounce { count: 3, within_s: 0.005 })));
    assert_eq!(*heating, Some(Heating { ambient_c: 35.0, ..Heating::default() }));
    assert_eq!(sensor.transducers[3], Transducer { phase_deg: 0.5, ..Transducer::default() });
    assert_eq!((sensor.faults[0].kind, sensor.faults[1].kind), (Kind::Dead, Kind::Scaled(2.0)));
    assert!(sensor.faults[0].until_s.is_infinite() && supply.capacitors_kvar > 12.0);
    assert_eq!(Story::parse("mine.toml", &story.text()).unwrap_or_else(|fault| panic!("{fault}")), story);
    for wrong in ["supply.bounce = { count = 99, within_s = 0.005 }", "supply.capacitors_kvar = -1", "heating.cage = 3"]
    {
        assert!(Story::parse("mine.toml", wrong).is_err(), "{wrong}");
    }
}

#[test]
fn keys_are_laid_over_those_of_the_scenario_it_is_like() {
    let base = parse("like = \"hand-fed\"");
    assert_eq!(base.scenario, catalogue::find("hand-fed").unwrap().scenario);
    let text = "like = \"worn-hammers\"\nmotor.rotor_ohm = 0.05\nmill.hand.material.mass_kg = [1, 2]\n\
        supply.starter.star-delta = { star_s = 3, pause_s = 0.1 }\n\
        mill.hand.material.work.kick = { toughness_kj_kg = [50, 90], size_mm = [80, 90] }";
    let story = parse(text);
    let hand = story.scenario.mill.hand.unwrap();
    assert_eq!(hand.material.mass_kg, Span(1.0, 2.0));
    assert_eq!(hand.material.burst_s, base.scenario.mill.hand.unwrap().material.burst_s);
    // A choice is replaced whole.
    assert!(matches!(hand.material.work, Work::Kick { .. }));
    assert_eq!(story.scenario.supply.starter, Starter::StarDelta { star_s: 3.0, pause_s: 0.1 });
    assert_eq!(story.scenario.circuit, Circuit { rotor_ohm: 0.05, ..Circuit::default() });
}

#[test]
fn slips_are_told_with_their_place_and_what_is_wanted() {
    for (text, words) in [
        ("duration_s = ", &["line 1", "a scenario (TOML)"][..]),
        ("\nmill.wegde = {}", &["line 2", "unknown field `wegde`", "`wedge`"]),
        ("like = \"hand-fed\"\n\nmill.hand.speed = 1", &["line 3", "`speed`", "interval_s"]),
        ("duration_s = \"long\"", &["line 1, key duration_s: invalid type", "f64"]),
        (
            "like = \"hand-fed\"\nsupply.closed = [{ from_s = 0 }]\n[mill.hand]\nfrom_s = \"soon\"",
            &["line 4, key mill.hand.from_s: invalid type", "f64"],
        ),
        ("like = \"hand-fed\"\n\nmill.hand = 3", &["line 3, key mill.hand: invalid type"]),
        ("like = \"sag\"\nsupply.sags = [{ from_s = true }]", &["line 2, key supply.sags", "invalid type"]),
        ("like = \"wegde\"", &["key like", "no scenario 'wegde'", "--list"]),
        ("like = 3", &["key like", "3"]),
        ("rate_hz = 0", &["key rate_hz", "0", "2000 to 16000"]),
        ("supply.drifts = [{ from_s = -inf, until_s = 1, by_hz = 1 }]", &["key supply.drifts.from_s", "-inf"]),
        ("supply.sags = [{ from_s = nan, until_s = 1, ramp_s = 0, depth = 0.1 }]", &["key supply.sags.from_s", "NaN"]),
        ("supply.closed = [{ from_s = 5, until_s = 2 }]", &["key supply.closed.until_s", "5 to inf"]),
        ("supply.starter.soft = { from_deg = 170, ramp_s = 1 }", &["from_deg", "0 to 119"]),
        ("supply.unbalance = { share = 50, phase_rad = 0 }", &["key supply.unbalance.share"]),
        ("like = \"hand-fed\"\nmill.hand.from_s = -inf", &["key mill.hand.from_s", "-3600"]),
        ("mill.wedge = { at_s = 0, rise_s = 0.1, torque_nm = 1e8 }", &["key mill.wedge.torque_nm", "100000000"]),
        (
            "mill.lumps = [{ at_s = 1, length_s = 0.1, edge_s = 0.06, torque_nm = 9 }]",
            &["key mill.lumps.edge_s", "0.05"],
        ),
        ("mill.inertia_kg_m2 = 0", &["key mill.inertia_kg_m2", "0.001"]),
        ("motor.pole_pairs = 1.5", &["key motor.pole_pairs", "1, 2, 3"]),
        ("trips.jam_s = -1", &["key trips.jam_s", "0 to 36000"]),
        ("sensor.current.bits = 12", &["key sensor.current.bits", "wanted: 16"]),
        ("like = \"hand-fd\"", &["key like", "'hand-fed' is near"]),
        ("about = \"at_s\"\nlike = \"wedge\"\n# wedge\nmill.wedge.at = 3", &["line 4", "unknown field `at`"]),
        ("duration_s = nan", &["key duration_s", "NaN"]),
        ("motor.rotor_ohm = -1", &["key motor.rotor_ohm", "-1"]),
        ("rated_kw = 900", &["key rated_kw", "does not bear", "125 %"]),
        ("like = \"hand-fed\"\nmill.hand.interval_s = [0, 0]", &["key mill.hand.interval_s", "0.01"]),
        ("like = \"hand-fed\"\nmill.hand.interval_s = [2, 1]", &["key mill.hand.interval_s", "2 to"]),
        ("like = \"belt-fed\"\nmill.belt.scale_m = 9", &["key mill.belt.scale_m", "0 to 3"]),
        ("supply.losses = [{ place = \"here\", phase = \"a\", from_s = 1 }]", &["`here`", "motor"]),
        ("[sensor.voltage]\nbits = 99", &["key sensor.voltage.bits", "12 to 24"]),
    ] {
        let fault = Story::parse("mine.toml", text).unwrap_err().to_string();
        assert!(fault.contains("mine.toml"), "{fault}");
        for word in words {
            assert!(fault.contains(word), "'{text}' lacks '{word}': {fault}");
        }
    }
}

#[test]
fn a_file_that_is_none_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let binary = folder.path().join("b.toml");
    std::fs::write(&binary, [0xff, 0xfe, 0]).unwrap();
    assert!(Story::read(&binary).unwrap_err().to_string().contains("it is no text"));
    assert!(Story::read(&folder.path().join("none.toml")).unwrap_err().to_string().contains("no such file"));
    let long = folder.path().join("long.toml");
    std::fs::write(&long, "#".repeat(1 << 21)).unwrap();
    assert!(Story::read(&long).unwrap_err().to_string().contains("longer than a megabyte"));
}
