//! Files that are written: whole or not there, never over what was read, and with a cure where that cannot be.

use crate::{at, demo, names, run, shaftwork};

#[test]
fn a_trace_that_is_bad_half_way_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(at("tests/traces/sine.csv")).unwrap();
    let mut lines: Vec<&str> = text.lines().collect();
    *lines.last_mut().unwrap() = "0.6,nonsense";
    std::fs::write(folder.path().join("bad.csv"), lines.join("\n")).unwrap();
    let mut command = shaftwork(&["replay"]);
    command.arg(folder.path().join("bad.csv")).arg("--settings").arg(at("tests/traces/sine.toml"));
    command.arg("--json").arg(folder.path().join("a.json")).arg("--out").arg(folder.path().join("out"));
    let (status, _, err) = run(command);
    assert_eq!(status, Some(1), "{err}");
    assert_eq!(names(folder.path()), [folder.path().join("bad.csv")]);
}

/// What a board is given is whole or not there as well.
#[test]
fn nothing_for_a_board_is_left_either() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(at("tests/traces/sine.csv")).unwrap();
    std::fs::write(folder.path().join("cut.csv"), &text[..text.len() - 10]).unwrap();
    let mut command = shaftwork(&["replay", "cut.csv", "--bits", "new/bits", "--settings"]);
    command.arg(at("tests/traces/sine.toml")).current_dir(folder.path());
    let (status, _, err) = run(command);
    assert_eq!(status, Some(1), "{err}");
    assert_eq!(names(folder.path()), [folder.path().join("cut.csv")]);
}

/// A recording cannot be had again: what is read is not written over.
#[test]
fn no_output_is_an_input_or_another_output() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["jam.cfg", "jam.dat", "jam.toml"] {
        std::fs::copy(at("tests/traces").join(name), folder.path().join(name)).unwrap();
    }
    let before = std::fs::read(folder.path().join("jam.dat")).unwrap();
    let replay = ["replay", "jam.cfg", "--settings", "jam.toml"];
    for (words, part) in [
        ([&replay[..], &["--json", "./jam.dat"]].concat(), "jam.dat: is an input, and --json would write over it"),
        ([&replay[..], &["--json", "jam.toml"]].concat(), "jam.toml: is an input"),
        ([&replay[..], &["--out", "d", "--json", "d/report.html"]].concat(), "written by --out and by --json"),
        ([&replay[..], &["--bits", "d", "--json", "d/frames.bin"]].concat(), "written by --bits and by --json"),
        (vec!["info", "jam.dat", "--json", "jam.cfg"], "jam.cfg: is an input"),
        (vec!["check-settings", "jam.toml", "--json", "jam.toml"], "jam.toml: is an input"),
    ] {
        let mut command = shaftwork(&words);
        command.current_dir(folder.path());
        let (status, out, err) = run(command);
        assert_eq!((status, out.as_str()), (Some(2), ""), "{words:?}: {err}");
        assert!(err.contains(part) && err.contains("to mend it: give"), "{words:?}: {err}");
        assert_eq!(names(folder.path()).len(), 3, "{words:?}");
    }
    assert_eq!(std::fs::read(folder.path().join("jam.dat")).unwrap(), before);
}

/// Devices that are always full (Linux, full(4)) in the place of files stand for a full disk.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_with_the_file_and_a_cure() {
    for (file, words) in [
        ("intervals.csv", &["--out", "d"][..]),
        ("events.csv", &["--out", "d"]),
        ("runs.csv", &["--out", "d"]),
        ("intervals.parquet", &["--out", "d"]),
        ("minutes.csv", &["--out", "d"]),
        ("minutes.parquet", &["--out", "d"]),
        ("report.html", &["--out", "d"]),
        ("settings.bin", &["--bits", "d"]),
        ("frames.bin", &["--bits", "d"]),
        ("reports-host.bin", &["--bits", "d"]),
        ("a.json", &["--json", "d/a.json"]),
    ] {
        let mut command = demo(words);
        told(file, &mut command);
    }
    let (trace, settings) = (at("tests/traces/sine.csv"), at("tests/traces/sine.toml"));
    let mut info = shaftwork(&["info", "--json", "d/a.json"]);
    told("a.json", info.arg(trace));
    let mut check = shaftwork(&["check-settings", "--json", "d/a.json"]);
    told("a.json", check.arg(settings));
    told("shaftwork.1", &mut shaftwork(&["man", "--out", "d"]));
}

/// Runs a command that writes into `d`, where this file is full.
#[cfg(target_os = "linux")]
fn told(file: &str, command: &mut std::process::Command) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("d")).unwrap();
    std::os::unix::fs::symlink("/dev/full", folder.path().join("d").join(file)).unwrap();
    let output = command.current_dir(folder.path()).output().unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{file}: {err}");
    assert!(err.contains("/dev/full: cannot be written: No space left on device"), "{file}: {err}");
    assert!(err.contains("to mend it: make room on the disk"), "{file}: {err}");
    assert_eq!(names(folder.path()).len(), 2, "{file}: nothing beside it is left");
}

/// The same where rows wait for a document, and where a table fills the disk half-way: files of 4 KiB at most.
#[cfg(target_os = "linux")]
#[test]
fn what_grows_too_large_is_told_and_leaves_nothing() {
    for (words, part) in
        [(["--json", "a.json"], "a temporary file in"), (["--out", "out"], "out/intervals.csv: cannot be written")]
    {
        let folder = tempfile::tempdir().unwrap();
        let mut command = crate::after("trap '' XFSZ; ulimit -f 8", &demo(&words));
        command.current_dir(folder.path());
        let (status, _, err) = run(command);
        assert_eq!(status, Some(1), "{err}");
        assert!(err.contains(part) && err.contains("to mend it: make room"), "{err}");
        assert_eq!(names(folder.path()), Vec::<std::path::PathBuf>::new());
    }
}
