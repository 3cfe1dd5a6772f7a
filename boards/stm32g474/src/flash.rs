//! The second bank's hardware.
//!
//! Writes and reads are the HAL's. An erase is begun here, by registers, because the HAL's waits for its end. A double word that power has left half written cannot be mended by the code
//! beside it: reading it raises a non-maskable interrupt, which notes it ([`faults::torn`]).

use cortex_m::asm;
use embassy_stm32::flash::{Blocking, Flash};
use embassy_stm32::pac;
use shaftwork_stm32g474::bank::Chip;
use shaftwork_stm32g474::settings::OFFSET;

use crate::faults;

/// Lets erases and writes through (RM0440, from memory).
const KEYS: [u32; 2] = [0x4567_0123, 0xcdef_89ab];

/// The bank. Whoever makes it has seen that there are two.
pub struct SecondBank(pub Flash<'static, Blocking>);

impl Chip for SecondBank {
    fn busy(&self) -> bool {
        pac::FLASH.sr().read().bsy()
    }

    fn erase(&mut self, page: u8) {
        pac::FLASH.sr().modify(|_| {}); // writing ones clears what went wrong before
        if pac::FLASH.cr().read().lock() {
            for key in KEYS {
                pac::FLASH.keyr().write_value(key);
            }
        }
        pac::FLASH.cr().modify(|w| {
            w.set_per(true);
            w.set_bker(true);
            w.set_pnb(page);
        });
        pac::FLASH.cr().modify(|w| w.set_strt(true));
    }

    fn erased(&mut self) -> bool {
        let status = pac::FLASH.sr().read();
        pac::FLASH.cr().modify(|w| {
            w.set_per(false);
            w.set_lock(true);
        });
        // What the data cache holds of the page is of before; it may be reset only while it is off.
        pac::FLASH.acr().modify(|w| w.set_dcen(false));
        pac::FLASH.acr().modify(|w| w.set_dcrst(true));
        pac::FLASH.acr().modify(|w| w.set_dcrst(false));
        pac::FLASH.acr().modify(|w| w.set_dcen(true));
        !(status.operr() || status.progerr() || status.wrperr() || status.pgserr())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> bool {
        self.0.blocking_write(OFFSET + offset, bytes).is_ok()
    }

    fn read(&mut self, offset: u32, into: &mut [u8]) -> bool {
        faults::torn();
        let inside = self.0.blocking_read(OFFSET + offset, into).is_ok();
        // The interrupt has come before this is passed.
        asm::dsb();
        asm::isb();
        inside && !faults::torn()
    }
}
