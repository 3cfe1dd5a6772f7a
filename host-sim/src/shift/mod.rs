//! The verb `shift`: interval logs, weigh tickets, a calendar and a tariff -> figures of each shift that add up, with their uncertainty.
//!
//! ```text
//! logs (CSV, Parquet) ─ rows ─ minutes of UTC ─┬─ accounts: shifts, outside, whole ─┬─ rows ─ table, JSON, CSV, page
//! tickets ─────────────────────────────────────┤                                    ├─ demand by month
//! site.toml: zone, shifts, meter, tariff ──────┘                                    └─ baseline ─ cumulative sum ─ bends
//! ```

pub mod account;
pub mod calendar;
pub mod demand;
pub mod drift;
pub mod figures;
pub mod log;
mod notes;
mod page;
pub mod pairs;
mod picture;
pub mod report;
mod sheet;
pub mod site;
pub mod stoppages;
mod table;
pub mod tickets;
pub mod uncertainty;
mod words;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Mutex, PoisonError};

use jiff::civil::DateTime;

use crate::clash;
use crate::cli::{Shift, show};
use crate::error::{Fault, Usage};
use crate::interrupt;
use crate::progress::Progress;
use crate::whole;
use account::{Account, Accounts};
use calendar::{Calendar, Told};
use log::{About, Merged};
use report::{FileRow, Given, Report};
use site::{Baseline, Site};
use tickets::Tickets;

/// The files that `--out` writes.
const FILES: [&str; 2] = ["shift.html", "shifts.csv"];

