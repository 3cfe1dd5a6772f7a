//! All that needs unsafe code: an interrupt let through, and the handlers of faults.
#![expect(
    unsafe_code,
    reason = "the hardware's crates want it to let an interrupt through, and of handlers that may be called at any time"
)]

use cortex_m::peripheral::NVIC;
use cortex_m_rt::{ExceptionFrame, exception};
use embassy_stm32::pac::Interrupt;

use crate::safe;

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

/// The crystal has stopped: the clock is another one now, and no sample's time is right.
#[exception]
unsafe fn NonMaskableInt() -> ! {
    // SAFETY: as above.
    safe::stop()
}
