//! What each target does with its bytes. A fault is an answer like any other; what must hold is asserted.
//!
//! A test of the host tool includes this file and runs every seed through it, so that targets and seeds do not
//! rot between two runs of the fuzzer.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use shaftwork_core::Monitor;
use shaftwork_sim::trace::bridge::Bridged;
use shaftwork_sim::trace::select::{self, Wiring};
use shaftwork_sim::trace::{self, BLOCK, Options, Reader, Rows};
use shaftwork_sim::{check, fit, settings};

/// What stands before the configuration in a record in one file. Without it bytes would go to the reader of CSV.
const FRONT: &[u8] = b"--- file type: CFG ---\r\n";

/// Data behind a fuzzed configuration: readers of text and of binary find something to do in it.
const DATA: &[u8] = b"\r\n--- file type: DAT ---\r\n\
    1,0,10,-20,30,-1,2,-3,0\r\n2,250,11,-21,31,-1,2,-3,0\r\n3,500,99999,,31,-1,2,-3,1\r\n4,750,9,9,9,9,9,9,1\r\n";

/// Revisions and encodings before fuzzed data.
const KINDS: [(&str, &str); 8] = [
    ("2013", "ASCII"),
    ("1999", "BINARY"),
    ("2013", "BINARY32"),
    ("2013", "FLOAT32"),
    ("1991", "ASCII"),
    ("1991", "BINARY"),
    ("1999", "ASCII"),
    ("2013", "BINARY"),
];

/// A CSV trace; its last byte chooses the options, so that a seed is a file as people have it.
pub fn csv(data: &[u8]) {
    read(data, options(last(data)));
}

/// A configuration, with fixed data behind it; its last byte chooses the options.
pub fn cfg(data: &[u8]) {
    read(&[FRONT, data, DATA].concat(), options(last(data)));
}

/// A record in one file from its second line on; its last byte chooses the options.
pub fn cff(data: &[u8]) {
    read(&[FRONT, data].concat(), options(last(data)));
}

/// The data of a record; the first byte chooses the configuration and the options.
pub fn dat(data: &[u8]) {
    let Some((choice, data)) = data.split_first() else { return };
    let (year, encoding) = KINDS[usize::from(choice & 7)];
    // Time from the rate, or from the stamps.
    let rates = if choice & 8 == 0 { "1\n4000,40" } else { "0\n0,40" };
    let range = if year == "1991" { "0,32767" } else { "-32767,32767" };
    let mut text = format!("S,D,{year}\n7,6A,1D\n");
    for (n, name) in ["VA", "VB", "VC", "IA", "IB", "IC"].iter().enumerate() {
        let unit = if name.starts_with('V') { "V" } else { "A" };
        let _ = writeln!(text, "{},{name},,,{unit},0.5,0.25,0,{range},10,1,S", n + 1);
    }
    let stamp = "01/02/2026,06:00:00.000000";
    let _ = write!(text, "1,RUN,,,0\n50\n{rates}\n{stamp}\n{stamp}\n{encoding}\n1\n");
    let _ = writeln!(text, "--- file type: DAT {encoding} ---");
    read(&[FRONT, text.as_bytes(), data].concat(), options(choice >> 4));
}

/// A settings file: text, validated settings, fit, integers for a board, the core's own check of them.
///
/// # Panics
/// Where a refusal does not name the file, or the core refuses what was built for it.
pub fn settings(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let (sound, warnings) = match settings::parse(text, "fuzz") {
        Ok(sound) => sound,
        Err(faults) => {
            assert!(!faults.0.is_empty() && faults.to_string().starts_with("fuzz"), "no file in '{faults}'");
            return;
        }
    };
    let _ = check::text("fuzz", &check::lines(&sound, &warnings));
    for rate_hz in [2_000.0, sound.sampling.rate_hz.unwrap_or(4_000.0), 16_000.0] {
        if let Ok(core) = fit::core_settings(&sound, rate_hz) {
            assert!(Monitor::new(&core).is_ok(), "the core refuses what was built for it");
        }
    }
}

fn last(data: &[u8]) -> u8 {
    data.last().copied().unwrap_or(0)
}

fn options(byte: u8) -> Options {
    let rate_hz = (byte & 4 != 0).then_some(4000.0);
    Options { accept_short: byte & 1 != 0, gaps_split: byte & 2 != 0, rate_hz }
}

/// Reads a trace to its end, then once more through the bridge, where missing values are filled.
fn read(bytes: &[u8], options: Options) {
    if let Err(error) = whole(bytes, options) {
        let words = error.to_string();
        assert!(words.starts_with("fuzz"), "no file in '{words}'");
    }
}

fn whole(bytes: &[u8], options: Options) -> anyhow::Result<()> {
    let open = || trace::read_bytes("fuzz", bytes.to_vec(), &options);
    let mut reader = open()?;
    let choose = |wiring: &Wiring| select::select(reader.meta(), *wiring, &BTreeMap::new()).ok();
    let selection = Wiring::ALL.iter().find_map(choose).unwrap_or_default();
    let rate = trace::require_single_rate(reader.meta());
    let mut rows = Rows::new();
    drain(&mut *reader, &mut rows)?;
    drain(&mut Bridged::new(open()?, &selection, 50.0, rate?, options.gaps_split), &mut rows)
}

fn drain(reader: &mut dyn Reader, rows: &mut Rows) -> anyhow::Result<()> {
    loop {
        let count = reader.read(rows)?;
        assert!(count == rows.len && count <= BLOCK, "{count} rows, {} held", rows.len);
        assert!(rows.columns.iter().all(|column| column.len() == count), "columns of uneven length");
        if count == 0 {
            return Ok(());
        }
    }
}
