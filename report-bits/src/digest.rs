//! The digest of a run: CRC-32 over all reports in order, each with its kind and length in front.

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc};

use crate::report::{Kind, MAX_BYTES, Report};
use crate::stream::prefix;

pub(crate) static CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// A CRC-32 (ISO-HDLC) that grows report by report.
///
/// It is the CRC of the file `reports.bin`, because it takes in the same prefixes. It prints as eight
/// hex digits.
///
/// ```
/// use shaftwork_report_bits::{Digest, Kind};
/// let mut digest = Digest::new();
/// digest.add(Kind::Event, &[1, 2, 3]);
/// assert_eq!(digest.to_string(), format!("{:08x}", digest.value()));
/// ```
#[derive(Clone)]
pub struct Digest {
    crc: crc::Digest<'static, u32>,
    reports: u32,
}

impl Digest {
    /// Of no report.
    #[must_use]
    pub fn new() -> Self {
        Self { crc: CRC.digest(), reports: 0 }
    }

    /// Takes in a report's bytes.
    pub fn add(&mut self, kind: Kind, bytes: &[u8]) {
        self.crc.update(&prefix(kind, bytes));
        self.crc.update(bytes);
        self.reports = self.reports.saturating_add(1);
    }

    /// Takes in a report.
    pub fn report(&mut self, report: &Report) {
        self.add(report.kind(), report.encode(&mut [0; MAX_BYTES]));
    }

    /// How many reports it has taken in.
    #[must_use]
    pub const fn reports(&self) -> u32 {
        self.reports
    }

    /// The CRC so far.
    #[must_use]
    pub fn value(&self) -> u32 {
        self.crc.clone().finalize()
    }
}

impl Default for Digest {
    fn default() -> Self {
        Self::new()
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digest({self} of {} reports)", self.reports)
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:08x}", self.value())
    }
}

/// The same CRC over plain bytes that come one after the other: of a file too long to be held.
///
/// ```
/// let mut sum = shaftwork_report_bits::digest::Plain::new();
/// sum.add(b"1234");
/// sum.add(b"56789");
/// assert_eq!(sum.value(), 0xcbf4_3926);
/// ```
#[derive(Clone)]
pub struct Plain(crc::Digest<'static, u32>);

impl Plain {
    /// Of nothing.
    #[must_use]
    pub fn new() -> Self {
        Self(CRC.digest())
    }

    /// Takes in more.
    pub fn add(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The CRC so far.
    #[must_use]
    pub fn value(&self) -> u32 {
        self.0.clone().finalize()
    }
}

impl Default for Plain {
    fn default() -> Self {
        Self::new()
    }
}

impl fmt::Debug for Plain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Plain({:08x})", self.value())
    }
}

/// The same CRC over plain bytes: of a whole `reports.bin`.
///
/// ```
/// // The check value of CRC-32/ISO-HDLC.
/// assert_eq!(shaftwork_report_bits::digest::crc32(b"123456789"), 0xcbf4_3926);
/// ```
#[must_use]
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_the_crc_of_the_stream() {
        let mut digest = Digest::new();
        assert_eq!(digest.value(), 0, "of nothing");
        digest.add(Kind::Moment, &[7, 8]);
        digest.add(Kind::Totals, &[]);
        assert_eq!(digest.value(), crc32(&[1, 2, 0, 7, 8, 4, 0, 0]));
        assert_eq!(digest.reports(), 2);
    }
}
