//! Why the processor starts, and what is watched from then on.

use embassy_stm32::pac;
use shaftwork_core::judge::notice::Begin;

/// What reset the processor: reads it and clears it. To be called first.
///
/// Power that comes and power that sags have one flag here.
pub fn cause() -> Begin {
    let flags = pac::RCC.csr().read();
    pac::RCC.csr().modify(|w| w.set_rmvf(true));
    pac::RCC.csr().modify(|w| w.set_rmvf(false));
    // Each reset pulls the pin as well, so that its flag is asked last.
    if flags.iwdgrstf() || flags.wwdgrstf() {
        Begin::Watchdog
    } else if flags.borrstf() {
        Begin::PowerOn
    } else if flags.lpwrrstf() {
        Begin::Unknown // a low-power mode that is never entered
    } else if flags.sftrstf() {
        Begin::Software
    } else if flags.oblrstf() || flags.pinrstf() {
        Begin::Pin
    } else {
        Begin::Unknown
    }
}

/// Level 4 of the brown-out reset, about 2.8 V (RM0440, from memory).
const BROWN_OUT_LEVEL: u8 = 4;

/// Whether the option bits are as the page says: brown-out level, and no pin that may choose the boot loader instead of this program.
pub fn options_are_set() -> bool {
    let options = pac::FLASH.optr().read();
    options.bor_lev() == BROWN_OUT_LEVEL && !options.n_swboot0() && options.n_boot0()
}

/// Whether the flash is in two banks and the first is the one that is started: else the store's pages would be the program's.
pub fn flash_is_in_two_banks() -> bool {
    let options = pac::FLASH.optr().read();
    options.dbank() && !options.bfb2()
}

/// Level 6 of the detector, about 2.9 V (data sheet, from memory): above what the reference of 2.5 V and the brown-out reset want.
const SUPPLY_LEVEL: u8 = 6;

/// From here on a crystal that stops raises [`crate::faults`], and the supply is compared.
pub fn watch_clock_and_supply() {
    pac::RCC.cr().modify(|w| w.set_csson(true));
    pac::PWR.cr2().modify(|w| {
        w.set_pls(SUPPLY_LEVEL);
        w.set_pvde(true);
    });
}

/// Whether the supply is below the detector's level.
pub fn supply_is_low() -> bool {
    pac::PWR.sr2().read().pvdo()
}
