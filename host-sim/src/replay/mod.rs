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
pub mod ledger;
mod note;
pub mod order;
pub mod outputs;
pub(crate) mod places;
mod pulses;
pub mod rms;
pub mod side;
pub mod source;
mod trail;
mod waves;

use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;

use crate::capture::settings_sum;
use crate::capture::state::{self, Begin};
use crate::clash;
use crate::cli;
use crate::convert::Converter;
use crate::error::{Fault, Unshown};
use crate::fit;
use crate::progress;
use crate::report::number::frames_s;
use crate::report::runs::Runs;
use crate::report::several::{self, Several};
use crate::report::text::Text;
use crate::report::totals::Beside;
use crate::report::words::stamp;
use crate::report::{
    InertiaRow, Input, LoadRow, Reason, Summary, TachometerRow, TotalsRow, TraceRow, Voltages, Whole, Why, advice,
};
use crate::settings::{self, Settings, Values, Wiring};
use crate::terminal::{Screen, say};
use crate::trace::Reader as _;
use crate::whole;
use bits::Bits;
use drive::Core;
use expect::Seen;
use outputs::{Outputs, Targets};
use rms::Rms;
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
    let names = places::own_names(&args.traces);
    clash::refuse(&places::inputs(args), &places::targets(args, &names))?;
    let (settings, warnings) = settings::load(&args.settings)?;
    if args.digest || args.bits.is_some() {
        settings.need_samples("the comparison with a board (--digest, --bits)")?;
    }
    let warnings: Vec<String> = warnings.iter().map(|w| format!("settings, {w}")).collect();
    match args.traces.as_slice() {
        [trace] => {
            let source = Source::open(trace, &settings, args.accept_short)?;
            alone(args, source, &settings, &warnings)
        }
        _ => many(args, &names, &settings, &warnings),
    }
}

/// Replays a single trace and tells of it.
///
/// # Errors
/// As [`run`].
pub(crate) fn alone(
    args: &cli::Replay,
    source: Source,
    settings: &Settings,
    warnings: &[String],
) -> anyhow::Result<ExitCode> {
    let path = source.path.clone();
    let done = replayed(args, source, args.out.as_deref(), settings, warnings)?;
    let told = done.tell(settings, args.json.as_deref() == Some(Path::new("-"))).map_err(Unshown);
    // The verdict stands whether or not somebody reads the table to its end.
    let unmet = done.unmet(args, &path);
    match told {
        Err(error) if error.left() => {}
        told => told?,
    }
    Ok(status(unmet))
}

