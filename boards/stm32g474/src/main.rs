#![no_std]
#![no_main]
//! The firmware on a board with an STM32G474. **Compiled and linked, not run on hardware**; how the board is to be built, wired and
//! flashed: `docs/board-stm32g474.md`. A monitor and a process control, no safety function.
//!
//! ```text
//!  timer ─ 4 converters ─ interrupt: Filler ─[queue]─ Taker ─ Inputs ─ App::poll ─ relay, start, lamps, drive, alarm
//!                                                 tachometer, scale ─┘     ├─ panel
//!                                                                          ├─ store in the flash's second bank
//!                                                                          └─ recorder ─ serial line
//! ```
//!
//! The loop feeds the watchdog only while blocks arrive. After a reset that is not power's or a person's the outputs stay safe until a
//! person presses "reset", also where power dips before. Why they are safe the lamp "stop" tells ([`told`]), over a reset as well.

mod clock;
mod commission;
mod converters;
mod faults;
mod feeder;
mod flash;
mod internal;
mod run;
mod safe;
mod start;

use core::panic::PanicInfo;

use cortex_m::asm;
use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m_rt::{entry, exception};
use embassy_stm32::Peri;
use embassy_stm32::flash::Flash;
use embassy_stm32::gpio::{AnyPin, Input, Level, Output, Pull, Speed};
use embassy_stm32::peripherals::{ADC5, IWDG};
use embassy_stm32::usart::{self, UartTx};
use embassy_stm32::wdg::IndependentWatchdog;
use shaftwork_app::panel::Contacts;
use shaftwork_app::{Actuators, Alarm, App, Delays, Drive, Outputs, Panel, Pins, panicking};
use shaftwork_core::recorder::{Capture, Entry, Log, Point, Recorder, Shape, Trend};
use shaftwork_core::settings::Coefficients;
use shaftwork_core::{Monitor, Settings};
use shaftwork_stm32g474::bank::{Bank, Chip, Patient};
use shaftwork_stm32g474::inputs::{Inputs, Pulses};
use shaftwork_stm32g474::kept::{self, PLACES};
use shaftwork_stm32g474::line::{self, Latest, Line};
use shaftwork_stm32g474::reference::Minutes;
use shaftwork_stm32g474::settings::{self, INSTRUMENTS};
use shaftwork_stm32g474::tacho::Tacho;
use shaftwork_stm32g474::timing;
use shaftwork_stm32g474::told::{self, Cause, StopLamp, Telling};
use shaftwork_store::Store;
use static_cell::{ConstStaticCell, StaticCell};

use commission::Bench;
use converters::Inlets;
use feeder::{PulseTimer, SpeedOutput};
use flash::SecondBank;
use internal::Internal;
use run::Around;

/// The watchdog ends what takes longer, µs: its oscillator makes 94 to 109 ms of it (data sheet, from memory).
const WATCHDOG_US: u32 = 100_000;
/// The same until frames come or outputs are walked, while all outputs are safe: what was kept is looked for in 126 pages, and the newest of it
/// written anew.
const START_US: u32 = 8_000_000;
/// Looks in a row that find no block, after which the converters are silent. The loop looks when anything wakes it: between two blocks eight
/// rounds do so and at 2 kHz four or five ticks; where no round comes any more the ticks alone, so that it is 20 ms.
const SILENT_LOOKS: u32 = 20;
/// Without a pulse for so long the tachometer's speed is not known, ms.
const TACHO_PATIENCE_MS: u32 = 2_000;
/// For so long a contact of the scale is closed, and open before, for a pulse, ms: one of 10 ms has something left for a reading that comes late.
const PULSE_SETTLES_MS: u32 = 8;
/// For so long a contact of the panel is closed, and a button open before, ms.
const PANEL_SETTLES_MS: u16 = 20;

/// What the recorder is lent.
static RECORDED: ConstStaticCell<Lent> = ConstStaticCell::new(Lent::NEW);
/// What the lamp "stop" tells.
static TELLING: Telling = Telling::new();
/// The core's state: the largest thing here.
static MONITOR: StaticCell<Monitor> = StaticCell::new();

