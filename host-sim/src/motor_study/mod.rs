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
mod words;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use rayon::prelude::*;
use shaftwork_core::judge::event::State;

use crate::clash;
use crate::cli::{MotorStudy, show};
use crate::error::{Fault, Usage};
use crate::interrupt;
use crate::progress::Progress;
use crate::settings::Settings;
use crate::whole;
use figures::Figures;
use motors::Motor;
use outcome::Outcome;
use rows::{Log, Row};
use run::{Run, Stretch};

/// The files that `--out` writes.
const FILES: [&str; 2] = ["motors.html", "motors.csv"];
/// Logs whose starts follow on each other's ends so nearly are one, s.
const JOINED_S: f64 = 1.0;

/// What the logs say of themselves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recorded {
    /// Their length, s.
    pub length_s: f64,
    /// Time at which the motor was at work, s.
    pub running_s: f64,
    /// Share of it for which the mill's torque is known only as far as the recorded motor carried it, s.
    pub stalled_s: f64,
    /// Shaft work over that time, J, and its squared power, W² s.
    pub shaft: [f64; 2],
    /// From trips of the recorded motor to when it was off or its load was back within its rating, s: what no mill would have gone
    /// through, and what counts for no motor.
    pub tripped: Vec<[f64; 2]>,
    /// Taken in while current flowed, J.
    pub electrical_j: f64,
    /// Fed, kg; `None`: it was not known.
    pub mass_kg: Option<f64>,
}

impl Recorded {
    fn add(&mut self, stretch: &Stretch) {
        let row = &stretch.row;
        let length_s = row.to_s - row.from_s;
        if stretch.tripped {
            let end_s = stretch.at_s + length_s;
            match self.tripped.last_mut().filter(|span| (span[1] - stretch.at_s).abs() < 1e-6) {
                Some(span) => span[1] = end_s,
                None => self.tripped.push([stretch.at_s, end_s]),
            }
            return;
        }
        if at_work(row.state) {
            self.running_s += length_s;
            self.shaft[0] += row.shaft_w * length_s;
            self.shaft[1] += row.shaft_w.powi(2) * length_s;
            self.stalled_s += if row.load_nm.is_none() { length_s } else { 0.0 };
        }
        if stretch.line_v.is_some() {
            self.electrical_j += row.active_w.unwrap_or(0.0) * length_s;
        }
    }

    /// How long trips of the recorded motor were gone through, s.
    pub fn tripped_s(&self) -> f64 {
        self.tripped.iter().map(|[from, to]| to - from).sum()
    }

