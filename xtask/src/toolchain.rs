//! Whose compiler builds the firmware.
//!
//! First rustup's: its bare-metal targets are there or can be fetched on most machines. Else
//! Debian's: that one builds `core` from source, which a stable compiler does only when it is told
//! to be permissive. Else one line says what is missing. Nothing of this reaches a shell or a
//! configuration file: compiler, linker and folder are set for child processes only.

use std::cell::OnceCell;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::cli::Choice;
use crate::packages;
use crate::place::Place;
use crate::run::{QUERY_LIMIT, capture, cargo, command};

/// The emulated board: Cortex-M4 with single-precision floating point, which the core does not use.
pub const M4F: &str = "thumbv7em-none-eabihf";
/// Cortex-M3: no floating point at all, so that any use of it shows as a call.
pub const M3: &str = "thumbv7m-none-eabi";
/// Cortex-M0: the smallest, without compare-and-swap.
pub const M0: &str = "thumbv6m-none-eabi";
/// Cortex-M4 without floating point.
pub const M4: &str = "thumbv7em-none-eabi";
/// RISC-V with 32 bits, multiplication, atomics and short instructions.
pub const RV32: &str = "riscv32imac-unknown-none-elf";

const TARGETS: [&str; 5] = [M4F, M3, M0, M4, RV32];
const RUSTC: &str = "/usr/bin/rustc";
const CARGO: &str = "/usr/bin/cargo";
const CLIPPY_DRIVER: &str = "/usr/bin/clippy-driver";

/// The compiler for the firmware; looked for when first needed.
pub struct Toolchain {
    choice: Choice,
    found: OnceCell<Found>,
}

enum Found {
    Rustup,
    Debian { linker: PathBuf },
}

impl Toolchain {
    /// To be looked for.
    pub const fn new(choice: Choice) -> Self {
        Self { choice, found: OnceCell::new() }
    }

    /// A cargo command (`build`, `check`, ...) for a bare-metal target, run in a folder of the
    /// repository, that builds into [`Toolchain::folder`].
    pub fn cargo(&self, place: &Place, folder: &Path, verb: &str, target: &str) -> Result<Command> {
        let mut cargo = match self.found()? {
            Found::Rustup => {
                let mut cargo = cargo(folder);
                cargo.arg(verb);
                cargo
            }
            Found::Debian { linker } => {
                let mut cargo = command(CARGO, folder);
                cargo.arg(verb).arg("-Zbuild-std=core").env("RUSTC", RUSTC).env("RUSTC_BOOTSTRAP", "1");
                cargo.env(format!("CARGO_TARGET_{}_LINKER", target.to_uppercase().replace('-', "_")), linker);
                cargo
            }
        };
        cargo.args(["--target", target]).env("CARGO_TARGET_DIR", self.folder(place)?);
        Ok(cargo)
    }

    /// Lints for a bare-metal target with more words for cargo, a warning being an error.
    pub fn clippy(&self, place: &Place, folder: &Path, target: &str, words: &[&str]) -> Result<Command> {
        Ok(match self.found()? {
            Found::Rustup => {
                let mut clippy = self.cargo(place, folder, "clippy", target)?;
                clippy.args(words).args(["--", "-D", "warnings"]);
                clippy
            }
            Found::Debian { .. } => {
                packages::need(&[packages::CLIPPY])?;
                let mut check = self.cargo(place, folder, "check", target)?;
                // What `cargo clippy` does by itself: the driver stands in for the compiler of our own
                // packages and finds its arguments here. A folder of its own, because cargo would take
                // what a plain build left for checked.
                check.args(words).env("RUSTC_WORKSPACE_WRAPPER", CLIPPY_DRIVER);
                check.env("CLIPPY_ARGS", "-Dwarnings__CLIPPY_HACKERY__");
                check.env("CARGO_TARGET_DIR", self.folder(place)?.join("clippy"));
                check
            }
        })
    }

    /// Where firmware is built: apart from the host's programs, and one for each compiler.
    pub fn folder(&self, place: &Place) -> Result<PathBuf> {
        Ok(place.target.join(match self.found()? {
            Found::Rustup => "firmware-rustup",
            Found::Debian { .. } => "firmware-debian",
        }))
    }

    fn found(&self) -> Result<&Found> {
        if let Some(found) = self.found.get() {
            return Ok(found);
        }
        let found = match self.choice {
            Choice::Rustup | Choice::Auto if rustup() => Found::Rustup,
            Choice::Rustup => bail!("missing here: rustup's targets {} (rustup target add ...)", TARGETS.join(" ")),
            Choice::Debian => debian()?,
            Choice::Auto => {
                debian().context("rustup has no bare-metal targets here, and Debian's compiler is not there")?
            }
        };
        println!("   firmware is built by {}", describe(&found));
        Ok(self.found.get_or_init(|| found))
    }
}

/// Sees that rustup has all targets; false when it is not there or cannot fetch them.
fn rustup() -> bool {
    let ask = |words: &[&str]| {
        let mut rustup = command("rustup", Path::new("/"));
        rustup.args(words);
        capture(rustup, QUERY_LIMIT).ok().filter(|output| output.status.success()).map(|output| output.out)
    };
    let Some(there) = ask(&["target", "list", "--installed"]) else { return false };
    let missing: Vec<_> =
        TARGETS.into_iter().filter(|target| !there.lines().any(|line| line.trim() == *target)).collect();
    missing.is_empty() || ask(&[&["target", "add"], &missing[..]].concat()).is_some()
}

fn debian() -> Result<Found> {
    packages::need(&packages::COMPILER)?;
    let bundled = rustup_linker().filter(|linker| linker.is_file());
    let linker = match bundled {
        Some(linker) => linker,
        None if packages::answers("ld.lld") => PathBuf::from("ld.lld"),
        None => {
            packages::need(&[packages::LINKER])?;
            PathBuf::from("ld.lld")
        }
    };
    Ok(Found::Debian { linker })
}

/// The linker that comes with rustup's compiler for the host.
fn rustup_linker() -> Option<PathBuf> {
    let mut rustc = command("rustc", Path::new("/"));
    rustc.args(["--print", "target-libdir"]);
    let output = capture(rustc, QUERY_LIMIT).ok()?;
    let libdir = PathBuf::from(output.wanted("rustc").ok()?.trim());
    Some(libdir.parent()?.join("bin/rust-lld"))
}

fn describe(found: &Found) -> String {
    let (whose, rustc) = match found {
        Found::Rustup => ("rustup's", "rustc"),
        Found::Debian { .. } => ("Debian's", RUSTC),
    };
    let mut ask = command(rustc, Path::new("/"));
    ask.arg("--version");
    let version = capture(ask, QUERY_LIMIT).map(|output| output.out).unwrap_or_default();
    format!("{whose} compiler, {}", version.trim())
}