/// Reckons; prints a table, writes JSON, CSV and the page where they are wanted.
///
/// # Errors
/// An input is at fault, or an output cannot be written.
pub fn run(args: &Shift) -> anyhow::Result<ExitCode> {
    if let (Some(from), Some(to)) = (args.from, args.to)
        && from > to
    {
        return Err(Usage(format!("--from {from} is after --to {to}")).into());
    }
    let mut paths = Vec::new();
    for name in &args.logs {
        paths.extend(log::named(name)?);
    }
    // Tickets and stoppages may lie beside the logs.
    let beside: Vec<PathBuf> = args.tickets.iter().chain(&args.stoppages).cloned().collect();
    paths.retain(|path| !beside.iter().any(|own| clash::same_file(own, path)));
    let mut inputs = vec![args.site.clone()];
    inputs.extend(beside);
    inputs.extend(paths.iter().cloned());
    let mut outputs: Vec<_> = clash::json(args.json.as_deref()).into_iter().collect();
    outputs.extend(args.csv.clone().map(|csv| ("--csv", csv)));
    outputs.extend(args.out.iter().flat_map(|out| FILES.map(|file| ("--out", out.join(file)))));
    clash::refuse(&inputs, &outputs)?;
    if args.csv.as_deref() == Some(Path::new("-")) && args.json.as_deref() == Some(Path::new("-")) {
        return Err(Usage("--json - and --csv - both want standard output: give one of them a file".to_owned()).into());
    }
    let folders = || args.logs.iter().filter(|name| name.is_dir());
    if let Some(csv) = args.csv.as_deref().filter(|csv| log::would_be_read(csv))
        && folders().any(|folder| clash::lies_below(csv, folder))
    {
        let words = "--csv is in a folder of logs, and would be read as one the next time\n  to mend it: write it elsewhere, or call it shifts.csv";
        return Err(Usage(words.to_owned()).into());
    }
    interrupt::watch();
    let site = site::load(&args.site)?;
    let found = reckon(args, &site, &paths)?;
    let table = table::csv(&found)?;
    let mut files = Vec::new();
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        files.push((folder.join(FILES[0]), page::page(&found)?.into_bytes()));
        files.push((folder.join(FILES[1]), table.clone()));
    }
    match args.csv.as_deref() {
        Some(path) if path == Path::new("-") => show::print(&table)?,
        Some(path) => files.push((path.to_owned(), table)),
        None => {}
    }
    write(&files)?;
    let text = if args.csv.as_deref() == Some(Path::new("-")) { String::new() } else { words::text(&found) };
    show::show(&text, &found, args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Writes all files or none: no name is given before the last byte is written.
fn write(files: &[(PathBuf, Vec<u8>)]) -> anyhow::Result<()> {
    let mut all = Vec::new();
    for (path, bytes) in files {
        let mut file = whole::Whole::create(path)?;
        file.write_all(bytes)?;
        file.flush()?;
        all.push(file);
    }
    all.into_iter().try_for_each(whole::Whole::commit)
}

/// Days of a period at most.
const MOST_DAYS: i32 = 5 * 366 + 2;
/// Register and rows may differ by so much where the site's file does not say how good the meter is, % (common practice, no source).
const OFF_PCT: f64 = 2.0;

/// How much of the logs is read, for whoever waits.
struct Bar {
    total: u64,
    done: Mutex<(u64, Progress)>,
}

impl Bar {
    fn new(paths: &[PathBuf]) -> Self {
        let total = paths.iter().filter_map(|path| std::fs::metadata(path).ok()).map(|about| about.len()).sum();
        Self { total, done: Mutex::new((0, Progress::new("logs"))) }
    }

    /// So many bytes more; what is read twice counts once at most.
    fn add(&self, bytes: u64) {
        let mut own = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        own.0 = (own.0 + bytes).min(self.total);
        let at = (own.0, Some(self.total));
        own.1.at(at);
    }
}

/// The files that were read, so that an auditor can tell that they are the same.
fn files(args: &Shift, logs: &Merged) -> anyhow::Result<Vec<FileRow>> {
    let row = |path: &Path, kind, sum: log::Sum, rows| FileRow {
        file: path.display().to_string(),
        kind,
        bytes: sum.bytes,
        crc32: format!("{:08x}", sum.crc32),
        rows,
    };
    let whole = |path: &Path, kind| {
        let sum = log::Source::whole(path, &|_| ());
        sum.map(|sum| row(path, kind, sum, None))
            .map_err(|error| Fault::unreadable(path.display().to_string(), &error, kind))
    };
    let mut all = vec![whole(&args.site, "site")?];
    for own in &logs.files {
        all.push(row(&own.path, "log", own.sum, Some(own.rows)));
        if own.events {
            all.push(whole(&own.path.with_file_name("events.csv"), "events")?);
        }
    }
    for (kind, paths) in [("tickets", &args.tickets), ("stoppages", &args.stoppages)] {
        for path in paths {
            all.push(whole(path, kind)?);
        }
    }
    Ok(all)
}

/// Works everything out.
///
/// # Errors
/// As [`run`].
pub fn reckon(args: &Shift, site: &Site, paths: &[PathBuf]) -> anyhow::Result<Report> {
    let tickets = tickets::read(&args.tickets, site)?;
    let stoppages = stoppages::read(&args.stoppages, &site.calendar)?;
    let modulus = 10u64.pow(site.meter.register_digits);
    let bar = Bar::new(paths);
    // A register shows so many digits of its steps.
    let about = About {
        calendar: &site.calendar,
        changes: &site.changes,
        motor: &site.motor,
        register: (modulus, site.meter.register_step_kwh),
        off_share: site.meter.limit_pct().unwrap_or(OFF_PCT) / 100.0,
        read: &|bytes| bar.add(bytes),
    };
    let logs = log::merge::gather(paths, &about)?;
    drop(bar);
    let (shifts, period) = period(args, site, &logs)?;
    let mut accounts = Accounts::new(site, &logs, &tickets, &shifts, period);
    let stood_us = accounts.give_reasons(&logs, &stoppages, |us| tickets::told(us, &site.calendar));
    accounts.age_hammers(site, &logs, &tickets);
    let beside = learnt_beside(site, &logs, &tickets, &accounts);
    let drift = drift::drift(site, &accounts, &beside);
    let stoppages = stoppages.given.then(|| stoppages.all.iter().zip(stood_us).collect());
    let given = Given { site, logs: &logs, tickets: &tickets, stoppages, accounts: &accounts, drift: &drift };
    let mut report = Report::new(&given, files(args, &logs)?);
    report.notes.extend(left_out(&logs, period));
    Ok(report)
}

/// The shifts of the period, and its ends: as asked for, so that periods of days that follow each other neither leave out a minute nor
/// count one twice; else from the shift of the first row to that of the last.
fn period(args: &Shift, site: &Site, logs: &Merged) -> anyhow::Result<(Vec<calendar::Shift>, [i64; 2])> {
    let (bins, calendar) = (&logs.bins, &site.calendar);
    let local = |minute: i64| calendar.local(minute).date();
    let first = args.from.unwrap_or_else(|| local(bins.first).yesterday().unwrap_or(local(bins.first)));
    let last = args.to.unwrap_or_else(|| local(bins.end()));
    if first.until(last).is_ok_and(|span| span.get_days() > MOST_DAYS) {
        let words = format!(
            "from {first} to {last} are more than five years\n  to mend it: choose --from and --to nearer to each other"
        );
        return Err(Usage(words).into());
    }
    let mut shifts = calendar.shifts(first, last);
    if args.from.is_none() {
        shifts.retain(|shift| shift.to > bins.first);
    }
    if args.to.is_none() {
        shifts.retain(|shift| shift.from < bins.end());
    }
    // Rows before the first and after the last shift are outside of shifts, not out of the books.
    let begin = shifts.first().map_or(bins.first, |shift| shift.from.min(bins.first));
    let end = shifts.last().map_or(bins.end(), |shift| shift.to.max(bins.end()));
    let from = args.from.map_or(begin, |date| calendar.border(date));
    let to = args.to.map_or(end, |date| date.tomorrow().map_or(end, |next| calendar.border(next)));
    if to <= bins.first || from >= bins.end() {
        let [first_row, last_row] = [bins.first, bins.end()].map(local);
        return Err(Fault::new(site.file.as_str(), format!("the logs tell nothing from {first} to {last}"))
            .wanted(format!("days of the logs, which reach from {first_row} to {last_row}"))
            .mend("look at --from and --to")
            .into());
    }
    let asked = args.from.is_some() || args.to.is_some();
    if from >= to || (shifts.is_empty() && !asked) {
        return Err(Fault::new(site.file.as_str(), format!("no shift begins from {first} to {last}"))
            .wanted("shifts on the days of the logs")
            .mend("look at days of [[shift]], at --from and --to, and at the logs' times")
            .into());
    }
    Ok((shifts, [from, to]))
}

/// The shifts of the baseline's days, from all logs, that the period does not have.
fn learnt_beside(site: &Site, logs: &Merged, tickets: &Tickets, accounts: &Accounts) -> Vec<Account> {
    let Some(Baseline::Learnt { from, to }) = site.baseline else { return Vec::new() };
    let local = |minute: i64| site.calendar.local(minute).date();
    let begin = local(logs.bins.first);
    let from = from.max(begin.yesterday().unwrap_or(begin));
    let mut shifts = site.calendar.shifts(from, to.min(local(logs.bins.end())));
    shifts.retain(|shift| !accounts.shifts.iter().any(|own| own.from == shift.from));
    Accounts::shifts_alone(site, logs, tickets, &shifts)
}

/// What the logs hold beside the period.
fn left_out(logs: &Merged, [from, to]: [i64; 2]) -> Option<String> {
    let bins = &logs.bins;
    let outside = |minute: &i64| !(from..to).contains(minute);
    let kwh: f64 =
        (bins.first..bins.end()).filter(outside).filter_map(|m| bins.get(m)).map(crate::minutes::Bin::total_kwh).sum();
    (kwh > 0.0).then(|| format!("{kwh:.2} kWh of the logs lie outside of the period and are not counted"))
}

/// A moment as a person writes it: with its offset, or legal time of the site where that comes once.
///
/// # Errors
/// In words, what it is not.
pub fn moment(text: &str, calendar: &Calendar) -> Result<i64, &'static str> {
    if let Ok(at) = text.parse::<jiff::Timestamp>() {
        return Ok(at.as_microsecond());
    }
    let offset = text.get(10..).is_some_and(|time| time.contains(['+', '-', 'Z', 'z']));
    let at: DateTime = text.parse().ok().filter(|_| !offset && text.len() > 10).ok_or("is no time")?;
    match calendar.told(at) {
        Told::Once(us) => Ok(us),
        Told::Never => Err("is a time that the clocks skip that night"),
        Told::Twice(_) => Err("is a time that comes twice that night"),
    }
}

#[cfg(test)]
mod tests;
