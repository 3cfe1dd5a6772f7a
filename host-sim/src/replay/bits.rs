//! The bits of a replay: its digest, and the files with which an emulated board is compared.
//!
//! `settings.bin`, `frames.bin` and `reports-host.bin` are what a board is given and what it must report, bit
//! for bit; the digest sums the reports up. The core gives them in its own order: for each block half cycles, intervals,
//! events, and the totals at the very end.

use std::io::{Seek as _, SeekFrom, Write as _};
use std::path::Path;

use shaftwork_core::Frame;
use shaftwork_core::settings::Settings;
use shaftwork_report_bits::report::MAX_BYTES;
use shaftwork_report_bits::{Block, Digest, Header, Report, Speed, prefix};

use super::drive::News;
use crate::report::Whole;
use crate::whole;

const SETTINGS: &str = "settings.bin";
const FRAMES: &str = "frames.bin";
const REPORTS: &str = "reports-host.bin";
/// The files in the folder.
pub const FILES: [&str; 3] = [SETTINGS, FRAMES, REPORTS];

/// Files for the comparison.
struct Files {
    settings: Whole,
    frames: Whole,
    reports: Whole,
    header: Header,
}

/// Sums up reports, and writes them and the frames where that is wanted.
pub struct Bits {
    digest: Digest,
    files: Option<Files>,
}

impl Bits {
    /// With the digest alone, or with the files in a folder as well.
    ///
    /// # Errors
    /// The folder cannot be made or written into.
    pub fn create(folder: Option<&Path>, settings: &Settings) -> anyhow::Result<Self> {
        let files = folder.map(|f| Files::create(f, settings)).transpose()?;
        Ok(Self { digest: Digest::new(), files })
    }

    /// Takes what the core is given.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn frames(&mut self, frames: &[Frame], news: &News) -> anyhow::Result<()> {
        let Some(files) = &mut self.files else { return Ok(()) };
        let mut block = Block::new(frames);
        block.mass_mg = news.mass_mg;
        block.speed = match news.speed {
            None => Speed::Unchanged,
            Some(Some(rpm)) => Speed::At(rpm),
            Some(None) => Speed::Lost,
        };
        block.feed = news.feed;
        files.header.feed |= news.feed.is_some();
        files.header.frames += frames.len() as u64;
        files.header.mass |= news.mass_mg.is_some();
        files.header.speed |= matches!(news.speed, Some(Some(_)));
        Ok(files.frames.write_all(block.encode(&mut [0; shaftwork_report_bits::frames::MAX_BLOCK_BYTES]))?)
    }

    /// Takes a gap: frames alone cannot tell of one.
    ///
    /// # Errors
    /// When files for a board are wanted.
    pub fn gap(&self) -> anyhow::Result<()> {
        anyhow::ensure!(
            self.files.is_none(),
            "a trace with gaps cannot be compared with a board: frames cannot tell of a gap"
        );
        Ok(())
    }

    /// Takes a report.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn report(&mut self, report: &Report) -> anyhow::Result<()> {
        let mut buffer = [0; MAX_BYTES];
        let bytes = report.encode(&mut buffer);
        self.digest.add(report.kind(), bytes);
        if let Some(files) = &mut self.files {
            files.reports.write_all(&prefix(report.kind(), bytes))?;
            files.reports.write_all(bytes)?;
        }
        Ok(())
    }

    /// The end: the digest, and the files that wait for their names.
    ///
    /// # Errors
    /// The rest cannot be written.
    pub fn close(self) -> anyhow::Result<(Digest, Vec<Whole>)> {
        let mut out = Vec::new();
        if let Some(mut files) = self.files {
            files.frames.seek(SeekFrom::Start(0))?;
            files.frames.write_all(&files.header.encode())?;
            out.extend([files.settings, files.frames, files.reports]);
        }
        Ok((self.digest, out))
    }
}

impl Files {
    fn create(folder: &Path, settings: &Settings) -> anyhow::Result<Self> {
        whole::folder(folder)?;
        let begin = |name: &str| Whole::create(&folder.join(name));
        let [mut to_board, mut frames, reports] = [begin(SETTINGS)?, begin(FRAMES)?, begin(REPORTS)?];
        let mut buffer = [0; shaftwork_report_bits::settings::MAX_BYTES];
        to_board.write_all(shaftwork_report_bits::settings::encode(settings, &mut buffer))?;
        // Its place is kept; what it says is known at the end.
        frames.write_all(&Header::default().encode())?;
        Ok(Self { settings: to_board, frames, reports, header: Header::default() })
    }
}