#[entry]
fn main() -> ! {
    let left = faults::left();
    let begin = told::begin(start::cause(), left);
    let before = Cause::of_life_before(begin, left);
    // Until the press: a supply that dips meanwhile does not take its place.
    faults::leave(before.map(Cause::until_pressed));
    panicking::on_panic(safe::outputs);
    let mut p = embassy_stm32::init(clock::config());
    let mut watchdog = IndependentWatchdog::new(p.IWDG.reborrow(), START_US);
    watchdog.unleash();
    start::watch_clock_and_supply();

    let low = |pin: Peri<'static, AnyPin>| Output::new(pin, Level::Low, Speed::Low);
    let outputs = Outputs::new(Pins {
        relay: low(p.PC6.into()),
        start: low(p.PC7.into()),
        feed: low(p.PC8.into()),
        wait: low(p.PC9.into()),
        stop: StopLamp::new(low(p.PC10.into()), &TELLING),
    });
    let speed = SpeedOutput::new(INSTRUMENTS.drive, p.TIM4, p.PB7, p.DAC1, p.PA4);
    let drive = Drive::new(speed, INSTRUMENTS.drive, low(p.PC11.into()), low(p.PC12.into()));
    let alarm = Alarm::new(low(p.PD2.into()));
    let (Ok(outputs), Ok(drive), Ok(alarm)) = (outputs, drive, alarm) else { safe::stop(Cause::Output) };
    let mut outputs = ((outputs, drive), alarm);
    let mut tick = cortex_m::Peripherals::take().expect("nobody else takes them").SYST;
    every_millisecond(&mut tick);

    // Pulled down: a broken wire is an open contact.
    let contact = |pin: Peri<'static, AnyPin>| Input::new(pin, Pull::Down);
    let contacts = Contacts {
        chain: contact(p.PC2.into()),
        permit: contact(p.PC3.into()),
        release: contact(p.PC4.into()),
        reset: contact(p.PC5.into()),
        manual: contact(p.PB0.into()),
    };
    let jumper = contact(p.PA3.into()); // long before it is read

    let internal = match checked(p.ADC5) {
        Ok(internal) => internal,
        Err(cause) => refuse(cause, &mut outputs, &mut watchdog),
    };
    let mut bank = SecondBank(Flash::new_blocking(p.FLASH));
    let (settings, built) = match flashed(&mut bank) {
        Ok(usable) => usable,
        Err(cause) => refuse(cause, &mut outputs, &mut watchdog),
    };
    let rate_mhz = settings.sampling.rate_mhz;

    let mut config = usart::Config::default();
    config.baudrate = line::BAUD;
    let uart = UartTx::new_blocking(p.USART2, p.PA2, config).expect("a rate that the clock gives");
    let blocks_in = |ms| timing::blocks_in(ms, rate_mhz);
    let mut panel = Panel::new(contacts, PANEL_SETTLES_MS); // read by the tick of 1 ms until blocks come
    if jumper.is_high() {
        commission::run(&settings, outputs, Bench { panel, watchdog: p.IWDG, uart });
    }
    TELLING.tell(before);
    while before.is_some() && !panel.read(0).reset {
        outputs.safe().unwrap_or_else(|_| safe::stop(Cause::Output));
        watchdog.pet();
        asm::wfi();
    }
    TELLING.tell(None);
    faults::leave(None);

    // After a person's press, so that a fault that comes again wears out no flash.
    let Ok((store, found)) = Store::mount(Bank::new(bank), &PLACES, kept::every(rate_mhz)) else {
        refuse(Cause::StoreLayout, &mut outputs, &mut watchdog)
    };
    let monitor = MONITOR.init_with(|| Monitor::of(&built));
    let mut watchdog = IndependentWatchdog::new(p.IWDG, WATCHDOG_US); // unleashed already
    watchdog.pet();

    let pulse_timer = PulseTimer::new(p.TIM5, p.PA0);
    let taker = converters::start(
        rate_mhz,
        p.TIM2,
        (p.ADC1, p.ADC2, p.ADC3, p.ADC4),
        Inlets { va: p.PC0, vb: p.PC1, ia: p.PA6, ib: p.PA7, vc: p.PB1, hand: p.PB13, ic: p.PB12, half: p.PB14 },
    );
    let mut source = Inputs::new(taker.silent_after(SILENT_LOOKS));
    if let Some(pulses) = INSTRUMENTS.pulses_per_turn {
        source = source.with_tacho(pulse_timer, Tacho::new(pulses, blocks_in(TACHO_PATIENCE_MS) as u16)); // at most 4 000
    }
    if let Some(mg) = INSTRUMENTS.pulse_mg {
        let pulses = Pulses::new(contact(p.PB10.into()), blocks_in(PULSE_SETTLES_MS) as u16); // at most 16
        source = source.with_mass(pulses, mg);
    }
    let app = App::new(monitor, source, outputs, Latest::default(), ())
        .with_keeper(Patient(store))
        .with_recorder(RECORDED.take().recorder(&built));
    let delays = Delays { contactor: blocks_in(500), feeder: blocks_in(4_000) };
    let app = app.begun(begin).with_delays(delays).remembering(&found);
    let around = Around {
        panel: panel.anew(blocks_in(PANEL_SETTLES_MS.into()) as u16), // at most 40
        contactor: INSTRUMENTS.contactor.then(|| contact(p.PB11.into())),
        feeder: INSTRUMENTS.feeder.then(|| contact(p.PB15.into())),
        watchdog,
        internal: (internal, Minutes::new(blocks_in(60_000))),
        uart,
        line: Line::new(rate_mhz),
        before,
    };
    run::run(app, around)
}

