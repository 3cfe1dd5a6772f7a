//! The host's program, and what it gives the emulator to do.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};
use shaftwork_report_bits::digest::crc32;

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, capture, cargo, command, passes, show};
use crate::traces::Trace;

/// The host's own reports, beside `settings.bin` and `frames.bin`.
pub const REPORTS: &str = "reports-host.bin";

/// Builds the program as people use it and returns where it is.
pub fn build(context: &Context) -> Result<PathBuf> {
    let mut build = cargo(&context.place.root);
    build.args(["build", "--quiet", "--release", "--package", "shaftwork-sim", "--bin", "shaftwork"]);
    passes(build, BUILD_LIMIT)?;
    Ok(context.place.target.join("release/shaftwork"))
}

/// Replays a trace on the host and leaves settings, frames and the host's reports in `folder`.
///
/// The digest that the program prints is held against the file that it wrote.
pub fn replay(program: &Path, trace: &Trace, folder: &Path, root: &Path) -> Result<()> {
    if folder.exists() {
        fs::remove_dir_all(folder).with_context(|| folder.display().to_string())?;
    }
    fs::create_dir_all(folder).with_context(|| folder.display().to_string())?;
    let mut replay = command(program, root);
    replay
        .arg(if trace.closed() { "closed-loop" } else { "replay" })
        .arg(&trace.file)
        .arg("--settings")
        .arg(&trace.settings);
    replay.arg("--digest").arg("--bits").arg(folder);
    let what = show(&replay);
    let out = capture(replay, BUILD_LIMIT)?.wanted(&what)?;
    let said = out.lines().last().unwrap_or_default();
    let bytes = read(&folder.join(REPORTS))?;
    let is = format!("{:08x}", crc32(&bytes));
    if said.split_whitespace().next_back() != Some(&is) {
        bail!("{what}: the last line is '{said}', but the digest of {REPORTS} is {is}");
    }
    Ok(())
}

/// A file's bytes, or an error that names it.
pub fn read(path: &Path) -> Result<Vec<u8>> {
    fs::read(path).with_context(|| format!("{} cannot be read", path.display()))
}
