//! Accuracy of the meter over a grid of waveforms: a program of the acceptance tests, which ends with
//! status 1 when a promised bound is broken.

use std::fs;

use anyhow::{Context as _, Result};

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, capture, cargo, show};

/// Runs it; writes what it prints to docs/accuracy.md where `write` is wanted.
pub fn run(context: &Context, write: bool) -> Result<String> {
    let mut accuracy = cargo(&context.place.root);
    accuracy.args(["run", "--quiet", "--release", "--package", "shaftwork-acceptance", "--bin", "accuracy"]);
    println!("   $ {}", show(&accuracy));
    let page = capture(accuracy, BUILD_LIMIT)?.wanted("the accuracy page")?;
    let rows = page.lines().filter(|line| line.starts_with("| ") && !line.starts_with("| bits")).count();
    if write {
        let path = context.place.root.join("docs/accuracy.md");
        fs::write(&path, page).with_context(|| path.display().to_string())?;
        return Ok(format!("accuracy: the promise is kept; {rows} rows are in docs/accuracy.md"));
    }
    Ok(format!("accuracy: the promise is kept over {rows} rows"))
}