/// Replays several traces: a line each, then what they come to. What goes wrong with one, or with telling of it, is
/// said when all are done.
fn many(args: &cli::Replay, names: &[String], settings: &Settings, warnings: &[String]) -> anyhow::Result<ExitCode> {
    let folder = args.out.as_deref().unwrap_or(Path::new("."));
    // Begun first: where it cannot be written no trace is replayed in vain.
    whole::folder(folder)?;
    let file = Whole::create(&folder.join(several::FILE))?;
    let mut several = Several::new(Screen::stdout());
    let mut out = WhileRead::default();
    let mut faults = Vec::new();
    let mut unmet = false;
    several.head(&mut out)?;
    for (trace, name) in args.traces.iter().zip(names) {
        match one(args, trace, Some(&folder.join(name)), settings, warnings) {
            Ok(done) => {
                several.done(name, &done.summary, &done.text.story, &mut out)?;
                unmet |= done.unmet(args, trace);
            }
            Err(fault) => {
                let words = format!("{fault:#}");
                several.fault(name, trace, &words, &mut out)?;
                faults.push(words);
            }
        }
    }
    if several.any() {
        match several.write(file).and_then(Whole::commit) {
            Ok(()) => several.end(folder, &mut out)?,
            Err(fault) => faults.push(format!("{fault:#}")),
        }
    } else {
        drop(file);
    }
    faults.extend(out.end().map(|error| error.to_string()));
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

/// Where a replay begins, if not with nothing; `bits` are to be compared with a board's.
fn begin(source: &mut Source, settings: &Settings, bits: bool) -> anyhow::Result<Option<Box<Begin>>> {
    if settings.sampling.values == Values::Rms {
        return Ok(None);
    }
    match state::beside(&source.path) {
        state::Beside::State(_) if bits => Err(Fault::new(
            &*source.path,
            "it goes on from what a board remembered (.inf)",
        )
        .wanted("with --bits a trace that begins with nothing: the board that is given these frames begins so")
        .mend("leave --bits out; or take the .inf away, and the trace is replayed as if nothing had been before it")
        .into()),
        state::Beside::State(begin) => {
            source.warnings.push(format!(
                "a capture: it goes on from what the board remembered at {}",
                stamp(begin.skip() as f64 / source.rate_hz)
            ));
            if !begin.has_settings(settings_sum(settings, source.rate_hz)?) {
                let words = "the board had other settings: this is what these would have done from there on";
                source.warnings.push(words.to_owned());
            }
            Ok(Some(begin))
        }
        state::Beside::Useless(why) => {
            source.warnings.push(why);
            Ok(None)
        }
        state::Beside::Foreign(fault) => Err(fault.into()),
        state::Beside::Nothing => Ok(None),
    }
}

/// Replays one trace.
fn one(
    args: &cli::Replay,
    trace: &str,
    folder: Option<&Path>,
    settings: &Settings,
    warnings: &[String],
) -> anyhow::Result<Done> {
    replayed(args, Source::open(trace, settings, args.accept_short)?, folder, settings, warnings)
}

/// Replays an opened trace.
fn replayed(
    args: &cli::Replay,
    mut source: Source,
    folder: Option<&Path>,
    settings: &Settings,
    warnings: &[String],
) -> anyhow::Result<Done> {
    let begin = begin(&mut source, settings, args.bits.is_some())?;
    let core = if source.estimates {
        fit::estimating_settings(settings, source.rate_hz)?
    } else {
        fit::core_settings(settings, source.rate_hz)?
    };
    let batch_kg = args.mass_kg;
    let (mut side, no_mass) = Side::new(&source.selection, settings.mass, batch_kg.is_some(), source.rows_hz);
    let targets = Targets { json: args.json.as_deref(), folder };
    let bits = (args.digest || args.bits.is_some()).then(|| Bits::create(args.bits.as_deref(), &core)).transpose()?;
    let input = input(settings, &source, no_mass);
    let mut memory = trail::Memory::default();
    let refused = "the core refuses these settings";
    let mut c = core.build().context(refused)?.judge;
    let mut outputs = Outputs::create(targets, bits, settings, &source, input, memory.trend(&c))?;
    let converter = Converter::new(&settings.sampling);
    let core = match settings.sampling.values {
        Values::Samples => Core::Samples(Box::new(Monitor::new(&core).context(refused)?), &converter),
        Values::Rms => {
            // Currents alone have a curve always; power that was logged is better.
            c.curve = c.curve.filter(|_| source.estimates);
            Core::Rms(Box::new(Rms::new(c, settings, source.rows_hz, source.rate_hz)))
        }
    };
    let end = drive::drive(&mut source, &mut side, core, begin.as_deref(), &mut outputs)?;
    outputs.finish(&end.totals)?;
    outputs.ledger.end(settings, frames_s(end.clock.0, source.rate_hz))?;
    let batch_kg = batch_kg.or_else(|| outputs.ledger.batches_kg(settings));

    let beside = Beside { rate_hz: source.rate_hz, batch_kg, no_mass, bridged: source.reader.bridged() };
    let mut totals = TotalsRow::new(&end.totals, &beside);
    if let Some(reason) = outputs.wiring.unmeasured() {
        totals.deny(reason);
    }
    let mass_kg = totals.mass_t.map(|t| t * 1000.0);
    outputs.ledger.steps(side.step_kg());
    let runs = outputs.ledger.rows(settings, mass_kg, totals.idle_power_kw, &input);
    let load = outputs.load.row(&totals, settings.motor.rated_power_kw);
    let tachometer = outputs.tachometer.row(input.tachometer, input.estimated);
    let inertia = outputs.inertia.row(&input);
    let mut summary =
        summary(&source, &side, &end, (totals, load, tachometer, inertia, runs), &args.settings, warnings);
    let signs = end.waves.clone().into_iter().chain(outputs.wiring.advice(settings));
    (summary.rms, summary.estimated) = (input.rms, input.estimates());
    // What was set is no estimate.
    summary.estimated.retain(|name| *name != "idle_power_kw" || settings.mill.idle_power_kw.is_none());
    // What makes all figures wrong comes first.
    summary.warnings.splice(0..0, signs.chain(estimate(settings, &input)));
    summary.warnings.extend(outputs.ledger.warnings());
    if !input.estimated && outputs.wiring.unmeasured().is_none() {
        summary.warnings.extend(outputs.empty.advice(settings));
    }
    summary.warnings.extend(outputs.tachometer.advice(&summary.tachometer, settings.transmission.speed_ratio));
    summary.warnings.extend(summary.inertia.advice(settings));
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

/// Standard output as long as it can be written: the traces that follow are replayed all the same.
#[derive(Default)]
struct WhileRead(Option<Unshown>);

impl WhileRead {
    /// What went wrong; a reader that had enough is nothing wrong.
    fn end(mut self) -> Option<Unshown> {
        let _ = self.flush();
        self.0.filter(|error| !error.left())
    }

    fn attempt(&mut self, work: impl FnOnce(&mut io::StdoutLock<'_>) -> io::Result<()>) {
        if self.0.is_none() {
            self.0 = work(&mut io::stdout().lock()).err().map(Unshown);
        }
    }
}

impl Write for WhileRead {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.attempt(|out| out.write_all(bytes));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.attempt(|out| out.flush());
        Ok(())
    }
}

/// What there is to say of estimated power, and of what cannot be had without a voltage.
fn estimate(settings: &Settings, input: &Input) -> Vec<String> {
    let mut out = Vec::new();
    if input.estimated {
        let at = match input.voltages {
            Some(_) => "the voltage that is measured".to_owned(),
            None => format!("{} V, which are not measured", settings.supply.line_voltage_v),
        };
        out.push(format!(
            "active power is not measured: it is estimated from the current by the motor's circuit at {at}. Powers, energies, \
             torque and speed are estimates, poor ones in a start, a stall and with a line lost, and power given back is not \
             seen. To mend it, log active power"
        ));
    }
    if !input.estimated && input.voltages.is_none() {
        out.push(format!(
            "voltage is not measured: reactive and apparent power and the power factor are estimated at {} V, at which shaft power and \
             speed are worked out as well. To mend it, log the voltages",
            settings.supply.line_voltage_v
        ));
    }
    if input.voltages.is_none() && settings.trips.undervoltage.is_some() {
        out.push("the undervoltage trip is blocked: no voltage is measured".to_owned());
    }
    out
}

/// What the trace can tell of.
fn input(settings: &Settings, source: &Source, no_mass: Reason) -> Input {
    Input {
        no_mass,
        rms: settings.sampling.values == Values::Rms,
        voltages: match settings.supply.wiring {
            Wiring::FourWire => Some(Voltages::Neutral),
            Wiring::ThreeWire | Wiring::TwoElement => Some(Voltages::Line),
            Wiring::CurrentsOnly => None,
        },
        estimated: source.estimates,
        tachometer: source.selection.speed.is_some(),
        inertia: settings.mill.rotor_inertia_kg_m2.is_some(),
        transmission_ppm: (settings.transmission.efficiency_pct * 1e4).round() as u32,
    }
}

fn summary(
    source: &Source,
    side: &Side,
    end: &drive::End,
    (totals, load, tachometer, inertia, runs): (TotalsRow, LoadRow, TachometerRow, InertiaRow, Runs),
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
        rate_hz: source.rows_hz,
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
    let marks = end.marks.clone();
    Summary {
        trace,
        settings_path,
        totals,
        load,
        tachometer,
        inertia,
        runs,
        rms: false,
        estimated: vec![],
        marks,
        warnings,
    }
}

#[cfg(test)]
mod tests;
