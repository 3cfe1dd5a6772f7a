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
mod progress;
pub mod side;
pub mod source;

use std::collections::BTreeSet;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context as _;

use crate::cli;
use crate::convert::Converter;
use crate::fit;
use crate::report::number::frames_s;
use crate::report::totals::Beside;
use crate::report::{LoadRow, Summary, TotalsRow, TraceRow, Why, advice};
use crate::settings::{self, Settings};
use crate::terminal::Screen;
use crate::trace::Reader as _;
use bits::Bits;
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
    let several = args.traces.len() > 1;
    let mut names = BTreeSet::new();
    let mut faults = Vec::new();
    let mut unmet = false;
    for (index, trace) in args.traces.iter().enumerate() {
        let folder =
            args.out.as_ref().map(|out| if several { out.join(own_name(trace, &mut names)) } else { out.clone() });
        if index > 0 {
            writeln!(io::stdout())?;
        }
        match one(args, trace, folder.as_deref(), &settings, &warnings) {
            Ok(None) => {}
            Ok(Some(words)) => {
                unmet = true;
                say(&format!("{trace}: {words}"));
            }
            Err(fault) if several && !is_broken_pipe(&fault) => faults.push(format!("{fault:#}")),
            Err(fault) => return Err(fault),
        }
    }
    if !faults.is_empty() {
        anyhow::bail!("{}", faults.join("\n"));
    }
    Ok(if unmet { ExitCode::from(EXPECTATION) } else { ExitCode::SUCCESS })
}

/// Replays one trace; gives back what went against the expectations.
fn one(
    args: &cli::Replay,
    trace: &str,
    folder: Option<&Path>,
    settings: &Settings,
    warnings: &[String],
) -> anyhow::Result<Option<String>> {
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
    let mut summary = summary(&source, &side, &end, totals, load, warnings);
    outputs.text.story.end(summary.trace.duration_s);
    summary.warnings.extend(advice(&summary.trace, &summary.totals, outputs.text.story.warned()));
    let (files, digest) = outputs.close(&summary)?;
    for file in files {
        file.commit()?;
    }
    let standard = args.json.as_deref() == Some(Path::new("-"));
    let digest = digest.filter(|_| args.digest);
    // The verdict stands whether or not somebody reads the table to its end.
    let verdict = expect::judge(&args.expect, &outputs.trips);
    match tell(&outputs, &summary, settings, standard, digest.as_ref()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {}
        told => told.context("cannot write to standard output")?,
    }
    Ok(verdict)
}

/// What goes to people: the table, or with the document on standard output only what they should know, beside it;
/// then the digest as the last line.
fn tell(
    outputs: &Outputs,
    summary: &Summary,
    settings: &Settings,
    standard: bool,
    digest: Option<&Digest>,
) -> io::Result<()> {
    let mut out = io::stdout().lock();
    if standard {
        summary.warnings.iter().for_each(|w| say(w));
    } else {
        outputs.text.write(summary, settings, Screen::stdout(), &mut out)?;
    }
    if let Some(digest) = digest {
        writeln!(out, "digest {digest}")?;
    }
    out.flush()
}

/// A line on standard error; where that is closed the exit status says what is left to say.
fn say(words: &str) {
    let _ = writeln!(io::stderr(), "shaftwork: {words}");
}

fn summary(
    source: &Source,
    side: &Side,
    end: &drive::End,
    totals: TotalsRow,
    load: LoadRow,
    known: &[String],
) -> Summary {
    let mut why = Why::new();
    if source.start.is_none() {
        why.insert("start", "the trace does not state its time");
    }
    let trace = TraceRow {
        path: source.path.clone(),
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
    Summary { trace, totals, load, marks: end.marks.clone(), warnings }
}

/// A folder name for a trace: its stem, with a number where that is taken. Case does not tell names apart,
/// because it does not on every system.
fn own_name(trace: &str, taken: &mut BTreeSet<String>) -> PathBuf {
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
    PathBuf::from(name)
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|e| e.downcast_ref::<io::Error>().is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe))
}

#[cfg(test)]
mod tests;
