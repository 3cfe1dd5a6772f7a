//! What a monitor remembered, in the information file of a COMTRADE record (.inf: sections in brackets, an entry a line; sections of
//! one's own begin with the maker's name; IEC 60255-24, from memory).

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use anyhow::Context as _;
use shaftwork_core::time::Instant;
use shaftwork_core::{Monitor, Snapshot};
use shaftwork_report_bits::capture::{Head, MAGIC, encode_head, read_head};
use shaftwork_report_bits::digest::crc32;

use crate::whole::Whole;

const SECTION: &str = "[Shaftwork Capture]";
/// Bytes of a line.
const LINE: usize = 32;
/// More is no file of ours.
const MOST: u64 = 1 << 20;

/// Writes it.
///
/// # Errors
/// The file cannot be written.
pub fn write(path: &Path, head: &Head) -> anyhow::Result<()> {
    let mut bytes = Vec::new();
    encode_head(head, &mut |some| bytes.extend_from_slice(some));
    let mut text = format!("{SECTION}\r\nVersion={}\r\nSum={:08x}\r\n", version(), crc32(&bytes));
    for (n, note) in head.notes.iter().flatten().enumerate() {
        let frame = note.at.since(head.begin).0 >> 16;
        let _ = write!(text, "Event_{}={},{frame}\r\n", n + 1, note.sequence);
    }
    for (n, line) in bytes.chunks(LINE).enumerate() {
        let _ = write!(text, "State_{}=", n + 1);
        for byte in line {
            let _ = write!(text, "{byte:02x}");
        }
        text.push_str("\r\n");
    }
    let mut file = Whole::create(path)?;
    file.write_all(text.as_bytes()).with_context(|| format!("cannot write {}", path.display()))?;
    file.commit()
}

/// Where a replay begins.
pub struct Begin {
    snapshot: Snapshot,
    /// The record's first frame, by the board's count.
    base: Instant,
    /// Check sum of the board's settings.
    settings: u32,
}

impl Begin {
    /// Frames of the record before the snapshot.
    pub fn skip(&self) -> u64 {
        self.snapshot.at().since(self.base).0 >> 16
    }

    /// The record's first frame, by the board's count.
    pub const fn base(&self) -> Instant {
        self.base
    }

    /// Whether the board had these settings.
    pub const fn has_settings(&self, sum: u32) -> bool {
        self.settings == sum
    }

    /// Puts a monitor where the board's was.
    pub fn restore(&self, monitor: &mut Monitor) {
        monitor.restore(&self.snapshot);
    }
}

/// What stands beside a record.
pub enum Beside {
    /// Nothing of ours.
    Nothing,
    /// A state to begin with.
    State(Box<Begin>),
    /// Something that cannot be used, in words.
    Useless(String),
}

/// Looks for a state beside a trace.
pub fn beside(trace: &str) -> Beside {
    let path = Path::new(trace);
    if !path.extension().is_some_and(|e| e.eq_ignore_ascii_case("cfg") || e.eq_ignore_ascii_case("dat")) {
        return Beside::Nothing;
    }
    let find = |ending: &str| Some(path.with_extension(ending)).filter(|path| path.is_file());
    let Some(file) = find("inf").or_else(|| find("INF")) else { return Beside::Nothing };
    let small = file.metadata().is_ok_and(|meta| meta.len() <= MOST);
    let Some(text) = small.then(|| std::fs::read(&file).ok()).flatten() else { return Beside::Nothing };
    let text = String::from_utf8_lossy(&text);
    let Some((_, section)) = text.split_once(SECTION) else { return Beside::Nothing };
    match state(section) {
        Some(Ok(begin)) => Beside::State(Box::new(begin)),
        Some(Err(why)) => Beside::Useless(useless(&file, why)),
        None => Beside::Nothing, // a capture without a snapshot
    }
}

fn useless(file: &Path, why: &str) -> String {
    format!("{}: {why}; the trace is replayed as if nothing had been before it", file.display())
}

/// The version of what is remembered.
fn version() -> String {
    String::from_utf8_lossy(&MAGIC).into_owned()
}

/// From the lines of the section; `None` where a capture has no snapshot.
fn state(section: &str) -> Option<Result<Begin, &'static str>> {
    let lines = section.lines().skip(1).take_while(|line| !line.starts_with('['));
    let entries: Vec<(&str, &str)> = lines.filter_map(|line| line.trim().split_once('=')).collect();
    let entry = |name: &str| entries.iter().find(|(key, _)| *key == name).map(|(_, value)| *value);
    if entry("Version") != Some(&version()) {
        return Some(Err("its state is that of another version"));
    }
    let hex: String = entries.iter().filter(|(key, _)| key.starts_with("State_")).map(|(_, value)| *value).collect();
    let (pairs, rest) = hex.as_bytes().as_chunks::<2>();
    let byte = |pair: &[u8; 2]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    let bytes: Option<Vec<u8>> = pairs.iter().map(byte).collect();
    let Some(bytes) = bytes.filter(|_| rest.is_empty()) else { return Some(Err("its state is no row of bytes")) };
    if entry("Sum") != Some(&format!("{:08x}", crc32(&bytes))) {
        return Some(Err("its state was changed"));
    }
    let Ok(Head { snapshot, begin, settings, .. }) = read_head(&bytes) else {
        return Some(Err("its state is that of another version"));
    };
    let mut snapshot = snapshot?;
    if snapshot.at() < begin {
        return Some(Err("its state is older than the record"));
    }
    // Sums count from here on, as the trace does.
    snapshot.forget_totals();
    Some(Ok(Begin { snapshot, base: begin, settings }))
}
