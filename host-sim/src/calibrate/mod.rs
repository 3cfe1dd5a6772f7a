//! The verb `calibrate`: reference readings beside a trace -> gain, offset_counts and phase_deg of `[sampling]`.
//!
//! ```text
//! gain    reference rms = gain x measured rms, least squares through zero
//! offset  the mean code: mains carry no direct current, so that what is left is the converter's own zero
//! phase   reference P = P cos d - Q sin d: what each current transformer's output leads by, least squares
//! ```
//!
//! Three passes over the trace: raw for gains and offsets, with those for the phase, with all three for what is left.

mod apply;
pub mod measure;
pub mod reference;
mod words;

use std::path::Path;
use std::process::ExitCode;

use crate::clash;
use crate::cli::{Calibrate, show};
use crate::error::{Fault, Usage};
use crate::regression::{line, through_zero};
use crate::settings::{self, Settings, Wiring};
use crate::trace;
use crate::whole;
use measure::{Reading, measure};
use reference::Row;

/// A channel's calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Its quantity.
    pub name: &'static str,
    /// Readings that it was compared with.
    pub readings: usize,
    /// As for the settings.
    pub gain: f64,
    /// As for the settings.
    pub offset_counts: f64,
    /// As for the settings; of currents only.
    pub phase_deg: Option<f64>,
    /// The largest difference that is left, % of the reading.
    pub residual_pct: Option<f64>,
    /// What a line that need not pass through zero has at zero, with its standard uncertainty, V or A.
    pub at_zero: Option<[f64; 2]>,
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// The channels in the order of the settings' lists.
    pub channels: Vec<Channel>,
    /// Readings of power, and the largest difference that is left, % of the reading.
    pub power: Option<(usize, f64)>,
}

