//! The report of a replay in a headless browser: tried out, and pictured for the README.

use std::path::PathBuf;
use std::process::Command;

use anyhow::{Context as _, Result};

use crate::cli::Context;
use crate::host;
use crate::packages::{self, BROWSER};
use crate::run::{BUILD_LIMIT, capture, cargo, command, passes, show};

/// Makes the demo's report and tries it in a browser.
pub fn run(context: &Context) -> Result<String> {
    let page = report(context)?;
    let mut tried = check(context, &page);
    tried.args(["--day", "examples/demo/settings.toml"]);
    passes(tried, BUILD_LIMIT)?;
    Ok("page: the demo's report and that of a day hold in a headless browser".to_owned())
}

/// Pictures the demo's report for the README.
pub fn picture(context: &Context) -> Result<String> {
    let page = report(context)?;
    let file = context.place.root.join("docs/report.png");
    let mut picture = check(context, &page);
    picture.arg("--picture").arg(&file).args(["--width", "1100", "--height", "1180"]);
    passes(picture, BUILD_LIMIT)?;
    Ok("picture: docs/report.png".to_owned())
}

/// The program that opens pages.
fn check(context: &Context, page: &PathBuf) -> Command {
    let mut check = cargo(&context.place.root);
    check
        .args(["run", "--quiet", "--profile", "test", "--package", "shaftwork-page-check", "--"])
        .arg(page)
        .env("RUST_BACKTRACE", "0");
    check
}

/// The report of the demo.
fn report(context: &Context) -> Result<PathBuf> {
    packages::need(&BROWSER)?;
    let program = host::build(context)?;
    let folder = context.place.target.join("page");
    let mut replay = command(program, &context.place.root);
    replay
        .args(["replay", "examples/demo/mill.cfg", "--settings", "examples/demo/settings.toml", "--out"])
        .arg(&folder);
    let what = show(&replay);
    capture(replay, BUILD_LIMIT)?.wanted(&what).context("the demo's report")?;
    Ok(folder.join("report.html"))
}
