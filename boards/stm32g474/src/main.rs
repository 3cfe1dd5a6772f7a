#![no_std]
#![no_main]
//! The firmware on a board with an STM32G474: for now one that links, with its lamp on stop.

use core::panic::PanicInfo;

use cortex_m_rt::entry;
use embassy_stm32::gpio::{Level, Output, Speed};
use embassy_stm32::interrupt;

#[entry]
fn main() -> ! {
    let p = embassy_stm32::init(embassy_stm32::Config::default());
    let _stop = Output::new(p.PC10, Level::High, Speed::Low);
    loop {
        cortex_m::asm::wfi();
    }
}

#[interrupt]
fn ADC1_2() {}

#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    loop {
        cortex_m::asm::nop();
    }
}
