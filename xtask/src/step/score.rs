//! Scores the replay against a collection of traces with known truth, where one lies beside the
//! repository.

use std::path::PathBuf;

use anyhow::Result;

use crate::cli::Context;
use crate::host;
use crate::run::{BUILD_LIMIT, command, passes};

/// The collection, where it lies beside the repository.
pub fn collection(context: &Context) -> Option<PathBuf> {
    Some(context.place.root.join("../shared/cases")).filter(|cases| cases.is_dir())
}

/// Runs the scorer; says so when there is none.
pub fn run(context: &Context) -> Result<String> {
    let Some(cases) = collection(context) else {
        return Ok("score: no collection beside the repository, nothing to score".to_owned());
    };
    let program = host::build(context)?;
    let mut score = command("python3", &context.place.root);
    score.arg(cases.join("score.py")).arg("--tool").arg(format!("{} replay", program.display())).arg(&cases);
    passes(score, BUILD_LIMIT)?;
    Ok("score: every case inside its limits".to_owned())
}
