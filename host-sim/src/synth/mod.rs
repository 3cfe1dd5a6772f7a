//! The verb `synth`: traces from the plant model, with the truth beside them.
//!
//! ```text
//! catalogue: a name  -+-> Story -> plant::run, frame by frame -> record (COMTRADE or CSV), truth (JSON)
//! story: a file's text -+        -> plate: the settings that replay it
//! ```
//!
//! Nothing is kept but what has happened: a trace may be as long as one likes. The same scenario, seed and options give
//! the same bytes.

pub mod catalogue;
mod limits;
pub mod plate;
pub mod record;
pub mod story;
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
use record::Record;
use story::Story;
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
    let Some(name) = &args.scenario else {
        return Err(Usage("synth wants a scenario; --list tells them".to_owned()).into());
    };
    if args.show {
        write!(io::stdout().lock(), "{}", told(name)?.text()).context("cannot write to standard output")?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(out) = &args.out else {
        return Err(Usage("synth wants --out FILE: a trace ending in .cfg, .cff or .csv".to_owned()).into());
    };
    let made = make(&told(name)?, args, out)?;
    let mut told = io::stdout().lock();
    for file in &made {
        writeln!(told, "{file}").context("cannot write to standard output")?;
    }
    Ok(ExitCode::SUCCESS)
}

fn list() -> anyhow::Result<ExitCode> {
    let mut out = io::stdout().lock();
    for Story { name, about, .. } in catalogue::all() {
        writeln!(out, "{name:<21}{about}").context("cannot write to standard output")?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The story of a name, or of a file.
fn told(name: &str) -> anyhow::Result<Story> {
    if let Some(story) = catalogue::find(name) {
        return Ok(story);
    }
    let path = Path::new(name);
    if path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml")) {
        return Ok(Story::read(path)?);
    }
    let alike = |known: &str| strsim::jaro_winkler(known, name);
    let near = catalogue::names().max_by(|a, b| alike(a).total_cmp(&alike(b)));
    let near = near.map(|near| format!("; '{near}' is near")).unwrap_or_default();
    Err(Usage(format!("there is no scenario '{name}'{near}; --list tells them all, FILE.toml is one of your own"))
        .into())
}

/// Writes trace, truth and settings; gives back their names.
fn make(story: &Story, args: &cli::Synth, out: &Path) -> anyhow::Result<Vec<String>> {
    let mut story = story.clone();
    story.scenario.duration_s = args.duration_s.unwrap_or(story.scenario.duration_s);
    story.scenario.rate_hz = args.rate_hz.unwrap_or(story.scenario.rate_hz);
    let scenario = &story.scenario;
    let mut record = Record::create(out, scenario)?;
    let mut truths = Truths::create(&beside(out, "truth.json"), &story.name, args.seed, scenario)?;
    let mut settings = Whole::create(&beside(out, "settings.toml"))?;
    settings.write_all(story.settings().as_bytes())?;

    let mut progress = Progress::new(&story.name);
    let total = (scenario.duration_s * scenario.rate_hz) as u64;
    let mut done = 0;
    let end = simulate(scenario, args.seed, |frame: &Frame<'_>| -> anyhow::Result<()> {
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
