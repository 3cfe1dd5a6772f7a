//! A no-load test from the model to the settings, by the command alone.

use super::{run, shaftwork};

/// The motor alone, at four voltages.
const STEPS: &str = "about = \"a\"\nduration_s = 14.0\nmill = { inertia_kg_m2 = 0.001, windage_nm_s2 = 0.0 }\nsupply.sags = [\n\
    { from_s = 3.5, until_s = 99.0, ramp_s = 0.2, depth = 0.4 },\n{ from_s = 7.0, until_s = 99.0, ramp_s = 0.2, depth = 0.15 },\n\
    { from_s = 10.5, until_s = 99.0, ramp_s = 0.2, depth = 0.15 },\n]\n";

#[test]
fn from_a_trace_to_settings_that_are_sound() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let name = |name: &str| at(name).display().to_string();
    std::fs::write(at("steps.toml"), STEPS).unwrap();
    let (status, _, err) = run(shaftwork(&["synth", &name("steps.toml"), "--out", &name("a.cfg")]));
    assert_eq!(status, Some(0), "{err}");
    let (trace, settings, new, svg) = (name("a.cfg"), name("a.settings.toml"), name("new.toml"), name("a.svg"));
    let plain = ["learn-no-load", &trace, "--settings", &settings];
    let with = |more: &[&str]| run(shaftwork(&[&plain[..], more].concat()));
    let before = std::fs::read_to_string(&settings).unwrap();

    let (status, out, err) = with(&["--out", &new, "--svg", &svg, "--json", "-"]);
    assert_eq!((status, err.as_str()), (Some(0), ""));
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((json["format"].as_str(), json["split"].as_str()), (Some("shaftwork-no-load/1"), Some("line")));
    // The model's friction is 310 W; how near is the matter of a test of the library.
    let friction = json["friction_loss_w"].as_f64().unwrap();
    assert!((300.0..320.0).contains(&friction), "{friction}");
    let written = std::fs::read_to_string(&new).unwrap();
    assert!(written.contains(&format!("friction_loss_w = {friction:?}")), "{written}");
    let kept = |line: &&str| !line.starts_with("core_loss_w") && !line.starts_with("friction_loss_w");
    assert_eq!(written.lines().filter(kept).collect::<Vec<_>>(), before.lines().collect::<Vec<_>>());
    assert!(std::fs::read_to_string(&svg).unwrap().starts_with("<svg"));
    let (status, out, _) = run(shaftwork(&["check-settings", &new]));
    assert!(status == Some(0) && out.contains("[expected error]") && out.contains("friction_loss_w"), "{out}");

    // The settings are never written over, and nothing is read twice from a pipe.
    let (status, _, err) = with(&["--out", &settings]);
    assert!(status == Some(2) && err.contains("is an input, and --out would write over it"), "{err}");
    let (status, _, err) = run(shaftwork(&["learn-no-load", &trace, "--settings", "-", "--out", &new]));
    assert!(status == Some(2) && err.contains("give them as a file"), "{err}");
    let (status, _, err) = with(&["--winding-c", "warm"]);
    assert!(status == Some(2) && err.contains("degrees Celsius, -50 to 200"), "{err}");
    assert_eq!(std::fs::read_to_string(&settings).unwrap(), before);
}

/// The mill on the belt: place, what was found, what was wanted, the cure; and nothing is written.
#[test]
fn a_mill_on_the_belt_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let name = |name: &str| folder.path().join(name).display().to_string();
    let (status, ..) = run(shaftwork(&["synth", "idle", "--duration-s", "4", "--out", &name("a.csv")]));
    assert_eq!(status, Some(0));
    let (new, settings, trace) = (name("new.toml"), name("a.settings.toml"), name("a.csv"));
    let (status, out, err) = run(shaftwork(&["learn-no-load", &trace, "--settings", &settings, "--out", &new]));
    assert_eq!((status, out.as_str()), (Some(1), ""));
    for part in [&*trace, " s: ", "the motor drives something", "wanted: at most", "to mend it: take the belt off"] {
        assert!(err.contains(part), "{part}: {err}");
    }
    assert!(!std::path::Path::new(&new).exists());
}
