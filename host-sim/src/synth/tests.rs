//! Tests of the verb, through its files.

use super::*;
use crate::trace::{self, Options, Rows};

fn synth(name: &str, out: &Path, duration_s: f64, seed: u64) -> anyhow::Result<Vec<String>> {
    let args = cli::Synth {
        scenario: Some(name.to_owned()),
        seed,
        out: Some(out.to_owned()),
        duration_s: Some(duration_s),
        rate_hz: Some(2_000.0),
        list: false,
        show: false,
    };
    make(&told(name)?, &args, out)
}

/// All values of a trace.
fn values(path: &Path) -> Vec<Vec<f64>> {
    let options = Options { rate_hz: Some(2_000.0), ..Options::default() };
    let mut reader = trace::open(&path.display().to_string(), &options).unwrap();
    let (mut rows, mut all) = (Rows::new(), vec![Vec::new(); reader.meta().channels.len()]);
    while reader.read(&mut rows).unwrap() > 0 {
        for (to, from) in all.iter_mut().zip(&rows.columns) {
            to.extend_from_slice(from);
        }
    }
    all
}

#[test]
fn every_scenario_makes_a_trace_that_its_settings_and_its_truth_belong_to() {
    let folder = tempfile::tempdir().unwrap();
    for name in catalogue::names() {
        let out = folder.path().join(format!("{name}.cff"));
        let made = synth(name, &out, 2.0, 1).unwrap();
        assert_eq!(made.len(), 3, "{made:?}");
        let settings = std::fs::read_to_string(out.with_extension("settings.toml")).unwrap();
        assert!(crate::settings::parse(&settings, "s.toml").is_ok(), "{settings}");
        let truth = std::fs::read_to_string(out.with_extension("truth.json")).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
        assert_eq!((truth["scenario"].as_str(), truth["duration_s"].as_f64()), (Some(name), Some(2.0)));
        assert_eq!(truth["moments"].as_array().unwrap().len(), 20);
        assert!(values(&out).iter().all(|column| column.len() == 4_000), "{name}");
    }
}

/// The states of a demo's moments come in the order in which its story tells them.
#[test]
fn the_truth_tells_states() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("demo.cff");
    synth("demo", &out, 54.0, 20_260_302).unwrap();
    let truth = std::fs::read_to_string(out.with_extension("truth.json")).unwrap();
    let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
    let moments = truth["moments"].as_array().unwrap();
    let at = |t: usize| moments[10 * t]["state"].as_str().unwrap();
    assert_eq!([1, 4, 12, 30, 53].map(at), ["stopped", "starting", "idle", "breaking", "coasting"]);
    assert!(moments.iter().all(|m| m["state"] != "idle" || m["t_s"].as_f64() < Some(46.0)));
}

/// COMTRADE has the codes' values, CSV three decimals: they agree within half of the last.
#[test]
fn all_forms_hold_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let [cfg, cff, csv] = ["a.cfg", "b.cff", "c.csv"].map(|name| folder.path().join(name));
    for out in [&cfg, &cff, &csv] {
        synth("hand-fed", out, 4.0, 7).unwrap();
    }
    let (cfg, cff, csv) = (values(&cfg), values(&cff), values(&csv));
    assert_eq!(cfg, cff);
    let apart = cfg.iter().flatten().zip(csv.iter().flatten()).fold(0.0, |most: f64, (a, b)| most.max((a - b).abs()));
    assert!(apart <= 0.000_5 + 1e-9 && cfg.len() == csv.len(), "{apart}");
    assert!(csv[6].last() > Some(&0.0), "mass was fed");
}

#[test]
fn a_seed_decides_every_byte() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = |name: &str, seed: u64| {
        let out = folder.path().join(name);
        synth("hand-fed", &out, 4.0, seed).unwrap();
        std::fs::read(out).unwrap()
    };
    assert_eq!(bytes("a.csv", 3), bytes("b.csv", 3));
    assert_ne!(bytes("c.csv", 4), bytes("d.csv", 3));
}

/// Threads share nothing: scenarios made at once are those made one after the other.
#[test]
fn threads_do_not_change_a_byte() {
    let folder = tempfile::tempdir().unwrap();
    let names: Vec<_> = catalogue::names().collect();
    let bytes = |name: &str, round: usize| {
        let out = folder.path().join(format!("{name}-{round}.cff"));
        synth(name, &out, 1.0, 9).unwrap();
        ["cff", "truth.json", "settings.toml"].map(|ending| std::fs::read(out.with_extension(ending)).unwrap())
    };
    let alone: Vec<_> = names.iter().map(|name| bytes(name, 0)).collect();
    let bytes = &bytes;
    let together: Vec<_> = std::thread::scope(|scope| {
        let made: Vec<_> = names.iter().map(|name| scope.spawn(move || bytes(name, 1))).collect();
        made.into_iter().map(|made| made.join().unwrap()).collect()
    });
    assert_eq!(alone, together);
}

