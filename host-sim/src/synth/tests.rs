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
    };
    make(catalogue::find(name).expect("it is in the catalogue"), &args, out)
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
    for named in &catalogue::ALL {
        let out = folder.path().join(format!("{}.cff", named.name));
        let made = synth(named.name, &out, 2.0, 1).unwrap();
        assert_eq!(made.len(), 3, "{made:?}");
        let settings = std::fs::read_to_string(out.with_extension("settings.toml")).unwrap();
        assert!(crate::settings::parse(&settings, "s.toml").is_ok(), "{settings}");
        let truth = std::fs::read_to_string(out.with_extension("truth.json")).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
        assert_eq!((truth["scenario"].as_str(), truth["duration_s"].as_f64()), (Some(named.name), Some(2.0)));
        assert_eq!(truth["moments"].as_array().unwrap().len(), 20);
        assert!(values(&out).iter().all(|column| column.len() == 4_000), "{}", named.name);
    }
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

#[test]
fn another_ending_is_wrong_usage_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let error = synth("idle", &folder.path().join("a.wav"), 1.0, 1).unwrap_err();
    assert!(error.is::<Usage>() && error.to_string().contains("'.wav'"), "{error}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
