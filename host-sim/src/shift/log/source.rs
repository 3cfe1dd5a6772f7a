//! A file while it is read: its bytes are counted for whoever waits, and summed up, so that an auditor can tell that it is the same.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use shaftwork_report_bits::digest::Plain;

/// What a file was.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Sum {
    /// How long, bytes.
    pub bytes: u64,
    /// CRC-32 of all of it.
    pub crc32: u32,
}

/// A file that is read from its begin to its end.
pub struct Source<'a> {
    file: File,
    bytes: u64,
    crc: Plain,
    told: &'a (dyn Fn(u64) + Sync),
}

impl<'a> Source<'a> {
    /// Opens it; `told` hears how many bytes more are read.
    ///
    /// # Errors
    /// It cannot be opened.
    pub fn open(path: &Path, told: &'a (dyn Fn(u64) + Sync)) -> io::Result<Self> {
        Ok(Self { file: File::open(path)?, bytes: 0, crc: Plain::new(), told })
    }

    /// What was read so far.
    pub fn sum(&self) -> Sum {
        Sum { bytes: self.bytes, crc32: self.crc.value() }
    }

    /// All of a file.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn whole(path: &Path, told: &'a (dyn Fn(u64) + Sync)) -> io::Result<Sum> {
        let mut source = Self::open(path, told)?;
        io::copy(&mut io::BufReader::with_capacity(1 << 20, &mut source), &mut io::sink())?;
        Ok(source.sum())
    }
}

impl Read for Source<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(into)?;
        self.crc.add(&into[..count]);
        self.bytes += count as u64;
        (self.told)(count as u64);
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering};

    /// The check value of CRC-32/ISO-HDLC (catalogue of parametrised CRC algorithms).
    #[test]
    fn bytes_are_counted_and_summed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        std::fs::write(&path, "123456789").unwrap();
        let told = AtomicU64::new(0);
        let hear = |bytes| {
            told.fetch_add(bytes, Ordering::Relaxed);
        };
        let sum = Source::whole(&path, &hear).unwrap();
        assert_eq!(sum, Sum { bytes: 9, crc32: 0xcbf4_3926 });
        assert_eq!(told.into_inner(), 9);
    }
}
