//! `capture.bin`: what a recorder kept around a decision, for the host to come to that decision again.
//!
//! | bytes | holds |
//! |---|---|
//! | 8 | magic, `SWCAPT02` |
//! | | a [`Head`] in postcard |
//! | 12 each | its frames: six codes, 16 bits, little-endian |
//! | 4 | CRC-32 of all of it, little-endian |
//!
//! The snapshot in the head is the memory of the core as it is: only the same core reads it. Where what is remembered changes,
//! the number in the magic does.

use core::fmt;

use postcard::ser_flavors::Flavor;
use serde::{Deserialize, Serialize};
use shaftwork_core::Snapshot;
use shaftwork_core::recorder::{Note, Record, Shape};
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::time::Instant;

use crate::digest::CRC;

/// The magic: its number is that of what the core remembers.
pub const MAGIC: [u8; 8] = *b"SWCAPT02";
const FRAME_BYTES: usize = CHANNELS * 2;
const CRC_BYTES: usize = 4;

/// All but the frames. `S` is the snapshot, or a reference to one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Head<S = Snapshot> {
    /// Frames that the converter gives in a second, mHz.
    pub rate_mhz: u32,
    /// CRC-32 of the settings' bytes ([`crate::settings`]).
    pub settings: u32,
    /// What was kept of the frames.
    pub shape: Shape,
    /// Where the first frame's time begins.
    pub begin: Instant,
    /// What it was captured for.
    pub notes: [Option<Note>; 4],
    /// Frames.
    pub frames: u32,
    /// What the monitor remembered somewhere in it.
    pub snapshot: Option<S>,
}

impl<S> Head<S> {
    /// Whether its figures are such as a board writes.
    const fn sound(&self) -> bool {
        let Shape { bits, halvings, .. } = self.shape;
        bits >= 12 && bits <= 24 && halvings <= 6 && self.rate_mhz >= 1_000_000 && self.rate_mhz <= 100_000_000
    }
}

/// Hands bytes on as they come, and sums them up.
struct Out<'s, 'd> {
    sink: &'s mut dyn FnMut(&[u8]),
    digest: crc::Digest<'d, u32>,
}

impl Out<'_, '_> {
    /// Nothing of it fails: the sink takes all, and the head has no length that is not known.
    fn head<S: Serialize>(&mut self, head: &Head<S>) {
        let _ = postcard::serialize_with_flavor(head, self);
    }

    fn put(&mut self, bytes: &[u8]) {
        self.digest.update(bytes);
        (self.sink)(bytes);
    }
}

impl Flavor for &mut Out<'_, '_> {
    type Output = ();

    fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
        self.put(&[byte]);
        Ok(())
    }

    fn try_extend(&mut self, bytes: &[u8]) -> postcard::Result<()> {
        self.put(bytes);
        Ok(())
    }

    fn finalize(self) -> postcard::Result<()> {
        Ok(())
    }
}

/// Writes a record, some bytes a call of `sink`; `settings` is the CRC-32 of the settings' bytes.
pub fn write(record: &Record<'_>, rate_mhz: u32, settings: u32, sink: &mut dyn FnMut(&[u8])) {
    let mut notes = [None; 4];
    for (place, note) in notes.iter_mut().zip(record.notes) {
        *place = Some(*note);
    }
    let frames = record.frames().len() as u32; // a buffer of 2^32 frames has no room in any memory
    let (shape, begin) = (record.shape, record.begin);
    let head = Head { rate_mhz, settings, shape, begin, notes, frames, snapshot: record.snapshot };
    let mut out = Out { sink, digest: CRC.digest() };
    out.put(&MAGIC);
    out.head(&head);
    for frame in record.frames() {
        let mut bytes = [0; FRAME_BYTES];
        for (to, code) in bytes.as_chunks_mut::<2>().0.iter_mut().zip(frame) {
            *to = code.to_le_bytes();
        }
        out.put(&bytes);
    }
    let crc = out.digest.finalize();
    (out.sink)(&crc.to_le_bytes());
}