#[test]
fn a_file_is_a_scenario_of_ones_own() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("mine.toml");
    std::fs::write(&file, "like = \"hand-fed\"\nmill.inertia_kg_m2 = 4.0\nmill.hand.from_s = 0.5\n").unwrap();
    let out = folder.path().join("mine.csv");
    synth(&file.display().to_string(), &out, 3.0, 1).unwrap();
    let settings = std::fs::read_to_string(out.with_extension("settings.toml")).unwrap();
    assert!(settings.contains("rotor_inertia_kg_m2 = 4.62"), "{settings}");
    assert!(values(&out)[6].last() > Some(&0.0), "mass was fed");
}

#[test]
fn another_name_is_wrong_usage_and_tells_one_that_is_near() {
    let error = told("wegde").unwrap_err();
    assert!(error.is::<Usage>() && error.to_string().contains("'wedge' is near"), "{error}");
}

#[test]
fn another_ending_is_wrong_usage_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let error = synth("idle", &folder.path().join("a.wav"), 1.0, 1).unwrap_err();
    assert!(error.is::<Usage>() && error.to_string().contains("'.wav'"), "{error}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// Runs the verb as the command does.
fn verb(scenario: &str, out: &Path) -> anyhow::Result<ExitCode> {
    run(&cli::Synth {
        scenario: Some(scenario.to_owned()),
        seed: 1,
        out: Some(out.to_owned()),
        duration_s: Some(1.0),
        rate_hz: None,
        list: false,
        show: false,
    })
}

/// Ones own scenario is no output, under whatever name.
#[test]
fn a_scenario_is_not_written_over() {
    let folder = tempfile::tempdir().unwrap();
    for (scenario, out) in [("x.settings.toml", "x.cff"), ("x.toml", "x.toml")] {
        let scenario = folder.path().join(scenario);
        std::fs::write(&scenario, "like = \"idle\"").unwrap();
        let error = verb(&scenario.display().to_string(), &folder.path().join(out)).unwrap_err();
        assert!(error.is::<Usage>(), "{error}");
        assert_eq!(std::fs::read_to_string(&scenario).unwrap(), "like = \"idle\"");
    }
}

/// Settings that somebody has changed stay, and it is said.
#[test]
fn settings_that_were_changed_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("jam.cff");
    synth("wedge", &out, 1.0, 1).unwrap();
    let settings = out.with_extension("settings.toml");
    let tuned = std::fs::read_to_string(&settings).unwrap().replace("delay_s = 0.5", "delay_s = 0.3");
    std::fs::write(&settings, &tuned).unwrap();
    let said = synth("wedge", &out, 1.0, 2).unwrap();
    assert!(said.iter().any(|line| line.contains("jam.settings.toml is kept")), "{said:?}");
    assert_eq!(std::fs::read_to_string(&settings).unwrap(), tuned);
}

/// A record has sixteen bits: a wider converter is refused before anything is written; a table takes it.
#[test]
fn wide_converters_go_into_a_table() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("wide.toml");
    std::fs::write(&file, "sensor.voltage.bits = 24\nsensor.current.bits = 24\nsupply.tap = \"motor\"").unwrap();
    let scenario = file.display().to_string();
    let error = verb(&scenario, &folder.path().join("wide.cff")).unwrap_err();
    assert!(error.is::<Usage>() && error.to_string().contains("16 bits"), "{error}");
    verb(&scenario, &folder.path().join("wide.csv")).unwrap();
    let settings = std::fs::read_to_string(folder.path().join("wide.settings.toml")).unwrap();
    assert!(settings.contains("bits = 24") && settings.contains("voltage_tap = \"motor\""), "{settings}");
}

#[test]
fn a_scale_that_ends_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("much.toml");
    std::fs::write(&file, "like = \"hand-fed\"\nsensor.mass.full_scale = 0.3\nmill.hand.from_s = 0.1").unwrap();
    let said = synth(&file.display().to_string(), &folder.path().join("much.csv"), 5.0, 1).unwrap();
    assert!(said.iter().any(|line| line.contains("ends at 0.3 kg")), "{said:?}");
}
