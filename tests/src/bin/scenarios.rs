//! Prints `docs/scenarios.md`: every scenario of the catalogue, made and replayed by the command, against its truth.
//!
//! Wants the command beside itself, or as its argument. Exit status 1 when a bound is broken.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context as _, Result, bail, ensure};
use shaftwork_acceptance::modelled::command;
use shaftwork_acceptance::modelled::compare::Beside;
use shaftwork_acceptance::modelled::exceptions;
use shaftwork_acceptance::modelled::known::Known;
use shaftwork_acceptance::modelled::row::{Row, Verdict};
use shaftwork_sim::settings;
use shaftwork_sim::synth::catalogue;
use shaftwork_sim::synth::story::Story;

/// The seed that `synth` takes where none is given.
const SEED: u64 = 1;

const HEAD: &str = "\
# Scenarios, and how they replay

Made by `cargo xtask scenarios --write`; do not edit. For every scenario of `shaftwork synth --list` the command makes a
trace and replays it with the settings that go with it:

    shaftwork synth NAME --seed 1 --out NAME.cff
    shaftwork replay NAME.cff --settings NAME.settings.toml --json NAME.json

What the replay says stands here beside what the plant model knows. Motor, mill and scrap are invented; the model obeys
physics (its motor agrees with others' programs and published figures, its energies add up).

The bounds are those of this project's acceptance. *Running* is from 95 % of synchronous speed to the contactor's opening;
net energy is shaft energy less idle power for as long; a peak is the highest one-cycle rms of a phase, for which the truth
slides by the sample while the core renews its figures each half cycle; *steady* is the longest span in which load and speed
do not change. When a trip is due is worked out from the truth by the settings' pick-ups and delays; the window in which
it must be given is 0.03 s before to 0.06 s after for jam and undervoltage, 0.02 to 0.25 s for phase loss, 0.05 to 0.12 s for
a long start, 2 % and 0.1 s for the thermal image. A trip that is not due must not be given. The recorded motor cannot
be stopped: after a trip the trace goes on.
";

/// A scenario with its rows.
struct Told {
    story: Story,
    rows: Vec<Row>,
    /// What is excepted without need.
    needless: Vec<String>,
}

fn told(shaftwork: &Path, story: Story) -> Result<Told> {
    let made = command::make(shaftwork, &story.name, SEED)?;
    let Ok((settings, _)) = settings::parse(&made.settings, &story.name) else {
        bail!("the settings that go with the trace are at fault:\n{}", made.settings);
    };
    let known = Known::of(&story, &settings, SEED);
    let (end, mass_kg) = (&made.truth["end"], known.end.mass_kg);
    ensure!(
        end["mass_kg"] == mass_kg && end["electrical_kwh"] == known.end.electrical_j / 3.6e6,
        "the command made another trace than the model: {end}, {mass_kg} kg and {} J wanted",
        known.end.electrical_j
    );
    let beside = Beside { story: &story, settings: &settings, known: &known, replayed: &made.replayed };
    let mut rows = beside.rows();
    let needless = exceptions::apply(&story.name, &mut rows);
    Ok(Told { story, rows, needless })
}

fn page(all: &[Told]) {
    println!("{HEAD}");
    println!(
        "| scenario | what happens | length, s | inside | outside, for a known reason | not compared |\n|---|---|---|---|---|---|"
    );
    for Told { story, rows, .. } in all {
        let count = |which: fn(&Verdict) -> bool| rows.iter().filter(|row| which(&row.verdict)).count();
        let inside = count(|verdict| *verdict == Verdict::Inside);
        let without = count(|verdict| matches!(verdict, Verdict::None(_)));
        let known = count(|verdict| matches!(verdict, Verdict::Known(_)));
        let Story { name, about, scenario, .. } = story;
        println!("| [{name}](#{name}) | {about} | {} | {inside} | {known} | {without} |", scenario.duration_s);
    }
    for Told { story, rows, .. } in all {
        println!("\n## {}\n\n{}.\n", story.name, story.about);
        println!("| figure | true | replayed | difference | bound | |\n|---|---|---|---|---|---|");
        for row in rows {
            println!("{row}");
        }
        reasons(rows);
    }
}

/// Why rows lie outside, each reason once.
fn reasons(rows: &[Row]) {
    let mut told: Vec<(&str, Vec<&str>)> = Vec::new();
    for row in rows {
        let Verdict::Known(why) = row.verdict else { continue };
        match told.iter_mut().find(|(known, _)| *known == why) {
            Some((_, figures)) => figures.push(row.figure),
            None => told.push((why, vec![row.figure])),
        }
    }
    for (why, figures) in told {
        println!("\nOutside ({}): {why}.", figures.join("; "));
    }
}

fn run() -> Result<bool> {
    let beside = || std::env::current_exe().map(|own| own.with_file_name("shaftwork"));
    let shaftwork = std::env::args_os().nth(1).map_or_else(beside, |path| Ok(PathBuf::from(path)))?;
    let all: Vec<Told> = catalogue::all()
        .map(|story| {
            let name = story.name.clone();
            told(&shaftwork, story).context(name)
        })
        .collect::<Result<_>>()?;
    ensure!(!all.is_empty(), "the catalogue is empty");
    page(&all);
    let mut kept = true;
    for Told { story, rows, needless } in &all {
        for row in rows.iter().filter(|row| row.verdict == Verdict::Outside) {
            eprintln!("{}: {row}", story.name);
            kept = false;
        }
        for words in needless {
            eprintln!("{words}");
        }
        kept &= needless.is_empty();
    }
    Ok(kept)
}

fn main() -> ExitCode {
    match run() {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error:#}");
            ExitCode::FAILURE
        }
    }
}
