//! Interval logs: rows of power and state over time, as CSV or Parquet, brought to minutes of UTC.
//!
//! A log has a row for each interval, stamped at its end. `time` is a moment with its offset, or legal time of the site without one;
//! `t_s` counts seconds from the start that the log states. Of several logs of one time the first counts where they agree.

mod cells;
mod csv;
pub mod happened;
mod loads;
pub mod merge;
mod parquet;
mod register;
mod rows;
mod source;
mod stamps;
mod states;

use std::path::{Path, PathBuf};

use super::calendar::Calendar;
use super::site::{Change, Motor};
use crate::error::Fault;
use crate::minutes::Bins;

pub use cells::NUMBERS;
pub use happened::Happened;
use happened::What;
pub use loads::{Loads, Spread};
pub use merge::{Gap, Merged};
pub use source::{Source, Sum};
pub use stamps::Corrected;

/// A stretch of time, µs of UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// Its begin.
    pub from_us: i64,
    /// Its end.
    pub to_us: i64,
}

/// A stretch of a log without a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it lies.
    pub span: Span,
    /// The register at the end of its first row, and what that row took, kWh.
    pub first: Option<[f64; 2]>,
    /// The register at its end, kWh.
    pub last: Option<f64>,
    /// What its rows took, kWh.
    pub kwh: f64,
}

/// A log that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// The file.
    pub path: PathBuf,
    /// Its minutes.
    pub bins: Bins,
    /// Running time by load.
    pub loads: Loads,
    /// What it covers, in order of time.
    pub stretches: Vec<Stretch>,
    /// What happened, as the events beside it tell; `None`: there are none.
    pub happened: Option<Vec<Happened>>,
    /// What the file was.
    pub sum: Sum,
    /// Its columns that are not looked at.
    pub unknown: Vec<String>,
    /// When its register began anew, µs of UTC; `None`: it has none.
    pub rollovers: Option<Vec<i64>>,
    /// Rows whose clock was wrong, by the change that says so.
    pub corrected: Corrected,
    /// What a reader should know of it.
    pub notes: Vec<String>,
    /// The usual length of its rows, µs.
    pub row_us: i64,
    /// Rows in it.
    pub rows: u64,
    /// Whether its states were told by power alone.
    pub by_power: bool,
    /// Whether its power is what a register advanced: it has no other.
    pub by_register: bool,
    /// Whether it counts starts, trips, and the time for which the feed was stopped itself.
    pub counts: [bool; 3],
    /// Whether it has a mass.
    pub mass: bool,
}

/// What reading needs of the site.
#[derive(Clone, Copy)]
pub struct About<'a> {
    /// Legal time.
    pub calendar: &'a Calendar,
    /// What was changed: meters, clocks.
    pub changes: &'a [Change],
    /// The motor: states by power where a log tells none.
    pub motor: &'a Motor,
    /// One more than the highest reading of a register in its steps, and the step, kWh.
    pub register: (u64, f64),
    /// A share by which register and rows may differ: what the meter may err.
    pub off_share: f64,
    /// Hears how many bytes more are read.
    pub read: &'a (dyn Fn(u64) + Sync),
}

/// The file that is taken of a folder that a replay wrote: the first of these that is there.
const OF_A_REPLAY: [&str; 4] = ["minutes.parquet", "minutes.csv", "intervals.parquet", "intervals.csv"];
/// Tables of a replay that are no interval logs.
const OTHERS: [&str; 7] =
    ["events.csv", "runs.csv", "tickets.csv", "shifts.csv", "motors.csv", "settings.csv", "decisions.csv"];

/// Whether a file of this name would be read if it lay in a folder of logs.
pub fn would_be_read(path: &Path) -> bool {
    let own = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    !own.starts_with('.')
        && !OTHERS.contains(&own.as_str())
        && path.extension().is_some_and(|end| end == "csv" || end == "parquet")
}

/// The logs that are meant by a name: a file, or those in a folder and the folders in it.
///
/// # Errors
/// There are none.
pub fn named(name: &Path) -> anyhow::Result<Vec<PathBuf>> {
    let shown = name.display().to_string();
    let about = std::fs::metadata(name)
        .map_err(|error| Fault::unreadable(shown.as_str(), &error, "an interval log or a folder of them"))?;
    if !about.is_dir() {
        return Ok(vec![name.to_owned()]);
    }
    let mut all = Vec::new();
    folder(name, &mut all)?;
    if all.is_empty() {
        return Err(Fault::new(shown, "holds no interval log")
            .wanted("files .csv or .parquet, or folders that replay --out has written")
            .mend("replay the traces first: shaftwork replay TRACE --settings FILE --out DIR")
            .into());
    }
    Ok(all)
}

fn folder(path: &Path, all: &mut Vec<PathBuf>) -> anyhow::Result<()> {
    let shown = || path.display().to_string();
    let entries = std::fs::read_dir(path).map_err(|error| Fault::unreadable(shown(), &error, "a folder of logs"))?;
    let mut paths = Vec::new();
    for entry in entries {
        paths.push(entry.map_err(|error| Fault::unreadable(shown(), &error, "a folder of logs"))?.path());
    }
    paths.sort();
    let name = |path: &Path| path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    // The tiers of one replay tell the same: one of them is enough.
    let tier = OF_A_REPLAY.iter().find(|tier| paths.iter().any(|path| name(path) == **tier));
    for path in paths {
        let own = name(&path);
        if path.is_dir() {
            folder(&path, all)?;
        } else if OF_A_REPLAY.contains(&own.as_str()) {
            if Some(&own.as_str()) == tier {
                all.push(path);
            }
        } else if would_be_read(&path) {
            all.push(path);
        }
    }
    Ok(())
}

/// Reads a log, leaving out what lies in `without`.
///
/// # Errors
/// It is no interval log, or its content is bad.
pub fn read(path: &Path, about: &About<'_>, without: &[Span]) -> anyhow::Result<Log> {
    let mut rows = rows::Rows::new(path, *about, without);
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("parquet")) {
        parquet::read(path, &mut rows)?;
    } else {
        csv::read(path, &mut rows)?;
    }
    let mut happened = happened::beside(path, rows.stamps.start_us(), rows.end_us())?;
    for event in happened.iter_mut().flatten() {
        event.at_us = rows.stamps.event_us(event.at_us);
        if let What::FeedStop(_, until_us) = &mut event.what {
            *until_us = rows.stamps.event_us(*until_us);
        }
    }
    let mut log = rows.finish()?;
    if happened.is_some() {
        // They tell how long the feed stood.
        log.bins.bins.iter_mut().for_each(|bin| bin.held_us = 0.0);
    }
    log.happened = happened;
    Ok(log)
}

/// Reads a log that is there as text.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(name: &str, bytes: &[u8], about: &About<'_>) -> anyhow::Result<Log> {
    let mut rows = rows::Rows::new(Path::new(name), *about, &[]);
    csv::lines(bytes, &mut rows)?;
    Ok(rows.finish()?)
}

#[cfg(test)]
mod tests;
