//! Several logs as one: what is there twice counts once, and what is missing is bridged where a register tells it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::register::{advanced, began_anew, changed, possible};
use super::rows::MOST_US;
use super::{About, Corrected, Happened, Loads, Log, Span, Stretch, Sum, read};
use crate::error::Fault;
use crate::minutes::{Bins, MINUTE_US};
use crate::shift::calendar::timestamp;

/// All logs together.
#[derive(Debug, Clone, Default, PartialEq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a fact of its own about the logs")]
pub struct Merged {
    /// Minutes.
    pub bins: Bins,
    /// Running time by load.
    pub loads: Loads,
    /// What is missing between the first and the last row.
    pub gaps: Vec<Gap>,
    /// What happened, in order of time.
    pub happened: Vec<Happened>,
    /// Whether some log has its events beside it.
    pub told: bool,
    /// What a reader should know.
    pub notes: Vec<String>,
    /// Rows whose clock was wrong, by the change that says so.
    pub corrected: Corrected,
    /// Times in which a register went another way than the rows, and how.
    pub off: Vec<Off>,
    /// The files, in order of time.
    pub files: Vec<LogFile>,
    /// Columns that are not looked at, as they stand together in a log: in how many, and the first of them.
    pub unknown: BTreeMap<Vec<String>, (usize, PathBuf)>,
    /// When a register began anew, µs of UTC, in order; `None`: no log has one.
    pub rollovers: Option<Vec<i64>>,
    /// The longest usual row, µs.
    pub row_us: i64,
    /// Rows that were read.
    pub rows: u64,
    /// Whether some states were told by power alone.
    pub by_power: bool,
    /// Whether the power of some is what a register advanced.
    pub by_register: bool,
    /// Whether every log counts its starts, its trips, and the time for which the feed was stopped.
    pub counts: [bool; 3],
    /// Whether some log has a mass.
    pub mass: bool,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct LogFile {
    /// Its path.
    pub path: PathBuf,
    /// What it was.
    pub sum: Sum,
    /// Its rows.
    pub rows: u64,
    /// Whether its events stood beside it.
    pub events: bool,
}

/// A register that went another way than the rows beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Off {
    /// When.
    pub span: Span,
    /// In which log.
    pub path: PathBuf,
    /// What the register advanced by, kWh.
    pub register_kwh: f64,
    /// What the rows come to, kWh.
    pub rows_kwh: f64,
}

/// A stretch of time without rows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// When.
    pub span: Span,
    /// What is known of its energy.
    pub energy: Bridge,
}

/// What is known of a gap's energy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bridge {
    /// The register tells it, kWh.
    Register(f64),
    /// Nothing.
    Missing,
    /// The register jumped by more than the motor can have taken: before and after, kWh. A person must say why.
    Jumped([f64; 2]),
}

/// Energies of a minute that differ by less are the same: a tier is rounded.
const SAME_SHARE: f64 = 0.005;
const SAME_KWH: f64 = 0.001;
/// Stretches nearer than this touch.
const TOUCH_US: i64 = 1_000;

/// Reads all logs, on all processors.
///
/// # Errors
/// A log cannot be read or its content is bad; or two tell different things of one time.
pub fn gather(paths: &[PathBuf], about: &About<'_>) -> anyhow::Result<Merged> {
    // The order of the names, and with it the first fault, does not depend on the number of threads.
    let read: Vec<anyhow::Result<Log>> = paths.par_iter().map(|path| read(path, about, &[])).collect();
    let mut logs = read.into_iter().collect::<anyhow::Result<Vec<Log>>>()?;
    logs.sort_by(|a, b| start(a).cmp(&start(b)).then_with(|| a.path.cmp(&b.path)));
    join(logs, about)
}

fn start(log: &Log) -> i64 {
    log.stretches.first().map_or(i64::MAX, |stretch| stretch.span.from_us)
}

