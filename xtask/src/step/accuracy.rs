//! Accuracy over published and computed cases: a program of the acceptance tests.

use anyhow::Result;

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, cargo, passes};

/// Runs it.
pub fn run(context: &Context) -> Result<String> {
    let mut accuracy = cargo(&context.place.root);
    accuracy.args(["run", "--quiet", "--release", "--package", "shaftwork-acceptance", "--bin", "accuracy"]);
    passes(accuracy, BUILD_LIMIT)?;
    Ok("accuracy: every figure inside its limit".to_owned())
}
