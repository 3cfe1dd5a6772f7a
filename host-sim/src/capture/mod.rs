//! The verb `capture`: what a board kept around a decision becomes a COMTRADE record that replays to the same decision.
//!
//! ```text
//! capture.bin ─┬─ frames ─ waves (back to the converter's rate) ─ .cfg, .dat
//!              └─ what the monitor remembered ─ state ─ .inf ─ replay begins there
//! ```

pub mod state;
mod waves;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context as _;
use shaftwork_report_bits::capture::{Head, read};
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::settings::{MAX_BYTES, encode};

use crate::cli::Capture;
use crate::error::{Fault, Usage};
use crate::report::number::frames_s;
use crate::report::words::{counted, short, stamp};
use crate::settings::{self, Settings};
use crate::trace::write::{ComtradeWriter, WriteChannel, WriteEncoding};
use crate::{clash, fit};

/// Writes the record and tells how to replay it.
///
/// # Errors
/// Capture or settings are at fault, or the record cannot be written.
pub fn run(args: &Capture) -> anyhow::Result<ExitCode> {
    if !args.out.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("cfg")) {
        let words = "--out: a name that ends in .cfg is wanted; .dat and .inf are written beside it";
        return Err(Usage(words.to_owned()).into());
    }
    let outputs = ["cfg", "dat", "inf"].map(|ending| ("--out", args.out.with_extension(ending)));
    clash::refuse(&[args.file.clone(), args.settings.clone()], &outputs)?;
    let (settings, _) = settings::load(&args.settings)?;
    let bytes = std::fs::read(&args.file).with_context(|| format!("cannot read {}", args.file.display()))?;
    let name = args.file.display().to_string();
    let (head, frames) = read(&bytes).map_err(|wrong| {
        Fault::new(&*name, wrong.to_string())
            .wanted("what a board of this version captured")
            .mend("fetch it from the board once more, and read it with the version that the board has")
    })?;
    let rate_hz = f64::from(head.rate_mhz) / 1e3;
    let left_hz = rate_hz / f64::from(head.shape.every());
    if left_hz < 10.0 * settings.supply.frequency_hz {
        let fault = Fault::new(&*name, format!("thinned to {left_hz} frames a second"))
            .wanted("ten a cycle at least: the waves cannot be made of less")
            .mend("let the board's recorder thin less");
        return Err(fault.into());
    }
    let frames =
        waves::at_full_rate(&frames.collect::<Vec<_>>(), head.shape.every(), settings.supply.frequency_hz / rate_hz);
    record(&args.out, &settings, &head, &frames, rate_hz)?;
    state::write(&args.out.with_extension("inf"), &head, frames.len())?;

    let length = frames.len() as f64 / rate_hz;
    println!("{}: {} s at {} Hz", args.out.display(), short(length), rate_hz);
    if head.shape.halvings > 0 {
        let every = head.shape.every();
        println!(
            "  made from means of {}: what is above {} Hz is not in it",
            counted(every.into(), "sample"),
            rate_hz / 2.0 / f64::from(every)
        );
    }
    for note in head.notes.iter().flatten() {
        if note.at < head.begin {
            println!("  event {} was before this record: the one before has it", note.sequence);
            continue;
        }
        let at = frames_s(note.at.since(head.begin).0, rate_hz);
        println!("  event {} at {}", note.sequence, stamp(at));
    }
    if settings_sum(&settings, rate_hz)? != head.settings {
        println!(
            "  the board had other settings than {}: a replay shows what these would have done",
            args.settings.display()
        );
    }
    println!("  to replay it: shaftwork replay {} --settings {}", args.out.display(), args.settings.display());
    Ok(ExitCode::SUCCESS)
}

/// The check sum of the settings that a board is sent.
///
/// # Errors
/// A figure beyond the core's ranges.
pub fn settings_sum(settings: &Settings, rate_hz: f64) -> anyhow::Result<u32> {
    Ok(crc32(encode(&fit::core_settings(settings, rate_hz)?, &mut [0; MAX_BYTES])))
}

/// Writes .cfg and .dat: a code of the record is one of the converter's, or of its upper sixteen bits.
fn record(out: &Path, settings: &Settings, head: &Head, frames: &[[f64; 6]], rate_hz: f64) -> anyhow::Result<PathBuf> {
    let sampling = &settings.sampling;
    let full = f64::from(sampling.full_scale_count()) / 2f64.powi(i32::from(head.shape.bits.max(16)) - 16);
    let slots: Vec<(usize, &str)> =
        settings.supply.wiring.quantities().into_iter().enumerate().filter(|(_, name)| !name.is_empty()).collect();
    let channels: Vec<WriteChannel> = slots
        .iter()
        .map(|(slot, quantity)| {
            let (unit, scale) =
                if *slot < 3 { ("V", sampling.voltage_full_scale_v) } else { ("A", sampling.current_full_scale_a) };
            WriteChannel {
                name: settings.channels.get(*quantity).cloned().unwrap_or_else(|| quantity.to_uppercase()),
                phase: quantity[1..].to_uppercase(),
                unit: unit.to_owned(),
                a: scale / full,
                b: 0.0,
            }
        })
        .collect();
    let hertz = settings.supply.frequency_hz;
    let mut writer = ComtradeWriter::create(out, "CAPTURE", &channels, hertz, rate_hz, WriteEncoding::Binary2013)?;
    let mut values = Vec::with_capacity(slots.len());
    for frame in frames {
        values.clear();
        values.extend(slots.iter().zip(&channels).map(|((slot, _), channel)| frame[*slot] * channel.a));
        writer.frame(&values)?;
    }
    writer.finish()
}
