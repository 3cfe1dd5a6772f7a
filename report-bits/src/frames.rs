//! `frames.bin`: the converter's codes as a board would see them, and what came beside them.
//!
//! All numbers are little-endian. A [`Header`] of 24 bytes:
//!
//! | bytes | holds |
//! |---|---|
//! | 8 | magic, `SWFRAME1` |
//! | 4 | channels of a frame, 6 |
//! | 4 | flags, for people who look: 1 mass is given, 2 speed is given, 4 inputs of the feed are given |
//! | 8 | frames in all |
//!
//! Then blocks, each a control word of 4 bytes, the side values it announces, and its frames:
//!
//! | bits of the control word | mean |
//! |---|---|
//! | 0..4 | frames, 0 to 8 |
//! | 8 | 8 bytes follow: mass fed so far, mg |
//! | 9 | 4 bytes follow: the tachometer's speed, bits of `Rpm` |
//! | 10 | the tachometer says nothing any more |
//! | 11 | 8 bytes follow: after these frames, this much is missing, bits of `Span` |
//! | 12 | 4 bytes follow: what the feed's inputs tell, below |
//!
//! Of the feed's inputs: bits 0 and 1 the permit (0 tells nothing, 1 no, 2 yes), bit 2 the release is pressed, bit 3 manual, at bits 16 to 31
//! thousandths of full speed.
//!
//! Mass, speed and inputs hold from the block's first frame on. A frame is 6 codes of 4 bytes. Eight frames
//! are for `ingest`. A block of 0 to 7 frames is for `finish`: it stands before a gap, which it
//! announces, and at the end of the file, where it announces none; it is there even when it is empty.

use core::fmt;

use shaftwork_core::settings::CHANNELS;
use shaftwork_core::time::Span;
use shaftwork_core::unit::Rpm;
use shaftwork_core::{BLOCK, FeedInputs, FeedMode, Frame};

/// Bytes of the header.
pub const HEADER_BYTES: usize = 24;
/// Bytes of the largest block: control word, mass, speed, gap, inputs, eight frames.
pub const MAX_BLOCK_BYTES: usize = 4 + 8 + 4 + 8 + 4 + BLOCK * FRAME_BYTES;

const FRAME_BYTES: usize = CHANNELS * 4;
const MAGIC: [u8; 8] = *b"SWFRAME1";
const COUNT: u32 = 0xf;
const MASS: u32 = 1 << 8;
const SPEED: u32 = 1 << 9;
const SPEED_LOST: u32 = 1 << 10;
const GAP: u32 = 1 << 11;
const FEED: u32 = 1 << 12;
const KNOWN: u32 = COUNT | MASS | SPEED | SPEED_LOST | GAP | FEED;
/// Of the feed's inputs.
const RELEASE: u32 = 1 << 2;
const MANUAL: u32 = 1 << 3;

/// What is wrong with a file of frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FormatError {
    /// It does not start with the magic of this format.
    Magic,
    /// Its frames have another number of channels.
    Channels(u32),
    /// A control word that means nothing: an unknown bit, more than 8 frames, a gap after a whole block.
    Control(u32),
    /// The bytes end inside a header or a block.
    Short,
}

impl fmt::Display for FormatError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Magic => f.write_str("the file does not start with SWFRAME1"),
            Self::Channels(n) => write!(f, "frames of {n} channels, {CHANNELS} expected"),
            Self::Control(word) => write!(f, "a block with the unknown control word {word:#010x}"),
            Self::Short => f.write_str("the file ends inside a block"),
        }
    }
}

impl core::error::Error for FormatError {}

/// The start of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Header {
    /// Frames in all.
    pub frames: u64,
    /// Whether any block gives a mass.
    pub mass: bool,
    /// Whether any block gives a speed.
    pub speed: bool,
    /// Whether any block gives the feed's inputs.
    pub feed: bool,
}

