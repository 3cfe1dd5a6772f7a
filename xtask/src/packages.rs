//! Debian packages that a step needs: installed where that can be done, else named in one line.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use anyhow::{Result, bail};

use crate::run::{QUERY_LIMIT, capture, command, passes};

const INSTALL_LIMIT: Duration = Duration::from_mins(15);

/// A compiler that may build `core` from source, with that source.
pub const COMPILER: [&str; 3] = ["rustc-web", "cargo-web", "rust-web-src"];
/// Its lints.
pub const CLIPPY: &str = "rust-web-clippy";
/// A linker for ARM and RISC-V.
pub const LINKER: &str = "lld";

/// Whether a program answers to `--version`.
pub fn answers(program: &str) -> bool {
    let mut ask = command(program, Path::new("/"));
    ask.arg("--version");
    capture(ask, QUERY_LIMIT).is_ok_and(|output| output.status.success())
}

/// A browser and its driver.
pub const BROWSER: [&str; 2] = ["chromium", "chromium-driver"];

/// Sees that packages are installed.
pub fn need(wanted: &[&str]) -> Result<()> {
    let missing: Vec<&str> = wanted.iter().copied().filter(|package| !installed(package)).collect();
    if missing.is_empty() {
        return Ok(());
    }
    let list = missing.join(" ");
    if !answers("apt-get") || !root() {
        bail!("missing here: {list} (as root on Debian: apt-get install --no-install-recommends {list})");
    }
    passes(apt(&["update", "-q"]), INSTALL_LIMIT)?;
    let mut words = vec!["install", "-y", "-q", "--no-install-recommends"];
    words.extend(&missing);
    passes(apt(&words), INSTALL_LIMIT)
}

fn apt(words: &[&str]) -> Command {
    let mut apt = command("apt-get", Path::new("/"));
    apt.args(words).env("DEBIAN_FRONTEND", "noninteractive");
    apt
}

fn installed(package: &str) -> bool {
    let mut query = command("dpkg-query", Path::new("/"));
    query.args(["-W", "-f", "${Status}", package]);
    capture(query, QUERY_LIMIT).is_ok_and(|output| output.out == "install ok installed")
}

fn root() -> bool {
    let mut id = command("id", Path::new("/"));
    id.arg("-u");
    capture(id, QUERY_LIMIT).is_ok_and(|output| output.out.trim() == "0")
}
