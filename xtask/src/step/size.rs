//! Flash and RAM: of the emulated board's image, of the core alone, of the core's state.

use anyhow::{Context as _, Result};

use crate::cli::Context;
use crate::elf::{self, Sizes};
use crate::firmware::{self, CORE_ALONE, EMULATED, Profile};
use crate::toolchain::M4F;

/// What was found.
pub struct Cost {
    /// The emulated board's image, with file access.
    pub board: Sizes,
    /// The core and its recorder, with vectors and start-up.
    pub core: Sizes,
    /// Core and app without recorder and store, with start-up and a board's settings: what the smallest board flashes but for its
    /// processor's vector table.
    pub app: Sizes,
    /// The core's state.
    pub state: u64,
}

/// Builds both images and looks.
pub fn measure(context: &Context) -> Result<Cost> {
    let board = firmware::build(context, EMULATED, Profile::Release, M4F, &[])?;
    let alone = firmware::build(context, CORE_ALONE, Profile::Release, M4F, &[])?;
    let app = firmware::build(context, CORE_ALONE, Profile::Release, M4F, &["app"])?;
    let state = elf::symbols(&alone)?.into_iter().find(|(name, _)| name.contains("SHAFTWORK_STATE"));
    let (_, state) = state.context("the image does not name the core's state")?;
    let vectors = elf::section(&app, ".vector_table")?;
    let whole = elf::sizes(&app)?;
    let app = Sizes { text: whole.text - vectors, ..whole };
    Ok(Cost { board: elf::sizes(&board)?, core: elf::sizes(&alone)?, app, state })
}

/// Prints a table.
pub fn run(context: &Context) -> Result<String> {
    let Cost { board, core, app, state } = measure(context)?;
    println!("   {:<38}{:>9}{:>9}{:>9}", "bytes", "text", "data", "bss");
    for (what, sizes) in [
        ("emulated board, with file access", board),
        ("core and recorder, vectors, start-up", core),
        ("core and app, start-up", app),
    ] {
        let Sizes { text, data, bss } = sizes;
        println!("   {what:<38}{text:>9}{data:>9}{bss:>9}");
    }
    let [core, app] = [core, app].map(|sizes| sizes.text + sizes.data);
    Ok(format!("size: core and recorder {core} bytes of flash, core and app {app}, state {state} bytes of RAM"))
}
