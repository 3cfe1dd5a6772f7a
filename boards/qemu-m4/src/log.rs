//! Where the reports of this board go: `reports.bin` and the digest.

use shaftwork_app::Reports;
use shaftwork_report_bits::report::MAX_BYTES;
use shaftwork_report_bits::{Digest, Report, prefix};

use crate::files::Writer;

/// Writes every report and sums it up.
pub struct Log {
    writer: Writer,
    digest: Digest,
}

impl Log {
    /// Into this file.
    pub fn new(writer: Writer) -> Self {
        Self { writer, digest: Digest::new() }
    }

    /// How many reports there were, their digest, and whether the file is whole.
    pub fn close(self) -> (u32, u32, Result<(), ()>) {
        (self.digest.reports(), self.digest.value(), self.writer.close())
    }
}

impl Reports for Log {
    fn report(&mut self, report: &Report) {
        let mut buffer = [0; MAX_BYTES];
        let (kind, bytes) = (report.kind(), report.encode(&mut buffer));
        self.digest.add(kind, bytes);
        self.writer.put(&prefix(kind, bytes));
        self.writer.put(bytes);
    }
}
