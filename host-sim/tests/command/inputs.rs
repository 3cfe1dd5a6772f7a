//! What is in a trace, as far as the whole command has to bear it.

use crate::{at, run, shaftwork};

/// A name or a note of a file may hold anything.
#[cfg(unix)]
#[test]
fn nothing_in_a_name_reaches_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let name = "a\x1b[31mb.csv";
    std::fs::copy(at("tests/traces/sine.csv"), folder.path().join(name)).unwrap();
    let mut command = shaftwork(&["info", name]);
    command.current_dir(folder.path());
    let (status, out, err) = run(command);
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.starts_with("a [31mb.csv\n") && !out.contains('\x1b'), "{out}");
}

/// Notes of a megabyte each: memory, the page and the columns of the table bear them.
#[cfg(target_os = "linux")]
#[test]
fn notes_of_any_length_are_borne() {
    use std::io::Write as _;
    const NOTES: usize = 200;
    let folder = tempfile::tempdir().unwrap();
    let mut file = std::io::BufWriter::new(std::fs::File::create(folder.path().join("t.csv")).unwrap());
    let text = std::fs::read_to_string(at("tests/traces/sine.csv")).unwrap();
    let note = "x".repeat(1 << 20);
    for (number, line) in text.lines().filter(|line| !line.starts_with('#')).enumerate() {
        let note = if number == 0 { "note" } else { &note[..if number <= NOTES { note.len() } else { 0 }] };
        writeln!(file, "{line},{note}").unwrap();
    }
    file.into_inner().unwrap();
    let mut command = shaftwork(&["replay", "t.csv", "--json", "a.json", "--out", "out", "--settings"]);
    command.arg(at("tests/traces/sine.toml"));
    // Half of what the notes hold.
    let mut command = crate::after("ulimit -v 102400", &command);
    command.current_dir(folder.path());
    let (status, out, err) = run(command);
    assert_eq!(status, Some(0), "{err}");
    assert!(out.contains("of a note as long as this 200 characters are kept"), "{out}");
    assert_eq!(out.matches("a note as long as this").count(), 1, "{out}");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let json: serde_json::Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("a.json")).unwrap()).unwrap();
    assert_eq!(json["marks"].as_array().unwrap().len(), NOTES);
    assert!(json["marks"].as_array().unwrap().iter().all(|mark| mark["note"] == "x".repeat(200)));
    assert!(std::fs::metadata(folder.path().join("out/report.html")).unwrap().len() < 3 << 20);
}
