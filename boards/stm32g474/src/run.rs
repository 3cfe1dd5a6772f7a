//! The loop: what is done for ever, once the mill may run.

use cortex_m::asm;
use embassy_stm32::gpio::Input;
use embassy_stm32::mode::Blocking;
use embassy_stm32::peripherals::IWDG;
use embassy_stm32::usart::UartTx;
use embassy_stm32::wdg::IndependentWatchdog;
use shaftwork_app::blocks::Taker;
use shaftwork_app::{Actuators, Answers, App, Panel, Poll, Recorded};
use shaftwork_stm32g474::bank::Patient;
use shaftwork_stm32g474::inputs::Inputs;
use shaftwork_stm32g474::lasting::{Lasting, Sag};
use shaftwork_stm32g474::line::{Latest, Line, State};
use shaftwork_stm32g474::reference::Minutes;
use shaftwork_stm32g474::timing;
use shaftwork_stm32g474::told::Cause;

use crate::converters::{self, Watched};
use crate::feeder::PulseTimer;
use crate::flash::SecondBank;
use crate::internal::Internal;
use crate::{TELLING, faults, safe, start};

type Contact = Input<'static>;
/// The app over what this board has.
pub type Mill<O> =
    App<'static, Inputs<Taker<'static>, PulseTimer, Contact>, O, Recorded<'static, Latest>, (), Patient<SecondBank>>;

/// What is asked and told beside the app, block by block.
pub struct Around {
    /// What persons press.
    pub panel: Panel<Contact, Contact, Contact, Contact, Contact>,
    /// The contactor's answer, where it is wired.
    pub contactor: Option<Contact>,
    /// The feeder's.
    pub feeder: Option<Contact>,
    /// Fed by blocks alone.
    pub watchdog: IndependentWatchdog<'static, IWDG>,
    /// The processor's own reference, and when it is compared.
    pub internal: (Internal, Minutes),
    /// The serial line.
    pub uart: UartTx<'static, Blocking>,
    /// What goes out on it.
    pub line: Line,
    /// Why the life before ended.
    pub before: Option<Cause>,
}

/// Never returns.
pub fn run<O: Actuators>(mut app: Mill<O>, mut around: Around) -> ! {
    let (mut half, mut supply) = (Lasting::new(50), Sag::new(2, 30_000)); // 30 000 blocks are 15 to 120 s
    let (mut blocks, mut told) = (0, None);
    loop {
        let poll = app.poll();
        if app.source().blocks() != blocks {
            blocks = app.source().blocks();
            around.watchdog.pet();
            around.ask(&mut app, &mut half);
            if supply.take(start::supply_is_low(), app.fault().is_some()) {
                // First: what follows may take longer than the supply lasts. A fault that stands wants a person in the life after.
                faults::leave(Some(app.fault().map_or(Cause::Supply, Cause::of_fault)));
                app.power_fails();
            }
            around.offer(&app, told);
        }
        around.line.pump(&mut around.uart);
        // Whatever a fault is followed by, the life after knows it.
        let fault = app.fault().map(Cause::of_fault);
        if fault != told {
            told = fault;
            TELLING.tell(fault);
            faults::leave(fault);
        }
        if poll == Poll::Idle {
            asm::wfi();
        }
    }
}

impl Around {
    /// Contacts, the panel and the references.
    fn ask<O: Actuators>(&mut self, app: &mut Mill<O>, half_lasts: &mut Lasting) {
        app.answers(Answers {
            contactor: self.contactor.as_ref().map(Input::is_high),
            feeder: self.feeder.as_ref().map(Input::is_high),
        });
        let Watched { hand, half } = converters::watched();
        // A reset that is refused, as while the rotor may turn, leaves the relay as it is: that is the answer.
        let _ = app.panel(&self.panel.read(timing::permille(hand)));
        if half_lasts.take(!timing::half(half)) {
            safe::stop(Cause::HalfReference);
        }
        let (internal, minutes) = &mut self.internal;
        if minutes.due() && minutes.take(internal.right()) {
            safe::stop(Cause::Reference);
        }
    }

    /// What waits goes out where the line is idle.
    fn offer<O: Actuators>(&mut self, app: &Mill<O>, told: Option<Cause>) {
        let number = |cause: Option<Cause>| cause.map_or(0, Cause::number);
        let Patient(store) = app.keeper();
        let (cause, before) = (number(told), number(self.before));
        let state = State { cause, before, well: app.healthy(), missed: store.missed() };
        let (log, latest) = (&app.reports().recorder().log, app.reports().reports());
        self.line.offer(app.monitor().now(), log, latest, state, || store.totals(app.monitor()));
    }
}
