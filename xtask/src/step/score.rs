//! Scores the replay against a collection of traces with known truth, where one lies beside the
//! repository.

use anyhow::Result;

use crate::cli::Context;
use crate::host;
use crate::run::{BUILD_LIMIT, command, passes};

/// Runs the scorer; says so when there is none.
pub fn run(context: &Context) -> Result<String> {
    let cases = context.place.root.join("../shared/cases");
    if !cases.is_dir() {
        return Ok("score: no collection beside the repository, nothing to score".to_owned());
    }
    let program = host::build(context)?;
    let mut score = command("python3", &context.place.root);
    score.arg(cases.join("score.py")).arg("--tool").arg(format!("{} replay", program.display())).arg(&cases);
    passes(score, BUILD_LIMIT)?;
    Ok("score: every case inside its limits".to_owned())
}