impl Header {
    /// As bytes.
    #[must_use]
    pub fn encode(&self) -> [u8; HEADER_BYTES] {
        let flags = u32::from(self.mass) | u32::from(self.speed) << 1 | u32::from(self.feed) << 2;
        let mut out = [0; HEADER_BYTES];
        out[..8].copy_from_slice(&MAGIC);
        out[8..12].copy_from_slice(&(CHANNELS as u32).to_le_bytes());
        out[12..16].copy_from_slice(&flags.to_le_bytes());
        out[16..].copy_from_slice(&self.frames.to_le_bytes());
        out
    }

    /// From the first bytes of a file.
    ///
    /// # Errors
    ///
    /// Another magic, another number of channels, too few bytes.
    pub fn decode(mut bytes: &[u8]) -> Result<Self, FormatError> {
        if take::<8>(&mut bytes)? != MAGIC {
            return Err(FormatError::Magic);
        }
        let channels = u32::from_le_bytes(take(&mut bytes)?);
        if channels as usize != CHANNELS {
            return Err(FormatError::Channels(channels));
        }
        let flags = u32::from_le_bytes(take(&mut bytes)?);
        let frames = u64::from_le_bytes(take(&mut bytes)?);
        Ok(Self { frames, mass: flags & 1 != 0, speed: flags & 2 != 0, feed: flags & 4 != 0 })
    }
}

/// What the tachometer says from a block on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Speed {
    /// Nothing new: what held before holds on.
    #[default]
    Unchanged,
    /// This speed of the motor's shaft.
    At(Rpm),
    /// Nothing any more: the speed is estimated again.
    Lost,
}

/// Up to eight frames with what came beside them.
#[derive(Debug, Clone, Copy)]
pub struct Block {
    /// Mass fed so far, mg, where it is new.
    pub mass_mg: Option<u64>,
    /// The tachometer.
    pub speed: Speed,
    /// What the feed's inputs tell, where it is new.
    pub feed: Option<FeedInputs>,
    /// The frames; those from `count` on mean nothing.
    pub frames: [Frame; BLOCK],
    /// How many frames there are, 0 to 8; fewer than 8 only before a gap and at the end.
    pub count: usize,
    /// What is missing after these frames; only where they are fewer than 8.
    pub gap: Option<Span>,
}

impl Block {
    /// A block of these frames (the first eight of them) with nothing beside them.
    #[must_use]
    pub fn new(frames: &[Frame]) -> Self {
        let mut out = Self {
            mass_mg: None,
            speed: Speed::Unchanged,
            feed: None,
            frames: [Frame([0; CHANNELS]); BLOCK],
            count: 0,
            gap: None,
        };
        for (to, from) in out.frames.iter_mut().zip(frames) {
            *to = *from;
            out.count += 1;
        }
        out
    }

    /// Its frames.
    #[must_use]
    pub fn frames(&self) -> &[Frame] {
        &self.frames[..self.count.min(BLOCK)]
    }

    /// Whether it ends the file.
    #[must_use]
    pub const fn last(&self) -> bool {
        self.count < BLOCK && self.gap.is_none()
    }