    /// Root of the mean square power at work, W.
    pub fn rms_w(&self) -> Option<f64> {
        (self.running_s > 0.0).then(|| (self.shaft[1] / self.running_s).sqrt())
    }
}

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
    /// The smallest motor that would have done it.
    pub fn smallest(&self) -> Option<usize> {
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
    if [&args.json, &args.csv].into_iter().filter(|path| path.as_deref() == Some(Path::new("-"))).count() > 1 {
        return Err(Usage("--json and --csv cannot both go to standard output".to_owned()).into());
    }
    let logs = rows::named(&args.logs)?;
    let mut inputs = logs.clone();
    inputs.extend([args.settings.clone(), args.motors.clone()]);
    let mut outputs: Vec<(&'static str, PathBuf)> = Vec::new();
    outputs.extend(args.json.clone().map(|path| ("--json", path)));
    outputs.extend(args.csv.clone().map(|path| ("--csv", path)));
    outputs.extend(args.out.iter().flat_map(|out| FILES.map(|file| ("--out", out.join(file)))));
    clash::refuse(&inputs, &outputs)?;
    let motors = motors::load(&args.settings, &args.motors)?;
    interrupt::watch();
    let found = study(logs, motors)?;
    let csv = table::csv(&found)?;
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        whole::write(&folder.join(FILES[0]), page::html(&found)?.as_bytes())?;
        whole::write(&folder.join(FILES[1]), &csv)?;
    }
    let to_screen = args.csv.as_deref() == Some(Path::new("-"));
    match args.csv.as_deref() {
        Some(_) if to_screen => show::print(&csv)?,
        Some(path) => whole::write(path, &csv)?,
        None => {}
    }
    let text = if to_screen { String::new() } else { words::text(&found, args.out.as_deref()) };
    show::show(&text, &table::json(&found), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Works it out.
///
/// # Errors
/// A log is at fault.
pub fn study(logs: Vec<PathBuf>, motors: Vec<Motor>) -> anyhow::Result<Found> {
    let mut recorded = Recorded::default();
    let mut torque = Torque::new(&motors[0].settings);
    let mut runs: Vec<Run<'_>> = motors.iter().map(Run::new).collect();
    let mut progress = Progress::new("motors");
    let total: u64 = logs.iter().filter_map(|path| std::fs::metadata(path).ok()).map(|about| about.len()).sum();
    let mut done = 0;
    let (mut end_s, mut tripped): (Option<f64>, bool) = (None, false);
    let rated_w = motors[0].rated_w();
    for path in &logs {
        let mut log = Log::open(path)?;
        let (mut first, begin_s) = (true, recorded.length_s);
        let mut mass_kg: Option<f64> = None;
        loop {
            let rows = log.rows()?;
            let (Some(head), Some(tail)) = (rows.first(), rows.last()) else { break };
            if std::mem::take(&mut first) {
                let follows = end_s.zip(log.start_s).is_some_and(|(end, start)| (start - end).abs() < JOINED_S);
                if end_s.is_some() && !follows {
                    runs.iter_mut().for_each(Run::gap);
                }
                mass_kg = head.mass_kg;
            }
            let mut stretches: Vec<Stretch> = rows.iter().map(|row| torque.of(row, begin_s)).collect();
            let Some((own, others)) = runs.split_first_mut() else { break };
            for stretch in &mut stretches {
                tripped &= stretch.line_v.is_some() && (stretch.row.load_nm.is_none() || stretch.row.shaft_w > rated_w);
                stretch.tripped = tripped;
                let before = own.figures.trips.len();
                own.row(stretch);
                tripped |= own.figures.trips.len() > before;
                recorded.add(stretch);
            }
            others.par_iter_mut().for_each(|run| stretches.iter().for_each(|stretch| run.row(stretch)));
            recorded.length_s = begin_s + tail.to_s;
            if let Some((fed, before)) = tail.mass_kg.zip(mass_kg) {
                recorded.mass_kg = Some(recorded.mass_kg.unwrap_or(0.0) + (fed - before).max(0.0));
                mass_kg = tail.mass_kg;
            }
            progress.at((done + log.read(), Some(total)));
        }
        if first {
            let name = path.display().to_string();
            return Err(Fault::new(name, "has no rows").wanted("intervals of a replay").mend("take it out").into());
        }
        end_s = log.start_s.map(|start| start + recorded.length_s - begin_s);
        done += std::fs::metadata(path).map_or(0, |about| about.len());
    }
    drop(progress);
    let figures: Vec<Figures> = runs.into_iter().map(|run| run.figures).collect();
    let outcomes = outcome::outcomes(&figures, &recorded.tripped);
    let mut found = Found { logs, recorded, motors, figures, outcomes, notes: Vec::new() };
    found.notes = words::notes(&found);
    Ok(found)
}

/// The mill's torque over time.
struct Torque {
    /// Line to line over what is measured.
    line_over_measured: f64,
    nominal_v: f64,
    /// Of the empty mill at synchronous speed: as set, or the mean of what was seen.
    empty: [f64; 2],
    /// The last that was known of a mill at work, N m.
    last: f64,
}

impl Torque {
    fn new(settings: &Settings) -> Self {
        let sync_rad_s = settings.motor.synchronous_speed_rpm() / 60.0 * std::f64::consts::TAU;
        // As much weight as a minute of rows.
        let empty = settings.mill.idle_power_kw.map_or([0.0; 2], |kw| [kw * 1e3 / sync_rad_s * 60.0, 60.0]);
        let line_over_measured = if settings.supply.wiring.is_phase_to_neutral() { 3f64.sqrt() } else { 1.0 };
        Self { line_over_measured, nominal_v: settings.supply.line_voltage_v, empty, last: 0.0 }
    }

    fn of(&mut self, row: &Row, begin_s: f64) -> Stretch {
        let length_s = row.to_s - row.from_s;
        if row.state == State::Idle
            && let Some(nm) = row.load_nm
        {
            self.empty = [self.empty[0] + nm * length_s, self.empty[1] + length_s];
        }
        let empty = if self.empty[1] > 0.0 { self.empty[0] / self.empty[1] } else { 0.0 };
        // Where the recorded motor was too slow for its speed to be told the load was what it could not carry: no less than the last that
        // was known, and than what it gave.
        let runs = at_work(row.state);
        self.last = if runs { row.load_nm.unwrap_or(self.last.max(row.torque_nm)) } else { 0.0 };
        let on = runs || row.state == State::Starting;
        let volts = row.volts.map_or(self.nominal_v, |volts| volts * self.line_over_measured);
        Stretch {
            row: *row,
            nm: if runs { self.last } else { empty },
            line_v: on.then_some(volts),
            at_s: begin_s + row.from_s,
            tripped: false,
        }
    }
}

fn at_work(state: State) -> bool {
    matches!(state, State::Idle | State::Breaking)
}
