//! The same mill as samples and as a log of rms values: scenarios of the plant model, averaged row by row here.
//!
//! Figures of a row are root mean squares and means over its samples (textbook definitions); how far the two replays may
//! be apart is what docs/formats.md promises.

use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

use super::{at, run, shaftwork};

/// The columns of a log and, of each sample, what is summed: six squares and the power.
fn averaged(samples: &str, rate_hz: f64, rows_hz: f64) -> String {
    let mut lines = samples.lines().filter(|line| !line.starts_with('#'));
    let names: Vec<&str> = lines.next().unwrap().split(',').collect();
    let place = |name: &str| names.iter().position(|n| *n == name);
    let electrical = ["va_v", "vb_v", "vc_v", "ia_a", "ib_a", "ic_a"].map(|name| place(name).unwrap());
    let mass = place("mass_kg");
    let mut text =
        format!("t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,active_w{}\n", if mass.is_some() { ",mass_kg" } else { "" });
    let per_row = (rate_hz / rows_hz).round() as usize;
    let rows: Vec<Vec<f64>> = lines.map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect()).collect();
    for (n, row) in rows.chunks_exact(per_row).enumerate() {
        let mean = |of: &dyn Fn(&Vec<f64>) -> f64| row.iter().map(of).sum::<f64>() / per_row as f64;
        let _ = write!(text, "{:.3}", n as f64 / rows_hz);
        for at in electrical {
            let _ = write!(text, ",{:.4}", mean(&|sample| sample[at].powi(2)).sqrt());
        }
        let power = mean(&|s| (0..3).map(|k| s[electrical[k]] * s[electrical[k + 3]]).sum());
        let _ = write!(text, ",{power:.3}");
        if let Some(mass) = mass {
            let _ = write!(text, ",{:.4}", row[0][mass]);
        }
        text.push('\n');
    }
    text
}

/// The settings of samples, for a log.
fn for_rows(settings: &str, rows_hz: f64) -> String {
    let lines = settings.lines().filter(|line| !line.starts_with("bits") && !line.contains("full_scale"));
    let lines = lines.map(|line| match line {
        "[sampling]" => "[sampling]\nvalues = \"rms\"".to_owned(),
        line if line.starts_with("rate_hz") => format!("rate_hz = {rows_hz}"),
        line => line.to_owned(),
    });
    lines.collect::<Vec<_>>().join("\n")
}

fn replayed(folder: &Path, name: &str) -> Value {
    let file = |ending: &str| folder.join(format!("{name}.{ending}")).display().to_string();
    let (status, _, told) =
        run(shaftwork(&["replay", &file("csv"), "--settings", &file("settings.toml"), "--json", &file("json")]));
    assert_eq!(status, Some(0), "{told}");
    serde_json::from_slice(&std::fs::read(file("json")).unwrap()).unwrap()
}

/// A scenario as samples, then as logs of 10 and 1 rows a second.
fn scenario(name: &str, seconds: &str) -> [Value; 3] {
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("samples.csv");
    let words = ["synth", name, "--seed", "1", "--duration-s", seconds, "--out"];
    let mut synth = shaftwork(&words);
    synth.arg(&trace);
    assert_eq!(run(synth).0, Some(0));
    let samples = std::fs::read_to_string(&trace).unwrap();
    let settings = std::fs::read_to_string(folder.path().join("samples.settings.toml")).unwrap();
    let rate = settings.lines().find_map(|line| line.strip_prefix("rate_hz = ")).unwrap().parse().unwrap();
    let rows = [10.0, 1.0].map(|rows_hz| {
        let name = format!("rms{rows_hz}");
        std::fs::write(folder.path().join(format!("{name}.csv")), averaged(&samples, rate, rows_hz)).unwrap();
        let file = folder.path().join(format!("{name}.settings.toml"));
        std::fs::write(file, for_rows(&settings, rows_hz)).unwrap();
        replayed(folder.path(), &name)
    });
    let [ten, one] = rows;
    [replayed(folder.path(), "samples"), ten, one]
}

fn figure(document: &Value, key: &str) -> f64 {
    document["totals"][key].as_f64().unwrap_or_else(|| panic!("{key}: {}", document["totals"][key]))
}

