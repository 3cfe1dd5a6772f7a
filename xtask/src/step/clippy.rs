//! Lints, a warning being an error: all that runs on a host, then what runs on a board.

use anyhow::Result;

use crate::cli::Context;
use crate::firmware::{EMULATED, STM32G474};
use crate::run::{BUILD_LIMIT, cargo, passes};
use crate::toolchain::{M4F, RV32};

/// Lints everything.
pub fn run(context: &Context) -> Result<String> {
    let boards = context.place.boards();
    let mut host = cargo(&context.place.root);
    host.args(["clippy", "--quiet", "--workspace", "--all-targets", "--", "-D", "warnings"]);
    passes(host, BUILD_LIMIT)?;
    let mut app = cargo(&boards);
    let packages = ["--package", "shaftwork-app", "--package", "shaftwork-store"];
    app.args(["clippy", "--quiet"]).args(packages).args(["--all-targets", "--", "-D", "warnings"]);
    app.env("CARGO_TARGET_DIR", context.place.target.join("boards-host"));
    passes(app, BUILD_LIMIT)?;
    let mut board = cargo(&boards);
    board.args(["clippy", "--quiet", "--package", STM32G474, "--lib", "--tests", "--", "-D", "warnings"]);
    board.env("CARGO_TARGET_DIR", context.place.target.join("boards-host"));
    passes(board, BUILD_LIMIT)?;
    let words = ["--quiet", "--workspace", "--locked"];
    passes(context.toolchain.clippy(&context.place, &boards, M4F, &words)?, BUILD_LIMIT)?;
    let words = ["--quiet", "--package", EMULATED, "--locked"];
    passes(context.toolchain.clippy(&context.place, &boards, RV32, &words)?, BUILD_LIMIT)?;
    Ok(format!("clippy: no warning on the host nor for {M4F} and {RV32}"))
}
