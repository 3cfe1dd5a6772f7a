//! Flash and RAM: of the emulated board's image, of the core alone, of the core's state.

use anyhow::{Context as _, Result};

use crate::cli::Context;
use crate::elf::{self, Sizes};
use crate::firmware::{self, CORE_ALONE, EMULATED, Profile};
use crate::toolchain::M4F;

/// Prints a table.
pub fn run(context: &Context) -> Result<String> {
    let board = firmware::build(context, EMULATED, Profile::Release, M4F, &[])?;
    let alone = firmware::build(context, CORE_ALONE, Profile::Release, M4F, &[])?;
    let state = elf::symbols(&alone)?.into_iter().find(|(name, _)| name.contains("SHAFTWORK_STATE"));
    let (_, state) = state.context("the image does not name the core's state")?;
    let core = elf::sizes(&alone)?;
    println!("   {:<34}{:>9}{:>9}{:>9}", "bytes", "text", "data", "bss");
    for (what, sizes) in
        [("emulated board, with file access", elf::sizes(&board)?), ("core with vectors and start-up", core)]
    {
        let Sizes { text, data, bss } = sizes;
        println!("   {what:<34}{text:>9}{data:>9}{bss:>9}");
    }
    Ok(format!("size: core {} bytes of flash, state {state} bytes of RAM", core.text + core.data))
}
