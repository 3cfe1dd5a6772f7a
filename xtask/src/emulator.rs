//! Runs an image on the emulated board.

use std::fs::{self, File};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result, bail};

use crate::boards::Board;
use crate::host::read;
use crate::run::{capture, command, waited};

/// What the board wrote.
const REPORTS: &str = "reports.bin";

/// What a run gave.
#[derive(Debug)]
pub struct Run {
    /// The reports, as in `reports.bin`.
    pub reports: Vec<u8>,
    /// What the board said of itself.
    pub said: Said,
}

/// What the board printed: a key and a number a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said(Vec<(String, u64)>);

impl Said {
    fn parse(text: &str) -> Self {
        let pair = |line: &str| {
            let (key, value) = line.trim().split_once(' ')?;
            let radix = if key == "digest" { 16 } else { 10 };
            Some((key.to_owned(), u64::from_str_radix(value, radix).ok()?))
        };
        Self(text.lines().filter_map(pair).collect())
    }

    /// All numbers behind a key, in order: a board that begins anew says it again.
    pub fn all(&self, key: &str) -> Vec<u64> {
        self.0.iter().filter(|(name, _)| name == key).map(|(_, value)| *value).collect()
    }

    /// The number behind a key.
    pub fn get(&self, key: &str) -> Result<u64> {
        let found = self.0.iter().find(|(name, _)| name == key);
        found.map(|(_, value)| *value).with_context(|| format!("the board did not say '{key}'"))
    }
}

/// Runs an image in a folder that holds `settings.bin` and `frames.bin`.
pub fn run(board: &Board, image: &Path, folder: &Path, limit: Duration) -> Result<Run> {
    writing(board, image, folder, limit, REPORTS)
}

/// The same, where the board writes another file: [`Run::reports`] are that one's bytes.
pub fn writing(board: &Board, image: &Path, folder: &Path, limit: Duration, file: &str) -> Result<Run> {
    let reports = folder.join(file);
    if reports.exists() {
        fs::remove_file(&reports)?;
    }
    let output = capture(command_for(board, image, folder), limit).context("the emulator")?;
    if !output.status.success() {
        bail!("{} failed ({}): {}{}", board.name, output.status, output.out.trim(), output.err.trim());
    }
    let said = Said::parse(&format!("{}{}", output.out, output.err));
    Ok(Run { reports: read(&reports)?, said })
}

/// The same; the bytes that it writes to standard output.
pub fn raw(board: &Board, image: &Path, folder: &Path, limit: Duration) -> Result<Vec<u8>> {
    let written = folder.join("output.bin");
    let mut qemu = command_for(board, image, folder);
    qemu.stdout(File::create(&written)?);
    let status = waited(qemu, limit)?;
    if !status.success() {
        bail!("{} failed ({status})", board.name);
    }
    read(&written)
}

/// The emulator with an image in a folder, to be run.
pub fn command_for(board: &Board, image: &Path, folder: &Path) -> Command {
    let mut qemu = command(board.program, folder);
    // -icount shift=0: an instruction is a nanosecond of the board's time, exactly repeatable.
    qemu.args(board.machine).args(["-nographic", "-monitor", "none", "-serial", "none", "-icount", "shift=0"]);
    qemu.args(["-semihosting-config", "enable=on,target=native", "-kernel"]).arg(image);
    qemu
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_the_board_prints() {
        let said = Said::parse("hello\nframes 4000\ndigest 0000ff10\r\nworst-call 2417\n");
        assert_eq!(said.get("frames").unwrap(), 4000);
        assert_eq!(said.get("digest").unwrap(), 0xff10);
        assert_eq!(said.get("worst-call").unwrap(), 2417);
        assert!(said.get("hello").is_err());
    }
}
