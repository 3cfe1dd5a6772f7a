#![no_std]
#![no_main]
//! The firmware on an emulated board (Cortex-M4F, -M3, -M0 or RISC-V): replays `frames.bin` with `settings.bin`, both in the folder
//! where the emulator was started, and writes `reports.bin` there, and what its recorder captures. Where `shape.bin` is
//! there, a halving and a part after the trigger in a byte each, captures are of that shape; else they are thinned.
//!
//! Where `commission.bin` is there, no trace is replayed: every trip element is tried by injection, and `sheet.bin` is written.
//!
//! Where `injected.bin` is there, frames come through the queue of an interrupt and something goes wrong with the board ([`life`]).
//!
//! What outlasts a power cut is kept in a flash that is a file: it begins with `flash.bin`, where that is there, and is left as
//! `flash-after.bin` when the power goes, at the end of the frames.
//!
//! With the feature `small` it does without all that, for a board with 16 KiB of RAM: it replays, and writes the reports.
//!
//! It runs the very loop that a real board runs ([`shaftwork_app::App`]); only the converter, the pins
//! and the way out of the reports are files, variables and a counter. What it prints at the end, a key
//! and a number a line, is read by `cargo xtask qemu` and `cargo xtask budget`.

#[cfg(not(feature = "small"))]
mod commission;
#[cfg(not(feature = "small"))]
mod converter;
mod files;
#[cfg(not(feature = "small"))]
mod flash;
mod frames;
mod lamp;
#[cfg(not(feature = "small"))]
mod life;
mod log;
mod machine;
#[cfg(not(feature = "small"))]
mod memory;
#[cfg(not(feature = "small"))]
mod whole;

use core::panic::PanicInfo;

use semihosting::{eprintln, process};
use shaftwork_app::keeper::Keeper;
use shaftwork_app::{Actuators, Alarm, App, Outputs, Pins, Poll, Reports, panicking};
use shaftwork_core::settings::{Coefficients, Sampling};
use shaftwork_core::{Monitor, Settings};
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::settings;

use files::{BUFFERS, Writer};
use frames::{FileFrames, Paced};
use lamp::Lamp;
use log::Log;
use machine::{Load, entry, stack};

/// A line of figures: not where deferred logs go.
macro_rules! say {
    ($($words:tt)*) => {
        if cfg!(feature = "defmt") { semihosting::eprintln!($($words)*) } else { semihosting::println!($($words)*) }
    };
}
pub(crate) use say;

#[cfg(feature = "defmt")]
use defmt_semihosting as _;

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

#[inline(never)] // what it needs is not in the way of what a panic needs
fn run() -> Result<(), &'static str> {
    stack::paint();
    panicking::on_panic(Lamp::all_safe);
    #[cfg(not(feature = "small"))]
    if commission::wanted() {
        return commission::run();
    }
    // Looked at where it is: the compiler would make a copy of what is taken out.
    let found = built();
    let (built, head) = found.as_ref().map_err(|why| *why)?;
    let made = stack::deepest();
    stack::paint();
    work(built, head, made)
}

/// What is known when the work begins.
struct Head {
    /// CRC-32 of `settings.bin`.
    crc: u32,
    /// Frames a second, mHz.
    rate_mhz: u32,
    bits: u8,
}

/// Puts things together and lets them run; `made` is how deep the stack was before. Not inlined, as the function before: its memory is needed after that one's.
#[inline(never)]
fn work(built: &Coefficients, head: &Head, made: usize) -> Result<(), &'static str> {
    let [frames, reports, spare] = BUFFERS.try_take().ok_or("the buffers are lent already")?;
    let pins = Pins { relay: Lamp::RELAY, start: Lamp::START, feed: Lamp::FEED, wait: Lamp::WAIT, stop: Lamp::STOP };
    let outputs = Outputs::new(pins).map_err(|_| "a pin cannot be set")?;
    let outputs = (outputs, Alarm::new(Lamp::WELL).map_err(|_| "a pin cannot be set")?);
    let frames = FileFrames::open(c"frames.bin", frames)?;
    let log = Log::new(Writer::create(c"reports.bin", reports)?, spare, head.rate_mhz, head.crc);
    let monitor = &mut Monitor::of(built);
    #[cfg(not(feature = "small"))]
    if let Some(injected) = life::injected() {
        return life::run(monitor, injected, frames, outputs, log);
    }
    let app = App::new(monitor, Paced::new(frames), outputs, log, Load::new());
    #[cfg(not(feature = "small"))]
    if !life::bare() {
        return whole::run(app, built, head, made);
    }
    bare(app, head, made)
}

/// Without recorder and store: what the smallest board does.
#[inline(never)]
fn bare<O: Actuators>(mut app: App<'_, Paced, O, Log, Load>, head: &Head, made: usize) -> Result<(), &'static str> {
    replay(&mut app, head, made)?;
    say!("captures {}", app.reports().captures());
    close(app.into_reports())
}

/// Replays all frames and says what was found.
fn replay<O: Actuators, R: Reports, K: Keeper>(
    app: &mut App<'_, Paced, O, R, Load, K>,
    head: &Head,
    made: usize,
) -> Result<(), &'static str> {
    while app.poll() != Poll::Ended {}

    if let Some(wrong) = app.source().frames().wrong() {
        eprintln!("error: frames.bin: {wrong}");
        return Err("frames.bin cannot be read to its end");
    }
    let load = app.probe().figures();
    say!("rate-mhz {}", head.rate_mhz);
    say!("frames {}", load.frames);
    say!("calls {}", load.calls);
    say!("instructions {}", load.instructions);
    say!("worst-call {}", load.worst);
    say!("relay-changes {}", Lamp::RELAY.changes());
    say!("faults {}", u32::from(app.fault().is_some())); // frames were missing in the file
    say!("state-bytes {}", size_of::<Monitor>());
    say!("stack-made {made}");
    say!("stack-at-work {}", stack::deepest());
    say!("untouched {}", stack::untouched());
    Ok(())
}

/// What cannot be done with the settings.
const UNUSABLE: &str = "the settings are outside their ranges";

/// What the settings come to. Not inlined: their own memory is needed here alone.
#[inline(never)]
fn built() -> Result<(Coefficients, Head), &'static str> {
    let (settings, crc) = settings(&mut [0; settings::MAX_BYTES])?;
    let built = settings.build().map_err(|_| UNUSABLE)?;
    let Sampling { rate_mhz, bits, .. } = settings.sampling;
    Ok((built, Head { crc, rate_mhz, bits }))
}

/// The settings, and the CRC-32 of their bytes.
fn settings(buffer: &mut [u8; settings::MAX_BYTES]) -> Result<(Settings, u32), &'static str> {
    let read = files::read(c"settings.bin", buffer);
    let bytes = &buffer[..read];
    let settings =
        settings::decode(bytes).map_err(|_| "settings.bin holds no settings of this version, or was changed")?;
    Ok((settings, crc32(bytes)))
}

/// Ends the reports.
fn close(log: Log) -> Result<(), &'static str> {
    let (reports, digest, written) = log.close();
    written.map_err(|()| "reports.bin cannot be written")?;
    say!("reports {}", reports);
    say!("digest {:08x}", digest);
    Ok(())
}

#[panic_handler]
fn panic(info: &PanicInfo) -> ! {
    panicking::make_safe();
    eprintln!("{info}");
    #[cfg(not(feature = "small"))]
    life::panicked();
    process::exit(1)
}
