//! The verb `trip-study`: every trace of a folder under every setting, so that the next jam is caught early and honest lumps are left alone.
//!
//! ```text
//! folder: traces, verdicts ─ records: frames -> core's meter, once a trace ─┐ kept in a cache
//! vary: values -> candidates: settings -> core's coefficients ──────────────┤
//!                                                decided: core's judge, each trace x each setting
//!                                                                           └─ score: caught, late, missed, false;
//!                                                    time, margin; front; the one to recommend ─ words, JSON, CSV, page
//! ```
//!
//! A setting is chosen on every second trace and shown on the others. What is decided is decided by the core alone.

pub mod cache;
pub mod candidates;
mod course;
pub mod decided;
mod document;
pub mod folder;
mod page;
pub mod records;
pub mod score;
mod table;
#[cfg(test)]
mod tests;
pub mod touchier;
pub mod vary;
pub mod verdict;
mod words;

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::Context as _;
use rayon::prelude::*;
use shaftwork_core::time::Instant;

use crate::capture::state::Begin;
use crate::clash;
use crate::cli::TripStudy;
use crate::cli::show::print;
use crate::error::{Fault, Usage};
use crate::interrupt;
use crate::progress::Progress;
use crate::trace;
use crate::whole;
use cache::Cache;
use candidates::{Built, Candidates, Judges};
use course::Course;
use decided::decide;
use folder::Trace;
use records::{Records, meter};
use score::{Outcome, Reason, Row, Rules, Score};
use verdict::Verdict;

/// Settings that a thread judges one after the other before it takes others.
const CHUNK: usize = 8;
/// Folder of metered records below the output's.
const RECORDS: &str = "records";
/// Parts of a trace's work that the bar counts: many beside the chunks of the settings, so that each moves it.
const PARTS: u64 = 1_000_000;

/// What became of a trace.
#[derive(Debug)]
pub struct Studied {
    /// The trace.
    pub trace: Trace,
    /// Whether settings were chosen on it.
    pub chosen_on: bool,
    /// Its length, s.
    pub length_s: f64,
    /// A row for each candidate, in order; the settings as they are set come last.
    pub rows: Vec<Row>,
    /// Its currents and power over time.
    course: Course,
    /// What a person should know of it.
    pub warnings: Vec<String>,
}

/// All that was found.
#[derive(Debug)]
pub struct Found {
    /// Folder of the traces, as the user named it.
    pub folder: String,
    /// What counts.
    pub rules: Rules,
    /// The settings that were compared.
    pub candidates: Candidates,
    /// The traces, by name.
    pub traces: Vec<Studied>,
    /// Sums over the part to choose on, over the other, and over all, a candidate each; the settings as they are set come last.
    pub scores: [Vec<Score>; 3],
    /// What no other beats, the quickest first.
    pub front: Vec<usize>,
    /// The one to recommend.
    pub recommended: (usize, Reason),
    /// What a person should know.
    pub notes: Vec<String>,
}

/// Parts of the folder, as [`Found::scores`] has them.
pub const PART_NAMES: [&str; 3] = ["chosen on", "shown on", "all"];

