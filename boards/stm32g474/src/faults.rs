//! All that needs unsafe code: an interrupt let through, and the handlers of faults.
#![expect(
    unsafe_code,
    reason = "the hardware's crates want it to let an interrupt through, and of handlers that may be called at any time"
)]

use core::sync::atomic::{AtomicBool, Ordering};

use cortex_m::peripheral::NVIC;
use cortex_m_rt::{ExceptionFrame, exception};
use embassy_stm32::pac;
use embassy_stm32::pac::Interrupt;

use crate::safe;

/// Something in the second bank could not be read.
static TORN: AtomicBool = AtomicBool::new(false);

/// Whether anything in the second bank could not be read since this was asked last.
pub fn torn() -> bool {
    TORN.swap(false, Ordering::Relaxed)
}

/// Lets the converters' interrupt through.
pub fn unmask_converters() {
    // SAFETY: called outside of critical sections, none of which counts on a mask; what the handler shares with the loop lies in a mutex.
    unsafe { NVIC::unmask(Interrupt::ADC1_2) };
}

/// A wrong address, a wrong instruction. (The start-up code wants this handler to be an unsafe function.)
#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    // SAFETY of being called at any time: it writes registers of pins, switches interrupts off and never returns.
    safe::stop()
}

/// The crystal has stopped: the clock is another one now, and no sample's time is right. Or the flash has something that its code for error correction cannot
/// mend: in the second bank that is for the store to know; in the first it is the program.
#[exception]
unsafe fn NonMaskableInt() {
    // SAFETY of being called at any time: it writes registers and an atomic, or never returns.
    let code = pac::FLASH.eccr().read();
    if pac::RCC.cifr().read().cssf() || !code.eccd() || !code.bk_ecc() || code.sysf_ecc() {
        safe::stop()
    }
    pac::FLASH.eccr().modify(|w| {
        w.set_eccc(false); // a one would clear it
        w.set_eccd(true); // clears it
    });
    TORN.store(true, Ordering::Relaxed);
}
