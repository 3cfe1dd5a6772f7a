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

use crate::error::Fault;
use crate::whole::Whole;

const SECTION: &str = "[Shaftwork Capture]";
/// Bytes of a line.
const LINE: usize = 32;
/// More is no file of ours.
const MOST: u64 = 1 << 20;
/// Longer samples are no capture of ours, bytes.
const LONGEST: u64 = 1 << 28;

/// Writes it beside the samples, so many frames, that it belongs to.
///
/// # Errors
/// The samples cannot be read, or the file cannot be written.
pub fn write(path: &Path, head: &Head, frames: usize) -> anyhow::Result<()> {
    let mut bytes = Vec::new();
    encode_head(head, &mut |some| bytes.extend_from_slice(some));
    let mut text = format!("{SECTION}\r\nVersion={}\r\nSum={:08x}\r\n", version(), crc32(&bytes));
    let data = path.with_extension("dat");
    let samples = std::fs::read(&data).with_context(|| format!("cannot read {}", data.display()))?;
    let _ = write!(text, "Frames={frames}\r\nSamples={},{:08x}\r\n", samples.len(), crc32(&samples));
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

    /// What the monitor remembered.
    pub const fn snapshot(&self) -> &Snapshot {
        &self.snapshot
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
    /// A state that belongs to other samples.
    Foreign(Fault),
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
        Some(Ok(begin)) => match foreign(section, path, &file) {
            Some(fault) => Beside::Foreign(fault),
            None => Beside::State(Box::new(begin)),
        },
        Some(Err(why)) => Beside::Useless(useless(&file, why)),
        None => Beside::Nothing, // a capture without a snapshot
    }
}

/// What is wrong where a state does not belong to the samples of a trace.
fn foreign(section: &str, trace: &Path, file: &Path) -> Option<Fault> {
    let data = ["dat", "DAT"].map(|ending| trace.with_extension(ending)).into_iter().find(|path| path.is_file());
    let data = data.unwrap_or_else(|| trace.to_owned());
    let told = entry(section, "Frames").zip(entry(section, "Samples"));
    let (mend, name) = (
        format!(
            "make the record anew with 'shaftwork capture', or take {} away: the trace is then replayed as if nothing had been before it",
            file.display()
        ),
        data.display().to_string(),
    );
    let wanted = |what: String| format!("{what}, to which the state in {} belongs", file.display());
    let Some((frames, (bytes, sum))) = told.and_then(|(frames, samples)| Some((frames, samples.split_once(',')?)))
    else {
        return Some(
            Fault::new(name, "nothing says which samples the state beside it belongs to")
                .wanted(wanted("Frames and Samples".to_owned()))
                .mend(mend),
        );
    };
    let length = data.metadata().map_or(0, |meta| meta.len());
    // Every frame has as many bytes; more is no capture.
    if length.to_string() != bytes || length > LONGEST {
        let each = bytes
            .parse::<u64>()
            .ok()
            .zip(frames.parse().ok())
            .and_then(|(all, frames): (u64, u64)| all.checked_div(frames));
        let found = each
            .and_then(|each| length.checked_div(each))
            .map_or_else(|| format!("{length} bytes"), |found| format!("{found} frames in {length} bytes"));
        return Some(Fault::new(name, found).wanted(wanted(format!("{frames} frames in {bytes} bytes"))).mend(mend));
    }
    let found = std::fs::read(&data).map_or(0, |samples| crc32(&samples));
    (format!("{found:08x}") != sum).then(|| {
        let found = format!("samples with the check sum {found:08x}: they were changed, or are others");
        Fault::new(name, found).wanted(wanted(format!("{frames} frames with the check sum {sum}"))).mend(mend)
    })
}

/// The lines of the section.
fn entries(section: &str) -> impl Iterator<Item = (&str, &str)> {
    section.lines().skip(1).take_while(|line| !line.starts_with('[')).filter_map(|line| line.trim().split_once('='))
}

/// One of them.
fn entry<'a>(section: &'a str, name: &str) -> Option<&'a str> {
    entries(section).find(|(key, _)| *key == name).map(|(_, value)| value)
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
    if entry(section, "Version") != Some(&version()) {
        return Some(Err("its state is that of another version"));
    }
    let hex: String = entries(section).filter(|(key, _)| key.starts_with("State_")).map(|(_, value)| value).collect();
    let (pairs, rest) = hex.as_bytes().as_chunks::<2>();
    let byte = |pair: &[u8; 2]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    let bytes: Option<Vec<u8>> = pairs.iter().map(byte).collect();
    let Some(bytes) = bytes.filter(|_| rest.is_empty()) else { return Some(Err("its state is no row of bytes")) };
    if entry(section, "Sum") != Some(&format!("{:08x}", crc32(&bytes))) {
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
