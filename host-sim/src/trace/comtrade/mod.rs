//! COMTRADE records in (IEEE C37.111 / IEC 60255-24): revisions 1991, 1999 and 2013; text, 16 and
//! 32 bits, floats; two files or one.
//!
//! The configuration is read whole, the data as a stream. Records beyond those that the
//! configuration announces are left out with a warning; too few are a fault that names the byte,
//! unless short records are accepted.

mod ascii;
pub(in crate::trace) mod cff;
mod channel;
mod clock;
mod config;
pub(in crate::trace) mod pair;
mod record;
mod stamp;
mod text;

use super::source::Source;
use super::{Channel, Kind, Meta, Options, Reader, Rows, block_rows};
use crate::error::Fault;
use clock::Clock;
use config::{Config, Revision};
use record::Encoding;
use std::io::Read as _;

/// Bytes of binary data decoded at a time.
const PIECE: usize = 1 << 20;

/// A COMTRADE record that is being read.
pub struct Comtrade {
    meta: Meta,
    config: Config,
    data: Source,
    clock: Clock,
    accept_short: bool,
    /// The status channel that is handed out, by its place.
    status: Option<usize>,
    /// Bytes of a binary record.
    size: Option<usize>,
    frames: u64,
    done: bool,
    warnings: Vec<String>,
}

impl Comtrade {
    /// Opens a record in two files by the name of either.
    ///
    /// # Errors
    /// A [`Fault`] when one is missing or cannot be understood.
    pub fn open_pair(path: &str, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let mut reader = Self::start_pair(path, options, lenient)?;
        if reader.needs_measuring() {
            let mut again = Self::start_pair(path, options, lenient)?;
            reader.meta.stamps_hz = again.measure()?.or(options.rate_hz);
        }
        Ok(reader)
    }

    /// Opens a record in one file.
    ///
    /// # Errors
    /// A [`Fault`] when it cannot be understood.
    pub fn open_cff(source: Source, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let path = source.name().to_owned();
        let mut reader = Self::start_cff(source, options, lenient)?;
        if reader.needs_measuring() && path != "-" {
            let mut again = Self::start_cff(Source::open(&path)?, options, lenient)?;
            reader.meta.stamps_hz = again.measure()?.or(options.rate_hz);
        }
        Ok(reader)
    }

    fn start_cff(mut source: Source, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let path = source.name().to_owned();
        let front = cff::front(&mut source)?;
        let config = config::parse(&path, &text::decode(&front.config))?;
        let is_text = front.encoding == Encoding::Ascii.name();
        if !front.encoding.is_empty() && is_text != (config.encoding == Encoding::Ascii) {
            let found =
                format!("the data are marked {} but the configuration says {}", front.encoding, config.encoding.name());
            return Err(Fault::new(path, found)
                .at(format!("byte {}", source.offset()))
                .wanted("the same encoding in both places")
                .mend("correct the one that is wrong: text can be read with the eye")
                .into());
        }
        let starts = source.offset();
        let mut reader = Self::new(&path, config, source, options, lenient)?;
        let whole = reader.size.and_then(|size| reader.config.frames.checked_mul(size as u64));
        if let (Some(told), Some(whole)) = (front.bytes, whole)
            && told != whole
        {
            let words = format!(
                "{path}, byte {starts}: the data are marked as {told} bytes, the configuration announces {whole}"
            );
            reader.warnings.push(words);
        }
        Ok(reader)
    }

    fn start_pair(path: &str, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let (cfg, dat) = pair::halves(path)?;
        let mut bytes = Vec::new();
        let fault = |e: std::io::Error| Fault::unreadable(&*cfg, &e, "a COMTRADE configuration");
        let file = std::fs::File::open(&cfg).map_err(fault)?;
        file.take(cff::MOST as u64 + 1).read_to_end(&mut bytes).map_err(fault)?;
        if bytes.len() > cff::MOST {
            return Err(cff::too_long(&cfg).into());
        }
        let config = config::parse(&cfg, &text::decode(&bytes))?;
        Self::new(path, config, Source::open(&dat)?, options, lenient)
    }

    /// Without rates the stamps tell the time, and a replay must know their rate beforehand.
    fn needs_measuring(&self) -> bool {
        self.config.rates.is_empty()
    }

    /// Reads all for the rate that the stamps give.
    fn measure(&mut self) -> anyhow::Result<Option<f64>> {
        let mut rows = Rows::new();
        while self.read(&mut rows)? > 0 {}
        Ok(self.meta.stamps_hz)
    }

