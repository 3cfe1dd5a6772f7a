//! Files of the machine that runs the emulator, by semihosting, with large buffers: every call stops
//! the emulator.
#![allow(unsafe_code)] // a semihosting call hands the emulator a pointer and a length

use cortex_m_semihosting::{nr::open, syscall};

const BUFFER: usize = 16 * 1024;

fn open(name: &str, mode: usize) -> Option<usize> {
    let mut path = [0_u8; 32]; // ends with a zero
    path[..31].get_mut(..name.len())?.copy_from_slice(name.as_bytes());
    // SAFETY: the path is ours for the call and ends with a zero; the length leaves that out.
    let handle = unsafe { syscall!(OPEN, path.as_ptr(), mode, name.len()) };
    (handle as isize >= 0).then_some(handle)
}

/// A file that is read from front to end.
pub struct Reader {
    handle: usize,
    buffer: [u8; BUFFER],
    at: usize,
    end: usize,
}

impl Reader {
    /// Opens a file in the emulator's folder.
    pub fn open(name: &str) -> Result<Self, &'static str> {
        let handle = open(name, open::R_BINARY).ok_or("settings.bin and frames.bin must be in the current folder")?;
        Ok(Self { handle, buffer: [0; BUFFER], at: 0, end: 0 })
    }

    /// The next bytes, at least `want` of them unless the file ends before.
    pub fn look(&mut self, want: usize) -> &[u8] {
        if self.end - self.at < want {
            self.buffer.copy_within(self.at..self.end, 0);
            self.end -= self.at;
            self.at = 0;
            let room = &mut self.buffer[self.end..];
            // SAFETY: the emulator writes at most `room.len()` bytes to `room`.
            let left = unsafe { syscall!(READ, self.handle, room.as_mut_ptr(), room.len()) };
            // It returns how many bytes it did not write.
            self.end = BUFFER - left.min(room.len());
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
    handle: usize,
    buffer: [u8; BUFFER],
    used: usize,
    failed: bool,
}

impl Writer {
    /// Creates a file in the emulator's folder, or empties it.
    pub fn create(name: &str) -> Result<Self, &'static str> {
        let handle = open(name, open::W_TRUNC_BINARY).ok_or("reports.bin cannot be created")?;
        Ok(Self { handle, buffer: [0; BUFFER], used: 0, failed: false })
    }

    /// Adds bytes; at most a buffer of them.
    pub fn put(&mut self, bytes: &[u8]) {
        if self.used + bytes.len() > BUFFER {
            self.flush();
        }
        self.buffer[self.used..self.used + bytes.len()].copy_from_slice(bytes);
        self.used += bytes.len();
    }

    /// Writes what is left. An error anywhere before shows here.
    pub fn close(mut self) -> Result<(), ()> {
        self.flush();
        // SAFETY: no pointer; the handle is not used again.
        let closed = unsafe { syscall!(CLOSE, self.handle) } == 0;
        if closed && !self.failed { Ok(()) } else { Err(()) }
    }

    fn flush(&mut self) {
        let bytes = &self.buffer[..self.used];
        // SAFETY: the emulator reads `bytes.len()` bytes from `bytes`.
        let left = unsafe { syscall!(WRITE, self.handle, bytes.as_ptr(), bytes.len()) };
        self.failed |= left != 0;
        self.used = 0;
    }
}
