//! A stream of bytes behind one fixed buffer, read as lines or as blocks.
//!
//! Every trace format reads through [`Source`]: it counts lines and bytes, so that a fault can
//! name its place, and it never holds more than [`MOST`] bytes however long the trace is.

use crate::error::Fault;
use std::io::Read;

/// Bytes asked of the system at a time, and the buffer's size at first.
const CHUNK: usize = 256 * 1024;
/// The longest line or block that is held, bytes. A text record of 999 999 channels fits.
pub const MOST: usize = 16 * 1024 * 1024;

/// One line without its end.
#[derive(Clone, Copy, Debug)]
pub struct Line<'a> {
    /// The bytes before the line end; a carriage return before it is cut off as well.
    pub bytes: &'a [u8],
    /// Counted from 1.
    pub number: u64,
    /// Byte offset of its first byte in the stream.
    pub offset: u64,
    /// Whether a line end was there: the last line of a file may lack it.
    pub ended: bool,
}

/// A buffered stream that knows its name, place and length.
pub struct Source {
    inner: Box<dyn Read>,
    name: String,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    offset: u64,
    lines: u64,
    at_end: bool,
    total: Option<u64>,
}

impl Source {
    /// Wraps a stream; `total` is its length in bytes where that is known.
    pub fn new(name: impl Into<String>, inner: Box<dyn Read>, total: Option<u64>) -> Self {
        Self {
            inner,
            name: name.into(),
            buffer: vec![0; CHUNK],
            start: 0,
            end: 0,
            offset: 0,
            lines: 0,
            at_end: false,
            total,
        }
    }

    /// Opens a file, or standard input for `-`.
    pub fn open(path: &str) -> Result<Self, Fault> {
        if path == "-" {
            return Ok(Self::new(path, Box::new(std::io::stdin()), None));
        }
        let refuse =
            |e: &std::io::Error| Fault::unreadable(path, e, "a CSV trace, a COMTRADE .cfg with its .dat, or a .cff");
        let file = std::fs::File::open(path).map_err(|e| refuse(&e))?;
        let about = file.metadata().map_err(|e| refuse(&e))?;
        if about.is_dir() {
            return Err(Fault::new(path, "is a folder").wanted("a trace").mend("name the file in it"));
        }
        // A pipe has no length worth believing.
        let total = about.is_file().then_some(about.len());
        Ok(Self::new(path, Box::new(file), total))
    }

    /// The name that faults carry.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Bytes handed out so far.
    pub fn offset(&self) -> u64 {
        self.offset
    }

    /// The length of the stream in bytes, if known.
    pub fn total(&self) -> Option<u64> {
        self.total
    }

    /// Lines handed out so far.
    pub fn lines(&self) -> u64 {
        self.lines
    }

    /// Brings more bytes into the buffer; false at the end of the stream.
    #[inline(never)]
    fn fill(&mut self) -> Result<bool, Fault> {
        if self.at_end {
            return Ok(false);
        }
        if self.start > 0 && (self.start == self.end || self.end == self.buffer.len()) {
            self.buffer.copy_within(self.start..self.end, 0);
            self.end -= self.start;
            self.start = 0;
        }
        if self.end == self.buffer.len() {
            if self.buffer.len() >= MOST {
                return Err(Fault::new(&*self.name, format!("a line or record is longer than {MOST} bytes"))
                    .at(format!("byte {}", self.offset))
                    .wanted("lines that end")
                    .mend("check that this is a trace and that it is whole"));
            }
            self.buffer.resize(self.buffer.len() * 2, 0);
        }
        loop {
            match self.inner.read(&mut self.buffer[self.end..]) {
                Ok(0) => {
                    self.at_end = true;
                    return Ok(false);
                }
                Ok(n) => {
                    self.end += n;
                    return Ok(true);
                }
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => {
                    let place = format!("byte {}", self.offset + (self.end - self.start) as u64);
                    return Err(Fault::unreadable(&*self.name, &e, "a trace that can be read to its end").at(place));
                }
            }
        }
    }

