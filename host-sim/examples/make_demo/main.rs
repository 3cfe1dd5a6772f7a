//! Writes the demo and the small traces that tests read, all from the plant model or from exact waveforms.
//!
//! `cargo run -p shaftwork-sim --example make_demo` writes them, `-- --check` compares those on disk with a fresh run
//! and ends with status 1 if one differs. Two runs give the same bytes.

mod comtrade;
mod demo;
mod golden;
mod story;
mod wave;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// A file to write: its place under the top folder, and its bytes.
pub struct Artefact {
    /// Path from the top folder.
    pub path: PathBuf,
    /// Content.
    pub bytes: Vec<u8>,
}

impl Artefact {
    /// A file in a folder.
    pub fn new(folder: &str, name: &str, bytes: impl Into<Vec<u8>>) -> Self {
        Self { path: Path::new(folder).join(name), bytes: bytes.into() }
    }
}

/// Everything this program writes.
fn all() -> Vec<Artefact> {
    let mut files = demo::files();
    files.extend(golden::files());
    files
}

/// The folder that holds `examples/` and `tests/`.
fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The files that are missing or differ on disk.
fn stale(files: &[Artefact]) -> Vec<&Path> {
    let differs = |file: &&Artefact| std::fs::read(top().join(&file.path)).ok().as_ref() != Some(&file.bytes);
    files.iter().filter(differs).map(|file| file.path.as_path()).collect()
}

fn write(files: &[Artefact]) -> std::io::Result<()> {
    for file in files {
        let path = top().join(&file.path);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        std::fs::write(&path, &file.bytes)?;
        println!("{:>9} bytes  {}", file.bytes.len(), file.path.display());
    }
    Ok(())
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        [] => match write(&all()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("cannot write: {error}");
                ExitCode::FAILURE
            }
        },
        ["--check"] => {
            let files = all();
            let stale = stale(&files);
            for path in &stale {
                eprintln!("{} differs from a fresh run", path.display());
            }
            println!("{} files, {} differ", files.len(), stale.len());
            if stale.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
        }
        _ => {
            eprintln!("usage: make_demo [--check]");
            ExitCode::from(2)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn committed_files_equal_a_fresh_run() {
        let files = all();
        assert_eq!(stale(&files), Vec::<&Path>::new(), "run the example make_demo and look at what changed");
    }

    #[test]
    fn settings_are_accepted_without_a_warning() {
        let mut count = 0;
        for file in all().iter().filter(|file| file.path.extension().is_some_and(|ending| ending == "toml")) {
            let text = std::str::from_utf8(&file.bytes).unwrap();
            match shaftwork_sim::settings::parse(text, &file.path.display().to_string()) {
                Ok((_, warnings)) => assert!(warnings.is_empty(), "{}: {warnings:?}", file.path.display()),
                Err(faults) => panic!("{faults}"),
            }
            count += 1;
        }
        assert_eq!(count, 5);
    }

    /// The reader finds as many frames as were written, and peaks of the right size: the first of a start lies between
    /// once and twice that of the locked-rotor current (533 A rms).
    #[test]
    fn traces_read_back() {
        use shaftwork_sim::trace::{Options, Rows, open};
        for (path, frames, most) in [
            ("examples/demo/mill.cfg", 135_000, [328.0, 328.0, 328.0, 1507.0, 1507.0, 1507.0]),
            ("tests/traces/start.cfg", 4000, [328.0, 328.0, 328.0, 1507.0, 1507.0, 1507.0]),
            ("tests/traces/jam.cfg", 8000, [328.0, 328.0, 328.0, 800.0, 800.0, 800.0]),
            ("tests/traces/sine.csv", 1920, [345.0, 345.0, 345.0, 140.0, 140.0, 140.0]),
        ] {
            let path = top().join(path).display().to_string();
            let mut trace = open(&path, &Options::default()).unwrap();
            let (mut rows, mut count, mut peaks) = (Rows::new(), 0, [0.0_f64; 6]);
            while trace.read(&mut rows).unwrap() > 0 {
                count += rows.len;
                for (peak, column) in peaks.iter_mut().zip(&rows.columns) {
                    *peak = column.iter().fold(*peak, |most, x| most.max(x.abs()));
                }
            }
            assert_eq!(count, frames, "{path}");
            assert!(trace.warnings().is_empty(), "{path}: {:?}", trace.warnings());
            for (peak, most) in peaks.iter().zip(most) {
                assert!((0.5 * most..most).contains(peak), "{path}: peaks {peaks:?}");
            }
        }
    }

    #[test]
    fn files_keep_to_their_size() {
        for file in all() {
            let most = if file.path.starts_with("tests") { 200_000 } else { 3_000_000 };
            assert!(file.bytes.len() <= most, "{} has {} bytes", file.path.display(), file.bytes.len());
        }
    }
}
