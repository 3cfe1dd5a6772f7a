//! The verb `motor-study`: the recorded load on other motors. Which would have done it?
//!
//! ```text
//! intervals of a replay ─ rows ─ the mill's torque over time ─┐
//! motors: nameplates ─ circuit ─ drive: speed by inertia, currents by circuit
//!                                   └─ half cycles ─ core's judge: states, thermal image, trips
//!                                                     └─ figures ─ outcome ─ words, JSON, CSV, page
//! ```
//!
//! The recorded motor goes through the same: how far its figures are off those that were recorded is the study's own check.

pub mod drive;
pub mod figures;
pub mod motors;
pub mod outcome;
mod page;
pub mod rows;
pub mod run;
mod table;
#[cfg(test)]
mod tests;
pub mod walk;
mod words;

use std::path::PathBuf;
use std::process::ExitCode;

use rayon::prelude::*;

use crate::clash;
use crate::cli::{MotorStudy, show};
use crate::error::Usage;
use crate::interrupt;
use crate::progress::Progress;
use crate::whole;
use figures::Figures;
use motors::Motor;
use outcome::Outcome;
use rows::Log;
use run::Run;
use walk::{Recorded, Walk};

/// The files that `--out` writes.
const FILES: [&str; 2] = ["motors.html", "motors.csv"];

/// The recorded motor's energy may come out so much otherwise, share: beyond it nothing is told.
const FAR: f64 = 0.1;

/// All that was found.
#[derive(Debug)]
pub struct Found {
    /// The logs, as the user named them.
    pub logs: Vec<PathBuf>,
    /// What they say.
    pub recorded: Recorded,
    /// The motors, the recorded one first.
    pub motors: Vec<Motor>,
    /// Of each its figures.
    pub figures: Vec<Figures>,
    /// Whether it would have done it.
    pub outcomes: Vec<Outcome>,
    /// What a person should know.
    pub notes: Vec<String>,
}

impl Found {
    /// Why nothing can be told of any motor.
    pub fn untold(&self) -> Option<&'static str> {
        if self.recorded.running_s <= 0.0 {
            return Some("the recorded motor was never at work");
        }
        self.off()
            .is_none_or(|off| off.abs() > FAR)
            .then_some("the recorded motor itself does not come to what was recorded: nameplate, inertia or idle power are not those of the mill")
    }

    /// Where a time is, in which log and since its begin.
    pub fn place(&self, t_s: f64) -> (usize, f64) {
        let log = self.recorded.begins_s.iter().rposition(|begin| *begin <= t_s).unwrap_or(0);
        (log, t_s - self.recorded.begins_s.get(log).copied().unwrap_or(0.0))
    }

    /// The smallest motor that would have done it.
    pub fn smallest(&self) -> Option<usize> {
        if self.untold().is_some() {
            return None;
        }
        let does = (0..self.motors.len()).filter(|n| self.outcomes[*n].does());
        does.min_by(|a, b| self.motors[*a].rated_w().total_cmp(&self.motors[*b].rated_w()))
    }

    /// Energy a tonne that it would have taken, kWh/t.
    pub fn kwh_per_t(&self, n: usize) -> Option<f64> {
        let mass_kg = self.recorded.mass_kg.filter(|kg| *kg >= 1.0)?;
        Some(self.figures[n].electrical_j / 3.6e6 / (mass_kg / 1e3))
    }

    /// How far the recorded motor's energy comes out otherwise than it was recorded, share of that.
    pub fn off(&self) -> Option<f64> {
        let recorded = self.recorded.electrical_j;
        (recorded > 0.0).then(|| self.figures[0].electrical_j / recorded - 1.0)
    }
}

/// Studies; prints a table, writes JSON, CSV and the page where they are wanted.
///
/// # Errors
/// An input is at fault, or an output cannot be written.
pub fn run(args: &MotorStudy) -> anyhow::Result<ExitCode> {
    show::one_to_screen(args.json.as_deref(), args.csv.as_deref())?;
    let logs = rows::named(&args.logs)?;
    let mut inputs = logs.clone();
    inputs.extend([args.settings.clone(), args.motors.clone()]);
    let mut outputs: Vec<(&'static str, PathBuf)> = Vec::new();
    outputs.extend(args.json.clone().map(|path| ("--json", path)));
    outputs.extend(args.csv.clone().map(|path| ("--csv", path)));
    outputs.extend(args.out.iter().flat_map(|out| FILES.map(|file| ("--out", out.join(file)))));
    clash::refuse(&inputs, &outputs)?;
    let among = |path: &PathBuf| logs.iter().filter_map(|log| log.parent()).any(|folder| clash::lies_in(path, folder));
    if args.csv.as_ref().is_some_and(among) {
        let words = "--csv is in the folder of the logs, among a replay's own tables\n  to mend it: write it elsewhere";
        return Err(Usage(words.to_owned()).into());
    }
    let motors = motors::load(&args.settings, &args.motors)?;
    interrupt::watch();
    let found = study(logs, motors)?;
    let csv = table::csv(&found)?;
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        whole::write(&folder.join(FILES[0]), page::html(&found)?.as_bytes())?;
        whole::write(&folder.join(FILES[1]), &csv)?;
    }
    let text = words::text(&found, args.out.as_deref());
    show::show_table(&text, &table::json(&found), args.json.as_deref(), (args.csv.as_deref(), &csv))?;
    Ok(ExitCode::SUCCESS)
}

/// Works it out.
///
/// # Errors
/// A log is at fault.
pub fn study(logs: Vec<PathBuf>, motors: Vec<Motor>) -> anyhow::Result<Found> {
    let logs = rows::ordered(logs)?;
    let (Some(own), others) = (motors.first(), motors.get(1..).unwrap_or_default()) else {
        return Err(Usage("there is no motor to put a load on".to_owned()).into());
    };
    let mut walk = Walk::new(own);
    let mut runs: Vec<Run<'_>> = others.iter().map(Run::new).collect();
    let mut progress = Progress::new("motors");
    let length = |path: &PathBuf| std::fs::metadata(path).map_or(0, |about| about.len());
    let (mut done, total) = (0, logs.iter().map(length).sum());
    for path in &logs {
        let mut log = Log::open(path)?;
        walk.begin(path, log.start_s)?;
        loop {
            let rows = log.rows()?;
            if rows.is_empty() {
                break;
            }
            let steps = walk.steps(&rows);
            runs.par_iter_mut().for_each(|run| steps.iter().for_each(|step| run.take(step)));
            progress.at((done + log.read(), Some(total)));
        }
        walk.end(path)?;
        done += length(path);
    }
    drop(progress);
    let (figures, recorded) = walk.close();
    let figures: Vec<Figures> = std::iter::once(figures).chain(runs.into_iter().map(|run| run.figures)).collect();
    let outcomes = outcome::outcomes(&figures, &recorded.tripped);
    let mut found = Found { logs, recorded, motors, figures, outcomes, notes: Vec::new() };
    found.notes = words::notes(&found);
    Ok(found)
}