    /// Its bytes, written to the front of `buffer`.
    ///
    /// ```
    /// use shaftwork_core::Frame;
    /// use shaftwork_report_bits::frames::{Block, MAX_BLOCK_BYTES};
    /// let mut block = Block::new(&[Frame([1, 2, 3, -4, 5, -6])]);
    /// block.mass_mg = Some(1_250_000);
    /// let mut buffer = [0; MAX_BLOCK_BYTES];
    /// let (back, used) = Block::decode(block.encode(&mut buffer)).unwrap();
    /// assert_eq!((back.mass_mg, back.count, used), (Some(1_250_000), 1, 4 + 8 + 24));
    /// ```
    pub fn encode<'a>(&self, buffer: &'a mut [u8; MAX_BLOCK_BYTES]) -> &'a [u8] {
        let mut used = 0;
        // At most MAX_BLOCK_BYTES in all, by its definition.
        let mut put = |bytes: &[u8]| {
            buffer[used..used + bytes.len()].copy_from_slice(bytes);
            used += bytes.len();
        };
        let mut control = self.frames().len() as u32;
        control |= if self.mass_mg.is_some() { MASS } else { 0 };
        control |= match self.speed {
            Speed::Unchanged => 0,
            Speed::At(_) => SPEED,
            Speed::Lost => SPEED_LOST,
        };
        control |= if self.gap.is_some() { GAP } else { 0 };
        control |= if self.feed.is_some() { FEED } else { 0 };
        put(&control.to_le_bytes());
        if let Some(mass_mg) = self.mass_mg {
            put(&mass_mg.to_le_bytes());
        }
        if let Speed::At(rpm) = self.speed {
            put(&rpm.to_bits().to_le_bytes());
        }
        if let Some(gap) = self.gap {
            put(&gap.0.to_le_bytes());
        }
        if let Some(feed) = self.feed {
            put(&word(feed).to_le_bytes());
        }
        for code in self.frames().iter().flat_map(|frame| frame.0) {
            put(&code.to_le_bytes());
        }
        &buffer[..used]
    }

    /// The block at the front of `bytes`, and how many bytes it took.
    ///
    /// # Errors
    ///
    /// A control word that means nothing, or too few bytes.
    pub fn decode(bytes: &[u8]) -> Result<(Self, usize), FormatError> {
        let mut rest = bytes;
        let control = u32::from_le_bytes(take(&mut rest)?);
        let count = (control & COUNT) as usize;
        let speeds = control & (SPEED | SPEED_LOST);
        let misplaced = control & GAP != 0 && count == BLOCK;
        if control & !KNOWN != 0 || count > BLOCK || speeds == SPEED | SPEED_LOST || misplaced {
            return Err(FormatError::Control(control));
        }
        let mut block = Self::new(&[]);
        block.count = count;
        if control & MASS != 0 {
            block.mass_mg = Some(u64::from_le_bytes(take(&mut rest)?));
        }
        if control & SPEED != 0 {
            block.speed = Speed::At(Rpm::from_bits(i32::from_le_bytes(take(&mut rest)?)));
        } else if control & SPEED_LOST != 0 {
            block.speed = Speed::Lost;
        }
        if control & GAP != 0 {
            block.gap = Some(Span(u64::from_le_bytes(take(&mut rest)?)));
        }
        if control & FEED != 0 {
            let word = u32::from_le_bytes(take(&mut rest)?);
            block.feed = Some(inputs(word).ok_or(FormatError::Control(word))?);
        }
        for frame in &mut block.frames[..count] {
            for code in &mut frame.0 {
                *code = i32::from_le_bytes(take(&mut rest)?);
            }
        }
        Ok((block, bytes.len() - rest.len()))
    }
}

/// The feed's inputs as a word.
const fn word(feed: FeedInputs) -> u32 {
    let permit = match feed.permit {
        None => 0,
        Some(false) => 1,
        Some(true) => 2,
    };
    let mode = match feed.mode {
        FeedMode::Automatic => 0,
        FeedMode::Manual(permille) => MANUAL | (permille as u32) << 16,
    };
    permit | mode | if feed.release { RELEASE } else { 0 }
}

/// The inputs of a word; `None` where it means nothing.
const fn inputs(word: u32) -> Option<FeedInputs> {
    let permit = match word & 3 {
        0 => None,
        1 => Some(false),
        2 => Some(true),
        _ => return None,
    };
    let mode = match (word & MANUAL, (word >> 16) as u16) {
        (0, 0) => FeedMode::Automatic,
        (MANUAL, permille) => FeedMode::Manual(permille),
        _ => return None,
    };
    if word & 0xfff0 != 0 { None } else { Some(FeedInputs { permit, mode, release: word & RELEASE != 0 }) }
}