    fn new(path: &str, config: Config, data: Source, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let revision = match config.revision {
            Revision::Y1991 => "1991",
            Revision::Y1999 => "1999",
            Revision::Y2013 => "2013",
        };
        let meta = Meta {
            path: path.into(),
            format: format!("COMTRADE {revision} {}", config.encoding.name()),
            station: config.station.clone(),
            start: config.start.clone(),
            nominal_hz: config.nominal_hz,
            rates: config.rates.clone(),
            stamps_hz: if config.rates.is_empty() { options.rate_hz } else { None },
            channels: config.analogs.iter().map(|a| a.channel.clone()).collect(),
            digital: config.digital,
            frames: Some(config.frames),
        };
        if let ([rate], Some(want)) = (meta.rates.as_slice(), options.rate_hz)
            && (rate.hz / want - 1.0).abs() > 0.001
        {
            return Err(Fault::new(path, format!("the record has {} Hz", rate.hz))
                .wanted(format!("{want} Hz within 0.1 %, as rate_hz in the settings says"))
                .mend("leave rate_hz out of the settings: the record tells it")
                .into());
        }
        let size = record::size(config.encoding, config.analogs.len(), config.digital);
        let clock = Clock::new(data.name(), &config, options, lenient);
        let warnings = config.warnings.clone();
        let accept_short = options.accept_short;
        let status = None;
        let mut reader =
            Self { meta, config, data, clock, accept_short, status, size, frames: 0, done: false, warnings };
        reader.check_length()?;
        Ok(reader)
    }

    /// A binary record that is too short is refused before any of it is used.
    fn check_length(&mut self) -> Result<(), Fault> {
        let (Some(size), Some(total)) = (self.size, self.data.total()) else { return Ok(()) };
        let starts = self.data.offset();
        let have = total.saturating_sub(starts) / size as u64;
        if have < self.config.frames {
            if !self.accept_short || have == 0 {
                return Err(self.short(have, starts + have * size as u64, total));
            }
            self.meta.frames = Some(have);
        }
        Ok(())
    }

    /// The record ends early: `whole` frames are there, what follows them starts at byte `from`.
    fn short(&self, whole: u64, from: u64, total: u64) -> Fault {
        let announced = self.config.frames;
        let found = match (whole, total - from.min(total)) {
            (0, 0) => format!("there are no frames, but the configuration announces {announced}"),
            (_, 0) => format!("the data end after {whole} of the {announced} frames that the configuration announces"),
            (_, left) => {
                format!("the data are cut inside frame {} of {announced}: only {left} bytes of it are there", whole + 1)
            }
        };
        let fault = Fault::new(self.data.name(), found)
            .at(format!("byte {from}"))
            .wanted("as many whole frames as the configuration announces");
        fault.mend(if whole == 0 {
            "copy the record again"
        } else {
            "copy the record again, or replay what is whole with --accept-short"
        })
    }

    /// The stream has ended too early, at `total`.
    fn ends_early(&mut self, from: u64, total: u64) -> Result<(), Fault> {
        let fault = self.short(self.frames, from, total);
        if !self.accept_short || self.frames == 0 {
            return Err(fault);
        }
        self.warnings.push(format!("{}, {}: {}", fault.file, fault.place, fault.found));
        self.finish()
    }

    fn finish(&mut self) -> Result<(), Fault> {
        self.done = true;
        self.meta.frames = Some(self.frames);
        if let Some(hz) = self.clock.finish(&mut self.warnings)? {
            self.meta.stamps_hz = Some(hz);
        }
        Ok(())
    }

    /// All announced frames are read: what follows is left out, with a word about it.
    fn end_of_frames(&mut self) -> Result<(), Fault> {
        let from = self.data.offset();
        let announced = self.config.frames;
        let place = format!("{}, byte {from}", self.data.name());
        let more = |what: &str| format!("{place}: {what} follow the {announced} frames announced and are left out");
        if let Some(size) = self.size {
            let left = self.data.peek(size.min(PIECE))?;
            let junk = left.iter().all(|b| matches!(b, 0x1A | b'\r' | b'\n'));
            if left.len() == size {
                self.warnings.push(more("further records"));
            } else if !junk {
                self.warnings.push(more("stray bytes"));
            }
        } else {
            while let Some(line) = self.data.line()? {
                let bytes = bare(line.bytes);
                if cff::is_separator(bytes) {
                    break;
                }
                if !bytes.is_empty() {
                    self.warnings.push(more("further lines"));
                    break;
                }
            }
        }
        self.finish()
    }

