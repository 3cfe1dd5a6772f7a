//! The verb `replay`: runs the firmware core over logged traces and hands out what it reports.
//!
//! ```text
//! trace -> rows (SI) -> converter codes -> blocks of 8 frames -> core -> order -> JSON, CSV, table
//! ```
//!
//! [`source`] opens a trace, [`drive`] is the only loop, [`outputs`] takes what comes out of it.

mod bits;
pub mod drive;
pub mod expect;
pub mod order;
pub mod outputs;
pub mod side;
pub mod source;
mod waves;

use std::collections::BTreeSet;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;

use crate::cli;
use crate::convert::Converter;
use crate::error::Unshown;
use crate::fit;
use crate::progress;
use crate::report::number::frames_s;
use crate::report::several::{self, Several};
use crate::report::text::Text;
use crate::report::totals::Beside;
use crate::report::{LoadRow, Summary, TotalsRow, TraceRow, Why, advice};
use crate::settings::{self, Settings};
use crate::terminal::{Screen, say};
use crate::trace::Reader as _;
use crate::whole;
use bits::Bits;
use expect::Seen;
use outputs::{Outputs, Targets};
use shaftwork_core::Monitor;
use shaftwork_report_bits::Digest;
use side::Side;
use source::Source;

/// Exit status when an expectation is not met.
const EXPECTATION: u8 = 3;

/// Replays every trace that the arguments name.
///
/// # Errors
/// A trace or the settings are at fault, or an output cannot be written. With several traces the others are
/// replayed all the same.
pub fn run(args: &cli::Replay) -> anyhow::Result<ExitCode> {
    let (settings, warnings) = settings::load(&args.settings)?;
    let warnings: Vec<String> = warnings.iter().map(|w| format!("settings, {w}")).collect();
    match args.traces.as_slice() {
        [trace] => {
            let done = one(args, trace, args.out.as_deref(), &settings, &warnings)?;
            match done.tell(&settings, args.json.as_deref() == Some(Path::new("-"))) {
                // The verdict stands whether or not somebody reads the table to its end.
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {}
                told => told.map_err(Unshown)?,
            }
            Ok(status(done.unmet(args, trace)))
        }
        _ => many(args, &settings, &warnings),
    }
}

/// Replays several traces: a line each, then what they come to.
fn many(args: &cli::Replay, settings: &Settings, warnings: &[String]) -> anyhow::Result<ExitCode> {
    let folder = args.out.as_deref().unwrap_or(Path::new("."));
    let mut several = Several::new(Screen::stdout());
    let mut out = WhileRead(Some(io::stdout()));
    let mut names = BTreeSet::from([several::FILE.to_owned()]);
    let mut faults = Vec::new();
    let mut unmet = false;
    several.head(&mut out)?;
    for trace in &args.traces {
        let name = own_name(trace, &mut names);
        match one(args, trace, Some(&folder.join(&name)), settings, warnings) {
            Ok(done) => {
                several.done(&name, &done.summary, &done.text.story, &mut out)?;
                unmet |= done.unmet(args, trace);
            }
            Err(fault) => {
                let words = format!("{fault:#}");
                several.fault(&name, trace, &words, &mut out)?;
                faults.push(words);
            }
        }
    }
    whole::folder(folder)?;
    several.file(folder)?.commit()?;
    several.end(folder, &mut out)?;
    if !faults.is_empty() {
        anyhow::bail!("{}", faults.join("\n"));
    }
    Ok(status(unmet))
}

fn status(unmet: bool) -> ExitCode {
    if unmet { ExitCode::from(EXPECTATION) } else { ExitCode::SUCCESS }
}

/// A trace that was replayed, its files written.
struct Done {
    summary: Summary,
    text: Text,
    trips: Vec<Seen>,
    /// The digest, where it is to be told.
    digest: Option<Digest>,
}

