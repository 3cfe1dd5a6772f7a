//! What the core costs, in instructions of each board's processor: counted in the image and the run of the bit
//! check, around `ingest` alone.
//!
//! The emulator counts instructions, not cycles: it models neither wait states nor a pipeline.

use anyhow::Result;

use super::qemu::{Released, compare_all};
use crate::boards::{CORTEX_M4, OTHERS};
use crate::cli::Context;
use crate::emulator::Said;
use crate::firmware::Profile;
use crate::traces::Trace;

/// Runs the release image over all traces and prints a table.
pub fn run(context: &Context, traces: &[Trace]) -> Result<String> {
    let outcome = compare_all(context, traces, &[Profile::Release])?;
    println!("{}", outcome.line);
    table(&outcome.released)
}

/// The table, and the line that the step ends with.
///
/// `worst-call` is the dearest single call of `ingest`, which takes a block of eight frames.
pub fn table(runs: &[Released]) -> Result<String> {
    println!("   {:<12}{:<24}{:>10}{:>12}{:>12}", "board", "trace", "frames", "per frame", "worst call");
    let mut line = String::new();
    for board in [CORTEX_M4].iter().chain(&OTHERS) {
        let (mut instructions, mut frames, mut worst) = (0, 0, 0);
        for Released { name, said, .. } in runs.iter().filter(|run| run.board == board.name) {
            let (took, of, most) = figures(said)?;
            println!("   {:<12}{name:<24}{of:>10}{:>12}{most:>12}", board.name, per(took, of));
            instructions += took;
            frames += of;
            worst = worst.max(most);
        }
        let mean = per(instructions, frames);
        println!("   {:<12}{:<24}{frames:>10}{mean:>12}{worst:>12}", board.name, "all");
        if *board == CORTEX_M4 {
            println!("   the worst call took {} instructions for each of its 8 frames", per(worst, 8));
            line = format!("cortex-m4 instructions per frame: mean {mean} worst-call {worst}");
        }
    }
    Ok(line)
}

fn figures(said: &Said) -> Result<(u64, u64, u64)> {
    Ok((said.get("instructions")?, said.get("frames")?, said.get("worst-call")?))
}

/// Rounded to the nearest.
fn per(total: u64, count: u64) -> u64 {
    (total + count / 2) / count.max(1)
}