/// Studies; prints a table, writes page, JSON and CSV where they are wanted.
///
/// # Errors
/// A trace, the settings or the vary file are at fault, or an output cannot be written.
pub fn run(args: &TripStudy) -> anyhow::Result<ExitCode> {
    if [&args.json, &args.csv].into_iter().filter(|path| path.as_deref() == Some(Path::new("-"))).count() > 1 {
        return Err(Usage("--json and --csv cannot both go to standard output".to_owned()).into());
    }
    let (traces, without) = folder::traces(&args.folder)?;
    if args.csv.as_deref().is_some_and(|csv| clash::lies_in(csv, &args.folder)) {
        let words = "--csv is in the folder of the traces, and would be taken for one the next time\n  to mend it: write it elsewhere";
        return Err(Usage(words.to_owned()).into());
    }
    if args.out.as_deref().is_some_and(|out| clash::lies_in(&out.join(PAGE), &args.folder)) {
        let words = "--out is the folder of the traces, whose tables would be taken for traces the next time\n  to mend it: give --out another folder";
        return Err(Usage(words.to_owned()).into());
    }
    let mut inputs: Vec<PathBuf> = traces.iter().flat_map(|t| trace::files(&t.path.display().to_string())).collect();
    inputs.extend([args.settings.clone(), args.vary.clone(), args.folder.join(verdict::FILE)]);
    let files = args.out.as_deref().map_or_else(Vec::new, outputs);
    let named = [("--json", &args.json), ("--csv", &args.csv)];
    let named = named.into_iter().filter_map(|(option, path)| Some((option, path.clone()?)));
    clash::refuse(&inputs, &named.chain(files).collect::<Vec<_>>())?;
    let candidates = Candidates::load(&args.settings, &args.vary)?;
    let found = study(args, traces, &without, candidates)?;
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        whole::write(&folder.join(PAGE), page::html(&found)?.as_bytes())?;
        whole::write(&folder.join(SETTINGS), &table::settings(&found)?)?;
        whole::write(&folder.join(DECISIONS), &table::decisions(&found)?)?;
    }
    let mut shown = true;
    if let Some(path) = &args.csv {
        shown &= put(path, &table::settings(&found)?)?;
    }
    if let Some(path) = &args.json {
        let text =
            serde_json::to_string_pretty(&document::json(&found)).context("cannot make JSON of the result")? + "\n";
        shown &= put(path, text.as_bytes())?;
    }
    if shown {
        print(words::text(&found, args.out.as_deref()).as_bytes())?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The page, every setting, every decision.
const PAGE: &str = "study.html";
const SETTINGS: &str = "settings.csv";
const DECISIONS: &str = "decisions.csv";

fn outputs(folder: &Path) -> Vec<(&'static str, PathBuf)> {
    [PAGE, SETTINGS, DECISIONS].map(|name| ("--out", folder.join(name))).to_vec()
}

/// Writes a file, or to standard output; whether there is room there for the table yet.
fn put(path: &Path, bytes: &[u8]) -> anyhow::Result<bool> {
    if path == Path::new("-") {
        print(bytes)?;
        return Ok(false);
    }
    whole::write(path, bytes)?;
    Ok(true)
}

/// Works it out.
///
/// # Errors
/// As [`run`].
pub fn study(
    args: &TripStudy,
    traces: Vec<Trace>,
    without: &[String],
    candidates: Candidates,
) -> anyhow::Result<Found> {
    let part = folder::chosen_on(&traces);
    if !traces.iter().any(|trace| trace.verdict != Verdict::Honest) {
        return Err(Fault::new(args.folder.display().to_string(), "no trace of it holds a jam")
            .wanted("traces of jams and of honest work; four of each, half to choose on, half to show")
            .mend("add a trace of a jam; 'shaftwork synth wedge' makes one")
            .into());
    }
    interrupt::watch();
    let cache = Cache::new(args.out.as_ref().map(|out| out.join(RECORDS)))?;
    let work =
        Work { args, candidates: &candidates, cache: &cache, built: Mutex::default(), bar: Bar::new(traces.len()) };
    let studied: Vec<Studied> = traces
        .into_par_iter()
        .zip(part)
        .map(|(trace, chosen_on)| work.trace(trace, chosen_on))
        .collect::<Vec<anyhow::Result<Studied>>>()
        .into_iter()
        .collect::<anyhow::Result<_>>()?;
    drop(work);
    Found::new(args, candidates, studied, without)
}

/// What all traces have in common.
struct Work<'a> {
    args: &'a TripStudy,
    candidates: &'a Candidates,
    cache: &'a Cache,
    /// What the core makes of the settings, by rate and whether power is estimated.
    built: Mutex<Vec<(u64, bool, Arc<Built>)>>,
    bar: Bar,
}

