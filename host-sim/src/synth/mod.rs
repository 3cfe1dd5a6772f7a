//! The verb `synth`: traces from the plant model, with the truth beside them.
//!
//! ```text
//! catalogue: a name -> Scenario -> plant::run, frame by frame -> record (COMTRADE or CSV), truth (JSON)
//!                               -> plate: the settings that replay it
//! ```
//!
//! Nothing is kept but what has happened: a trace may be as long as one likes. The same scenario, seed and options give
//! the same bytes.

pub mod catalogue;
pub mod plate;
pub mod record;
mod truth;

use std::io::{self, Write as _};
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;

use crate::cli;
use crate::error::Usage;
use crate::plant::{Frame, run as simulate};
use crate::progress::Progress;
use crate::whole::Whole;
use catalogue::Named;
use record::Record;
use truth::Truths;

/// Frames between two looks at the bar.
const LOOK: u64 = 4096;

/// Makes a trace, or lists what can be made.
///
/// # Errors
/// An output cannot be written, or there is no such scenario.
pub fn run(args: &cli::Synth) -> anyhow::Result<ExitCode> {
    if args.list {
        return list();
    }
    let (Some(name), Some(out)) = (&args.scenario, &args.out) else {
        return Err(Usage("synth wants a scenario and --out FILE; --list tells the scenarios".to_owned()).into());
    };
    let Some(named) = catalogue::find(name) else {
        let near = catalogue::ALL.iter().max_by(|a, b| {
            let alike = |n: &Named| strsim::jaro_winkler(n.name, name);
            alike(a).total_cmp(&alike(b))
        });
        let near = near.map(|n| format!("; '{}' is near", n.name)).unwrap_or_default();
        return Err(Usage(format!("there is no scenario '{name}'{near}; --list tells them all")).into());
    };
    let made = make(named, args, out)?;
    let mut told = io::stdout().lock();
    for file in &made {
        writeln!(told, "{file}").context("cannot write to standard output")?;
    }
    Ok(ExitCode::SUCCESS)
}

fn list() -> anyhow::Result<ExitCode> {
    let mut out = io::stdout().lock();
    for Named { name, about, .. } in &catalogue::ALL {
        writeln!(out, "{name:<16}{about}").context("cannot write to standard output")?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Writes trace, truth and settings; gives back their names.
fn make(named: &Named, args: &cli::Synth, out: &Path) -> anyhow::Result<Vec<String>> {
    let mut scenario = (named.scenario)();
    scenario.duration_s = args.duration_s.unwrap_or(scenario.duration_s);
    scenario.rate_hz = args.rate_hz.unwrap_or(scenario.rate_hz);
    let mut record = Record::create(out, &scenario)?;
    let mut truths = Truths::create(&beside(out, "truth.json"), named.name, args.seed, &scenario)?;
    let mut settings = Whole::create(&beside(out, "settings.toml"))?;
    settings.write_all(named.settings(&scenario).as_bytes())?;

    let mut progress = Progress::new(named.name);
    let total = (scenario.duration_s * scenario.rate_hz) as u64;
    let mut done = 0;
    let end = simulate(&scenario, args.seed, |frame: &Frame<'_>| -> anyhow::Result<()> {
        record.frame(frame)?;
        truths.frame(frame)?;
        done += 1;
        if done % LOOK == 0 {
            progress.at((done, Some(total)));
        }
        Ok(())
    })?;
    drop(progress);
    let mut made = record.finish()?;
    let truths = truths.finish(&end)?;
    for file in [truths, settings] {
        made.push(file.target().display().to_string());
        file.commit()?;
    }
    Ok(made)
}

/// A file beside the trace, with its stem.
fn beside(out: &Path, ending: &str) -> std::path::PathBuf {
    out.with_extension(ending)
}

#[cfg(test)]
mod tests;
