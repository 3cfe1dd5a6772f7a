//! What each target does with its bytes. A fault is an answer like any other; what must hold is asserted.
//!
//! A test of the host tool includes this file and runs every seed through it, so that targets and seeds do not
//! rot between two runs of the fuzzer.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use shaftwork_core::Monitor;
use shaftwork_sim::shift::log::{self, About};
use shaftwork_sim::shift::{site, stoppages, tickets};
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
        named(&words);
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

/// A site for fuzzed logs and tickets: a zone whose clocks change, a clock that was wrong, a meter that was changed.
const SITE: &str = r#"[site]
name = "Quillbrook Yard"
zone = "Europe/Berlin"
materials = ["castings"]
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[motor]
rated_kw = 55
idle_kw = 14
[[change]]
at = "2026-03-02T06:05"
to = "2026-03-02T06:30"
what = "clock"
fast_s = -120
who = "A"
why = "b"
[[change]]
at = "2026-03-03T06:05"
what = "meter"
last_kwh = 999999
first_kwh = 0
who = "A"
why = "b"
"#;

fn yard() -> site::Site {
    site::parse(SITE, "site").unwrap_or_else(|faults| panic!("{faults}"))
}

/// An interval log as CSV.
///
/// # Panics
/// Where a refusal does not name the file, or times do not add up.
pub fn intervals(data: &[u8]) {
    let yard = yard();
    let about = About {
        calendar: &yard.calendar,
        changes: &yard.changes,
        motor: &yard.motor,
        register: (1_000_000, 1.0),
        off_share: 0.02,
        read: &|_| (),
    };
    match log::read_bytes("fuzz", data, &about) {
        Ok(log) => {
            for bin in &log.bins.bins {
                assert_eq!(bin.states_us.iter().sum::<i64>(), bin.us, "states add up");
                assert!(bin.us <= 60_000_000 && bin.total_kwh().is_finite() && bin.kg.is_finite(), "{bin:?}");
            }
            assert!(log.stretches.windows(2).all(|pair| pair[0].span.to_us <= pair[1].span.from_us), "in order");
        }
        Err(error) => named(&error.to_string()),
    }
}

/// Weigh tickets, and stoppages, as CSV.
///
/// # Panics
/// Where a refusal does not name the file, or stoppages overlap.
pub fn sheets(data: &[u8]) {
    let yard = yard();
    if let Err(error) = tickets::read_bytes("fuzz", data, &yard) {
        named(&error.to_string());
    }
    match stoppages::read_bytes("fuzz", data, &yard.calendar) {
        Ok(all) => assert!(all.all.windows(2).all(|pair| pair[0].span.to_us <= pair[1].span.from_us), "they overlap"),
        Err(error) => named(&error.to_string()),
    }
}

/// A site's file, and the shifts of a year by it.
///
/// # Panics
/// Where a refusal does not name the file, or shifts overlap.
pub fn sites(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match site::parse(text, "fuzz") {
        Ok(site) => {
            let date = |text: &str| text.parse().unwrap_or_default();
            let shifts = site.calendar.shifts(date("2026-01-01"), date("2026-12-31"));
            assert!(shifts.windows(2).all(|pair| pair[0].to <= pair[1].from), "shifts overlap");
        }
        Err(faults) => named(&faults.to_string()),
    }
}

fn named(words: &str) {
    assert!(words.starts_with("fuzz"), "no file in '{words}'");
}
