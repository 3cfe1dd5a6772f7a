//! Readers that leave before the end: no failure, and nothing else is lost.

use std::io::{BufRead as _, BufReader, Read as _};

use crate::{Running, demo};

#[test]
fn a_reader_that_has_had_enough_is_no_failure() {
    let path = if cfg!(unix) { "/dev/stdout" } else { "-" };
    for words in [&[][..], &["--json", "-"], &["--json", path], &["--digest"]] {
        let folder = tempfile::tempdir().unwrap();
        let mut command = demo(words);
        command.arg("--out").arg(folder.path().join("out"));
        let mut child = Running(command.spawn().unwrap());
        drop(child.0.stdout.take());
        let status = child.0.wait().unwrap();
        let mut err = String::new();
        child.0.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        assert_eq!((status.code(), err.as_str()), (Some(0), ""), "{words:?}");
        // What was to go into files is there all the same.
        assert!(folder.path().join("out/intervals.csv").exists(), "{words:?}");
    }
}

#[test]
fn a_verdict_stands_though_nobody_reads_the_table() {
    for words in [&["--expect", "quiet"][..], &["--expect", "quiet", "--json", "-"]] {
        let mut child = Running(demo(words).spawn().unwrap());
        drop(child.0.stdout.take());
        assert_eq!(child.0.wait().unwrap().code(), Some(3), "{words:?}");
    }
}

/// A pipe with a name, whose reader opens it and goes: like standard output, it had enough.
#[cfg(unix)]
#[test]
fn a_pipe_that_nobody_reads_spoils_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let (pipe, out) = (folder.path().join("pipe"), folder.path().join("out"));
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let mut command = demo(&["--expect", "quiet", "--json"]);
    command.arg(&pipe).arg("--out").arg(&out);
    let reader = std::thread::spawn(move || drop(std::fs::File::open(pipe)));
    let (status, table, err) = crate::run(command);
    assert_eq!(status, Some(3), "{err}");
    assert!(table.starts_with("tripped once") && err.contains("expected no trip"), "{table}{err}");
    assert!(out.join("report.html").exists());
    reader.join().unwrap();
}

/// The first line is there while the rest of a long document is not yet read: nothing waits for the reader.
#[test]
fn a_reader_may_take_one_line_and_go() {
    let mut child = Running(demo(&["--json", "-"]).spawn().unwrap());
    let mut line = String::new();
    let mut reader = BufReader::new(child.0.stdout.take().unwrap());
    reader.read_line(&mut line).unwrap();
    drop(reader);
    assert_eq!((line.as_str(), child.0.wait().unwrap().code()), ("{\n", Some(0)));
}