impl Work<'_> {
    fn trace(&self, trace: Trace, chosen_on: bool) -> anyhow::Result<Studied> {
        let Self { args, candidates, cache, .. } = self;
        let mut open = records::open(&trace.path, &candidates.base, args.accept_short)?;
        let built = self.built(open.source.rate_hz, open.source.estimates)?;
        let mut all = Vec::new();
        for (n, c) in built.meters.iter().enumerate() {
            let begin = open.begin.as_deref().map(Begin::snapshot);
            let place = cache.place(&trace.path, &candidates.base, args.accept_short, c, begin)?;
            if let Some(kept) = Cache::read(place.as_deref()) {
                all.push(kept);
                continue;
            }
            if n > 0 {
                open = records::open(&trace.path, &candidates.base, args.accept_short)?;
            }
            let made = meter(&mut open, &candidates.base, c)?;
            Cache::write(place.as_deref(), &made)?;
            all.push(made);
        }
        drop(open);
        self.bar.done(PARTS / 2);
        let end_s = all.first().map_or(0.0, Records::length_s);
        if let Verdict::Jam(t_s) = trace.verdict
            && t_s > end_s
        {
            return Err(Fault::new(trace.path.display().to_string(), format!("its verdict is \"jam at {t_s} s\""))
                .wanted(format!("a time within the trace, which ends at {end_s:.3} s"))
                .mend("seconds count from the trace's first row, as replay tells them")
                .into());
        }
        let rules = args.rules();
        let watched = candidates.watched();
        let judged = |judges: &Judges| {
            let records = &all[judges.meter];
            let until = match trace.verdict {
                Verdict::Jam(t_s) => records.moment(t_s - rules.early_s),
                Verdict::Honest => Instant(u64::MAX),
            };
            let decided = decide(&judges.own, records, &watched, until);
            let row = Row::new(decided, records, trace.verdict, rules);
            // What trips the setting trips its twin.
            let touchy = row.outcome == Outcome::False
                || decide(&judges.twin, records, &[], until).trip.is_some_and(|(at, _)| at < until);
            Row { touchy, ..row }
        };
        let chunks = built.judges.par_chunks(CHUNK).map(|chunk| {
            let rows: Vec<Row> = chunk.iter().map(judged).collect();
            self.bar.part(chunk.len(), built.judges.len());
            rows
        });
        let rows = chunks.collect::<Vec<_>>().concat();
        let base = built.judges.last().context("the settings as they are set come last")?;
        let course = Course::new(&base.own, &all[base.meter], &candidates.base);
        let mut warnings = all.swap_remove(base.meter).warnings;
        if let Verdict::Jam(t_s) = trace.verdict
            && end_s < t_s + rules.allowed_s
        {
            let allowed = rules.allowed_s;
            warnings.push(format!("ends {:.2} s after the jam, before the {allowed} s in which a trip counts: what would come later is told as missed", end_s - t_s));
        }
        Ok(Studied { trace, chosen_on, length_s: end_s, rows, course, warnings })
    }

    fn built(&self, rate_hz: f64, estimates: bool) -> anyhow::Result<Arc<Built>> {
        // Others wait for it: they mostly want the same.
        let mut all = self.built.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, _, built)) =
            all.iter().find(|(rate, other, _)| *rate == rate_hz.to_bits() && *other == estimates)
        {
            return Ok(built.clone());
        }
        let built = Arc::new(self.candidates.built(rate_hz, estimates, self.args.rules().margin)?);
        all.push((rate_hz.to_bits(), estimates, built.clone()));
        Ok(built)
    }
}

/// The bar, fed by all threads.
struct Bar {
    progress: Mutex<Progress>,
    done: AtomicU64,
    total: u64,
}

impl Bar {
    fn new(traces: usize) -> Self {
        Self {
            progress: Mutex::new(Progress::new("traces x settings")),
            done: AtomicU64::new(0),
            total: traces as u64 * PARTS,
        }
    }

    /// Some of the second half of a trace's parts.
    fn part(&self, some: usize, of: usize) {
        self.done(second_half(some, of));
    }

    fn done(&self, parts: u64) {
        let done = self.done.fetch_add(parts, Ordering::Relaxed) + parts;
        if let Ok(mut progress) = self.progress.try_lock() {
            progress.at((done, Some(self.total)));
        }
    }
}

/// Parts of the second half for some of so many settings.
const fn second_half(some: usize, of: usize) -> u64 {
    (PARTS - PARTS / 2) * some as u64 / if of == 0 { 1 } else { of as u64 }
}

impl Found {
    fn new(args: &TripStudy, candidates: Candidates, traces: Vec<Studied>, without: &[String]) -> anyhow::Result<Self> {
        let rules = args.rules();
        let verdicts: Vec<Verdict> = traces.iter().map(|studied| studied.trace.verdict).collect();
        let chosen: Vec<bool> = traces.iter().map(|studied| studied.chosen_on).collect();
        let parts = [chosen.clone(), chosen.iter().map(|on| !on).collect(), vec![true; traces.len()]];
        let scores = parts.map(|part| {
            (0..=candidates.all.len())
                .map(|n| {
                    let rows: Vec<Row> = traces.iter().map(|studied| studied.rows[n]).collect();
                    Score::new(&rows, &verdicts, &part)
                })
                .collect::<Vec<_>>()
        });
        let compared = &scores[0][..candidates.all.len()];
        let front = score::front(compared);
        let recommended = score::recommended(&front, compared).context("there are no settings to compare")?;
        let mut notes = candidates.notes.clone();
        notes.extend(words::notes(&traces, without, &scores));
        if scores[0][candidates.all.len()].mistakes() < scores[0][recommended.0].mistakes() {
            notes.push("the settings as they are set now make fewer mistakes than any that was compared".to_owned());
        }
        let folder = args.folder.display().to_string();
        Ok(Self { folder, rules, candidates, traces, scores, front, recommended, notes })
    }

    /// The one that is recommended, where any is good for something.
    pub fn best(&self) -> Option<usize> {
        let (at, reason) = self.recommended;
        (reason != Reason::Nothing).then_some(at)
    }

    /// Which candidate the settings as they are set are.
    pub fn base(&self) -> usize {
        self.candidates.all.len()
    }
}
