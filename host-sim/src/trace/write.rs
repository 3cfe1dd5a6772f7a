//! COMTRADE records out: a .cfg and a .dat, or a .cff; streamed.
//!
//! All grow under temporary names in the same folder and get their own when they are whole, the
//! .dat first, so that a .cfg never announces what is not there. In a .cff the count of records
//! stands before them: there they wait in a file without a name.

use anyhow::Context as _;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufReader, BufWriter, Seek as _, Write};
use std::path::{Path, PathBuf};

use crate::whole::Whole;

/// Revision and encoding of a record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum WriteEncoding {
    /// 16-bit codes, revision 1999.
    Binary1999,
    /// 16-bit codes, revision 2013.
    Binary2013,
    /// 32-bit floats, revision 2013.
    Float2013,
}

impl WriteEncoding {
    /// The standard's word for the encoding.
    fn word(self) -> &'static str {
        match self {
            Self::Binary1999 | Self::Binary2013 => "BINARY",
            Self::Float2013 => "FLOAT32",
        }
    }
}

/// One analog channel of a record.
#[derive(Clone, Debug)]
pub struct WriteChannel {
    /// Its name; commas and line ends become blanks.
    pub name: String,
    /// `A`, `B`, `C`, `AB`, … or empty.
    pub phase: String,
    /// Unit of the values given: `V`, `A`, `kg`, …; marked as primary.
    pub unit: String,
    /// Worth of one code in that unit; not 0. With floats 1 is natural.
    pub a: f64,
    /// Value of code 0.
    pub b: f64,
}

/// Where a record goes.
enum Files {
    /// The .dat, and the name of the .cfg that will tell of it.
    Pair(Whole, PathBuf),
    /// The .cff, and the records that wait.
    Single(Whole, BufWriter<File>),
}

impl Files {
    fn create(path: &Path) -> anyhow::Result<Self> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
        let (cfg, dat) = match ending.as_deref() {
            Some("cff") => {
                let out = Whole::create(path)?;
                let records = tempfile::tempfile_in(out.folder())
                    .with_context(|| format!("cannot write a temporary file in {}", out.folder().display()))?;
                return Ok(Self::Single(out, BufWriter::with_capacity(64 * 1024, records)));
            }
            Some("cfg" | "dat") => (path.with_extension("cfg"), path.with_extension("dat")),
            _ => (append(path, ".cfg"), append(path, ".dat")),
        };
        Ok(Self::Pair(Whole::create(&dat)?, cfg))
    }

    /// Where records are appended.
    fn records(&mut self) -> &mut dyn Write {
        match self {
            Self::Pair(dat, _) => dat,
            Self::Single(_, records) => records,
        }
    }

    /// Puts the configuration to the records and gives the files their names; the path of the first.
    fn finish(self, configuration: &str, encoding: &str) -> anyhow::Result<PathBuf> {
        match self {
            Self::Pair(dat, cfg) => {
                let mut file = Whole::create(&cfg)?;
                file.write_all(configuration.as_bytes()).with_context(|| format!("cannot write {}", cfg.display()))?;
                dat.commit()?;
                file.commit()?;
                Ok(cfg)
            }
            Self::Single(mut cff, records) => {
                let path = cff.target().to_owned();
                let cannot = || format!("cannot write {}", path.display());
                let mut records =
                    records.into_inner().map_err(std::io::IntoInnerError::into_error).with_context(cannot)?;
                let bytes = records.stream_position().with_context(cannot)?;
                records.rewind().with_context(cannot)?;
                write!(
                    cff,
                    "--- file type: CFG ---\r\n{configuration}--- file type: INF ---\r\n--- file type: HDR ---\r\n\
                     --- file type: DAT {encoding}: {bytes} ---\r\n"
                )
                .with_context(cannot)?;
                std::io::copy(&mut BufReader::with_capacity(64 * 1024, records), &mut cff).with_context(cannot)?;
                cff.commit()?;
                Ok(path)
            }
        }
    }
}

/// A record that is being written; without [`ComtradeWriter::finish`] nothing is left behind.
pub struct ComtradeWriter {
    files: Files,
    /// As it was named, for faults.
    path: PathBuf,
    station: String,
    device: String,
    channels: Vec<WriteChannel>,
    nominal_hz: f64,
    rate_hz: f64,
    encoding: WriteEncoding,
    start: String,
    record: Vec<u8>,
    frames: u32,
    clipped: u64,
}

