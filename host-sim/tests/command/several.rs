//! Several traces: a line each, their sums, and what goes wrong with one.

use std::path::PathBuf;
use std::process::Command;

use crate::{at, names, run, shaftwork};

#[test]
fn several_traces_come_to_a_line_each_and_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let (jam, start) = (at("tests/traces/jam.cfg"), at("tests/traces/start.cfg"));
    let mut command = shaftwork(&["replay"]);
    command.arg(&jam).arg(&start).arg("absent.csv").arg(&jam).arg("--settings").arg(at("tests/traces/jam.toml"));
    command.arg("--out").arg(&out);
    let (status, table, err) = run(command);
    assert_eq!(status, Some(1), "{err}");
    assert!(err.contains("absent.csv") && err.contains("start.cfg"), "{err}");
    for (line, part) in [(1, "jam at 0.860 s"), (2, "not replayed"), (3, "not replayed"), (4, "jam-2"), (5, "2 traces")]
    {
        assert!(table.lines().nth(line).unwrap().contains(part), "{part}: {table}");
    }
    let json: serde_json::Value = serde_json::from_slice(&std::fs::read(out.join("summary.json")).unwrap()).unwrap();
    assert_eq!(json["traces"].as_array().unwrap().len(), 4);
    assert_eq!(json["traces"][0]["trips"][0]["cause"], "jam");
    assert_eq!(json["totals"]["trips"], 2);
    assert!(out.join("jam-2/events.csv").exists() && !out.join("start").exists());
}

/// Two sound traces into a folder.
fn two(out: &std::path::Path) -> Command {
    let mut command = shaftwork(&["replay"]);
    command.arg(at("tests/traces/jam.cfg")).arg(at("tests/traces/jam.cfg"));
    command.arg("--settings").arg(at("tests/traces/jam.toml")).arg("--out").arg(out);
    command
}

#[test]
fn where_every_trace_fails_nothing_is_left() {
    let folder = tempfile::tempdir().unwrap();
    let mut command = shaftwork(&["replay", "absent.csv", "gone.csv", "--out"]);
    command.arg(folder.path().join("made/week")).arg("--settings").arg(at("tests/traces/jam.toml"));
    let (status, _, err) = run(command);
    assert_eq!(status, Some(1));
    assert!(err.contains("absent.csv: there is no such file") && err.contains("gone.csv: there is"), "{err}");
    assert_eq!(names(folder.path()), Vec::<PathBuf>::new());
}

/// Of `...csv` the stem is `..`.
#[test]
fn no_name_of_a_trace_leads_out_of_the_folder() {
    let folder = tempfile::tempdir().unwrap();
    let sine = at("tests/traces/sine.csv");
    for name in ["...csv", "..csv"] {
        std::fs::copy(&sine, folder.path().join(name)).unwrap();
    }
    let mut command = shaftwork(&["replay", "...csv", "..csv", "--out", "week/in"]);
    command.arg("--settings").arg(at("tests/traces/sine.toml")).current_dir(folder.path());
    let (status, _, err) = run(command);
    assert_eq!(status, Some(0), "{err}");
    assert!(folder.path().join("week/in/trace/report.html").exists());
    assert!(folder.path().join("week/in/trace-2/report.html").exists());
    assert_eq!(std::fs::read_dir(folder.path().join("week")).unwrap().count(), 1);
}

/// A device that is always full (Linux, full(4)).
#[cfg(target_os = "linux")]
#[test]
fn a_table_that_cannot_be_written_is_said_when_all_is_done() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut command = two(&out);
    command.stdout(std::fs::File::options().write(true).open("/dev/full").unwrap());
    let (status, _, err) = run(command);
    assert_eq!(status, Some(1));
    assert!(err.contains("standard output: cannot be written") && err.contains("make room"), "{err}");
    for file in ["jam/report.html", "jam-2/report.html", "summary.json"] {
        assert!(out.join(file).exists(), "{file}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_summary_that_cannot_be_written_hides_no_other_fault() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path();
    std::os::unix::fs::symlink("/dev/full", out.join("summary.json")).unwrap();
    let mut command = two(out);
    command.arg("absent.csv");
    let (status, _, err) = run(command);
    assert_eq!(status, Some(1));
    for part in ["absent.csv: there is no such file", "/dev/full: cannot be written", "make room"] {
        assert!(err.contains(part), "{part}: {err}");
    }
    std::fs::remove_file(out.join("summary.json")).unwrap();
    std::fs::remove_dir_all(out.join("jam")).unwrap();
    std::fs::create_dir(out.join("summary.json")).unwrap();
    let (status, table, err) = run(two(out));
    assert_eq!((status, table.as_str()), (Some(1), ""), "found before any trace is replayed");
    assert!(err.contains("summary.json: cannot be written: it is a folder") && !out.join("jam").exists(), "{err}");
}