/// Wakes the loop, so that it hears of converters that are silent.
fn every_millisecond(tick: &mut SYST) {
    tick.set_clock_source(SystClkSource::Core);
    tick.set_reload(timing::TIMER_HZ / 1_000 - 1);
    tick.clear_current();
    tick.enable_counter();
    tick.enable_interrupt();
}

#[exception]
fn SysTick() {
    TELLING.tick();
}

/// 64 events, and for what came before them 20 s of half cycles at 50 Hz and 26 s of the feed. No waveforms: the line is too slow for them.
struct Lent {
    events: [Option<Entry>; 64],
    points: [Point; 2_000],
    feeds: [u16; 128],
}

impl Lent {
    const NEW: Self = Self { events: [None; 64], points: [Point::from_bits(0); 2_000], feeds: [0; 128] };

    fn recorder(&'static mut self, built: &Coefficients) -> Recorder<'static> {
        Recorder {
            log: Log::new(&mut self.events, 1),
            trend: Trend::new(&built.judge, &mut self.points, &mut self.feeds, 1),
            capture: Capture::new(&mut [], &mut [], Shape::whole(timing::BITS)),
        }
    }
}

/// Option bits and the reference are as the page says.
fn checked(adc: Peri<'static, ADC5>) -> Result<Internal, Cause> {
    if !start::options_are_set() {
        return Err(Cause::Options);
    }
    if !start::flash_is_in_two_banks() {
        return Err(Cause::Banks);
    }
    let mut internal = Internal::new(adc);
    if internal.right() { Ok(internal) } else { Err(Cause::Reference) }
}

/// The settings that a person has flashed, and what they come to.
fn flashed(bank: &mut SecondBank) -> Result<(Settings, Coefficients), Cause> {
    let mut bytes = [0; settings::BYTES];
    if !bank.read(0, &mut bytes) {
        return Err(Cause::SettingsUnreadable);
    }
    let settings = settings::read(&bytes).map_err(Cause::of_settings)?;
    let built = settings.build().map_err(|_| Cause::SettingsOther)?;
    Ok((settings, built))
}

/// Runs no mill: tells why, for ever. A person has to put it right and to reset the processor.
fn refuse(cause: Cause, outputs: &mut impl Actuators, watchdog: &mut IndependentWatchdog<'_, IWDG>) -> ! {
    TELLING.tell(Some(cause));
    loop {
        outputs.safe().unwrap_or_else(|_| safe::stop(Cause::Output));
        watchdog.pet();
        asm::wfi();
    }
}

/// Makes the outputs safe and waits for the watchdog.
#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    safe::stop(Cause::Panicked)
}
