//! Files of the machine that runs the emulator, by semihosting, with buffers: every call stops the emulator.

use core::ffi::CStr;

use semihosting::fs::File;
use semihosting::io::{Read as _, Write as _};
use static_cell::ConstStaticCell;

/// Bytes of a buffer.
pub const BUFFER: usize = if cfg!(feature = "small") { 256 } else { 16 * 1024 };

/// Buffers of the two files that are open all the time, and of a third. They are no part of what the stack has to hold on a board.
pub static BUFFERS: ConstStaticCell<[[u8; BUFFER]; 3]> = ConstStaticCell::new([[0; BUFFER]; 3]);

/// A file that is read from front to end.
pub struct Reader<'a> {
    file: File,
    buffer: &'a mut [u8],
    at: usize,
    end: usize,
}

/// Reads a short file whole into `into`, as far as both go; returns how many bytes. One that is not there has none.
pub fn read(name: &CStr, into: &mut [u8]) -> usize {
    File::open(name).and_then(|mut file| file.read(into)).unwrap_or(0)
}

impl<'a> Reader<'a> {
    /// Opens a file in the emulator's folder, to be read through a buffer.
    pub fn open(name: &CStr, buffer: &'a mut [u8]) -> Result<Self, &'static str> {
        let file = File::open(name).map_err(|_| "settings.bin and frames.bin must be in the current folder")?;
        Ok(Self { file, buffer, at: 0, end: 0 })
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
}

/// A file that is written from front to end. It is not whole before [`Writer::close`].
pub struct Writer<'a> {
    file: File,
    buffer: &'a mut [u8],
    used: usize,
    failed: bool,
}

impl<'a> Writer<'a> {
    /// Creates a file in the emulator's folder, or empties it, to be written through a buffer.
    pub fn create(name: &CStr, buffer: &'a mut [u8]) -> Result<Self, &'static str> {
        let file = File::create(name).map_err(|_| "reports.bin cannot be created")?;
        Ok(Self { file, buffer, used: 0, failed: false })
    }

    /// Adds bytes.
    pub fn put(&mut self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            let (now, later) = bytes.split_at(bytes.len().min(self.buffer.len() - self.used));
            self.buffer[self.used..self.used + now.len()].copy_from_slice(now);
            self.used += now.len();
            bytes = later;
            if self.used == self.buffer.len() {
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