    fn read_binary(&mut self, size: usize, rows: &mut Rows) -> Result<(), Fault> {
        let most = block_rows(rows.columns.len()).min((PIECE / size).max(1)) as u64;
        let want = most.min(self.config.frames - self.frames) as usize;
        let bytes = self.data.peek(want.saturating_mul(size))?;
        let have = bytes.len();
        let whole = have / size;
        let records = &bytes[..whole * size];
        for (row, record) in records.chunks_exact(size).enumerate() {
            let (number, stamp) = record::head(record);
            let stamp = (stamp != record::NO_STAMP).then_some(f64::from(stamp));
            if let Some(length) = self.clock.record(Some(f64::from(number)), stamp)? {
                rows.restarts.push((row, length));
            }
        }
        let Config { encoding, revision, analogs, .. } = &self.config;
        record::values(records, size, *encoding, *revision, analogs, &mut rows.columns);
        if let (Some(status), Some(column)) = (self.status, rows.columns.get_mut(analogs.len())) {
            record::states(records, size, *encoding, analogs.len(), status, column);
        }
        rows.len = whole;
        self.frames += whole as u64;
        self.data.take(whole * size);
        if whole < want {
            let from = self.data.offset();
            return self.ends_early(from, from + (have - whole * size) as u64);
        }
        if self.frames == self.config.frames { self.end_of_frames() } else { Ok(()) }
    }

    fn read_text(&mut self, rows: &mut Rows) -> Result<(), Fault> {
        let most = block_rows(rows.columns.len());
        while rows.len < most && self.frames < self.config.frames {
            let file_ends = self.data.offset();
            let Some(line) = self.data.line()? else { return self.ends_early(file_ends, file_ends) };
            let (number, offset, ended) = (line.number, line.offset, line.ended);
            let bytes = bare(line.bytes);
            if bytes.is_empty() {
                continue;
            }
            if cff::is_separator(bytes) {
                return self.ends_early(offset, offset);
            }
            let end = offset + bytes.len() as u64;
            // A last line without its end may be cut inside a figure, unless it is the last announced.
            let cut = !ended && self.frames + 1 < self.config.frames;
            let result = ascii::frame(bytes, &self.config.analogs, self.config.digital, self.status, &mut rows.columns);
            let head = match result {
                Ok(head) if !cut => head,
                Err(found) if ended => {
                    return Err(Fault::new(self.data.name(), found)
                        .at(format!("line {number}, byte {offset}"))
                        .wanted("number,stamp,analog values,status values")
                        .mend("copy the record again; if its .cfg is another record's, find its own"));
                }
                _ => {
                    for column in &mut rows.columns {
                        column.truncate(rows.len);
                    }
                    return self.ends_early(offset, end);
                }
            };
            if let Some(length) = self.clock.record(head.number, head.stamp)? {
                rows.restarts.push((rows.len, length));
            }
            rows.len += 1;
            self.frames += 1;
        }
        if self.frames == self.config.frames { self.end_of_frames() } else { Ok(()) }
    }
}

/// A line of text data without blanks and end-of-file marks around it.
fn bare(line: &[u8]) -> &[u8] {
    let mut line = line.trim_ascii();
    while let [rest @ .., 0x1A | 0] = line {
        line = rest.trim_ascii_end();
    }
    line
}

impl Reader for Comtrade {
    fn meta(&self) -> &Meta {
        &self.meta
    }

    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize> {
        rows.reset(self.meta.channels.len());
        if !self.done {
            match self.size {
                Some(size) => self.read_binary(size, rows)?,
                None => self.read_text(rows)?,
            }
        }
        Ok(rows.len)
    }

    fn warnings(&self) -> &[String] {
        &self.warnings
    }

    fn progress(&self) -> (u64, Option<u64>) {
        (self.data.offset(), self.data.total())
    }

    fn want_status(&mut self, name: &str) {
        let same = |state: &String| state.eq_ignore_ascii_case(name.trim());
        self.status = self.config.states.iter().position(same);
        if let Some(at) = self.status {
            let name = self.config.states[at].clone();
            let (phase, unit, flaw) = (String::new(), String::new(), None);
            self.meta.channels.push(Channel { name, phase, unit, to_si: 1.0, kind: Kind::Pulse, step: 0.0, flaw });
        }
    }
}

#[cfg(test)]
mod tests;
