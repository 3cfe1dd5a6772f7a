//! The same trace through the host and the emulated boards: every bit of every report must agree.
//!
//! Each trace runs on a board of each instruction set, on one with 16 KiB of RAM, and twice on the Cortex-M4: in the image that is flashed, and in one with
//! overflow checks and assertions on, in which an overflow is a panic. What the board captured around its decisions is replayed as well. Over the first
//! trace the power goes and comes again.

use anyhow::{Result, bail};
use shaftwork_report_bits::digest::crc32;

use crate::boards::{Board, CORTEX_M4, MICROBIT, OTHERS};
use crate::captured;
use crate::cli::Context;
use crate::compare::{Verdict, compare};
use crate::emulator::{self, Said};
use crate::firmware::{self, EMULATED, Profile};
use crate::host;
use crate::resumed;
use crate::traces::Trace;

/// One trace, run on the release image.
pub struct Released {
    /// The board.
    pub board: &'static str,
    /// The trace's short name.
    pub name: String,
    /// What the board said of itself.
    pub said: Said,
}

/// What all traces gave.
pub struct Outcome {
    /// A run of the release image each.
    pub released: Vec<Released>,
    /// The line that the step ends with.
    pub line: String,
}

/// Compares and returns the closing line; an error when a bit differs.
pub fn run(context: &Context, traces: &[Trace]) -> Result<String> {
    Ok(compare_all(context, traces, &[Profile::Release, Profile::Checked])?.line)
}

/// Runs traces through the host and through images: of these profiles on the Cortex-M4, of what is flashed on the others.
///
/// With several traces the digest is that of all their reports in order.
pub fn compare_all(context: &Context, traces: &[Trace], profiles: &[Profile]) -> Result<Outcome> {
    let program = host::build(context)?;
    let mut images = Vec::new();
    let boards = profiles.iter().map(|profile| (CORTEX_M4, *profile));
    let others = OTHERS.into_iter().chain([MICROBIT]).map(|board| (board, Profile::Release));
    for (board, profile) in boards.chain(others) {
        board.need()?;
        images.push((board, profile, firmware::build(context, EMULATED, profile, board.target, board.features)?));
    }
    let instruction_sets = OTHERS.len() + 1;
    let (mut released, mut all, mut reports, mut bits, mut decisions) = (Vec::new(), Vec::new(), 0, 0, 0);
    for trace in traces {
        let name = trace.name();
        let folder = context.place.scratch().join("qemu").join(&name);
        host::replay(&program, trace, &folder, &context.place.root)?;
        let ours = host::read(&folder.join(host::REPORTS))?;
        for (board, profile, image) in &images {
            let run = emulator::run(board, image, &folder, context.emulator_limit)?;
            let verdict = compare(&ours, &run.reports)?;
            own_figures(&run.said, &run.reports, &verdict)?;
            println!(
                "   {name}, {}, {}: {} reports, {} bits differ, digest {:08x}",
                board.name,
                profile.name(),
                verdict.reports,
                verdict.bits,
                crc32(&run.reports)
            );
            if let Some(first) = &verdict.first {
                println!("{first}");
            }
            bits += verdict.bits;
            if *profile == Profile::Release {
                released.push(Released { board: board.name, name: name.clone(), said: run.said });
            }
            if first(board, *profile) {
                decisions += captured::check(context, &program, trace, image, &folder)?;
                reports += verdict.reports;
            }
        }
        if traces.iter().find(|trace| !trace.closed()) == Some(trace) {
            resumed::check(context, &images, &folder, &ours)?;
        }
        all.extend(ours);
    }
    println!("   captures: {decisions} decisions of the board come to again by the host");
    let line = format!("emulator: {reports} reports, {bits} bits differ, digest {:08x}", crc32(&all));
    if bits != 0 {
        println!("{line}");
        bail!("a board and the host do not agree");
    }
    println!("   {instruction_sets} instruction sets and the host give the same reports");
    Ok(Outcome { released, line })
}

/// What is told in the closing line, and whose captures are replayed.
fn first(board: &Board, profile: Profile) -> bool {
    *board == CORTEX_M4 && profile == Profile::Release
}

/// The board's own count and digest must be those of the file it wrote.
fn own_figures(said: &Said, bytes: &[u8], verdict: &Verdict) -> Result<()> {
    if said.get("digest")? != u64::from(crc32(bytes)) {
        bail!("the board says digest {:08x}, its reports.bin has {:08x}", said.get("digest")?, crc32(bytes));
    }
    if verdict.bits == 0 && said.get("reports")? != verdict.reports as u64 {
        bail!("the board counts {} reports, its reports.bin holds {}", said.get("reports")?, verdict.reports);
    }
    Ok(())
}
