//! What the emulated board captured, replayed by the host: it must come to the same decisions.
//!
//! Thinned captures to the same within a cycle of 50 Hz, whole ones to the same frame.

use std::fs;
use std::path::Path;

use anyhow::{Context as _, Result, bail};
use shaftwork_report_bits::capture::read;
use shaftwork_report_bits::{Report, Stream};

use crate::boards::CORTEX_M4;
use crate::cli::Context;
use crate::emulator;
use crate::host;
use crate::run::{BUILD_LIMIT, capture, command, show};
use crate::traces::Trace;

/// Every frame, a quarter of them after the trigger: halvings, and 256ths.
const WHOLE: [u8; 2] = [0, 64];

/// Replays what was captured in the run that left `folder` as it is, and what is captured of whole frames; the number of decisions.
pub fn check(context: &Context, program: &Path, trace: &Trace, image: &Path, folder: &Path) -> Result<usize> {
    let trips = trips(&host::read(&folder.join("reports.bin"))?)?;
    let thinned = replay_all(program, trace, folder, &trips, 0.02)?;
    if !trips.is_empty() && thinned == 0 {
        bail!("{}: the board tripped, and no capture of its has that decision", trace.name());
    }
    if thinned == 0 {
        return Ok(0);
    }
    let shape = folder.join("shape.bin");
    fs::write(&shape, WHOLE)?;
    let run = emulator::run(&CORTEX_M4, image, folder, context.emulator_limit);
    fs::remove_file(&shape)?;
    run?;
    Ok(thinned + replay_all(program, trace, folder, &trips, 1e-5)?)
}

/// Replays all captures in a folder, and takes them away; the number of decisions that were come to again.
fn replay_all(
    program: &Path,
    trace: &Trace,
    folder: &Path,
    trips: &[(u64, String)],
    tolerance_s: f64,
) -> Result<usize> {
    let mut decisions = 0;
    for n in 1..=9 {
        let file = folder.join(format!("capture-{n}.bin"));
        if !file.exists() {
            break;
        }
        let wanted = within(trips, &host::read(&file)?, tolerance_s)?;
        let record = folder.join(format!("capture-{n}.cfg"));
        let mut convert = command(program, folder);
        convert.arg("capture").arg(&file).arg("--settings").arg(&trace.settings).arg("--out").arg(&record);
        let what = show(&convert);
        capture(convert, BUILD_LIMIT)?.wanted(&what)?;
        let mut replay = command(program, folder);
        replay.arg("replay").arg(&record).arg("--settings").arg(&trace.settings);
        for trip in &wanted {
            replay.arg("--expect").arg(trip);
        }
        if wanted.is_empty() {
            replay.arg("--expect").arg("quiet");
        }
        let what = show(&replay);
        let out = capture(replay, BUILD_LIMIT)?.wanted(&what)?;
        if out.contains("as if nothing had been before") {
            bail!("{what}: the state of the capture was not used");
        }
        println!("   {}: {} come to again", file.file_name().unwrap_or_default().to_string_lossy(), wanted.join(", "));
        decisions += wanted.len();
        fs::remove_file(&file)?;
    }
    Ok(decisions)
}

/// All trips that the board gave: when, in frames at Q16, and why.
fn trips(reports: &[u8]) -> Result<Vec<(u64, String)>> {
    let mut trips = Vec::new();
    for report in Stream::new(reports) {
        let (kind, bytes) = report?;
        let Ok(Report::Event(event)) = Report::decode(kind, bytes) else { continue };
        let words = format!("{:?}", event.kind);
        if let Some(cause) = words.strip_prefix("Trip { cause: ").and_then(|rest| rest.split([',', ' ']).next()) {
            trips.push((event.at.0, kebab(cause)));
        }
    }
    Ok(trips)
}

/// Those that it gave while it captured, as `--expect` takes them.
fn within(trips: &[(u64, String)], captured: &[u8], tolerance_s: f64) -> Result<Vec<String>> {
    let (head, _) = read(captured).context("a capture")?;
    let snapshot = head.snapshot.as_ref().context("a capture without what the monitor remembered")?;
    let end = head.begin.0 + ((u64::from(head.frames) * u64::from(head.shape.every())) << 16);
    let within = trips.iter().filter(|(at, _)| *at > snapshot.at().0 && *at < end);
    let expected = within.map(|(at, cause)| {
        let t_s = (at - head.begin.0) as f64 / 65.536 / f64::from(head.rate_mhz);
        format!("trip:{cause}@{t_s:.6}+-{tolerance_s}")
    });
    Ok(expected.collect())
}

/// `PhaseLoss` as outputs have it: `phase-loss`.
fn kebab(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if c.is_ascii_uppercase() && !out.is_empty() {
            out.push('-');
        }
        out.push(c.to_ascii_lowercase());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_causes() {
        assert_eq!(["Jam", "PhaseLoss", "StartsPerHour"].map(kebab), ["jam", "phase-loss", "starts-per-hour"]);
    }
}
