//! Commissioning on the board: every element tried by injection, then the outputs one by one under a person's hand, and the sheet on the serial line.
//!
//! It begins where the jumper is set when the processor starts, and never ends in a mill that runs: the jumper off and a reset do that. The converters are not
//! started. **Nothing is protected meanwhile**: [`shaftwork_app::commission`] says who may do this, and with what locked out.

use cortex_m::asm;
use embassy_stm32::Peri;
use embassy_stm32::gpio::Input;
use embassy_stm32::mode::Blocking;
use embassy_stm32::peripherals::IWDG;
use embassy_stm32::usart::UartTx;
use embassy_stm32::wdg::IndependentWatchdog;
use shaftwork_app::commission::{Prover, Walk, inject};
use shaftwork_app::{Actuators, Panel};
use shaftwork_core::{FeedMode, Settings};
use shaftwork_report_bits::sheet;
use shaftwork_stm32g474::line::Sheets;
use shaftwork_stm32g474::told::Cause;

use crate::{START_US, TELLING, WATCHDOG_US, safe};

type Contact = Input<'static>;

/// What the board has at hand for it.
pub struct Bench {
    /// "Release" shows an output while it is held; "reset" says that it did what it should, or, where the switch is on hand, that it did not.
    pub panel: Panel<Contact, Contact, Contact, Contact, Contact>,
    /// Unleashed already, and fed in every step: the long one while outputs are blocked, the short one where they have current.
    pub watchdog: Peri<'static, IWDG>,
    /// Where the sheet goes.
    pub uart: UartTx<'static, Blocking>,
}

/// Never returns.
pub fn run<O: Actuators + Walk>(settings: &Settings, mut outputs: O, mut bench: Bench) -> ! {
    TELLING.tell(Some(Cause::Injecting));
    let mut watchdog = IndependentWatchdog::new(bench.watchdog.reborrow(), START_US);
    let injected = inject(settings, &mut outputs, &mut || {
        watchdog.pet();
        true
    });
    let mut sheet = injected.unwrap_or_else(|_| safe::stop(Cause::Output));
    TELLING.tell(None); // an output that is shown is lit
    let mut bytes = [0; sheet::MAX_BYTES];
    let mut line = Sheets::new(sheet::encode(&sheet, &mut bytes));
    let mut watchdog = IndependentWatchdog::new(bench.watchdog, WATCHDOG_US); // a hang would leave an output on for as long
    watchdog.pet();
    let mut prover = Prover::new(outputs).unwrap_or_else(|_| safe::stop(Cause::Output));
    while prover.next().is_some() {
        let read = bench.panel.read(0);
        prover.button(read.feed.release).unwrap_or_else(|_| safe::stop(Cause::Output));
        if read.reset {
            prover.seen(read.feed.mode == FeedMode::Automatic);
        }
        line.pump(&mut bench.uart);
        watchdog.pet();
        asm::wfi();
    }
    prover.write(&mut sheet);
    let mut outputs = prover.end().unwrap_or_else(|_| safe::stop(Cause::Output));
    let mut bytes = [0; sheet::MAX_BYTES];
    let mut line = Sheets::new(sheet::encode(&sheet, &mut bytes));
    TELLING.tell(Some(if sheet.passed() { Cause::Proven } else { Cause::NotProven }));
    loop {
        outputs.safe().unwrap_or_else(|_| safe::stop(Cause::Output));
        line.pump(&mut bench.uart);
        watchdog.pet();
        asm::wfi();
    }
}
