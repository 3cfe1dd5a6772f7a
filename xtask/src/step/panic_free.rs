//! No path leads from the core to a panic.
//!
//! `boards/panic-free` explains how: what cannot be reached is not linked, so the names of all that
//! panics must be missing from the image. A second image with one division by an unknown number shows
//! that the check would see a panic.

use anyhow::{Result, bail};

use crate::cli::Context;
use crate::firmware::{self, CORE_ALONE, Profile};
use crate::toolchain::M4F;
use crate::{calls, elf};

/// Links and looks.
pub fn run(context: &Context) -> Result<String> {
    let with_store = looked_at(context, "the store", &["store"])?;
    let with_app = looked_at(context, "the app", &["app"])?;
    let with_commission = looked_at(context, "commissioning", &["commission"])?;
    let core = looked_at(context, "the core", &[])?;
    let control = firmware::build(context, CORE_ALONE, Profile::Release, M4F, &["control"])?;
    if !elf::symbols(&control)?.iter().any(|(name, _)| elf::panicking(name)) {
        bail!("the check is blind: it misses the division in the control image");
    }
    Ok(format!(
        "panic-free: no path to a panic in the core's image of {core} symbols, nor with the store in one of {with_store}, with \
         the app in one of {with_app}, with commissioning in one of {with_commission}"
    ))
}

/// Builds the image with these features and looks for panics; so many symbols it has.
fn looked_at(context: &Context, what: &str, features: &[&str]) -> Result<usize> {
    let image = firmware::build(context, CORE_ALONE, Profile::Release, M4F, features)?;
    let symbols = elf::symbols(&image)?;
    let found: Vec<_> = symbols.iter().map(|(name, _)| name.as_str()).filter(|name| elf::panicking(name)).collect();
    if !found.is_empty() {
        let lines: Vec<_> = calls::lines(&image, &context.place.root, elf::panicking)?.into_iter().collect();
        bail!("{what} can reach a panic: {}\nfrom\n  {}", found.join(", "), lines.join("\n  "));
    }
    Ok(symbols.len())
}
