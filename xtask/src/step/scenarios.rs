//! Every scenario of the plant model, replayed and held against its truth: a program of the acceptance tests, which
//! ends with status 1 when a bound is broken.

use std::fs;

use anyhow::{Context as _, Result, ensure};

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, capture, cargo, command, passes};

const PAGE: &str = "docs/scenarios.md";

/// Runs it; writes what it prints to docs/scenarios.md where `write` is wanted, else compares.
pub fn run(context: &Context, write: bool) -> Result<String> {
    let place = &context.place;
    let mut build = cargo(&place.root);
    // The program calls the command that lies beside it.
    let packages = ["--package", "shaftwork-sim", "--bin", "shaftwork"];
    build.args(["build", "--quiet", "--release"]).args(packages);
    build.args(["--package", "shaftwork-acceptance", "--bin", "scenarios"]);
    passes(build, BUILD_LIMIT)?;
    let page = capture(command(place.target.join("release/scenarios"), &place.root), BUILD_LIMIT)?;
    let page = page.wanted("the page of scenarios")?;
    let count = page.lines().filter(|line| line.starts_with("## ")).count();
    let known = page.lines().filter(|line| line.contains("**outside**")).count();
    let kept = format!("scenarios: {count} replay within their bounds but for {known} figures with a known reason");
    let path = place.root.join(PAGE);
    if write {
        fs::write(&path, page).with_context(|| path.display().to_string())?;
        return Ok(format!("{kept}; {PAGE} is written"));
    }
    let there = fs::read_to_string(&path).with_context(|| path.display().to_string())?;
    ensure!(
        words(&there) == words(&page),
        "{PAGE} is not what the scenarios give now: make it anew with 'cargo xtask scenarios --write'"
    );
    Ok(format!("{kept}, as {PAGE} says"))
}

/// A page without its figures: another machine's sine may differ in the last bit.
fn words(page: &str) -> String {
    page.chars().filter(|c| !c.is_ascii_digit() && !"+-. ".contains(*c)).collect()
}

#[cfg(test)]
mod tests {
    use super::words;

    #[test]
    fn figures_may_differ_words_may_not() {
        assert_eq!(words("| mass, kg | 1.25 | -0.01 % | inside |"), words("| mass, kg | 1.26 | +0.00 % | inside |"));
        assert_ne!(words("| mass | 1.25 | inside |"), words("| mass | 1.25 | **outside** |"));
    }
}
