//! Builds firmware images.

use std::path::PathBuf;

use anyhow::Result;

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, passes};

/// How an image is built.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Profile {
    /// What is flashed.
    Release,
    /// The same with overflow checks and assertions.
    Checked,
}

impl Profile {
    /// Its name in `boards/Cargo.toml`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Release => "release",
            Self::Checked => "emu-checked",
        }
    }
}

/// The package of the emulated boards.
pub const EMULATED: &str = "shaftwork-emulated";
/// The package that holds the core and next to nothing else.
pub const CORE_ALONE: &str = "shaftwork-panic-free";

/// Builds an image and returns where it is.
pub fn build(context: &Context, package: &str, profile: Profile, target: &str, features: &[&str]) -> Result<PathBuf> {
    let boards = context.place.boards();
    let mut cargo = context.toolchain.cargo(&context.place, &boards, "build", target)?;
    cargo.args(["--quiet", "--locked", "--package", package, "--profile", profile.name()]);
    let mut folder = context.toolchain.folder(&context.place)?;
    // Which logs an image holds is decided when it is built.
    cargo.env("DEFMT_LOG", "info");
    if !features.is_empty() {
        cargo.arg("--features").arg(features.join(","));
        // Cargo gives an image one name whatever its features: keep them apart.
        folder = folder.join(features.join("-"));
        cargo.env("CARGO_TARGET_DIR", &folder);
    }
    passes(cargo, BUILD_LIMIT)?;
    Ok(folder.join(target).join(profile.name()).join(package))
}
