//! The flash of this board: memory with a flash's manners. Where `flash.bin` is there, it holds that when the power comes; what it holds in the end
//! is written to `flash-after.bin`.

use core::sync::atomic::{AtomicBool, Ordering};

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use shaftwork_store::{Places, Region};
use static_cell::ConstStaticCell;

use crate::files::{self, Writer};

const PAGE: usize = 2_048;
const PAGES: u32 = 5;
const BYTES: usize = 3 * PAGES as usize * PAGE;

static MEMORY: ConstStaticCell<[u8; BYTES]> = ConstStaticCell::new([0xff; BYTES]);

static FAILS: AtomicBool = AtomicBool::new(false);

/// From now on nothing is written and nothing erased.
pub fn fail() {
    FAILS.store(true, Ordering::Relaxed);
}

/// Whether it still takes something.
fn takes() -> Result<(), NorFlashErrorKind> {
    if FAILS.load(Ordering::Relaxed) { Err(NorFlashErrorKind::Other) } else { Ok(()) }
}

/// Where everything lies.
pub const PLACES: Places = Places { kept: region(0), settings: region(1), events: region(2) };

const fn region(n: u32) -> Region {
    Region { first: n * PAGES * PAGE as u32, pages: PAGES, cell: 16, step: 8 }
}

/// Memory: an erase sets all bits of a page, a write clears some.
pub struct Flash(&'static mut [u8; BYTES]);

impl Flash {
    /// As it was left.
    ///
    /// # Errors
    ///
    /// It is taken already.
    pub fn take() -> Result<Self, &'static str> {
        let bytes = MEMORY.try_take().ok_or("the flash is taken already")?;
        files::read(c"flash.bin", bytes);
        Ok(Self(bytes))
    }

    /// Writes the file that the next power-up begins with.
    ///
    /// # Errors
    ///
    /// It cannot be written.
    pub fn leave(&self) -> Result<(), &'static str> {
        let mut buffer = [0; 256];
        let mut file = Writer::create(c"flash-after.bin", &mut buffer)?;
        file.put(self.0);
        file.close().map_err(|()| "flash-after.bin cannot be written")
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len())?;
        bytes.copy_from_slice(&self.0[offset as usize..][..bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        BYTES
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to).and(takes())?;
        self.0[from as usize..to as usize].fill(0xff);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len()).and(takes())?;
        for (to, from) in self.0[offset as usize..].iter_mut().zip(bytes) {
            *to &= from;
        }
        Ok(())
    }
}
