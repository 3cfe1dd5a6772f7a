//! The real board's firmware links for its processor, fits its memory, needs no floating point done in software and no allocator.
//!
//! It is compiled and linked, not run: no emulator here has this processor's converters. What it does with the frames is `shaftwork-app`,
//! which runs on the emulated boards. Floats of single precision would be instructions of this processor and no calls: that the core uses
//! none is shown for a Cortex-M3 (`no-std`).

use anyhow::{Result, bail};

use crate::cli::Context;
use crate::elf::{self, Sizes};
use crate::firmware::{self, Profile, STM32G474};
use crate::toolchain::M4F;

/// The first bank, where the code lies: `boards/stm32g474/memory.x`. The linker fails beyond it; here is what has to be left.
const FLASH: u64 = 256 * 1024;
/// All of the RAM.
const RAM: u64 = 128 * 1024;
/// Left for the stack at least, on which the coefficients lie while they are built.
const STACK: u64 = 48 * 1024;

/// Builds and looks.
pub fn run(context: &Context) -> Result<String> {
    let image = firmware::build(context, STM32G474, Profile::Release, M4F, &[])?;
    let names: Vec<String> = elf::symbols(&image)?.into_iter().map(|(name, _)| name).collect();
    for wanted in ["ADC1_2", "__vector_table"] {
        if !names.iter().any(|name| name == wanted) {
            bail!("{}: no symbol {wanted}: this is no firmware", context.place.short(&image));
        }
    }
    for (what, found) in
        [("floating point in software", elf::floating as fn(&str) -> bool), ("an allocator", elf::allocating)]
    {
        let found: Vec<_> = names.iter().map(String::as_str).filter(|name| found(name)).collect();
        if !found.is_empty() {
            bail!("the board's firmware needs {what}: {}", found.join(", "));
        }
    }
    let Sizes { text, data, bss } = elf::sizes(&image)?;
    let (flash, ram) = (text + data, data + bss);
    println!("   flash {flash} of {FLASH} bytes, RAM {ram} of {RAM} bytes without the stack");
    if flash > FLASH || ram + STACK > RAM {
        bail!("too large: {STACK} bytes of RAM are for the stack");
    }
    Ok(format!("board: stm32g474 links, {flash} bytes of flash, {ram} bytes of RAM; not run"))
}
