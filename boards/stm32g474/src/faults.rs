//! All that needs unsafe code: an interrupt let through, the handlers of faults, and memory that a reset leaves as it is.
#![expect(
    unsafe_code,
    reason = "the hardware's crates want it to let an interrupt through, and of handlers that may be called at any time; memory that nobody initialises"
)]

use core::mem::MaybeUninit;
use core::sync::atomic::{AtomicBool, Ordering};

use cortex_m::peripheral::NVIC;
use cortex_m_rt::{ExceptionFrame, exception};
use embassy_stm32::pac;
use embassy_stm32::pac::Interrupt;
use shaftwork_stm32g474::told::{self, Cause};

use crate::safe;

/// What the life before has left. The start-up code writes nothing into this section.
#[unsafe(link_section = ".uninit.left")]
static mut LEFT: MaybeUninit<[u32; 2]> = MaybeUninit::uninit();

/// Leaves why the outputs are safe, for the life after a reset; `None`: they are not, or nobody knows.
pub fn leave(cause: Option<Cause>) {
    let at = (&raw mut LEFT).cast::<[u32; 2]>();
    // SAFETY: it lies there and is aligned. The loop writes, and a fault's handler, which never returns: so nobody goes on writing in between.
    unsafe { at.write_volatile(told::words(cause)) };
}

/// What the life before has left: asked once, before anything is left in this one.
pub fn left() -> Option<Cause> {
    let at = (&raw const LEFT).cast::<[u32; 2]>();
    // SAFETY: as above. Any bits are numbers, and volatile, so that the compiler takes them as they are; what power left there is told from what was written.
    told::left(unsafe { at.read_volatile() })
}

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
    // SAFETY of being called at any time: it writes registers of pins and the cause, switches interrupts off and never returns.
    safe::stop(Cause::Processor)
}

/// The crystal has stopped: the clock is another one now, and no sample's time is right. Or the flash has something that its code for error correction cannot
/// mend: in the second bank that is for the store to know; in the first it is the program.
#[exception]
unsafe fn NonMaskableInt() {
    // SAFETY of being called at any time: it writes registers and an atomic, or never returns.
    let code = pac::FLASH.eccr().read();
    if pac::RCC.cifr().read().cssf() {
        safe::stop(Cause::Crystal)
    }
    if !code.eccd() || !code.bk_ecc() || code.sysf_ecc() {
        safe::stop(Cause::ProgramMemory)
    }
    pac::FLASH.eccr().modify(|w| {
        w.set_eccc(false); // a one would clear it
        w.set_eccd(true); // clears it
    });
    TORN.store(true, Ordering::Relaxed);
}
