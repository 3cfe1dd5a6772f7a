//! Where the reports of this board go: `reports.bin` and the digest; captures into `capture-1.bin` to `capture-9.bin`.

use core::ffi::CStr;

use shaftwork_app::Reports;
use shaftwork_core::recorder::Record;
use shaftwork_report_bits::capture;
use shaftwork_report_bits::report::MAX_BYTES;
use shaftwork_report_bits::{Digest, Report, prefix};

use crate::files::Writer;

/// Writes every report and sums it up.
pub struct Log {
    writer: Writer<'static>,
    /// For the file of a capture.
    spare: &'static mut [u8],
    digest: Digest,
    /// Frames a second, mHz, and the CRC-32 of `settings.bin`.
    head: (u32, u32),
    captures: u8,
    whole: bool,
}

impl Log {
    /// Into this file. Captures tell the rate, mHz, and the CRC-32 of `settings.bin`.
    pub fn new(writer: Writer<'static>, spare: &'static mut [u8], rate_mhz: u32, settings: u32) -> Self {
        Self { writer, spare, digest: Digest::new(), head: (rate_mhz, settings), captures: 0, whole: true }
    }

    /// How many captures were written.
    pub const fn captures(&self) -> u8 {
        self.captures
    }

    /// How many reports there were, their digest, and whether all files are whole.
    pub fn close(self) -> (u32, u32, Result<(), ()>) {
        let written = self.writer.close();
        (self.digest.reports(), self.digest.value(), if self.whole { written } else { Err(()) })
    }
}

impl Reports for Log {
    fn report(&mut self, report: &Report) {
        #[cfg(feature = "defmt")]
        if let Report::Event(event) = report {
            defmt::info!("{}", event);
        }
        let mut buffer = [0; MAX_BYTES];
        let (kind, bytes) = (report.kind(), report.encode(&mut buffer));
        self.digest.add(kind, bytes);
        self.writer.put(&prefix(kind, bytes));
        self.writer.put(bytes);
    }

    fn capture(&mut self, record: &Record<'_>) -> bool {
        if self.captures == 9 {
            return true; // nobody looks at more
        }
        self.captures += 1;
        let mut name = *b"capture-?.bin\0";
        name[8] = b'0' + self.captures;
        let Some(mut file) =
            CStr::from_bytes_with_nul(&name).ok().and_then(|name| Writer::create(name, self.spare).ok())
        else {
            self.whole = false;
            return true;
        };
        let (rate_mhz, settings) = self.head;
        capture::write(record, rate_mhz, settings, &mut |bytes| file.put(bytes));
        self.whole &= file.close().is_ok();
        true
    }
}
