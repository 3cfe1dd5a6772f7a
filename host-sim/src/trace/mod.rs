//! Logged traces in: CSV and COMTRADE, as blocks of rows in SI units.
//!
//! [`open`] recognises the format; a [`Reader`] hands out at most [`BLOCK`] rows a call, so that
//! memory does not grow with the length of a trace. [`select`](select::select) finds which
//! channel serves which quantity, [`bridge::Bridged`] deals with missing values, [`info`] tells
//! what a file holds and [`mod@write`] makes COMTRADE files.

pub mod bridge;
pub(crate) mod cells;
pub mod comtrade;
pub mod csv;
pub(crate) mod even;
pub mod info;
pub(crate) mod number;
pub mod select;
pub(crate) mod source;
mod stranger;
pub mod units;
pub mod write;

use crate::error::Fault;
use source::Source;
pub use units::Kind;

/// Rows in a block at most.
pub const BLOCK: usize = 4096;
/// Values in a block at most, so that a record of very many channels keeps memory flat too.
const VALUES: usize = 4 * 1024 * 1024;

/// A block of rows by column, in SI units (V, A, kg, kg/s, rpm) on the primary side.
#[derive(Clone, Debug, Default)]
pub struct Rows {
    /// One for each of [`Meta::channels`]; NaN is a missing value.
    pub columns: Vec<Vec<f64>>,
    /// Markers: row in this block, text.
    pub marks: Vec<(usize, String)>,
    /// Rows before which a gap lies, and its length in s. When a gap ends the trace, the last call,
    /// which returns 0, has it at row 0.
    pub restarts: Vec<(usize, f64)>,
    /// Rows in this block.
    pub len: usize,
}

impl Rows {
    /// An empty block.
    pub fn new() -> Self {
        Self::default()
    }

    /// Empties the block and gives it so many columns; keeps their memory.
    pub fn reset(&mut self, columns: usize) {
        self.columns.resize_with(columns, Vec::new);
        self.columns.iter_mut().for_each(Vec::clear);
        self.marks.clear();
        self.restarts.clear();
        self.len = 0;
    }
}

/// Rows that a block may have with so many columns.
fn block_rows(columns: usize) -> usize {
    (VALUES / columns.max(1)).clamp(1, BLOCK)
}

/// One channel of a trace.
#[derive(Clone, Debug)]
pub struct Channel {
    /// Its name in the file.
    pub name: String,
    /// Its phase as the file has it; may be empty.
    pub phase: String,
    /// Its unit as the file has it; may be empty.
    pub unit: String,
    /// What a value in the file's unit, as marked there, is multiplied with to be SI on the primary side.
    pub to_si: f64,
    /// What it measures.
    pub kind: Kind,
    /// The worth of one count, SI on the primary side; 0 where the file has no counts.
    pub step: f64,
    /// Why it cannot serve in a replay, if so: for instance a secondary value without a ratio.
    pub flaw: Option<String>,
}

/// A stretch of a record at one rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Frames a second.
    pub hz: f64,
    /// The last frame at this rate, counted from 1 over the whole record.
    pub last_frame: u64,
}

/// What is known of a trace beside its rows.
#[derive(Clone, Debug)]
pub struct Meta {
    /// As the user named it; `-` is standard input.
    pub path: String,
    /// `CSV`, `COMTRADE 1999 BINARY`, …
    pub format: String,
    /// Where it was recorded; may be empty.
    pub station: String,
    /// Time of the first frame, ISO 8601.
    pub start: Option<String>,
    /// Nominal frequency of the supply, Hz.
    pub nominal_hz: Option<f64>,
    /// Rates in order; empty when the file has stamps alone.
    pub rates: Vec<Rate>,
    /// The rate of a file that has stamps alone, Hz: measured where it can be beforehand, else as
    /// the settings have it until the whole file is read, then measured.
    pub stamps_hz: Option<f64>,
    /// The channels in the order of [`Rows::columns`].
    pub channels: Vec<Channel>,
    /// Status channels, which are not read but for one that is asked for.
    pub digital: usize,
    /// Frames, where that is known beforehand.
    pub frames: Option<u64>,
}

/// How a trace is to be taken.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Options {
    /// A record that ends early is read as far as it is whole.
    pub accept_short: bool,
    /// Gaps become [`Rows::restarts`] instead of faults.
    pub gaps_split: bool,
    /// The settings' rate, Hz. A replay of CSV needs it; without it the file's own rate is taken.
    pub rate_hz: Option<f64>,
}