/// Both logs against the samples: within so many per cent with 10 and with 1 rows a second.
fn close(all: &[Value; 3], key: &str, within_pct: [f64; 2]) {
    let [samples, rest @ ..] = all;
    for (log, within) in rest.iter().zip(within_pct) {
        let off = (figure(log, key) / figure(samples, key) - 1.0) * 100.0;
        assert!(off.abs() <= within, "{key} is off by {off:.3} %, {within} allowed");
    }
}

/// Times of a kind of event, s.
fn times(document: &Value, event: &str) -> Vec<f64> {
    let events = document["events"].as_array().unwrap().iter().filter(|e| e["event"] == event);
    events.map(|e| e["t_s"].as_f64().unwrap()).collect()
}

/// Every event of a kind is there, within a row.
fn within_a_row(all: &[Value; 3], event: &str, least: usize) {
    let [samples, rest @ ..] = all;
    let wanted = times(samples, event);
    assert!(wanted.len() >= least, "{event}");
    for (log, row_s) in rest.iter().zip([0.1, 1.0]) {
        let found = times(log, event);
        assert_eq!(found.len(), wanted.len(), "{event}");
        for (found, wanted) in found.iter().zip(&wanted) {
            assert!((found - wanted).abs() <= row_s + 0.02, "{event}: {found} s, {wanted} s by samples");
        }
    }
}

/// From rest through a start, a bin of scrap and a wedge to a stop.
#[test]
fn a_shifts_worst_minute() {
    let all = scenario("demo", "54");
    close(&all, "electrical_kwh", [0.01, 0.01]);
    close(&all, "shaft_kwh", [0.5, 1.0]);
    close(&all, "net_kwh", [0.5, 1.0]);
    close(&all, "net_kwh_per_t", [0.5, 1.0]);
    close(&all, "gross_kwh_per_t", [0.01, 0.01]);
    close(&all, "max_thermal_pct", [0.5, 0.5]);
    for event in ["start", "run_up", "stop", "trip"] {
        within_a_row(&all, event, 1);
    }
}

/// A line is lost: the trip comes from rms values alone. (Jam trips as well, but its current swings about the pick-up
/// faster than rows come: a dip inside a row does not start its time anew.)
#[test]
fn a_lost_line() {
    let all = scenario("lost-phase", "20");
    let trip = |document: &Value| {
        let trips = document["events"].as_array().unwrap();
        trips.iter().find(|e| e["cause"] == "phase-loss").unwrap()["t_s"].as_f64().unwrap()
    };
    for (log, row_s) in all[1..].iter().zip([0.1, 1.0]) {
        assert!((trip(log) - trip(&all[0])).abs() <= row_s, "{} {}", trip(log), trip(&all[0]));
    }
    close(&all, "max_thermal_pct", [0.5, 0.5]);
    close(&all, "shaft_kwh", [0.5, 1.0]);
}

/// A minute by hand, a lump every half second to a second. What is fed in the last row is in no reading of a log.
#[test]
fn breaking_by_hand() {
    let all = scenario("hand-fed", "60");
    close(&all, "electrical_kwh", [0.01, 0.01]);
    close(&all, "shaft_kwh", [0.2, 0.2]);
    close(&all, "net_kwh", [0.2, 0.2]);
    // The largest phase over a row is less than the mean of each cycle's largest, and lumps strike the phases in turn: the slower
    // the rows, the lower the heat.
    close(&all, "max_thermal_pct", [0.5, 0.6]);
    let [samples, rest @ ..] = &all;
    for (log, row_s) in rest.iter().zip([0.1, 1.0]) {
        let by = 60.0 - row_s;
        let intervals = samples["intervals"].as_array().unwrap();
        let fed = |t_s: f64| {
            let row = intervals.iter().rev().find(|row| row["t_s"].as_f64().unwrap() <= t_s + 1e-3).unwrap();
            row["mass_kg"].as_f64().unwrap()
        };
        let mass = figure(log, "mass_t") * 1e3;
        assert!((fed(by - 0.2)..=fed(by + 0.2)).contains(&mass), "{mass} kg at {by} s");
        // By the samples: net energy of the whole minute over what was fed up to the last reading of the log, each as above.
        let specific = figure(samples, "net_kwh") / (fed(by) * 1e-3);
        let off = (figure(log, "net_kwh_per_t") / specific - 1.0) * 100.0;
        let within = 0.2 + (fed(by + 0.2) - fed(by - 0.2)) / fed(by) * 100.0;
        println!("net per tonne: {off:.3} %, {within:.3} %");
        assert!(off.abs() <= within, "net energy per tonne is off by {off:.3} %, {within:.3} allowed");
    }
}

