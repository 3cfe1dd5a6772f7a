#![no_std]
#![no_main]
//! An image that holds the core and next to nothing else, for looking at, not for running.
//!
//! Whatever can panic ends in the panic handler, and the handler calls a function with a name of its
//! own. The linker drops what nothing reaches. So when that name, and all of `core::panicking`, are
//! missing from the linked image, no path leads from the core to a panic. Every input goes through
//! `black_box`, so that the compiler can leave nothing out for knowing it. In the same way the image
//! shows whether anything of the core needs floating point, and how large the core and its state are.

#[cfg(feature = "app")]
mod app;
#[cfg(feature = "store")]
mod store;

use core::hint::black_box;
use core::panic::PanicInfo;
use core::sync::atomic::AtomicU8;

use cortex_m_rt::entry;
use shaftwork_core::Monitor;
#[cfg(not(feature = "app"))]
use shaftwork_core::recorder::{Capture, Log, Point, Recorder, Shape, Trend};
use shaftwork_core::settings::Settings;
#[cfg(not(feature = "app"))]
use shaftwork_core::{
    Event, EventKind, FeedInputs, Frame, Interval, Moment, Notice, settings::CHANNELS, time::Span, unit::Rpm,
};

/// Room for the core's state: the size of this symbol is what a board has to set aside.
/// Atomic bytes are variables: a constant would count as flash.
static SHAFTWORK_STATE: [AtomicU8; size_of::<Monitor>()] = [const { AtomicU8::new(0) }; size_of::<Monitor>()];

/// As a board has them: a constant, which the compiler must not look into.
static SETTINGS: Settings = Settings::example();

#[entry]
fn main() -> ! {
    black_box(&SHAFTWORK_STATE);
    let settings: &Settings = black_box(&SETTINGS);
    #[cfg(feature = "app")]
    if let Ok(c) = settings.build() {
        app::run(black_box(&mut Monitor::of(&c)));
    }
    #[cfg(not(feature = "app"))]
    alone(settings);
    loop {
        cortex_m::asm::nop();
    }
}

/// The core and its recorder.
#[cfg(not(feature = "app"))]
fn alone(settings: &Settings) {
    if let (Ok(mut monitor), Ok(c)) = (Monitor::new(settings), settings.build()) {
        let (mut entries, mut points, mut feeds) = ([None; 64], [Point::default(); 2_000], [0; 128]);
        let (mut frames, mut snapshots) = ([[0; CHANNELS]; 1_000], [None, None, None]);
        let mut recorder = Recorder {
            log: Log::new(black_box(&mut entries), black_box(1)),
            trend: Trend::new(&c.judge, black_box(&mut points), black_box(&mut feeds), black_box(1)),
            capture: Capture::new(black_box(&mut frames), black_box(&mut snapshots), black_box(Shape::whole(16))),
        };
        #[cfg(feature = "store")]
        store::drive(&mut monitor);
        #[cfg(feature = "commission")]
        black_box(shaftwork_commission::run(black_box(settings), black_box(0), &mut || black_box(true)));
        loop {
            drive(black_box(&mut monitor));
            record(black_box(&mut recorder), &mut monitor);
        }
    }
}

#[cfg(not(feature = "app"))]
#[inline(never)]
fn drive(monitor: &mut Monitor) {
    monitor.set_mass(black_box(0));
    monitor.set_speed(black_box(Some(Rpm::from_bits(0))));
    monitor.set_standstill(black_box(None));
    monitor.set_feed(black_box(FeedInputs::default()));
    monitor.note(black_box(Notice::StoreFails));
    match black_box(0) {
        0 => monitor.resume(&black_box(monitor.saved())),
        1 => monitor.gap(black_box(Span(0))),
        _ => {}
    }
    let _ = black_box((monitor.reset(black_box(true)), monitor.foretold()));
    if black_box(true) {
        monitor.ingest(&black_box([Frame([0; CHANNELS]); 8]));
    } else {
        let rest = black_box([Frame([0; CHANNELS]); 16]);
        // Any length, also those that `finish` is never given.
        monitor.finish(rest.get(..black_box(7)).unwrap_or(&[]));
    }
    black_box(monitor.take_moment());
    black_box(monitor.take_interval());
    black_box(monitor.pop_event());
    black_box(monitor.decision());
    black_box(monitor.totals());
    #[cfg(feature = "control")]
    {
        black_box(black_box(1_u32) / black_box(2_u32));
        black_box(black_box(1.0_f64) * black_box(2.0_f64));
    }
}

#[cfg(not(feature = "app"))]
#[inline(never)]
fn record(recorder: &mut Recorder<'_>, monitor: &mut Monitor) {
    recorder.block(&black_box([Frame([0; CHANNELS]); 8]), monitor);
    recorder.moment(&black_box(Moment::default()));
    recorder.interval(&black_box(Interval::default()));
    black_box(recorder.event(&black_box(Event { at: monitor.now(), kind: EventKind::Stop })));
    black_box(recorder.trend.points().next_back());
    black_box(recorder.log.after(black_box(3)).count());
    if let Some(still) = recorder.capture.record() {
        black_box(still.frames().last());
        if let Some(snapshot) = still.snapshot {
            monitor.restore(black_box(snapshot));
        }
    }
    recorder.capture.release();
}

/// The name that must not be in the image.
#[inline(never)]
#[allow(unsafe_code)] // the name is this crate's own; nothing else defines it
#[unsafe(no_mangle)]
extern "C" fn shaftwork_panic_reached() -> ! {
    loop {
        cortex_m::asm::nop();
    }
}

#[panic_handler]
fn panic(_: &PanicInfo) -> ! {
    shaftwork_panic_reached()
}