/// Replays one trace.
fn one(
    args: &cli::Replay,
    trace: &str,
    folder: Option<&Path>,
    settings: &Settings,
    warnings: &[String],
) -> anyhow::Result<Done> {
    let mut source = Source::open(trace, settings, args.accept_short)?;
    let core = fit::core_settings(settings, source.rate_hz)?;
    let monitor = Monitor::new(&core).context("the core refuses these settings")?;
    let batch_kg = args.mass_kg;
    let (mut side, no_mass) = Side::new(&source.selection, settings.mass.source, batch_kg.is_some(), source.rate_hz);
    let targets = Targets { json: args.json.as_deref(), folder };
    let bits = (args.digest || args.bits.is_some()).then(|| Bits::create(args.bits.as_deref(), &core)).transpose()?;
    let mut outputs = Outputs::create(targets, bits, settings, source.rate_hz, no_mass)?;
    let converter = Converter::new(&settings.sampling);
    let end = drive::drive(&mut source, &mut side, monitor, &converter, &mut outputs)?;
    outputs.finish(&end.totals)?;

    let beside = Beside { rate_hz: source.rate_hz, batch_kg, no_mass, bridged: source.reader.bridged() };
    let totals = TotalsRow::new(&end.totals, &beside);
    let load = outputs.load.row(&totals, settings.motor.rated_power_kw);
    let mut summary = summary(&source, &side, &end, totals, load, &args.settings, warnings);
    let signs = end.waves.clone().into_iter().chain(outputs.wiring.advice(settings));
    // What makes all figures wrong comes first.
    summary.warnings.splice(0..0, signs);
    outputs.text.story.end(summary.trace.duration_s);
    summary.warnings.extend(advice(&summary.trace, &summary.totals, outputs.text.story.warned()));
    let (files, digest) = outputs.close(&summary)?;
    for file in files {
        file.commit()?;
    }
    let digest = digest.filter(|_| args.digest);
    Ok(Done { summary, text: outputs.text, trips: outputs.trips, digest })
}

impl Done {
    /// Whether something went against the expectations, which is said.
    fn unmet(&self, args: &cli::Replay, trace: &str) -> bool {
        let verdict = expect::judge(&args.expect, &self.trips);
        if let Some(words) = &verdict {
            say(&format!("{trace}: {words}"));
        }
        verdict.is_some()
    }

    /// What goes to people: the table, or with the document on standard output only what they should know, beside
    /// it; then the digest as the last line.
    fn tell(&self, settings: &Settings, standard: bool) -> io::Result<()> {
        let mut out = io::stdout().lock();
        if standard {
            self.summary.warnings.iter().for_each(|w| say(w));
        } else {
            self.text.write(&self.summary, settings, Screen::stdout(), &mut out)?;
        }
        if let Some(digest) = &self.digest {
            writeln!(out, "digest {digest}")?;
        }
        out.flush()
    }
}

/// Standard output as long as somebody reads it: the traces that follow are replayed all the same.
struct WhileRead(Option<io::Stdout>);

impl Write for WhileRead {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.0.as_mut().map(|out| out.write(bytes)) {
            Some(Err(error)) if error.kind() == io::ErrorKind::BrokenPipe => {
                self.0 = None;
                Ok(bytes.len())
            }
            Some(written) => written,
            None => Ok(bytes.len()),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn summary(
    source: &Source,
    side: &Side,
    end: &drive::End,
    totals: TotalsRow,
    load: LoadRow,
    settings: &Path,
    known: &[String],
) -> Summary {
    let mut why = Why::new();
    if source.start.is_none() {
        why.insert("start", "the trace does not state its time");
    }
    let trace = TraceRow {
        path: source.path.clone(),
        station: source.station.clone(),
        start: source.start.clone(),
        frames: end.frames,
        rate_hz: source.rate_hz,
        duration_s: frames_s(end.clock.0, source.rate_hz),
        why,
    };
    let mut warnings = known.to_vec();
    warnings.extend_from_slice(&source.warnings);
    warnings.extend_from_slice(source.reader.warnings());
    warnings.extend(side.warnings());
    if end.totals.lost_events > 0 {
        warnings.push(format!("{} events came faster than they could be taken and are lost", end.totals.lost_events));
    }
    let settings_path = settings.display().to_string();
    Summary { trace, settings_path, totals, load, marks: end.marks.clone(), warnings }
}

/// A folder name for a trace: its stem, with a number where that is taken. Case does not tell names apart,
/// because it does not on every system.
fn own_name(trace: &str, taken: &mut BTreeSet<String>) -> String {
    let stem = match Path::new(trace).file_stem() {
        Some(stem) if trace != "-" => stem.to_string_lossy().into_owned(),
        _ => "stdin".to_owned(),
    };
    let mut name = stem.clone();
    let mut number = 1;
    while !taken.insert(name.to_lowercase()) {
        number += 1;
        name = format!("{stem}-{number}");
    }
    name
}

#[cfg(test)]
mod tests;
