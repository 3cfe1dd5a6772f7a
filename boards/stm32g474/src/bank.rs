//! The flash's second bank as the store sees it: the program runs from the first, so an erase goes on by itself.
//!
//! An erase is begun and nobody waits for it; whoever asks for anything else meanwhile waits. [`Patient`] does not ask, so that the loop never
//! stands still for longer than a write of eight bytes takes.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use shaftwork_app::Keeper;
use shaftwork_core::{Event, Monitor};
use shaftwork_store::{Store, What};

/// Bytes of a page: two banks (reference manual RM0440, from memory).
pub const PAGE: usize = 2_048;
/// Pages of the bank.
pub const PAGES: u32 = 128;
/// Bytes of a write: a double word, beside which the flash keeps a code for error correction.
pub const WRITE: usize = 8;

/// What the hardware does. Offsets count from the bank's beginning.
pub trait Chip {
    /// Whether an erase goes on. While it does nothing else may be asked of the bank: a read would hold the processor, interrupts and all.
    fn busy(&self) -> bool;

    /// Begins to erase a page.
    fn erase(&mut self, page: u8);

    /// The erase is over: whether it went well. To be called once after each.
    fn erased(&mut self) -> bool;

    /// Writes eight bytes and waits for it: whether it went well.
    fn write(&mut self, offset: u32, bytes: &[u8]) -> bool;

    /// Reads; whether the code for error correction could make sense of all of it.
    fn read(&mut self, offset: u32, into: &mut [u8]) -> bool;
}

/// The bank.
#[derive(Debug)]
pub struct Bank<C> {
    chip: C,
    /// The page that is being erased.
    erasing: Option<u32>,
    /// The page that could not be erased last: it takes nothing until it is.
    refused: Option<u32>,
}

impl<C: Chip> Bank<C> {
    /// Nothing goes on in it.
    pub const fn new(chip: C) -> Self {
        Self { chip, erasing: None, refused: None }
    }

    /// Whether an erase goes on.
    pub fn busy(&self) -> bool {
        self.erasing.is_some() && self.chip.busy()
    }

    /// Waits for an erase that goes on, 24.5 ms at most (data sheet, from memory); the watchdog ends what takes for ever.
    fn finish(&mut self) {
        let Some(page) = self.erasing.take() else { return };
        while self.chip.busy() {
            core::hint::spin_loop();
        }
        if !self.chip.erased() {
            self.refused = Some(page);
        }
    }
}

impl<C> ErrorType for Bank<C> {
    type Error = NorFlashErrorKind;
}

impl<C: Chip> ReadNorFlash for Bank<C> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len())?;
        self.finish();
        if self.chip.read(offset, bytes) { Ok(()) } else { Err(NorFlashErrorKind::Other) }
    }

    fn capacity(&self) -> usize {
        PAGES as usize * PAGE
    }
}

impl<C: Chip> NorFlash for Bank<C> {
    const WRITE_SIZE: usize = WRITE;
    const ERASE_SIZE: usize = PAGE;

    /// Begins; what became of it shows when the page is written to.
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to)?;
        for page in from / PAGE as u32..to / PAGE as u32 {
            self.finish();
            self.refused = self.refused.filter(|refused| *refused != page);
            self.erasing = Some(page);
            self.chip.erase(page as u8); // below 128
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len())?;
        self.finish();
        for (at, bytes) in (offset..).step_by(WRITE).zip(bytes.chunks(WRITE)) {
            if self.refused == Some(at / PAGE as u32) || !self.chip.write(at, bytes) {
                return Err(NorFlashErrorKind::Other);
            }
        }
        Ok(())
    }
}

/// A store that gets no step while an erase goes on.
pub struct Patient<C>(pub Store<Bank<C>>);

impl<C: Chip> Keeper for Patient<C> {
    fn event(&mut self, event: &Event) {
        self.0.event(event);
    }

    fn step(&mut self, monitor: &Monitor) {
        if !self.0.flash().busy() {
            self.0.step(monitor);
        }
    }

    /// Waits for an erase that goes on: nothing is sampled for long any more.
    fn power_fails(&mut self, monitor: &Monitor) {
        self.0.power_fails(monitor);
    }

    fn failing(&self) -> Option<What> {
        self.0.failing()
    }
}

#[cfg(test)]
mod tests;
