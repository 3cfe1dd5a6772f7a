//! What a board logs through `defmt`: the image with that feature runs a trace on the emulated Cortex-M4, and the host decodes what it
//! wrote by the image's own table.

use std::fs;

use anyhow::{Context as _, Result, bail, ensure};
use defmt_decoder::{DecodeError, Table};

use crate::boards::CORTEX_M4;
use crate::cli::Context;
use crate::emulator;
use crate::firmware::{self, EMULATED, Profile};
use crate::host;
use crate::traces;

/// A motor that runs empty, is jammed, and trips.
const TRACE: &str = "jam";

/// Runs and decodes; the log must tell of the trip.
pub fn run(context: &Context) -> Result<String> {
    let program = host::build(context)?;
    let all = traces::committed(&context.place)?;
    let trace = all.iter().find(|trace| trace.name() == TRACE).context("the trace is not there")?;
    let folder = context.place.scratch().join("defmt");
    host::replay(&program, trace, &folder, &context.place.root)?;
    CORTEX_M4.need()?;
    let image = firmware::build(context, EMULATED, Profile::Release, CORTEX_M4.target, &["defmt"])?;
    let logged = emulator::raw(&CORTEX_M4, &image, &folder, context.emulator_limit)?;
    let lines = decode(&fs::read(&image)?, &logged)?;
    for line in &lines {
        println!("   {line}");
    }
    let trips = lines.iter().filter(|line| line.contains("Trip") && line.contains("Jam")).count();
    ensure!(trips == 1, "of {} lines {trips} tell of the trip by the jam element", lines.len());
    Ok(format!("defmt: {} events of {} bytes decoded, the trip among them", lines.len(), logged.len()))
}

/// The lines of a log.
fn decode(image: &[u8], logged: &[u8]) -> Result<Vec<String>> {
    let table = Table::parse(image)?.context("the image has no table of its logs")?;
    let mut decoder = table.new_stream_decoder();
    decoder.received(logged);
    let mut lines = Vec::new();
    loop {
        match decoder.decode() {
            Ok(frame) => lines.push(frame.display_message().to_string()),
            Err(DecodeError::UnexpectedEof) => return Ok(lines),
            Err(DecodeError::Malformed) => bail!("the log is damaged after {} events", lines.len()),
        }
    }
}
