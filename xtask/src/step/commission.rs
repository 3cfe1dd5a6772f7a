//! Every trip element tried by injection, on the host and on a board of each instruction set: each must write the same sheet, bit for bit,
//! with every element proven and the outputs in their safe state.

use std::fs;

use anyhow::{Context as _, Result, ensure};
use shaftwork_report_bits::digest::crc32;

use crate::boards::{CORTEX_M4, OTHERS};
use crate::cli::Context;
use crate::emulator;
use crate::firmware::{self, EMULATED, Profile};
use crate::host;
use crate::run::{BUILD_LIMIT, capture, command, show};

/// Every element is on in these.
const SETTINGS: &str = "xtask/budget/everything.toml";

/// Compares and returns the closing line.
pub fn run(context: &Context) -> Result<String> {
    let program = host::build(context)?;
    let folder = context.place.scratch().join("commission");
    if folder.exists() {
        fs::remove_dir_all(&folder).with_context(|| folder.display().to_string())?;
    }
    let mut commission = command(&program, &context.place.root);
    commission.args(["commission", "--settings", SETTINGS, "--bits"]).arg(&folder);
    let what = show(&commission);
    // Its exit status tells whether every element was proven.
    capture(commission, BUILD_LIMIT)?.wanted(&what)?;
    let ours = host::read(&folder.join("sheet-host.bin"))?;
    fs::write(folder.join("commission.bin"), [1])?;
    let boards = [CORTEX_M4].into_iter().chain(OTHERS);
    let (mut count, mut rows) = (1, 0);
    for board in boards {
        board.need()?;
        let image = firmware::build(context, EMULATED, Profile::Release, board.target, &[])?;
        let run = emulator::writing(&board, &image, &folder, context.emulator_limit, "sheet.bin")?;
        ensure!(run.reports == ours, "the sheet of {} is another than the host's", board.name);
        ensure!(run.said.get("relay-changes")? == 0, "{}: the trip relay moved while outputs were blocked", board.name);
        let on = ["relay", "start", "feed", "wait", "well"].map(|name| run.said.get(&format!("end-{name}")));
        ensure!(on.into_iter().sum::<Result<u64>>()? == 0, "{}: an output does not end in its safe state", board.name);
        rows = run.said.get("rows")?;
        count += 1;
        println!("   {}: {rows} rows, the same as on the host", board.name);
    }
    Ok(format!("commission: {count} sheets of {rows} rows, all proven, 0 bits differ, CRC-32 {:08x}", crc32(&ours)))
}