impl ComtradeWriter {
    /// Begins a record; `path` names its .cff, or of two files the .cfg, the .dat or neither (endings are then
    /// added).
    ///
    /// # Errors
    /// When a rate or a multiplier makes no sense, a .cff is wanted of a revision that has none, or the folder cannot
    /// be written to.
    pub fn create(
        path: impl AsRef<Path>,
        station: &str,
        channels: &[WriteChannel],
        nominal_hz: f64,
        rate_hz: f64,
        encoding: WriteEncoding,
    ) -> anyhow::Result<Self> {
        let path = path.as_ref();
        anyhow::ensure!(!channels.is_empty(), "a record needs a channel");
        anyhow::ensure!(rate_hz.is_finite() && rate_hz > 0.0, "a record cannot have {rate_hz} Hz");
        for c in channels {
            let sound = c.a.is_finite() && c.a != 0.0 && c.b.is_finite();
            anyhow::ensure!(sound, "channel {} cannot be scaled by a = {}, b = {}", c.name, c.a, c.b);
        }
        let files = Files::create(path)?;
        anyhow::ensure!(
            encoding != WriteEncoding::Binary1999 || matches!(files, Files::Pair(..)),
            "{}: a record in one file is of revision 2013",
            path.display()
        );
        Ok(Self {
            files,
            path: path.to_owned(),
            station: clean(station),
            device: "SHAFTWORK".into(),
            channels: channels.to_vec(),
            nominal_hz,
            rate_hz,
            encoding,
            start: "01/01/2000,00:00:00.000000".into(),
            record: Vec::new(),
            frames: 0,
            clipped: 0,
        })
    }

    /// Names the recording device.
    pub fn set_device(&mut self, device: &str) {
        self.device = clean(device);
    }

    /// Sets the time of the first frame, as `dd/mm/yyyy,hh:mm:ss.ssssss`.
    pub fn set_start(&mut self, start: &str) {
        start.lines().next().unwrap_or("").clone_into(&mut self.start);
    }

    /// Appends a frame: one value a channel in its unit; NaN is a missing value. Values beyond the
    /// range of codes are clipped and counted.
    ///
    /// # Errors
    /// When the count of values is wrong, the record too long, or the disk full.
    pub fn frame(&mut self, values: &[f64]) -> anyhow::Result<()> {
        anyhow::ensure!(
            values.len() == self.channels.len(),
            "{} values for {} channels",
            values.len(),
            self.channels.len()
        );
        self.record.clear();
        // Microseconds since the first frame; where they outgrow 32 bits the stamp is the missing
        // one, since the rate tells the time.
        let stamp = (f64::from(self.frames) / self.rate_hz * 1e6).round();
        let stamp = if stamp < f64::from(u32::MAX) { stamp as u32 } else { u32::MAX };
        self.frames = self.frames.checked_add(1).context("a record cannot have more than 4 294 967 295 frames")?;
        self.record.extend(self.frames.to_le_bytes());
        self.record.extend(stamp.to_le_bytes());
        for (value, channel) in values.iter().zip(&self.channels) {
            let code = (value - channel.b) / channel.a;
            match self.encoding {
                WriteEncoding::Float2013 => {
                    // A missing value is written as no number. This departs from the standard, whose mark for it is
                    // FF7FFFFF (from memory): to a reader that does not know the mark that is -3.4e38, while no number
                    // is a value to none. Our own reader takes both as missing.
                    let code = code as f32;
                    let code = if code.is_finite() { code } else { f32::NAN };
                    self.record.extend(code.to_le_bytes());
                }
                WriteEncoding::Binary1999 | WriteEncoding::Binary2013 => {
                    let code = code.round();
                    self.clipped += u64::from(code.abs() > 32767.0);
                    // -32768 is the missing value and no code.
                    let code = if code.is_nan() { i16::MIN } else { code.clamp(-32767.0, 32767.0) as i16 };
                    self.record.extend(code.to_le_bytes());
                }
            }
        }
        let path = &self.path;
        self.files.records().write_all(&self.record).with_context(|| format!("cannot write {}", path.display()))
    }

    /// Values clipped so far.
    pub fn clipped(&self) -> u64 {
        self.clipped
    }

    /// Completes the files and gives them their names; returns the path of the .cfg or .cff.
    ///
    /// # Errors
    /// When there is no frame or a file cannot be completed; nothing is left behind then.
    pub fn finish(self) -> anyhow::Result<PathBuf> {
        anyhow::ensure!(self.frames > 0, "a record without frames is none");
        let text = self.configuration();
        self.files.finish(&text, self.encoding.word())
    }

    fn configuration(&self) -> String {
        let year = if self.encoding == WriteEncoding::Binary1999 { 1999 } else { 2013 };
        let name = self.encoding.word();
        let range = if name == "FLOAT32" { "-3.4028235E+38,3.4028235E+38" } else { "-32767,32767" };
        let count = self.channels.len();
        let mut text = format!("{},{},{year}\r\n{count},{count}A,0D\r\n", self.station, self.device);
        for (n, c) in self.channels.iter().enumerate() {
            let (name, phase, unit) = (clean(&c.name), clean(&c.phase), clean(&c.unit));
            let _ = write!(text, "{},{name},{phase},,{unit},{},{},0,{range},1,1,P\r\n", n + 1, c.a, c.b);
        }
        let _ = write!(
            text,
            "{}\r\n1\r\n{},{}\r\n{start}\r\n{start}\r\n{name}\r\n1\r\n",
            self.nominal_hz,
            self.rate_hz,
            self.frames,
            start = self.start
        );
        if year == 2013 {
            // The zone is not known: x; the clock's quality neither: F, no leap second.
            text.push_str("x,x\r\nF,0\r\n");
        }
        text
    }
}

fn append(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

fn clean(text: &str) -> String {
    text.chars().map(|c| if c == ',' || c.is_control() { ' ' } else { c }).collect::<String>().trim().to_owned()
}

#[cfg(test)]
mod tests;
