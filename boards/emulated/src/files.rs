//! Files of the machine that runs the emulator, by semihosting, with buffers: every call stops the emulator.

use core::ffi::CStr;

use semihosting::fs::File;
use semihosting::io::{Read as _, Write as _};

const BUFFER: usize = 16 * 1024;

/// A file that is read from front to end.
pub struct Reader {
    file: File,
    buffer: [u8; BUFFER],
    at: usize,
    end: usize,
}

impl Reader {
    /// Opens a file in the emulator's folder.
    pub fn open(name: &CStr) -> Result<Self, &'static str> {
        let file = File::open(name).map_err(|_| "settings.bin and frames.bin must be in the current folder")?;
        Ok(Self { file, buffer: [0; BUFFER], at: 0, end: 0 })
    }

    /// The next bytes, at least `want` of them unless the file ends before.
    pub fn look(&mut self, want: usize) -> &[u8] {
        if self.end - self.at < want {
            self.buffer.copy_within(self.at..self.end, 0);
            self.end -= self.at;
            self.at = 0;
            let room = &mut self.buffer[self.end..];
            // What cannot be read ends the file: frames.bin tells by itself whether it is whole.
            self.end += self.file.read(room).unwrap_or(0);
        }
        &self.buffer[self.at..self.end]
    }

    /// Goes on by `used` bytes.
    pub fn skip(&mut self, used: usize) {
        self.at = (self.at + used).min(self.end);
    }

    /// Copies what is there to `into`, as far as both go; returns how many bytes.
    pub fn fill(&mut self, into: &mut [u8]) -> usize {
        let bytes = self.look(into.len());
        let n = bytes.len().min(into.len());
        into[..n].copy_from_slice(&bytes[..n]);
        n
    }
}

/// A file that is written from front to end. It is not whole before [`Writer::close`].
pub struct Writer {
    file: File,
    buffer: [u8; BUFFER],
    used: usize,
    failed: bool,
}

impl Writer {
    /// Creates a file in the emulator's folder, or empties it.
    pub fn create(name: &CStr) -> Result<Self, &'static str> {
        let file = File::create(name).map_err(|_| "reports.bin cannot be created")?;
        Ok(Self { file, buffer: [0; BUFFER], used: 0, failed: false })
    }

    /// Adds bytes.
    pub fn put(&mut self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            let (now, later) = bytes.split_at(bytes.len().min(BUFFER - self.used));
            self.buffer[self.used..self.used + now.len()].copy_from_slice(now);
            self.used += now.len();
            bytes = later;
            if self.used == BUFFER {
                self.flush();
            }
        }
    }

    /// Writes what is left. An error anywhere before shows here.
    pub fn close(mut self) -> Result<(), ()> {
        self.flush();
        if self.failed { Err(()) } else { Ok(()) }
    }

    fn flush(&mut self) {
        self.failed |= self.file.write_all(&self.buffer[..self.used]).is_err();
        self.used = 0;
    }
}
