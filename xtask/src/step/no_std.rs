//! The core builds without std, with every feature, on every kind of small core; nothing of it needs
//! floating point.
//!
//! The proof is made for a Cortex-M3, which has no floating point at all: any use of it becomes a call
//! of a helper with a known name. Looked at are the core's own library and an image that drives all
//! of it; an image with one multiplication of floats shows that the check would see it.

use std::process::Command;

use anyhow::{Result, bail};

use crate::cli::Context;
use crate::elf;
use crate::firmware::{self, CORE_ALONE, Profile};
use crate::run::{BUILD_LIMIT, passes};
use crate::toolchain::{M0, M3, M4, M4F, RV32};

const CHECKS: [(&str, &str); 7] =
    [(M4F, ""), (M4F, "serde"), (M4F, "defmt"), (M4F, "serde,defmt"), (M4, ""), (M0, ""), (RV32, "")];

/// Builds and looks.
pub fn run(context: &Context) -> Result<String> {
    // What only has to compile is checked; code is made where there is something to look at.
    for (target, features) in CHECKS {
        passes(core(context, "check", target, features)?, BUILD_LIMIT)?;
    }
    passes(core(context, "build", M3, "")?, BUILD_LIMIT)?;
    let library = context.toolchain.folder(&context.place)?.join(M3).join("release/libshaftwork_core.rlib");
    let mut names: Vec<String> = elf::library_symbols(&library)?.into_iter().collect();
    let own = names.len();
    if own < 20 {
        bail!("{} holds only {own} symbols: there is nothing to look at", context.place.short(&library));
    }
    let image = firmware::build(context, CORE_ALONE, Profile::Release, M3, &[])?;
    names.extend(elf::symbols(&image)?.into_iter().map(|(name, _)| name));
    let floats: Vec<_> = names.iter().filter(|name| elf::floating(name)).map(String::as_str).collect();
    if !floats.is_empty() {
        bail!("the core needs floating point: {}", floats.join(", "));
    }
    let control = firmware::build(context, CORE_ALONE, Profile::Release, M3, &["control"])?;
    if !elf::symbols(&control)?.iter().any(|(name, _)| elf::floating(name)) {
        bail!("the check is blind: it misses the float that the control image multiplies");
    }
    let builds = CHECKS.len() + 1;
    Ok(format!("no-std: {builds} builds on 5 targets, no floating point among {} symbols", names.len()))
}

fn core(context: &Context, verb: &str, target: &str, features: &str) -> Result<Command> {
    let mut cargo = context.toolchain.cargo(&context.place, &context.place.root, verb, target)?;
    cargo.args(["--quiet", "--release", "--package", "shaftwork-core", "--no-default-features"]);
    if !features.is_empty() {
        cargo.args(["--features", features]);
    }
    Ok(cargo)
}