/// Calibrates; prints the lines for `[sampling]`, writes a new settings file where that is wanted.
///
/// # Errors
/// Trace, settings or readings are at fault, or an output cannot be written.
pub fn run(args: &Calibrate) -> anyhow::Result<ExitCode> {
    if args.trace == "-" || args.settings == Path::new("-") {
        return Err(
            Usage("calibrate reads trace and settings more than once: give them as files, not '-'".to_owned()).into()
        );
    }
    let mut inputs = trace::files(&args.trace);
    inputs.extend([args.settings.clone(), args.reference.clone()]);
    clash::refuse_named(&inputs, &[("--json", &args.json), ("--out", &args.out)])?;
    let (settings, _) = settings::load(&args.settings)?;
    settings.need_all_waves("calibrate")?;
    settings.need_line_currents("calibrate")?;
    let rows = reference::read(&args.reference, settings.supply.wiring)?;
    let name = args.reference.display().to_string();
    let calibration = calibrate(&args.trace, &settings, &rows, &name)?;
    if let Some(out) = &args.out {
        let changed = apply::apply(&args.settings, &calibration)?;
        whole::write(out, changed.as_bytes())?;
    }
    show(&words::text(&calibration, &settings), &words::document(&calibration), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// The slots of a frame that the wiring has, in the order of the settings' lists.
fn slots(wiring: Wiring) -> Vec<usize> {
    (0..6).filter(|k| !wiring.quantities()[*k].is_empty()).collect()
}

/// Works it out.
///
/// # Errors
/// The trace is at fault, or what comes out cannot be a calibration.
pub fn calibrate(trace: &str, settings: &Settings, rows: &[Row], reference: &str) -> anyhow::Result<Calibration> {
    let slots = slots(settings.supply.wiring);
    let mut tried = settings.clone();
    let count = slots.len();
    let currents = slots.iter().filter(|slot| **slot >= 3).count();
    (tried.sampling.gain, tried.sampling.offset_counts) = (vec![1.0; count], vec![0.0; count]);
    tried.sampling.phase_deg = vec![0.0; currents];
    let raw = measure(trace, &tried, rows, reference)?;
    let mut channels = Vec::new();
    for (place, slot) in slots.iter().enumerate() {
        channels.push(channel(settings, (place, *slot), &raw, rows, reference)?);
    }
    tried.sampling.gain = channels.iter().map(|channel| channel.gain).collect();
    tried.sampling.offset_counts = channels.iter().map(|channel| channel.offset_counts).collect();
    let turned = measure(trace, &tried, rows, reference)?;
    let phases = phases(settings, &turned, rows, reference)?;
    for (channel, (slot, phase)) in
        channels.iter_mut().skip(count - currents).zip(slots.iter().filter(|slot| **slot >= 3).zip(&phases))
    {
        debug_assert!(*slot >= 3);
        channel.phase_deg = Some(*phase);
    }
    tried.sampling.phase_deg = phases;
    let last = measure(trace, &tried, rows, reference)?;
    for (channel, slot) in channels.iter_mut().zip(&slots) {
        channel.residual_pct =
            worst(last.iter().zip(rows).filter_map(|(read, row)| Some([read.rms[*slot], row.rms[*slot]?])));
    }
    let powers = || last.iter().zip(rows).filter_map(|(read, row)| Some([read.power[0], total(row)?]));
    let power = worst(powers()).map(|worst| (powers().count(), worst));
    Ok(Calibration { channels, power })
}

/// The largest difference of pairs, measured and reference, %.
fn worst(pairs: impl Iterator<Item = [f64; 2]>) -> Option<f64> {
    pairs.map(|[read, wanted]| 100.0 * (read / wanted - 1.0).abs()).reduce(f64::max)
}

/// The reference's power of all phases.
fn total(row: &Row) -> Option<f64> {
    let phases = row.phase_w.iter().copied().collect::<Option<Vec<f64>>>();
    row.active_w.or(phases.map(|phases| phases.iter().sum()))
}

fn channel(
    settings: &Settings,
    (place, slot): (usize, usize),
    raw: &[Reading],
    rows: &[Row],
    reference: &str,
) -> Result<Channel, Fault> {
    let name = settings.supply.wiring.quantities()[slot];
    let points: Vec<[f64; 2]> =
        raw.iter().zip(rows).filter_map(|(read, row)| Some([read.rms[slot], row.rms[slot]?])).collect();
    let given = settings.sampling.gain.get(place).copied().unwrap_or(1.0);
    let found = through_zero(&points);
    // Without a reading the settings' own figure stays; a channel that was turned round stays so.
    let gain = found.map_or(given, |gain| if given < 0.0 { -gain } else { gain });
    if !(0.5..=2.0).contains(&gain.abs()) {
        return Err(Fault::new(
            reference,
            format!("{name}: the readings are {:.4} times what the trace shows", gain.abs()),
        )
        .wanted("0.5 to 2 times")
        .mend("compare the column's unit and the transformer's ratio; 'shaftwork check-wiring' tells wrong ones"));
    }
    let weights: f64 = raw.iter().map(Reading::windows).sum();
    let offset = raw.iter().map(|read| read.code[slot] * read.windows()).sum::<f64>() / weights;
    Ok(Channel {
        name,
        readings: points.len(),
        gain,
        offset_counts: offset,
        phase_deg: None,
        residual_pct: None,
        at_zero: line(&points).map(|line| [line.intercept, line.intercept_u]),
    })
}

/// Leads of the current transformers, degrees: of each by its phase's power, else one for all by the whole power, else as
/// the settings have them.
fn phases(settings: &Settings, turned: &[Reading], rows: &[Row], reference: &str) -> Result<Vec<f64>, Fault> {
    let slots = slots(settings.supply.wiring);
    let currents: Vec<usize> = slots.into_iter().filter(|slot| *slot >= 3).collect();
    let common: Vec<[f64; 3]> =
        turned.iter().zip(rows).filter_map(|(read, row)| Some([read.power[0], read.power[1], total(row)?])).collect();
    currents
        .iter()
        .enumerate()
        .map(|(place, slot)| {
            let own: Vec<[f64; 3]> = turned
                .iter()
                .zip(rows)
                .filter_map(|(read, row)| {
                    let [p, q] = read.phases[slot - 3];
                    Some([p, q, row.phase_w[slot - 3]?])
                })
                .collect();
            let points = if own.is_empty() { &common } else { &own };
            if points.is_empty() {
                return Ok(settings.sampling.phase_deg.get(place).copied().unwrap_or(0.0));
            }
            lead_deg(points).filter(|lead| lead.abs() <= 10.0).ok_or_else(|| {
                Fault::new(reference, "the powers fit no phase error of 10 degrees or less")
                    .wanted("the power of the same motor over the same times, in W")
                    .mend("check units and times; 'shaftwork check-wiring' tells exchanged or reversed channels")
            })
        })
        .collect()
}

/// The angle d for which P cos d - Q sin d comes closest to the third of each point, degrees.
fn lead_deg(points: &[[f64; 3]]) -> Option<f64> {
    let mut d = 0.0_f64;
    for _ in 0..20 {
        let (s, c) = d.sin_cos();
        let (mut up, mut down) = (0.0, 0.0);
        for [p, q, wanted] in points {
            let slope = -p * s - q * c;
            up += slope * (wanted - (p * c - q * s));
            down += slope * slope;
        }
        if down <= 0.0 {
            return None;
        }
        d += up / down;
    }
    d.is_finite().then(|| d.to_degrees())
}

#[cfg(test)]
mod tests;