/// Writes a head alone, some bytes a call of `sink`.
pub fn encode_head(head: &Head, sink: &mut dyn FnMut(&[u8])) {
    Out { sink, digest: CRC.digest() }.head(head);
}

/// The head that `bytes` stand for.
///
/// # Errors
///
/// [`Wrong::Head`].
pub fn read_head(bytes: &[u8]) -> Result<Head, Wrong> {
    postcard::from_bytes(bytes).ok().filter(Head::sound).ok_or(Wrong::Head)
}

/// What is wrong with a capture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wrong {
    /// It does not start with the magic of this version.
    Magic,
    /// It is cut, or a byte of it has changed.
    Sum,
    /// Its head is not one of this core.
    Head,
    /// It has another number of bytes than its frames take.
    Length,
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Magic => "the file does not start with SWCAPT02",
            Self::Sum => "the file is cut, or was changed: its check sum is another",
            Self::Head => "its head is not of this version of the core",
            Self::Length => "its frames take another number of bytes",
        })
    }
}

impl core::error::Error for Wrong {}

/// Reads a capture: its head and its frames.
///
/// # Errors
///
/// What is wrong with it.
pub fn read(bytes: &[u8]) -> Result<(Head, impl ExactSizeIterator<Item = [i16; CHANNELS]> + '_), Wrong> {
    let rest = bytes.strip_prefix(&MAGIC).ok_or(Wrong::Magic)?;
    let (rest, crc) = rest.split_last_chunk::<CRC_BYTES>().ok_or(Wrong::Sum)?;
    let summed = bytes.get(..bytes.len() - CRC_BYTES).unwrap_or_default();
    if CRC.checksum(summed) != u32::from_le_bytes(*crc) {
        return Err(Wrong::Sum);
    }
    let (head, rest) = postcard::take_from_bytes::<Head>(rest).map_err(|_| Wrong::Head)?;
    if !head.sound() {
        return Err(Wrong::Head);
    }
    let (frames, left) = rest.as_chunks::<FRAME_BYTES>();
    if !left.is_empty() || frames.len() != head.frames as usize {
        return Err(Wrong::Length);
    }
    let frames = frames.iter().map(|bytes| {
        let mut frame = [0; CHANNELS];
        for (to, code) in frame.iter_mut().zip(bytes.as_chunks::<2>().0) {
            *to = i16::from_le_bytes(*code);
        }
        frame
    });
    Ok((head, frames))
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use shaftwork_core::recorder::Capture;
    use shaftwork_core::settings::{Action, Wedge};
    use shaftwork_core::{Frame, Monitor, Settings};
    use std::vec::Vec;

    /// A capture of frames that count up, thinned by two, and what the monitor remembered in it.
    fn captured() -> (Vec<u8>, Snapshot) {
        let (mut frames, mut snapshots) = ([[0; CHANNELS]; 40], [None, None]);
        let shape = Shape { halvings: 1, ..Shape::whole(16) };
        let mut capture = Capture::new(&mut frames, &mut snapshots, shape);
        let mut monitor = Monitor::new(&Settings::example()).unwrap();
        for n in 0..20 {
            let block = core::array::from_fn(|f| Frame([8 * n + f as i32; CHANNELS]));
            monitor.ingest(&block);
            capture.push(&block, &monitor);
            if n == 10 {
                capture.trigger(Note { sequence: 5, at: monitor.now() });
            }
        }
        let record = capture.record().unwrap();
        let mut bytes = Vec::new();
        write(&record, 4_000_000, 77, &mut |some| bytes.extend_from_slice(some));
        (bytes, *record.snapshot.unwrap())
    }

    #[test]
    fn a_capture_comes_back_as_it_was() {
        let (bytes, snapshot) = captured();
        let (head, frames) = read(&bytes).unwrap();
        assert_eq!((head.rate_mhz, head.settings, head.frames), (4_000_000, 77, 40));
        assert_eq!(head.notes, [Some(Note { sequence: 5, at: Instant(88 << 16) }), None, None, None]);
        assert_eq!(head.snapshot, Some(snapshot));
        let first = (head.begin.0 >> 16) as i16;
        assert!(frames.enumerate().all(|(n, frame)| frame == [first + 2 * n as i16; CHANNELS]));
    }

    #[test]
    fn what_is_cut_or_changed_is_refused() {
        let (bytes, _) = captured();
        let wrong = |bytes: &[u8]| read(bytes).map(|_| ()).unwrap_err();
        for length in 0..bytes.len() {
            assert_eq!(wrong(&bytes[..length]), if length < 8 { Wrong::Magic } else { Wrong::Sum });
        }
        for place in 8..bytes.len() {
            let mut changed = bytes.clone();
            changed[place] ^= 1;
            assert_eq!(wrong(&changed), Wrong::Sum);
        }
        // Thinned beyond all measure, or without a rate, though the sum is right.
        for spoil in [|head: &mut Head| head.shape.halvings = 40, |head: &mut Head| head.rate_mhz = 0] {
            let (mut head, frames) = read(&bytes).unwrap();
            let frames: Vec<u8> = frames.flatten().flat_map(i16::to_le_bytes).collect();
            spoil(&mut head);
            let mut spoilt = MAGIC.to_vec();
            encode_head(&head, &mut |some| spoilt.extend_from_slice(some));
            spoilt.extend(frames);
            spoilt.extend_from_slice(&CRC.checksum(&spoilt).to_le_bytes());
            assert_eq!(wrong(&spoilt), Wrong::Head);
        }
        let mut summed = MAGIC.to_vec();
        summed.extend_from_slice(&[0xff; 40]);
        summed.extend_from_slice(&CRC.checksum(&summed).to_le_bytes());
        assert_eq!(wrong(&summed), Wrong::Head);
    }

    /// A mill that runs empty, 50 Hz, 231 V, 35 A, after a second at rest: of what is remembered by some elements alone there is more than a
    /// fresh monitor has.
    fn at_work() -> Snapshot {
        let mut settings = Settings::example();
        settings.trips.wedge = Some(Wedge { pickup_ppm: 1_700_000, window_ms: 200, action: Action::Trip });
        let mut monitor = Monitor::new(&settings).unwrap();
        for block in 0..2_000 {
            monitor.ingest(&core::array::from_fn(|f| {
                let turns = f64::from(block * 8 + f as u32) / 80.0;
                let code = |peak: f64, lag: f64, phase: f64| {
                    ((turns - lag - phase / 3.0) * core::f64::consts::TAU).sin() * peak * 32_767.0
                };
                let amps = if block < 500 { 0.0 } else { 35.0 * 2f64.sqrt() / 1_400.0 };
                let volts = 231.0 * 2f64.sqrt() / 800.0;
                // 8.25 kW and 22.87 kvar lag by 0.195 of a turn.
                let [a, b, c] = [0.0, 1.0, 2.0].map(|phase| (code(volts, 0.0, phase), code(amps, 0.195, phase)));
                Frame([a.0, b.0, c.0, a.1, b.1, c.1].map(|code| code.round() as i32))
            }));
        }
        monitor.snapshot()
    }

    /// Where this fails, what the core remembers has changed, and captures of older boards are not to be read: raise the magic's number.
    #[test]
    fn what_is_remembered_is_that_of_the_magic() {
        let snapshot = Monitor::new(&Settings::example()).unwrap().snapshot();
        let mut buffer = [0; 8_192];
        let bytes = postcard::to_slice(&snapshot, &mut buffer).unwrap().len();
        // The names of what is remembered, in their order; figures left out.
        let names = |snapshot: &Snapshot| -> Vec<u8> {
            std::format!("{snapshot:?}").bytes().filter(u8::is_ascii_alphabetic).collect()
        };
        assert_eq!((MAGIC, bytes, CRC.checksum(&names(&snapshot))), (*b"SWCAPT02", 634, 0x8c3c_8da2));
        let names = names(&at_work());
        assert!(names.windows(5).any(|word| word == b"Armed"), "the wedge element judges");
        assert_eq!(CRC.checksum(&names), 0x6a68_8df8);
    }
}
