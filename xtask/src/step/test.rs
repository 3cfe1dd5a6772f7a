//! All tests: both workspaces on the host, then host against emulated board.

use anyhow::Result;

use super::qemu;
use crate::cli::Context;
use crate::firmware::STM32G474;
use crate::python;
use crate::run::{BUILD_LIMIT, cargo, passes};
use crate::traces;

/// Runs them all.
pub fn run(context: &Context) -> Result<String> {
    on_host(context)?;
    let line = qemu::run(context, &traces::committed(&context.place)?)?;
    println!("{line}");
    Ok("test: all passed, on the host and on the emulated board".to_owned())
}

/// Those that need no emulator.
pub fn on_host(context: &Context) -> Result<()> {
    python::prepare(context);
    let mut host = cargo(&context.place.root);
    host.args(["test", "--workspace"]);
    passes(host, BUILD_LIMIT)?;
    let mut app = cargo(&context.place.boards());
    app.args(["test", "--package", "shaftwork-app", "--package", "shaftwork-store"]);
    app.env("CARGO_TARGET_DIR", context.place.target.join("boards-host"));
    passes(app, BUILD_LIMIT)?;
    // What of the board needs no processor.
    let mut board = cargo(&context.place.boards());
    board.args(["test", "--package", STM32G474, "--lib"]);
    board.env("CARGO_TARGET_DIR", context.place.target.join("boards-host"));
    passes(board, BUILD_LIMIT)
}
