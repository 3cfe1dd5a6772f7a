//! What goes out on the serial line: events, figures, totals and the board's own state, one way.
//!
//! ```text
//!  layout, kind, number (2), payload in postcard, CRC-32 (4)   ─ COBS ─►   no byte is 0   ─►   0
//! ```
//!
//! Whoever listens begins anew at each 0, drops what has a wrong check sum, and sees by the number how many frames were lost. Integers are
//! little-endian; the CRC is CRC-32/ISO-HDLC of all in front of it. COBS: Cheshire and Baker, Consistent Overhead Byte Stuffing, 1999.
//!
//! Nothing waits for the line: a frame is made when the one before is gone, bytes go as it takes them. Events wait in the recorder's log, whose numbers show
//! what was written over meanwhile; of figures only the newest goes out.

use embedded_hal_nb::serial::Write;
use serde::{Deserialize, Serialize};
use shaftwork_app::Reports;
use shaftwork_core::recorder::Log;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::{Interval, Totals};
use shaftwork_report_bits::Report;
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::report::MAX_BYTES;

/// Bits a second: eight data bits, no parity, one stop bit.
pub const BAUD: u32 = 115_200;
/// Of the payloads and of what stands in front: another one where a structure of the core has changed.
pub const LAYOUT: u8 = 1;
/// In front of the payload, and behind.
const HEAD: usize = 4;
const SUM: usize = 4;
/// The largest frame before COBS, and behind it: a byte for each 254 begun, one more, and the 0.
const BODY: usize = HEAD + MAX_BYTES + SUM;
const FRAME: usize = BODY + BODY.div_ceil(254) + 2;

/// What a payload is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Kind {
    /// [`Interval`]: a window's figures.
    Interval = 2,
    /// [`Totals`] since the board was made, as its store has them.
    Totals = 4,
    /// [`shaftwork_core::recorder::Entry`]: a numbered event, with what came before a decision.
    Entry = 5,
    /// [`State`].
    State = 6,
    /// [`Part`].
    Sheet = 7,
}

/// The board's own state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct State {
    /// Why the outputs are safe: a number of [`crate::told::Cause`]; 0: they do as the core decides.
    pub cause: u8,
    /// Why the life before ended, likewise; 0 after power or a person.
    pub before: u8,
    /// What the alarm relay tells.
    pub well: bool,
    /// Events that the store missed.
    pub missed: u32,
}

/// A part of `sheet.bin`, what commissioning came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Part<'a> {
    /// Bytes of the whole file.
    pub whole: u16,
    /// Where this part begins in it.
    pub from: u16,
    /// Its bytes.
    pub bytes: &'a [u8],
}

/// Reports: the newest interval.
#[derive(Debug, Default)]
pub struct Latest {
    interval: Option<Interval>,
    count: u32,
}

impl Reports for Latest {
    fn report(&mut self, report: &Report) {
        if let Report::Interval(interval) = report {
            self.interval = Some(*interval);
            self.count = self.count.wrapping_add(1);
        }
    }
}

/// The frame that is going out.
#[derive(Debug)]
struct Frame {
    bytes: [u8; FRAME],
    end: usize,
    at: usize,
    /// Of the next frame, modulo 2^16.
    number: u16,
}

impl Frame {
    const NONE: Self = Self { bytes: [0; FRAME], end: 0, at: 0, number: 0 };

    const fn idle(&self) -> bool {
        self.at >= self.end
    }

    /// Gives the line as many bytes as it takes at once.
    fn pump(&mut self, line: &mut impl Write) {
        while let Some(byte) = self.bytes.get(self.at).filter(|_| !self.idle()) {
            if line.write(*byte).is_err() {
                return; // would block: later
            }
            self.at += 1;
        }
    }