/// Puts logs together that are in order of time.
fn join(logs: Vec<Log>, about: &About<'_>) -> anyhow::Result<Merged> {
    let mut all = Merged { counts: [true; 3], ..Merged::default() };
    let mut stretches: Vec<(Stretch, PathBuf)> = Vec::new();
    let mut begin_us = i64::MAX;
    for log in logs {
        // A clock that fell back to its first day would make years of nothing.
        if let Some(last) = log.stretches.last() {
            begin_us = begin_us.min(start(&log));
            if last.span.to_us.saturating_sub(begin_us) > MOST_US {
                let [first, end] = [begin_us, last.span.to_us].map(|us| timestamp(us).strftime("%Y-%m-%d").to_string());
                return Err(Fault::new(
                    log.path.display().to_string(),
                    format!("reaches to {end}, other logs begin on {first}"),
                )
                .wanted("logs of five years at most")
                .mend("look for a logger whose clock was wrong, or name fewer logs")
                .into());
            }
        }
        let twice: Vec<(Span, &Path)> = stretches
            .iter()
            .flat_map(|(before, path)| log.stretches.iter().map(move |own| (before.span, own.span, path.as_path())))
            .filter_map(|(a, b, path)| {
                let span = Span { from_us: a.from_us.max(b.from_us), to_us: a.to_us.min(b.to_us) };
                (span.to_us - span.from_us > TOUCH_US).then_some((span, path))
            })
            .collect();
        let mut log = log;
        if let Some((first, path)) = twice.first().copied() {
            let other = path.to_owned();
            let spans: Vec<Span> = twice.iter().map(|(span, _)| *span).collect();
            agree(&all.bins, &log, &spans, &other)?;
            let minutes = spans.iter().map(|span| span.to_us - span.from_us).sum::<i64>() as f64 / MINUTE_US as f64;
            all.notes.push(format!(
                "{}: {minutes:.1} min from {} on are in {} as well; they count once",
                log.path.display(),
                timestamp(first.from_us).strftime("%Y-%m-%d %H:%M:%SZ"),
                other.display()
            ));
            let happened = log.happened.take();
            log = read(&log.path, about, &spans)?;
            let outside = |event: &Happened| !spans.iter().any(|s| (s.from_us..s.to_us).contains(&event.at_us));
            log.happened = happened.map(|all| all.into_iter().filter(outside).collect());
        }
        all.take(&log);
        stretches.extend(log.stretches.iter().map(|stretch| (*stretch, log.path.clone())));
        stretches.sort_by_key(|(stretch, _)| stretch.span);
    }
    if let (true, Some(file)) = (stretches.is_empty(), all.files.first()) {
        return Err(Fault::new(file.path.display().to_string(), "no row tells a power")
            .wanted("active_w, or a register_kwh that is read twice at least")
            .mend("look at the columns, and at what became of their figures")
            .into());
    }
    all.happened.sort_by_key(|event| event.at_us);
    let only: Vec<Stretch> = stretches.iter().map(|(stretch, _)| *stretch).collect();
    all.off.extend(stretches.iter().filter_map(|(stretch, path)| off(stretch, path, about)));
    // Within a log its own rows tell it.
    let between = |pair: &&[(Stretch, PathBuf)]| {
        let [(before, path), (after, other)] = pair else { return false };
        let readings = before.last.zip(after.first.map(|first| first[0]));
        let begun = |(last, first)| began_anew([last, first], [before.span.to_us, after.span.to_us], about);
        path != other && readings.is_some_and(begun)
    };
    if let Some(rollovers) = &mut all.rollovers {
        rollovers.extend(stretches.windows(2).filter(between).map(|pair| pair[1].0.span.from_us));
        rollovers.sort_unstable();
    }
    all.gaps = gaps(&only, about);
    Ok(all)
}

