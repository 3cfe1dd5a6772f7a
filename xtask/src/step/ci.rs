//! Everything that has to pass before a change is taken, cheapest first.

use std::cell::RefCell;

use anyhow::{Context as _, Result};

use super::{
    accuracy, board, budget, cases, clippy, commission, defmt, doc, faults, fmt, no_std, page, panic_free, qemu,
    scenarios, score, size, test, timed,
};
use crate::cli::Context;
use crate::firmware::Profile;
use crate::traces;

/// Runs all steps; the first that fails ends it.
pub fn run(context: &Context) -> Result<String> {
    let done = RefCell::new(Vec::new());
    let step = |name: &'static str, run: &dyn Fn() -> Result<String>| -> Result<()> {
        let (seconds, line) = timed(name, run)?;
        done.borrow_mut().push((name, seconds, line));
        Ok(())
    };
    step("fmt", &|| fmt::run(context, false))?;
    step("clippy", &|| clippy::run(context))?;
    step("doc", &|| doc::run(context))?;
    step("test", &|| test::on_host(context).map(|()| "test: all passed on the host".to_owned()))?;
    step("accuracy", &|| accuracy::run(context, false))?;
    step("page", &|| page::run(context))?;
    step("no-std", &|| no_std::run(context))?;
    step("panic-free", &|| panic_free::run(context))?;
    step("size", &|| size::run(context))?;
    step("board", &|| board::run(context))?;
    // Bits and budget come from one run of one image.
    let outcome = RefCell::new(None);
    step("qemu", &|| {
        let traces = traces::committed(&context.place)?;
        let all = qemu::compare_all(context, &traces, &[Profile::Release, Profile::Checked])?;
        let line = all.line.clone();
        outcome.replace(Some(all));
        Ok(line)
    })?;
    step("faults", &|| faults::run(context, false))?;
    step("defmt", &|| defmt::run(context))?;
    step("commission", &|| commission::run(context))?;
    step("budget", &|| {
        let outcome = outcome.borrow();
        budget::table(&outcome.as_ref().context("the bit check has not run")?.released)
    })?;
    step("score", &|| score::run(context))?;
    step("cases", &|| cases::run(context, false))?;
    step("scenarios", &|| scenarios::run(context, false))?;

    let done = done.into_inner();
    println!("== summary");
    for (name, seconds, line) in &done {
        println!("   {name:<12}{seconds:>8.1} s  {line}");
    }
    Ok(format!("ci: {} steps passed", done.len()))
}
