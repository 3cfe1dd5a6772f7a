//! The converter of this board: `frames.bin`.

use core::ffi::CStr;

use shaftwork_app::{Beside, FrameSource, Source};
use shaftwork_core::{BLOCK, Frame};
use shaftwork_report_bits::frames::{FormatError, HEADER_BYTES, MAX_BLOCK_BYTES};
use shaftwork_report_bits::{Block, Header};

use crate::files::Reader;

/// Frames from a file; ends with the file's last block.
pub struct FileFrames {
    reader: Reader<'static>,
    wrong: Option<FormatError>,
}

impl FileFrames {
    /// Opens the file, to be read through a buffer, and checks its header.
    pub fn open(name: &CStr, buffer: &'static mut [u8]) -> Result<Self, &'static str> {
        let mut reader = Reader::open(name, buffer)?;
        Header::decode(reader.look(HEADER_BYTES)).map_err(|_| "frames.bin has another format")?;
        reader.skip(HEADER_BYTES);
        Ok(Self { reader, wrong: None })
    }

    /// What was wrong with the file, if anything.
    pub const fn wrong(&self) -> Option<FormatError> {
        self.wrong
    }
}

impl FrameSource for FileFrames {
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source {
        match Block::decode(self.reader.look(MAX_BLOCK_BYTES)) {
            Ok((block, used)) => {
                self.reader.skip(used);
                *into = block.frames;
                let beside = Beside { mass_mg: block.mass_mg, speed: block.speed, feed: block.feed, repeated: 0 };
                match block.gap {
                    Some(length) => Source::Gap(beside, block.count, length),
                    None if block.last() => Source::End(beside, block.count),
                    None => Source::Block(beside),
                }
            }
            Err(wrong) => {
                self.wrong = Some(wrong);
                Source::End(Beside::default(), 0)
            }
        }
    }
}

/// Frames at a pace that leaves the loop time for its store now and then.
pub struct Paced {
    frames: FileFrames,
    /// Blocks since there was nothing to do.
    busy: u8,
}

impl Paced {
    /// These frames.
    pub const fn new(frames: FileFrames) -> Self {
        Self { frames, busy: 0 }
    }

    /// These frames.
    pub const fn frames(&self) -> &FileFrames {
        &self.frames
    }
}

impl FrameSource for Paced {
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source {
        self.busy += 1;
        if self.busy > 8 {
            self.busy = 0;
            return Source::Nothing;
        }
        self.frames.block(into)
    }
}