/// Samples of the currents alone, at nominal voltage: starts, trips and heat are those of the whole trace; power is
/// estimated (how well over loads and voltages is in docs/accuracy.md). The frequency is followed by the currents.
#[test]
fn currents_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut synth = shaftwork(&["synth", "demo", "--seed", "1", "--out"]);
    synth.arg(path("samples.csv"));
    assert_eq!(run(synth).0, Some(0));
    let samples = std::fs::read_to_string(path("samples.csv")).unwrap();
    let cut = samples.lines().filter(|line| !line.starts_with('#')).map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        [&cells[..1], &cells[4..]].concat().join(",") + "\n"
    });
    std::fs::write(path("alone.csv"), cut.collect::<String>()).unwrap();
    let settings = std::fs::read_to_string(path("samples.settings.toml")).unwrap();
    let lines = settings.lines().filter(|line| !line.starts_with("voltage_full_scale"));
    let alone = lines.collect::<Vec<_>>().join("\n").replace("four-wire", "currents-only");
    std::fs::write(path("alone.settings.toml"), alone).unwrap();
    let (whole, alone) = (replayed(folder.path(), "samples"), replayed(folder.path(), "alone"));
    for (key, within_pct) in [
        ("electrical_kwh", 4.0),
        ("shaft_kwh", 4.0),
        ("net_kwh_per_t", 5.0),
        ("idle_s", 3.0),
        ("breaking_s", 1.0),
        ("max_thermal_pct", 0.1),
        ("peak_current_a", 0.1),
    ] {
        let off = (figure(&alone, key) / figure(&whole, key) - 1.0) * 100.0;
        assert!(off.abs() <= within_pct, "{key} is off by {off:.3} %, {within_pct} allowed");
    }
    for event in ["start", "run_up", "stop", "trip"] {
        let (found, wanted) = (times(&alone, event), times(&whole, event));
        assert!(found.len() == 1 && (found[0] - wanted[0]).abs() < 0.03, "{event}: {found:?}, {wanted:?} wanted");
    }
    let intervals = alone["intervals"].as_array().unwrap();
    let hertz: Vec<f64> = intervals.iter().filter_map(|row| row["frequency_hz"].as_f64()).collect();
    assert!(hertz.len() > 200 && hertz.iter().all(|hz| (hz - 50.0).abs() < 0.2), "{hertz:?}");
    let still = intervals.iter().find(|row| row["t_s"].as_f64().unwrap() > 1.0).unwrap();
    assert_eq!(still["why"]["frequency_hz"], "there is no current, or its frequency is still being acquired");
    assert!(alone["estimated"].as_array().unwrap().contains(&Value::from("net_kwh_per_t")));
}

/// What `replay` takes `check-settings` takes: currents alone, of samples and of a log, and says that power is an estimate.
#[test]
fn settings_of_currents_alone_are_sound() {
    let folder = tempfile::tempdir().unwrap();
    let settings = std::fs::read_to_string(at("examples/demo/settings.toml")).unwrap();
    let alone = settings.replace("four-wire", "currents-only");
    assert_ne!(alone, settings);
    for (name, text) in [("samples", alone.clone()), ("log", for_rows(&alone, 1.0))] {
        let file = folder.path().join(format!("{name}.toml"));
        std::fs::write(&file, text).unwrap();
        let (status, told, fault) = run(shaftwork(&["check-settings", &file.display().to_string()]));
        assert_eq!(status, Some(0), "{name}: {fault}");
        assert!(told.contains("Power is estimated from the current") && told.contains("jam_delay_s"), "{told}");
    }
}
