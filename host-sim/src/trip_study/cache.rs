//! Metered records on disk: what was metered once is not metered again, also after a study that was broken off.
//!
//! A file's name is a digest of all that the records depend on: the trace's bytes, how it is to be read, the meter's coefficients, and
//! this very program. What cannot be read, or is not whole, is metered anew and written over.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use anyhow::Context as _;
use shaftwork_core::Snapshot;
use shaftwork_core::settings::Coefficients;
use shaftwork_report_bits::digest::crc32;

use super::records::Records;
use crate::settings::Settings;
use crate::trace;
use crate::whole;

/// What a file begins with.
const MAGIC: &[u8; 8] = b"SWSTUDY1";
/// Bytes before the records: [`MAGIC`], check sum.
const HEAD: usize = 12;

/// The folder of the files; none where nothing is kept.
#[derive(Debug, Clone)]
pub struct Cache {
    folder: Option<PathBuf>,
    /// Of this program: another one may meter otherwise.
    program: u64,
}

impl Cache {
    /// In a folder, which is made.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn new(folder: Option<PathBuf>) -> anyhow::Result<Self> {
        if let Some(folder) = &folder {
            whole::folder(folder)?;
        }
        Ok(Self { folder, program: program() })
    }

    /// Where the records of a trace are kept, under what reads and meters it.
    ///
    /// # Errors
    /// The trace cannot be read.
    pub fn place(
        &self,
        path: &Path,
        settings: &Settings,
        accept_short: bool,
        c: &Coefficients,
        begin: Option<&Snapshot>,
    ) -> anyhow::Result<Option<PathBuf>> {
        let Some(folder) = &self.folder else { return Ok(None) };
        let mut hasher = DefaultHasher::new();
        self.program.hash(&mut hasher);
        for file in trace::files(&path.display().to_string()) {
            digest(&file, &mut hasher).with_context(|| format!("cannot read {}", file.display()))?;
        }
        // What is written of a figure is the figure, whole.
        let Settings { supply, sampling, channels, mass, .. } = settings;
        format!("{supply:?} {sampling:?} {channels:?} {mass:?} {accept_short} {:?}", c.meter).hash(&mut hasher);
        format!("{begin:?}").hash(&mut hasher);
        if c.meter.delta.is_some() {
            format!("{:?}", c.judge).hash(&mut hasher);
        }
        Ok(Some(folder.join(format!("{:016x}.bin", hasher.finish()))))
    }

    /// What is kept there, if it is whole.
    pub fn read(place: Option<&Path>) -> Option<Records> {
        let bytes = std::fs::read(place?).ok()?;
        let (head, body) = bytes.split_at_checked(HEAD)?;
        let whole = head.starts_with(MAGIC) && head[MAGIC.len()..] == crc32(body).to_le_bytes();
        if whole { postcard::from_bytes(body).ok() } else { None }
    }

    /// Keeps records.
    ///
    /// # Errors
    /// They cannot be written.
    pub fn write(place: Option<&Path>, records: &Records) -> anyhow::Result<()> {
        let Some(place) = place else { return Ok(()) };
        let body = postcard::to_allocvec(records).context("records cannot be made bytes")?;
        let mut bytes = MAGIC.to_vec();
        bytes.extend(crc32(&body).to_le_bytes());
        bytes.extend(body);
        whole::write(place, &bytes)
    }
}

/// By when and how long it is; where that cannot be told every run is another program.
fn program() -> u64 {
    let about = std::env::current_exe().and_then(std::fs::metadata).ok();
    let stamp = about.and_then(|about| Some((about.len(), about.modified().ok()?)));
    let mut hasher = DefaultHasher::new();
    match stamp {
        Some(stamp) => stamp.hash(&mut hasher),
        None => SystemTime::now().hash(&mut hasher),
    }
    env!("CARGO_PKG_VERSION").hash(&mut hasher);
    hasher.finish()
}

fn digest(path: &Path, hasher: &mut DefaultHasher) -> std::io::Result<()> {
    let mut file = std::fs::File::open(path)?;
    let mut buffer = vec![0; 1 << 16];
    loop {
        let count = file.read(&mut buffer)?;
        if count == 0 {
            return Ok(());
        }
        hasher.write(&buffer[..count]);
    }
}