fn take<const N: usize>(bytes: &mut &[u8]) -> Result<[u8; N], FormatError> {
    let (front, rest) = bytes.split_first_chunk::<N>().ok_or(FormatError::Short)?;
    *bytes = rest;
    Ok(*front)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> [Frame; BLOCK] {
        core::array::from_fn(|i| Frame(core::array::from_fn(|c| (i * 6 + c) as i32 - 24)))
    }

    #[test]
    fn a_whole_block_comes_back() {
        let mut block = Block::new(&ramp());
        block.mass_mg = Some(u64::MAX);
        block.speed = Speed::At(Rpm::from_bits(i32::MIN));
        let mut buffer = [0; MAX_BLOCK_BYTES];
        let bytes = block.encode(&mut buffer);
        assert_eq!(bytes.len(), MAX_BLOCK_BYTES - 12, "all but a gap and inputs");
        let (back, used) = Block::decode(bytes).unwrap();
        assert_eq!(used, bytes.len());
        assert_eq!((back.mass_mg, back.speed, back.last()), (block.mass_mg, block.speed, false));
        assert_eq!(back.frames(), ramp());
        assert_eq!(Block::decode(&bytes[..used - 1]).unwrap_err(), FormatError::Short);
    }

    #[test]
    fn an_empty_last_block_is_its_control_word() {
        let mut block = Block::new(&[]);
        block.speed = Speed::Lost;
        let mut buffer = [0; MAX_BLOCK_BYTES];
        let bytes = block.encode(&mut buffer);
        assert_eq!(bytes, [0, 4, 0, 0]);
        let (back, used) = Block::decode(bytes).unwrap();
        assert_eq!((back.count, back.speed, back.last(), used), (0, Speed::Lost, true, 4));
    }

    #[test]
    fn a_short_block_may_announce_a_gap_and_is_then_not_the_last() {
        let mut block = Block::new(&ramp()[..3]);
        assert!(block.last());
        block.gap = Some(Span(u64::MAX));
        let mut buffer = [0; MAX_BLOCK_BYTES];
        let (back, _) = Block::decode(block.encode(&mut buffer)).unwrap();
        assert_eq!((back.gap, back.frames(), back.last()), (block.gap, &ramp()[..3], false));
    }

    #[test]
    fn inputs_of_the_feed_come_back() {
        let mut buffer = [0; MAX_BLOCK_BYTES];
        for permit in [None, Some(false), Some(true)] {
            for mode in [FeedMode::Automatic, FeedMode::Manual(0), FeedMode::Manual(1_000), FeedMode::Manual(u16::MAX)]
            {
                for release in [false, true] {
                    let mut block = Block::new(&[]);
                    block.feed = Some(FeedInputs { permit, mode, release });
                    let (back, used) = Block::decode(block.encode(&mut buffer)).unwrap();
                    assert_eq!((back.feed, used), (block.feed, 8));
                }
            }
        }
        for word in [3_u32, 1 << 4, 1 << 16] {
            let mut bytes = FEED.to_le_bytes().to_vec();
            bytes.extend(word.to_le_bytes());
            assert_eq!(Block::decode(&bytes).unwrap_err(), FormatError::Control(word));
        }
    }

    #[test]
    fn words_that_mean_nothing_are_refused() {
        for word in [9_u32, 1 << 4, 1 << 13, SPEED | SPEED_LOST, GAP | 8] {
            assert_eq!(Block::decode(&word.to_le_bytes()).unwrap_err(), FormatError::Control(word));
        }
    }

    #[test]
    fn a_header_says_what_is_wrong_with_it() {
        let header = Header { frames: 480_003, mass: true, speed: false, feed: true };
        let bytes = header.encode();
        assert_eq!(Header::decode(&bytes), Ok(header));
        assert_eq!(Header::decode(&bytes[..23]), Err(FormatError::Short));
        let mut other = bytes;
        other[8] = 7;
        assert_eq!(Header::decode(&other), Err(FormatError::Channels(7)));
        other[0] = b'X';
        assert_eq!(Header::decode(&other), Err(FormatError::Magic));
    }
}