/// A trace that is being read.
pub trait Reader {
    /// What is known of it.
    fn meta(&self) -> &Meta;
    /// Fills `rows` with at most [`BLOCK`] rows and returns how many; 0 at the end.
    ///
    /// # Errors
    /// A [`Fault`] for whatever is wrong with the file.
    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize>;
    /// What a person should know though it stops nothing; may grow while reading.
    fn warnings(&self) -> &[String];
    /// Bytes done and bytes in all, if known.
    fn progress(&self) -> (u64, Option<u64>);
    /// Before anything is read: hands out the status channel of this name, if there is one, as a channel of 0 and 1.
    fn want_status(&mut self, _name: &str) {}
}

/// Opens a trace. `-` is standard input (CSV or .cff by content); a COMTRADE record may be named
/// by its .cfg or its .dat; other files are recognised by content.
///
/// # Errors
/// A [`Fault`] when the file cannot be opened or is no trace.
pub fn open(path: &str, options: &Options) -> anyhow::Result<Box<dyn Reader>> {
    open_as(path, options, false)
}

/// Like [`open`]; `lenient` turns uneven stamps into warnings, for looking at a file.
pub(crate) fn open_as(path: &str, options: &Options, lenient: bool) -> anyhow::Result<Box<dyn Reader>> {
    if path != "-" && comtrade::pair::is_half(path) {
        return Ok(Box::new(comtrade::Comtrade::open_pair(path, options, lenient)?));
    }
    from_source(Source::open(path)?, options, lenient)
}

/// The files that a trace is read from: both of a record.
pub fn files(path: &str) -> Vec<std::path::PathBuf> {
    match comtrade::pair::is_half(path).then(|| comtrade::pair::halves(path)) {
        Some(Ok((cfg, dat))) => vec![cfg.into(), dat.into()],
        _ => vec![path.into()],
    }
}

/// Opens a trace that is held in memory, as if it came from standard input; `name` is what faults call it.
///
/// # Errors
/// A [`Fault`] when it is no trace.
pub fn read_bytes(name: &str, bytes: Vec<u8>, options: &Options) -> anyhow::Result<Box<dyn Reader>> {
    from_source(Source::new(name, Box::new(std::io::Cursor::new(bytes)), None), options, false)
}

/// Recognises a stream by its first bytes.
pub(crate) fn from_source(mut source: Source, options: &Options, lenient: bool) -> anyhow::Result<Box<dyn Reader>> {
    let name = source.name().to_owned();
    let head = source.peek(4096)?;
    if head.is_empty() {
        return Err(Fault::new(name, "is empty").wanted("a trace").mend("record or copy it again").into());
    }
    if comtrade::cff::is_cff(head) {
        return Ok(Box::new(comtrade::Comtrade::open_cff(source, options, lenient)?));
    }
    if let Some(fault) = stranger::stranger(&name, head) {
        return Err(fault.into());
    }
    Ok(Box::new(csv::Csv::new(source, options, lenient)?))
}

/// The rate of a trace that has just one, Hz.
///
/// # Errors
/// A [`Fault`] in words for a record with several rates, or with none that is known.
pub fn require_single_rate(meta: &Meta) -> anyhow::Result<f64> {
    match (meta.rates.as_slice(), meta.stamps_hz) {
        ([rate], _) => Ok(rate.hz),
        ([], Some(hz)) => Ok(hz),
        ([], None) => Err(Fault::new(&*meta.path, "no sampling rate is known")
            .wanted("the rate of the trace")
            .mend("put it into the settings as [sampling] rate_hz; where the rows are rms values, with values = \"rms\" beside it")
            .into()),
        (several, _) => {
            let slowest = several.iter().map(|r| r.hz).fold(f64::INFINITY, f64::min);
            let fastest = several.iter().map(|r| r.hz).fold(0.0, f64::max);
            let rates = if slowest.to_bits() == fastest.to_bits() {
                format!("of {slowest} Hz, and time may be missing between them")
            } else {
                format!("with their own rates, {slowest} to {fastest} Hz")
            };
            Err(Fault::new(&*meta.path, format!("the record is in {} stretches {rates}", several.len()))
                .wanted("one rate from the first frame to the last")
                .mend("export the record again at one rate; what it holds can still be looked at with 'info'")
                .into())
        }
    }
}
