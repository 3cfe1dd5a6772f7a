//! The loop of a board that takes everything but a recorder and a store, over pins and a converter that may do anything.

use core::convert::Infallible;
use core::hint::black_box;

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::pwm::{self, SetDutyCycle};
use shaftwork_app::blocks::Blocks;
use shaftwork_app::drive::Speed;
use shaftwork_app::panel::Contacts;
use shaftwork_app::{Alarm, Answers, App, Drive, Outputs, Panel, Pins, panicking};
use shaftwork_core::judge::notice::Begin;
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::{Frame, Monitor};

struct Pin;

impl digital::ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        black_box(false);
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        black_box(true);
        Ok(())
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(black_box(true))
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(black_box(true))
    }
}

impl pwm::ErrorType for Pin {
    type Error = Infallible;
}

impl SetDutyCycle for Pin {
    fn max_duty_cycle(&self) -> u16 {
        black_box(1_000)
    }
    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Infallible> {
        black_box(duty);
        Ok(())
    }
}

/// Runs for ever, or until a pin cannot be set.
#[inline(never)]
pub fn run(monitor: &mut Monitor) {
    let mut blocks = Blocks::<9>::new();
    let (mut filler, taker) = blocks.split();
    let pins = Pins { relay: Pin, start: Pin, feed: Pin, wait: Pin, stop: Pin };
    let (Ok(outputs), Ok(drive), Ok(alarm)) =
        (Outputs::new(pins), Drive::new(Pin, Speed::LiveZero, Pin, Pin), Alarm::new(Pin))
    else {
        return;
    };
    panicking::on_panic(|| _ = black_box(true));
    let contacts = Contacts { chain: Pin, permit: Pin, release: Pin, reset: Pin, manual: Pin };
    let mut panel = Panel::new(contacts, 10);
    let app = App::new(monitor, taker.silent_after(black_box(8)), ((outputs, drive), alarm), (), ());
    let mut app = app.begun(black_box(Begin::Watchdog));
    loop {
        filler.numbered(black_box(1), Frame(black_box([0; CHANNELS])));
        black_box(app.poll());
        app.answers(black_box(Answers::default()));
        let _ = black_box(app.panel(&panel.read(black_box(500))));
        app.clock(black_box(0));
        if black_box(false) {
            app.power_fails();
        }
    }
}
