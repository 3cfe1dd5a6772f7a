#![no_std]
#![no_main]
//! The firmware on an emulated board (Cortex-M4F, -M3, -M0 or RISC-V): replays `frames.bin` with `settings.bin`, both in the folder
//! where the emulator was started, and writes `reports.bin` there, and what its recorder captures. Where `shape.bin` is
//! there, a halving and a part after the trigger in a byte each, captures are of that shape; else they are thinned.
//!
//! Where `injected.bin` is there, frames come through the queue of an interrupt and something goes wrong with the board ([`life`]).
//!
//! What outlasts a power cut is kept in a flash that is a file: it begins with `flash.bin`, where that is there, and is left as
//! `flash-after.bin` when the power goes, at the end of the frames.
//!
//! It runs the very loop that a real board runs ([`shaftwork_app::App`]); only the converter, the pins
//! and the way out of the reports are files, variables and a counter. What it prints at the end, a key
//! and a number a line, is read by `cargo xtask qemu` and `cargo xtask budget`.

mod converter;
mod files;
mod flash;
mod frames;
mod lamp;
mod life;
mod log;
mod machine;
mod memory;

use core::panic::PanicInfo;

use semihosting::{eprintln, println, process};
use shaftwork_app::{Alarm, App, Outputs, Pins, Poll, panicking};
use shaftwork_core::judge::notice::Begin;
use shaftwork_core::{Monitor, Totals};
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::injected::{Fault, Injected};
use shaftwork_report_bits::{Report, report, settings};
use shaftwork_store::wear::Policy;
use shaftwork_store::{Read, Store};

use converter::Converter;
use files::{Reader, Writer};
use flash::Flash;
use frames::{FileFrames, Paced};
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
    let (mut store, begun) = Store::mount(Flash::take()?, &flash::PLACES, Policy::Fram.every(rate_mhz))
        .map_err(|_| "flash.bin is of another firmware")?;
    if begun.settings != Read::Here(settings) {
        store.set(&settings).map_err(|_| "the settings are outside their ranges")?;
    }
    let app = App::new(&settings, Paced::new(frames), outputs, log, Load::new()).map_err(unusable)?;
    let mut app = app.with_recorder(memory::recorder(&settings)?).with_keeper(store);
    if let Read::Here(kept) = &begun.kept {
        app = app.resumed(&kept.saved); // else as the host replays it: nothing was before
    }
    println!("found {}", u32::from(begun.kept.here().is_some()));
    println!("found-settings {}", u32::from(begun.settings == Read::Here(settings)));
    println!("found-trip {}", u32::from(app.monitor().decision().trip.is_some()));
    println!("found-totals {}", begun.kept.here().map_or(0, |kept| sum(&kept.totals)));

    while app.poll() != Poll::Ended {}

    if let Some(wrong) = app.source().frames().wrong() {
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
    let totals = app.keeper().totals(app.monitor());
    println!("kept-totals {}", sum(&totals));
    println!("kept-joules {}", totals.electrical.joules);
    println!("kept-trip {}", u32::from(app.monitor().decision().trip.is_some()));
    println!("store-fails {}", u32::from(app.keeper().failing().is_some() || app.keeper().missed() > 0));
    app.keeper().flash().leave()?;
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

/// A number that tells totals apart: the check sum of their report.
fn sum(totals: &Totals) -> u32 {
    crc32(Report::Totals(*totals).encode(&mut [0; report::MAX_BYTES]))
}

#[panic_handler]
fn panic(info: &PanicInfo) -> ! {
    panicking::make_safe();
    eprintln!("{info}");
    life::panicked();
    process::exit(1)
}