impl Merged {
    fn take(&mut self, log: &Log) {
        self.bins.join(&log.bins);
        self.loads.join(&log.loads);
        self.notes.extend(log.notes.iter().cloned());
        if !log.unknown.is_empty() {
            self.unknown.entry(log.unknown.clone()).or_insert((0, log.path.clone())).0 += 1;
        }
        if let Some(own) = &log.rollovers {
            self.rollovers.get_or_insert_default().extend(own);
        }
        self.files.push(LogFile {
            path: log.path.clone(),
            sum: log.sum,
            rows: log.rows,
            events: log.happened.is_some(),
        });
        for (change, (rows, span)) in &log.corrected {
            let own = self.corrected.entry(*change).or_insert((0, *span));
            let to_us = own.1.to_us.max(span.to_us);
            *own = (own.0 + rows, Span { from_us: own.1.from_us.min(span.from_us), to_us });
        }
        self.rows += log.rows;
        self.row_us = self.row_us.max(log.row_us);
        self.by_power |= log.by_power;
        self.by_register |= log.by_register;
        self.mass |= log.mass;
        let told = log.happened.is_some();
        self.counts = std::array::from_fn(|at| self.counts[at] && (log.counts[at] || told));
        self.told |= told;
        match &log.happened {
            // Events beside a log tell more than its own counts, which then do not count again.
            Some(more) => self.happened.extend(more.iter().cloned()),
            None => {
                for (at, bin) in log.bins.bins.iter().enumerate() {
                    let at_us = (log.bins.first + at as i64) * MINUTE_US;
                    let start = Happened { at_us, what: super::happened::What::Start };
                    let trip = Happened { at_us, what: super::happened::What::Trip("cause not told".to_owned()) };
                    self.happened.extend(std::iter::repeat_n(start, bin.starts as usize));
                    self.happened.extend(std::iter::repeat_n(trip, bin.trips as usize));
                }
            }
        }
    }
}

/// Two logs of one time must tell the same of it.
fn agree(bins: &Bins, log: &Log, spans: &[Span], other: &Path) -> Result<(), Fault> {
    for span in spans {
        let from = span.from_us.div_euclid(MINUTE_US) + i64::from(span.from_us % MINUTE_US != 0);
        for minute in from..span.to_us.div_euclid(MINUTE_US) {
            let (Some(a), Some(b)) = (bins.get(minute), log.bins.get(minute)) else { continue };
            if a.us != MINUTE_US || b.us != MINUTE_US {
                continue;
            }
            let (a, b) = (a.total_kwh(), b.total_kwh());
            if (a - b).abs() > SAME_KWH + SAME_SHARE * a.max(b) {
                let at = timestamp(minute * MINUTE_US).strftime("%Y-%m-%d %H:%MZ");
                return Err(Fault::new(
                    log.path.display().to_string(),
                    format!("{b:.4} kWh in the minute from {at}, but {a:.4} kWh in {}", other.display()),
                )
                .wanted("one log of each time, or logs that agree")
                .mend("name the one that is right, or correct its start"));
            }
        }
    }
    Ok(())
}

/// A register that goes another way than the rows.
fn off(stretch: &Stretch, path: &Path, about: &About<'_>) -> Option<Off> {
    let ([first, row_kwh], last) = stretch.first.zip(stretch.last)?;
    let span = stretch.span;
    if changed([span.from_us, span.to_us], about.changes).is_some() {
        return None;
    }
    let rows_kwh = stretch.kwh - row_kwh;
    let register_kwh = advanced(first, last, about.register)?;
    // Two readings are as good as the register's step each.
    let far = (register_kwh - rows_kwh).abs() > about.off_share * rows_kwh + 2.0 * about.register.1;
    far.then(|| Off { span, path: path.to_owned(), register_kwh, rows_kwh })
}

fn gaps(stretches: &[Stretch], about: &About<'_>) -> Vec<Gap> {
    let mut all = Vec::new();
    for pair in stretches.windows(2) {
        let [before, after] = pair else { continue };
        let span = Span { from_us: before.span.to_us, to_us: after.span.from_us };
        if span.to_us - span.from_us < TOUCH_US {
            continue;
        }
        all.push(Gap { span, energy: bridge(span, before, after, about) });
    }
    all
}

fn bridge(span: Span, before: &Stretch, after: &Stretch, about: &About<'_>) -> Bridge {
    let (Some(last), Some([first, row_kwh])) = (before.last, after.first) else { return Bridge::Missing };
    let elapsed_s = (span.to_us - span.from_us) as f64 / 1e6;
    // With the first row, so that what begins anew inside it is seen as well.
    let kwh = match changed([span.from_us, span.to_us], about.changes) {
        Some([old, new]) => {
            let parts = advanced(last, old, about.register).zip(advanced(new, first, about.register));
            parts.map(|(a, b)| a + b)
        }
        None => advanced(last, first, about.register),
    };
    let kwh = kwh.map(|kwh| (kwh - row_kwh).max(0.0));
    match kwh.filter(|kwh| possible(*kwh, *about, elapsed_s)) {
        Some(kwh) => Bridge::Register(kwh),
        None => Bridge::Jumped([last, first]),
    }
}
