//! A motor that is only reckoned against the same motor in the plant model, under the same feed: the model integrates fluxes and the
//! shaft at a tenth of a millisecond, its waves go through the whole core.

use std::path::Path;

use clap::Parser as _;
use serde_json::Value;

use super::*;
use crate::cli::{Cli, Verb};
use crate::plant::circuit::Circuit;
use crate::synth::catalogue;
use crate::synth::story::Story;

/// Started at 5 s, fed by hand from 20 s on, at 2 kHz, with the 55 kW motor or one of the same make of another size.
fn story(kw: f64) -> Story {
    let mut story = catalogue::find("shift").unwrap();
    let k = kw / 55.0;
    let own = story.scenario.circuit;
    story.scenario.circuit = Circuit {
        stator_ohm: own.stator_ohm / k,
        stator_leakage_ohm: own.stator_leakage_ohm / k,
        magnetising_ohm: own.magnetising_ohm / k,
        rotor_leakage_ohm: own.rotor_leakage_ohm / k,
        rotor_ohm: own.rotor_ohm / k,
        stray_ohm: own.stray_ohm / k,
        core_siemens: own.core_siemens * k,
        friction_w: own.friction_w * k,
        ..own
    };
    story.rated_w = kw * 1e3;
    story.scenario.rate_hz = 2_000.0;
    story.scenario.lasts(80.0);
    story
}

/// As typed.
fn typed(words: &[&str]) -> Verb {
    Cli::try_parse_from(["shaftwork"].iter().chain(words)).unwrap().verb
}

/// Makes the trace of a motor and replays it; what the replay tells.
fn recorded(folder: &Path, kw: f64) -> Value {
    let at = |end: &str| folder.join(format!("m{kw}{end}")).display().to_string();
    std::fs::write(at(".toml"), story(kw).text()).unwrap();
    let Verb::Synth(synth) = typed(&["synth", &at(".toml"), "--seed", "3", "--out", &at(".cff")]) else { panic!() };
    crate::synth::run(&synth).unwrap();
    let words = ["replay", &at(".cff"), "--settings", &at(".settings.toml"), "--out", &at(""), "--json", &at(".json")];
    let Verb::Replay(replay) = typed(&words) else { panic!() };
    crate::replay::run(&replay.validate().unwrap()).unwrap();
    serde_json::from_str(&std::fs::read_to_string(at(".json")).unwrap()).unwrap()
}

/// The nameplate of a motor as a file of motors has it.
fn listed(kw: f64) -> String {
    let text = story(kw).settings();
    let (_, plate) = text.split_once("[motor]").unwrap();
    format!("[[motor]]\nname = \"{kw}\"{}\n", plate.split("\n[").next().unwrap())
}

fn studied(folder: &Path, sizes: &[f64]) -> Found {
    let settings = folder.join("m55.settings.toml");
    let base = crate::settings::load(&settings).unwrap().0;
    let text = std::fs::read_to_string(&settings).unwrap();
    let all: String = sizes.iter().map(|kw| listed(*kw)).collect();
    let motors = motors::all(&base, &text, "motors.toml", &all).unwrap();
    study(rows::named(&[folder.join("m55")]).unwrap(), motors).unwrap()
}

/// The bounds are those of this project's acceptance: no outside figures are known for the same load on two motors.
#[test]
fn another_motor_does_what_it_does_in_the_plant_model() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    recorded(folder, 55.0);
    let sizes = [45.0, 30.0];
    let found = studied(folder, &sizes);
    let off = found.off().unwrap();
    assert!(off.abs() < 0.01, "the recorded motor itself: {off}");
    for (n, kw) in sizes.into_iter().enumerate() {
        let truth = recorded(folder, kw);
        let (totals, load) = (&truth["totals"], &truth["load"]);
        let figures = &found.figures[n + 1];
        let pct = |name: &str| load[name].as_f64().unwrap();
        let close = |name: &str, found: f64, wanted: &Value, within: f64| {
            let wanted = wanted.as_f64().unwrap_or_else(|| panic!("{name} is not told: {truth}"));
            assert!((found - wanted).abs() <= within, "{kw} kW, {name}: {found} for {wanted}");
        };
        close("rms load, %", figures.rms().unwrap() * 100.0, &load["rms_pct"], 1.5);
        close("95 % of load", figures.p95().unwrap() * 100.0, &load["p95_pct"], 0.02 * pct("p95_pct"));
        close(
            "highest, 10 s",
            figures.peaks[1].unwrap() * 100.0,
            &load["highest_10s_pct"],
            0.02 * pct("highest_10s_pct"),
        );
        close("highest, 1 s", figures.peaks[0].unwrap() * 100.0, &load["highest_1s_pct"], 0.02 * pct("highest_1s_pct"));
        close("thermal image, %", figures.hottest.unwrap().0 * 100.0, &totals["max_thermal_pct"], 1.5);
        let kwh = &totals["electrical_kwh"];
        close("energy, kWh", figures.electrical_j / 3.6e6, kwh, 0.01 * kwh.as_f64().unwrap());
        let start = truth["events"].as_array().unwrap().iter().find(|event| event["event"] == "start").unwrap();
        let run_up_s = &start["duration_s"];
        close("run-up, s", figures.longest_run_up_s.unwrap(), run_up_s, 0.05 * run_up_s.as_f64().unwrap());
        // Trips of the same kind, to a few half cycles.
        let trips: Vec<(f64, &str)> = truth["events"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|event| event["event"] == "trip")
            .map(|event| (event["t_s"].as_f64().unwrap(), event["cause"].as_str().unwrap()))
            .collect();
        let own: Vec<(f64, &str)> =
            figures.trips.iter().map(|(t_s, cause)| (*t_s, crate::report::event::cause_name(*cause))).collect();
        assert_eq!(own.len(), trips.len(), "{kw} kW: {own:?} for {trips:?}");
        for (own, truth) in own.iter().zip(&trips) {
            assert!((own.0 - truth.0).abs() < 0.3 && own.1 == truth.1, "{kw} kW: {own:?} for {truth:?}");
        }
    }
    assert!(found.outcomes[0].does() && found.outcomes[1].does() && !found.outcomes[2].does(), "{:?}", found.outcomes);
    assert_eq!(found.smallest(), Some(1));
}
