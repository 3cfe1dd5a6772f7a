//! `reports.bin`: every report as a kind byte, a length in two bytes (little-endian) and its bytes.

use crate::report::Kind;

/// What stands in front of a report's bytes.
///
/// Lengths fit 16 bits: a report has at most [`crate::report::MAX_BYTES`].
#[must_use]
pub const fn prefix(kind: Kind, bytes: &[u8]) -> [u8; 3] {
    let [low, high] = (bytes.len() as u16).to_le_bytes();
    [kind as u8, low, high]
}

/// Reads a stream report by report, without copying.
///
/// ```
/// use shaftwork_report_bits::{Kind, Stream};
/// let mut stream = Stream::new(&[3, 2, 0, 10, 11]);
/// assert_eq!(stream.next(), Some(Ok((Kind::Event, &[10, 11][..]))));
/// assert_eq!(stream.next(), None);
/// ```
#[derive(Debug, Clone)]
pub struct Stream<'a> {
    rest: &'a [u8],
    offset: usize,
}

/// The stream is not one: the byte offset at which it stops making sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Broken {
    /// Bytes from the start.
    pub offset: usize,
}

impl core::fmt::Display for Broken {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "no whole report at byte {}: kind, length and bytes expected", self.offset)
    }
}

impl core::error::Error for Broken {}

impl<'a> Stream<'a> {
    /// Reads from the start of `bytes`.
    #[must_use]
    pub const fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, offset: 0 }
    }

    fn split(&mut self) -> Option<(Kind, &'a [u8])> {
        let ([kind, low, high], rest) = self.rest.split_first_chunk::<3>()?;
        let (bytes, rest) = rest.split_at_checked(usize::from(u16::from_le_bytes([*low, *high])))?;
        let kind = Kind::from_byte(*kind)?;
        self.offset += 3 + bytes.len();
        self.rest = rest;
        Some((kind, bytes))
    }
}

impl<'a> Iterator for Stream<'a> {
    type Item = Result<(Kind, &'a [u8]), Broken>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.is_empty() {
            return None;
        }
        Some(self.split().ok_or_else(|| {
            self.rest = &[]; // one error, then the end
            Broken { offset: self.offset }
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_stream_says_where() {
        let whole = [1, 1, 0, 5, 2, 2, 0, 6, 7];
        let mut stream = Stream::new(&whole[..8]);
        assert_eq!(stream.next(), Some(Ok((Kind::Moment, &[5][..]))));
        assert_eq!(stream.next(), Some(Err(Broken { offset: 4 })));
        assert_eq!(stream.next(), None);
    }

    #[test]
    fn an_unknown_kind_is_an_error() {
        assert_eq!(Stream::new(&[9, 0, 0]).next(), Some(Err(Broken { offset: 0 })));
    }
}
