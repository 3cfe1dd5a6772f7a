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
pub mod jams;
mod limits;
pub mod plate;
pub mod record;
pub mod story;
#[cfg(test)]
pub(crate) mod testing;
mod truth;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::clash;
use crate::cli::{self, show::print};
use crate::error::{Fault, Usage};
use crate::plant::{Frame, Truth, run as simulate};
use crate::progress::Progress;
use crate::whole::Whole;
use record::Record;
use story::Story;
use truth::Truths;

/// Endings of what lies beside a trace.
const TRUTH: &str = "truth.json";
const SETTINGS: &str = "settings.toml";
/// Share of the energy that may be missing from the model's balance: ten times what tests allow.
const BALANCE: f64 = 1e-3;
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
        print(told(name)?.text().as_bytes())?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(out) = &args.out else {
        return Err(Usage("synth wants --out FILE: a trace ending in .cfg, .cff or .csv".to_owned()).into());
    };
    let story = told(name)?;
    let outputs = record::names(out)?.into_iter().chain([beside(out, TRUTH), beside(out, SETTINGS)]);
    let outputs: Vec<_> = outputs.map(|path| ("--out", path)).collect();
    clash::refuse(&[PathBuf::from(name)], &outputs)?;
    let made = make(&story, args, out)?;
    print((made.join("\n") + "\n").as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

fn list() -> anyhow::Result<ExitCode> {
    let lines: Vec<String> = catalogue::all().map(|story| format!("{:<21}{}", story.name, story.about)).collect();
    print((lines.join("\n") + "\n").as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// The story of a name, or of a file.
pub(crate) fn told(name: &str) -> anyhow::Result<Story> {
    if let Some(story) = catalogue::find(name) {
        return Ok(story);
    }
    let path = Path::new(name);
    if path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml")) {
        return Ok(Story::read(path)?);
    }
    let near = match catalogue::near(name) {
        _ if path.with_extension("toml").is_file() => format!("; for the file beside you say '{name}.toml'"),
        Some(near) => format!("; '{near}' is near"),
        None => String::new(),
    };
    Err(Usage(format!("there is no scenario '{name}'{near}; --list tells them all, FILE.toml is one of your own"))
        .into())
}

/// Writes trace, truth and settings; gives back their names, and what there is to say of them.
fn make(story: &Story, args: &cli::Synth, out: &Path) -> anyhow::Result<Vec<String>> {
    let mut story = story.clone();
    if let Some(duration_s) = args.duration_s {
        story.scenario.lasts(duration_s);
    }
    story.scenario.rate_hz = args.rate_hz.unwrap_or(story.scenario.rate_hz);
    let scenario = &story.scenario;
    let settings = story.settings();
    if let Err(faults) = crate::settings::parse(&settings, &story.name) {
        return Err(anyhow::Error::from(faults).context("the settings of this scenario's trace would not be sound"));
    }
    let mut record = Record::create(out, scenario)?;
    let mut truths = Truths::create(&beside(out, TRUTH), &story.name, args.seed, scenario)?;

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
    adds_up(&story.name, &end)?;
    let mut made = record.finish()?;
    truths.finish(&end)?.commit()?;
    made.push(beside(out, TRUTH).display().to_string());
    made.push(write_settings(&beside(out, SETTINGS), &settings)?);
    let most_kg = scenario.sensor.mass.full_scale;
    if end.mass_kg > most_kg {
        made.push(format!(
            "warning: {:.1} kg were fed, and the scale's channel ends at {most_kg} kg; to mend it, say \
             sensor.mass.full_scale in a scenario of your own",
            end.mass_kg
        ));
    }
    Ok(made)
}

/// Writes the settings unless others are there, which somebody may have changed; what is to be said of them.
fn write_settings(path: &Path, text: &str) -> anyhow::Result<String> {
    let name = path.display();
    if std::fs::read_to_string(path).is_ok_and(|there| there != text) {
        return Ok(format!(
            "{name} is kept: it is not what goes with this trace; to have that, delete it and make the trace again"
        ));
    }
    let mut file = Whole::create(path)?;
    file.write_all(text.as_bytes())?;
    file.commit()?;
    Ok(name.to_string())
}

/// A scenario may be beyond what the model's step can follow: its energies show it.
fn adds_up(name: &str, end: &Truth) -> Result<(), Fault> {
    let balance = &end.balance;
    let (rest, whole) = (balance.rest_j(), balance.electrical_j.abs().max(balance.kinetic_j.abs()));
    // Not a number is not below.
    if rest.abs() <= BALANCE * whole.max(1.0) {
        return Ok(());
    }
    Err(Fault::new(name, format!("the model's energies do not add up: {rest:.3e} J of {whole:.3e} J are missing"))
        .wanted("a scenario that a step of 0.1 ms can follow")
        .mend("look for torques far beyond the motor's, and for inertias and resistances near nothing"))
}

/// A file beside the trace, with its stem.
fn beside(out: &Path, ending: &str) -> std::path::PathBuf {
    out.with_extension(ending)
}

#[cfg(test)]
mod tests;
