//! Signals while files are being written: what is unfinished goes, and what was ignored stays so.

use std::io::Write as _;
use std::path::PathBuf;
use std::process::{ChildStdin, Command, Stdio};
use std::time::{Duration, Instant};

use crate::{Running, after, at, names, shaftwork};

/// A replay that writes JSON and tables of a trace that comes slowly through a pipe.
struct Begun {
    folder: tempfile::TempDir,
    child: Running,
    pipe: ChildStdin,
}

/// Begins it after these words of a shell.
fn begun(words: &str) -> Begun {
    let folder = tempfile::tempdir().unwrap();
    let mut command = shaftwork(&["replay", "-", "--settings"]);
    command.arg(at("tests/traces/sine.toml")).arg("--json").arg(folder.path().join("a.json"));
    command.arg("--out").arg(folder.path().join("made/out"));
    let mut child = Running(after(words, &command).stdin(Stdio::piped()).spawn().unwrap());
    let mut pipe = child.0.stdin.take().unwrap();
    pipe.write_all(&std::fs::read(at("tests/traces/sine.csv")).unwrap()).unwrap();
    pipe.flush().unwrap();
    let begun = Instant::now();
    // Two tables and a document.
    while names(folder.path()).iter().filter(|path| path.is_file()).count() < 3 {
        assert!(begun.elapsed() < Duration::from_secs(20), "nothing was begun: {:?}", names(folder.path()));
        std::thread::sleep(Duration::from_millis(5));
    }
    Begun { folder, child, pipe }
}

impl Begun {
    fn signal(&self, signal: &str) {
        let line = format!("kill -{signal} {}", self.child.0.id());
        assert!(Command::new("sh").arg("-c").arg(line).status().unwrap().success());
    }

    /// Its exit status; it has to end soon, though its pipe stays open.
    fn ends(&mut self) -> Option<i32> {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.0.try_wait().unwrap() {
                return status.code();
            }
            assert!(begun.elapsed() < Duration::from_secs(20), "it goes on");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// Whether a signal is ignored by this process: its children ignore it from the first, as under `nohup`.
pub(crate) fn ignored_here(number: u32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).is_some_and(|mask| mask >> (number - 1) & 1 == 1)
}

#[test]
fn a_signal_leaves_nothing_half_written() {
    for (signal, number) in [("INT", 2), ("TERM", 15), ("HUP", 1)] {
        if ignored_here(number) {
            eprintln!("*** SKIPPED: SIG{signal} is ignored by whoever runs these tests, and so by what they start");
            continue;
        }
        let mut begun = begun("true");
        begun.signal(signal);
        assert_eq!(begun.ends(), Some(130), "{signal}");
        assert_eq!(names(begun.folder.path()), Vec::<PathBuf>::new(), "{signal}");
    }
}

/// `nohup` ignores SIGHUP and runs the command (POSIX.1-2017, nohup), a shell without job control SIGINT for what runs
/// in the background (2.11).
#[cfg(target_os = "linux")]
#[test]
fn what_was_ignored_ends_nothing() {
    for signal in ["HUP", "INT"] {
        let mut begun = begun(&format!("trap '' {signal}"));
        begun.signal(signal);
        // Long enough for it to end, if it heeds the signal.
        std::thread::sleep(Duration::from_millis(300));
        drop(begun.pipe);
        assert_eq!(begun.child.0.wait().unwrap().code(), Some(0), "{signal}");
        assert!(begun.folder.path().join("a.json").exists(), "{signal}");
    }
}
