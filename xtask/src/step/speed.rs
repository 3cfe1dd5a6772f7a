//! How fast traces are read and replayed: a program of the acceptance tests, which prints tables. No bound, and
//! no part of continuous integration: figures of a busy machine would only disturb.

use anyhow::Result;

use crate::cli::Context;
use crate::host;
use crate::run::{BUILD_LIMIT, cargo, passes};

/// Runs it; with `large` over traces of 2 GB as well, in a process of their own.
pub fn run(context: &Context, large: bool) -> Result<String> {
    let mut speed = cargo(&context.place.root);
    speed.args(["run", "--quiet", "--release", "--package", "shaftwork-acceptance", "--bin", "speed"]);
    if large {
        speed.arg("--").arg("--large").arg(host::build(context)?);
    }
    passes(speed, BUILD_LIMIT)?;
    Ok("speed: measured; docs/speed.md tells how to read it".to_owned())
}
