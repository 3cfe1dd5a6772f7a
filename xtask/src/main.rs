//! `cargo xtask STEP`: every step of the build and of continuous integration, by name.
//!
//! A step says what it does, how long it took, and ends with a line of its own. The exit status is 0
//! when it passed, 1 when it did not, 2 for wrong usage. What depends on the machine (compiler,
//! linker, folders) is found out in `toolchain` and stays inside the child processes.

mod boards;
mod calls;
mod captured;
mod cli;
mod compare;
mod elf;
mod emulator;
mod firmware;
mod host;
mod packages;
mod parts;
mod place;
mod python;
mod resumed;
mod run;
mod step;
mod toolchain;
mod traces;

use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}
