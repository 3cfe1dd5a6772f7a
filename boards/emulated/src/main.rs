#![no_std]
#![no_main]
//! The firmware on an emulated board (Cortex-M4F, -M3, -M0 or RISC-V): replays `frames.bin` with `settings.bin`, both in the folder
//! where the emulator was started, and writes `reports.bin` there, and what its recorder captures. Where `shape.bin` is
//! there, a halving and a part after the trigger in a byte each, captures are of that shape; else they are thinned.
//!
//! Where `injected.bin` is there, frames come through the queue of an interrupt and something goes wrong with the board ([`life`]).
//!
//! It runs the very loop that a real board runs ([`shaftwork_app::App`]); only the converter, the pins
//! and the way out of the reports are files, variables and a counter. What it prints at the end, a key
//! and a number a line, is read by `cargo xtask qemu` and `cargo xtask budget`.

mod converter;
mod files;
mod frames;
mod lamp;
mod life;
mod log;
mod machine;
mod memory;

use core::panic::PanicInfo;

use semihosting::{eprintln, println, process};
use shaftwork_app::{Alarm, App, Outputs, Pins, Poll, panicking};
use shaftwork_core::Monitor;
use shaftwork_core::judge::notice::Begin;
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::injected::{Fault, Injected};
use shaftwork_report_bits::settings;

use converter::Converter;
use files::{Reader, Writer};
use frames::FileFrames;
use lamp::Lamp;
use log::Log;
use machine::{Load, entry};

#[entry]
fn main() -> ! {
    match run() {
        Ok(()) => process::exit(0),
        Err(why) => {
            eprintln!("error: {why}");
            process::exit(1)
        }
    }
}

fn run() -> Result<(), &'static str> {
    let mut buffer = [0; settings::MAX_BYTES];
    let read = Reader::open(c"settings.bin")?.fill(&mut buffer);
    let settings = settings::decode(&buffer[..read]).map_err(|_| "settings.bin holds no settings of this version")?;

    panicking::on_panic(Lamp::all_safe);
    let pins = Pins { relay: Lamp::RELAY, start: Lamp::START, feed: Lamp::FEED, wait: Lamp::WAIT, stop: Lamp::STOP };
    let outputs = Outputs::new(pins).map_err(|_| "a pin cannot be set")?;
    let outputs = (outputs, Alarm::new(Lamp::WELL).map_err(|_| "a pin cannot be set")?);
    let frames = FileFrames::open(c"frames.bin")?;
    let rate_mhz = settings.sampling.rate_mhz;
    let log = Log::new(Writer::create(c"reports.bin")?, rate_mhz, crc32(&buffer[..read]));
    let unusable = |_| "the settings are outside their ranges";
    if let Some(injected) = life::injected() {
        let begin = life::began();
        let injected = if begin == Begin::PowerOn { injected } else { Injected { fault: Fault::Nothing, ..injected } };
        life::tell("begin");
        let app = App::new(&settings, Converter::new(frames, injected)?, outputs, log, ()).map_err(unusable)?;
        let mut app = app.begun(begin);
        life::live(&mut app, injected, rate_mhz);
        life::tell("end");
        println!("frames {}", app.monitor().now().0 >> 16);
        return close(app.into_reports());
    }
    let app = App::new(&settings, frames, outputs, log, Load::new()).map_err(unusable)?;
    let mut app = app.with_recorder(memory::recorder(&settings)?);

    while app.poll() != Poll::Ended {}

    if let Some(wrong) = app.source().wrong() {
        eprintln!("error: frames.bin: {wrong}");
        return Err("frames.bin cannot be read to its end");
    }
    let load = app.probe().figures();
    println!("rate-mhz {rate_mhz}");
    println!("frames {}", load.frames);
    println!("calls {}", load.calls);
    println!("instructions {}", load.instructions);
    println!("worst-call {}", load.worst);
    println!("relay-changes {}", Lamp::RELAY.changes());
    println!("faults {}", u32::from(app.fault().is_some())); // frames were missing in the file
    println!("state-bytes {}", size_of::<Monitor>());
    println!("recorder-bytes {}", size_of::<memory::Memory>());
    println!("events {}", app.recorder().map_or(0, |recorder| recorder.log.next().wrapping_sub(1)));
    let log = app.into_reports();
    println!("captures {}", log.captures());
    close(log)
}

fn close(log: Log) -> Result<(), &'static str> {
    let (reports, digest, written) = log.close();
    written.map_err(|()| "reports.bin cannot be written")?;
    println!("reports {}", reports);
    println!("digest {:08x}", digest);
    Ok(())
}

#[panic_handler]
fn panic(info: &PanicInfo) -> ! {
    panicking::make_safe();
    eprintln!("{info}");
    life::panicked();
    process::exit(1)
}