    /// The next line, or `None` at the end.
    #[expect(clippy::inline_always, reason = "a line that is handed over in memory is waited for")]
    #[inline(always)]
    pub fn line(&mut self) -> Result<Option<Line<'_>>, Fault> {
        let (length, ended) = match memchr::memchr(b'\n', &self.buffer[self.start..self.end]) {
            Some(at) => (at, true),
            None => self.long_line()?,
        };
        if length == 0 && !ended {
            return Ok(None);
        }
        let (first, offset) = (self.start, self.offset);
        let taken = length + usize::from(ended);
        self.start += taken;
        self.offset += taken as u64;
        self.lines += 1;
        let mut bytes = &self.buffer[first..first + length];
        if let [head @ .., b'\r'] = bytes {
            bytes = head;
        }
        Ok(Some(Line { bytes, number: self.lines, offset, ended }))
    }

    /// Brings in the rest of a line whose end is not in the buffer: its length, and whether it has an end.
    #[inline(never)]
    fn long_line(&mut self) -> Result<(usize, bool), Fault> {
        loop {
            let seen = self.end - self.start;
            if !self.fill()? {
                return Ok((seen, false));
            }
            if let Some(at) = memchr::memchr(b'\n', &self.buffer[self.start + seen..self.end]) {
                return Ok((seen + at, true));
            }
        }
    }

    /// What comes next without taking it: `want` bytes, fewer only at the end of the stream.
    pub fn peek(&mut self, want: usize) -> Result<&[u8], Fault> {
        while self.end - self.start < want && self.fill()? {}
        let have = (self.end - self.start).min(want);
        Ok(&self.buffer[self.start..self.start + have])
    }

    /// Takes `count` bytes that were peeked at before.
    pub fn take(&mut self, count: usize) {
        let count = count.min(self.end - self.start);
        self.start += count;
        self.offset += count as u64;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A stream that hands out a few bytes at a time.
    struct Drip(Vec<u8>, usize, usize);

    impl Read for Drip {
        fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
            let n = self.2.min(self.0.len() - self.1).min(to.len());
            to[..n].copy_from_slice(&self.0[self.1..self.1 + n]);
            self.1 += n;
            Ok(n)
        }
    }

    fn source(bytes: &[u8], step: usize) -> Source {
        Source::new("t", Box::new(Drip(bytes.to_vec(), 0, step)), None)
    }

    #[test]
    fn lines_know_their_place() {
        let mut s = source(b"ab\r\n\ncd", 2);
        let l = s.line().unwrap().unwrap();
        assert_eq!((l.bytes, l.number, l.offset, l.ended), (&b"ab"[..], 1, 0, true));
        let l = s.line().unwrap().unwrap();
        assert_eq!((l.bytes, l.number, l.offset, l.ended), (&b""[..], 2, 4, true));
        let l = s.line().unwrap().unwrap();
        assert_eq!((l.bytes, l.number, l.offset, l.ended), (&b"cd"[..], 3, 5, false));
        assert!(s.line().unwrap().is_none());
        assert_eq!(s.offset(), 7);
    }

    #[test]
    fn a_line_without_end_is_refused_not_swallowed() {
        let mut s = Source::new("t", Box::new(std::io::repeat(b'x')), None);
        assert!(s.line().unwrap_err().to_string().contains("longer than"));
    }

    proptest! {
        /// However the bytes drip in, lines and blocks give the same bytes back.
        #[test]
        fn nothing_is_lost(bytes in proptest::collection::vec(prop_oneof![Just(b'\n'), any::<u8>()], 0..2000), step in 1_usize..99) {
            let mut s = source(&bytes, step);
            let mut joined = Vec::new();
            while let Some(l) = s.line().unwrap() {
                let end = l.offset as usize + l.bytes.len();
                prop_assert_eq!(l.bytes, &bytes[l.offset as usize..end]);
                joined.push(l.number);
            }
            prop_assert_eq!(s.offset() as usize, bytes.len());
            let mut s = source(&bytes, step);
            let mut all = Vec::new();
            loop {
                let n = { let b = s.peek(7).unwrap(); all.extend_from_slice(b); b.len() };
                if n == 0 { break; }
                s.take(n);
            }
            prop_assert_eq!(all, bytes);
        }
    }
}
