//! The steps, one a file. Each returns the line that it ends with.

pub mod accuracy;
pub mod board;
pub mod budget;
pub mod cases;
pub mod ci;
pub mod clippy;
pub mod commission;
pub mod defmt;
pub mod doc;
pub mod fault_cases;
pub mod faults;
pub mod fmt;
pub mod fuzz;
pub mod mutants;
pub mod no_std;
pub mod page;
pub mod panic_free;
pub mod qemu;
pub mod scenarios;
pub mod score;
pub mod size;
pub mod speed;
pub mod test;

use std::time::Instant;

use anyhow::{Context, Result};

/// Runs a step: says its name, what it took, and at last its own line. Gives the seconds and that line.
pub fn timed(name: &str, step: impl FnOnce() -> Result<String>) -> Result<(f64, String)> {
    println!("== {name}");
    let begun = Instant::now();
    let line = step().with_context(|| name.to_owned())?;
    let seconds = begun.elapsed().as_secs_f64();
    println!("   {name} took {seconds:.1} s");
    println!("{line}");
    Ok((seconds, line))
}
