//! The safe state without the pins' owner: by registers, in a panic or a fault.

use cortex_m::asm;
use embassy_stm32::pac;
use embassy_stm32::pac::gpio::vals::Moder;
use shaftwork_app::panicking;
use shaftwork_stm32g474::told::Cause;

use crate::faults;

/// Relay, start contact, lamps "feed" and "wait", direction, sounder: on port C.
const LOW: [usize; 6] = [6, 7, 8, 9, 11, 12];
/// Lamp "stop", on port C.
const STOP: usize = 10;
/// Alarm, on port D.
const ALARM: usize = 2;
/// The duty cycle's pin, on port B.
const DUTY: usize = 7;

/// Writes all outputs. A pin that is not set up yet stays as a reset leaves it, which is safe as well.
pub fn outputs() {
    pac::GPIOC.bsrr().write(|w| {
        for pin in LOW {
            w.set_br(pin, true);
        }
        w.set_bs(STOP, true);
    });
    pac::GPIOD.bsrr().write(|w| w.set_br(ALARM, true));
    pac::DAC1.dhr12r(0).write(|w| w.set_dhr(0));
    // Taken from the timer, which would end its cycle first.
    pac::GPIOB.bsrr().write(|w| w.set_br(DUTY, true));
    pac::GPIOB.moder().modify(|w| w.set_moder(DUTY, Moder::OUTPUT));
}

/// Makes the outputs safe, leaves the cause for the life after and waits for the watchdog. Interrupts are off, so that nothing sets a pin again.
pub fn stop(cause: Cause) -> ! {
    cortex_m::interrupt::disable();
    panicking::make_safe();
    faults::leave(Some(cause));
    loop {
        asm::nop();
    }
}