    /// Makes it of a payload. One that does not fit is left out and costs its number: none does not.
    fn put(&mut self, kind: Kind, payload: &impl Serialize) {
        let mut body = [0; BODY];
        let [low, high] = self.number.to_le_bytes();
        self.number = self.number.wrapping_add(1);
        body[..HEAD].copy_from_slice(&[LAYOUT, kind as u8, low, high]);
        let Ok(payload) = postcard::to_slice(payload, &mut body[HEAD..HEAD + MAX_BYTES]) else { return };
        let end = HEAD + payload.len();
        let sum = crc32(&body[..end]);
        body[end..end + SUM].copy_from_slice(&sum.to_le_bytes());
        let Ok(stuffed) = cobs::try_encode(&body[..end + SUM], &mut self.bytes[..FRAME - 1]) else { return };
        self.bytes[stuffed] = 0;
        (self.at, self.end) = (0, stuffed + 1);
    }
}

/// The line.
#[derive(Debug)]
pub struct Line {
    frame: Frame,
    minute: Span,
    /// The last event, and the interval, that went out.
    event: u32,
    interval: u32,
    /// When totals and state are due.
    totals_due: Instant,
    state_due: Instant,
    state: Option<State>,
}

impl Line {
    /// At so many frames a second, mHz; the recorder's first event has number 1.
    pub const fn new(rate_mhz: u32) -> Self {
        // 1e9 of 64 bits, 16 more for the fraction.
        let minute = Span((rate_mhz as u64 * 60 / 1_000) << 16);
        Self {
            frame: Frame::NONE,
            minute,
            event: 0,
            interval: 0,
            totals_due: Instant(0),
            state_due: Instant(0),
            state: None,
        }
    }

    /// Whether the next frame may be made.
    pub const fn idle(&self) -> bool {
        self.frame.idle()
    }

    /// Makes the next frame of what has waited, where the line is idle: a state that has changed, events, totals once a minute, the state six times, the newest
    /// interval. Once a block: it costs some ten thousand instructions, a guess.
    pub fn offer(
        &mut self,
        now: Instant,
        log: &Log<'_>,
        latest: &Latest,
        state: State,
        totals: impl FnOnce() -> Totals,
    ) {
        if !self.idle() {
            return;
        }
        if self.state != Some(state) || now >= self.state_due {
            self.state = Some(state);
            self.state_due = now.after(Span(self.minute.0 / 6));
            self.frame.put(Kind::State, &state);
        } else if let Some(entry) = log.after(self.event).next() {
            self.event = entry.sequence;
            self.frame.put(Kind::Entry, entry);
        } else if now >= self.totals_due {
            self.totals_due = now.after(self.minute);
            self.frame.put(Kind::Totals, &totals());
        } else if let Some(interval) = latest.interval.as_ref().filter(|_| latest.count != self.interval) {
            self.interval = latest.count;
            self.frame.put(Kind::Interval, interval);
        }
    }

    /// Gives the line as many bytes as it takes at once.
    pub fn pump(&mut self, line: &mut impl Write) {
        self.frame.pump(line);
    }
}

/// Bytes of a part.
const PART: usize = 512;

/// A sheet on the line, part by part, again and again.
#[derive(Debug)]
pub struct Sheets<'a> {
    frame: Frame,
    sheet: &'a [u8],
    from: usize,
}

impl<'a> Sheets<'a> {
    /// Of these bytes, fewer than 2^16.
    pub const fn new(sheet: &'a [u8]) -> Self {
        Self { frame: Frame::NONE, sheet, from: 0 }
    }

    /// Gives the line as many bytes as it takes at once.
    pub fn pump(&mut self, line: &mut impl Write) {
        if self.frame.idle() {
            let rest = self.sheet.get(self.from..).unwrap_or_default();
            let bytes = rest.get(..PART).unwrap_or(rest);
            let part = Part { whole: self.sheet.len() as u16, from: self.from as u16, bytes };
            self.frame.put(Kind::Sheet, &part);
            self.from = if bytes.len() < rest.len() { self.from + bytes.len() } else { 0 };
        }
        self.frame.pump(line);
    }
}

#[cfg(test)]
mod tests;
