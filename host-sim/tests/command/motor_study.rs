//! The recorded load on other motors, on the command line.

use super::*;

/// The demo, replayed into a folder.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let mut replay = demo(&["--out"]);
    replay.arg(folder.path().join("demo"));
    assert_eq!(run(replay).0, Some(0));
    folder
}

fn study(folder: &Path, words: &[&str]) -> Command {
    let mut command = shaftwork(&["motor-study"]);
    command.arg(folder.join("demo")).arg("--settings").arg(at("examples/demo/settings.toml"));
    command.arg("--motors").arg(at("examples/demo/motors.toml")).args(words);
    command
}

/// One thread or two, CSV or Parquet: the same figures. The page opens without a network.
#[test]
fn the_result_is_the_same_whatever_the_threads() {
    let folder = folder();
    let with = |threads: &str, out: &str| {
        let mut command = study(folder.path(), &["--json", "-", "--out"]);
        command.arg(folder.path().join(out)).env("RAYON_NUM_THREADS", threads);
        let (status, text, err) = run(command);
        assert_eq!((status, err.as_str()), (Some(0), ""));
        (
            text,
            ["motors.html", "motors.csv"]
                .map(|file| std::fs::read_to_string(folder.path().join(out).join(file)).unwrap()),
        )
    };
    let one = with("1", "one");
    assert_eq!(one, with("2", "two"));
    let (page, csv) = (&one.1[0], &one.1[1]);
    assert!(!page.contains("http:") && !page.contains("https:") && !page.contains("src="));
    assert!(page.contains("75 kW") && page.contains("<polyline class=\"line-4\""));
    assert_eq!(csv.lines().count(), 5);
    let document: serde_json::Value = serde_json::from_str(&one.0).unwrap();
    assert_eq!(document["motors"].as_array().unwrap().len(), 4);
    let check = document["check_pct"].as_f64().unwrap();
    assert!(check.abs() < 2.0, "the recorded motor's own energy: {check} %");
    std::fs::remove_file(folder.path().join("demo/intervals.parquet")).unwrap();
    let (status, text, _) = run(study(folder.path(), &["--csv", "-"]));
    assert_eq!((status, text.lines().count()), (Some(0), 5));
    let cells = |text: &str| {
        text.lines().map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>()).collect::<Vec<_>>()
    };
    for (parquet, text) in cells(csv).iter().zip(cells(&text)).skip(1) {
        assert_eq!(parquet.len(), text.len());
        for (a, b) in parquet.iter().zip(&text) {
            // Parquet keeps seven digits of what was measured.
            let near = |a: f64, b: f64| (a - b).abs() <= 1e-4 * a.abs().max(1.0);
            assert!(a == b || near(a.parse().unwrap(), b.parse().unwrap()), "{a} {b}");
        }
    }
}

#[test]
fn the_table_says_which_motor() {
    let folder = folder();
    let (status, out, err) = run(study(folder.path(), &[]));
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.contains("would have done it, the smallest of 4 motors"), "{out}");
    assert!(out.is_ascii() && out.lines().all(|line| line.len() <= 80), "{out}");
}

#[test]
fn what_is_wrong_is_told_with_its_cure() {
    let folder = folder();
    let mut minutes = shaftwork(&["motor-study"]);
    minutes.arg(folder.path().join("demo/minutes.csv")).arg("--settings").arg(at("examples/demo/settings.toml"));
    minutes.arg("--motors").arg(at("examples/demo/motors.toml"));
    let (status, _, err) = run(minutes);
    assert_eq!(status, Some(1));
    assert!(err.contains("no column shaft_w") && err.contains("to mend it"), "{err}");
    let mut over = study(folder.path(), &["--csv"]);
    over.arg(folder.path().join("demo/intervals.parquet"));
    let (status, _, err) = run(over);
    assert_eq!(status, Some(2));
    assert!(err.contains("is an input, and --csv would write over it"), "{err}");
    let (status, _, err) = run(study(folder.path(), &["--csv", "-", "--json", "-"]));
    assert_eq!(status, Some(2), "{err}");
    std::fs::create_dir(folder.path().join("empty")).unwrap();
    let mut empty = shaftwork(&["motor-study"]);
    empty.arg(folder.path().join("empty")).arg("--settings").arg(at("examples/demo/settings.toml"));
    empty.arg("--motors").arg(at("examples/demo/motors.toml"));
    let (status, _, err) = run(empty);
    assert_eq!(status, Some(1));
    assert!(err.contains("holds no intervals of a replay") && err.contains("to mend it"), "{err}");
}

/// The same jam on two days, a day apart: twice the recorded trip, and the load of one day. A log is not read twice.
#[test]
fn days_are_days() {
    let folder = folder();
    let header = std::fs::read_to_string(at("examples/demo/mill.cfg")).unwrap();
    std::fs::copy(at("examples/demo/mill.dat"), folder.path().join("mill.dat")).unwrap();
    std::fs::write(folder.path().join("mill.cfg"), header.replace("02/03/2026", "03/03/2026")).unwrap();
    let next = folder.path().join("next").display().to_string();
    let settings = at("examples/demo/settings.toml").display().to_string();
    let trace = folder.path().join("mill.cfg").display().to_string();
    assert_eq!(run(shaftwork(&["replay", &trace, "--settings", &settings, "--out", &next])).0, Some(0));
    let json = |words: &[&str]| -> serde_json::Value {
        let mut command = study(folder.path(), &["--json", "-"]);
        command.args(words);
        let (status, text, err) = run(command);
        assert_eq!((status, err.as_str()), (Some(0), ""));
        serde_json::from_str(&text).unwrap()
    };
    let (one, two) = (json(&[]), json(&[&next]));
    let trips = |document: &serde_json::Value| document["motors"][0]["trips"].as_array().unwrap().len();
    assert_eq!((trips(&one), trips(&two)), (1, 2), "{two}");
    for key in ["rms_load_pct", "p95_load_pct", "max_thermal_pct", "gross_kwh_per_t"] {
        for motor in 0..4 {
            let [a, b] = [&one, &two].map(|document| document["motors"][motor][key].as_f64().unwrap());
            assert!((a / b - 1.0).abs() < 0.02, "{key} of motor {motor}: {a} {b}");
        }
    }
    let mut twice = study(folder.path(), &[]);
    twice.arg(folder.path().join("demo/intervals.csv"));
    let (status, _, err) = run(twice);
    assert_eq!(status, Some(1));
    assert!(err.contains("named twice") && err.contains("to mend it"), "{err}");
}
