#![no_std]
#![no_main]
//! The firmware on an emulated board: replays `frames.bin` with `settings.bin`, both in the folder
//! where the emulator was started, and writes `reports.bin` there, and what its recorder captures. Where `shape.bin` is
//! there, a halving and a part after the trigger in a byte each, captures are of that shape; else they are thinned.
//!
//! It runs the very loop that a real board runs ([`shaftwork_app::App`]); only the converter, the pins
//! and the way out of the reports are files, variables and a counter. What it prints at the end, a key
//! and a number a line, is read by `cargo xtask qemu` and `cargo xtask budget`.

mod files;
mod frames;
mod lamp;
mod load;
mod log;
mod memory;

use core::panic::PanicInfo;

use cortex_m::singleton;
use cortex_m_rt::entry;
use cortex_m_semihosting::{debug, heprintln, hprintln};
use shaftwork_app::{App, Outputs, Pins, Poll, panicking};
use shaftwork_core::recorder::Shape;
use shaftwork_core::{Monitor, Settings};
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::settings;

use files::{Reader, Writer};
use frames::FileFrames;
use lamp::Lamp;
use load::Load;
use log::Log;
use memory::Memory;

#[entry]
fn main() -> ! {
    match run() {
        Ok(()) => debug::exit(debug::EXIT_SUCCESS),
        Err(why) => {
            heprintln!("error: {}", why);
            debug::exit(debug::EXIT_FAILURE);
        }
    }
    loop {
        cortex_m::asm::wfi();
    }
}

fn run() -> Result<(), &'static str> {
    let peripherals = cortex_m::Peripherals::take().ok_or("the peripherals are taken already")?;
    let mut buffer = [0; settings::MAX_BYTES];
    let read = Reader::open("settings.bin")?.fill(&mut buffer);
    let settings = settings::decode(&buffer[..read]).map_err(|_| "settings.bin holds no settings of this version")?;

    panicking::on_panic(Lamp::all_safe);
    let pins = Pins { relay: Lamp::RELAY, start: Lamp::START, feed: Lamp::FEED, wait: Lamp::WAIT, stop: Lamp::STOP };
    let outputs = Outputs::new(pins).map_err(|_| "a pin cannot be set")?;
    let source = FileFrames::open("frames.bin")?;
    let rate_mhz = settings.sampling.rate_mhz;
    let log = Log::new(Writer::create("reports.bin")?, rate_mhz, crc32(&buffer[..read]));
    let memory = singleton!(: Memory = Memory::new()).ok_or("the recorder's memory is lent already")?;
    let recorder = memory.recorder(&settings, shape(&settings)).map_err(|_| "the settings are outside their ranges")?;
    let load = Load::new(peripherals.SYST);
    let mut app =
        App::new(&settings, source, outputs, log, load).map_err(|_| "the settings are outside their ranges")?;
    app = app.with_recorder(recorder);

    while app.poll() != Poll::Ended {}

    if let Some(wrong) = app.source().wrong() {
        heprintln!("error: frames.bin: {}", wrong);
        return Err("frames.bin cannot be read to its end");
    }
    let load = app.probe().figures();
    hprintln!("frames {}", load.frames);
    hprintln!("calls {}", load.calls);
    hprintln!("instructions {}", load.instructions);
    hprintln!("worst-call {}", load.worst);
    hprintln!("relay-changes {}", Lamp::RELAY.changes());
    hprintln!("faults {}", u32::from(app.fault().is_some())); // frames were missing in the file
    hprintln!("state-bytes {}", size_of::<Monitor>());
    hprintln!("recorder-bytes {}", size_of::<Memory>());
    hprintln!("events {}", app.recorder().map_or(0, |recorder| recorder.log.next().wrapping_sub(1)));
    let log = app.into_reports();
    hprintln!("captures {}", log.captures());
    let (reports, digest, written) = log.close();
    written.map_err(|()| "reports.bin cannot be written")?;
    hprintln!("reports {}", reports);
    hprintln!("digest {:08x}", digest);
    Ok(())
}

/// What captures keep.
fn shape(settings: &Settings) -> Shape {
    let mut bytes = [0; 2];
    let shape = Shape::thinned(settings.sampling.bits, settings.sampling.rate_mhz);
    let read = Reader::open("shape.bin").map_or(0, |mut file| file.fill(&mut bytes));
    if read == bytes.len() { Shape { halvings: bytes[0], after: bytes[1], ..shape } } else { shape }
}

#[panic_handler]
fn panic(info: &PanicInfo) -> ! {
    panicking::make_safe();
    heprintln!("{}", info);
    debug::exit(debug::EXIT_FAILURE);
    loop {
        cortex_m::asm::wfi();
    }
}
