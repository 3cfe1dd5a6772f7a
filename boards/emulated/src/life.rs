//! The board's loop while something goes wrong with it, and how its outputs stand in the end.
//!
//! The emulator's boards cannot tell what reset them: `begins.bin` stands for the processor's register that does.

use core::ffi::CStr;

use shaftwork_app::keeper::Keeper;
use shaftwork_app::outputs::Actuators;
use shaftwork_app::{App, FrameSource, Poll, Probe, Reports};
use shaftwork_core::Monitor;
use shaftwork_core::judge::notice::Begin;
use shaftwork_report_bits::injected::{Fault, Injected};
use shaftwork_store::wear::Policy;
use shaftwork_store::{Read, Store};

use crate::converter::Converter;
use crate::files::{self, Writer};
use crate::flash::{self, Flash};
use crate::frames::FileFrames;
use crate::lamp::Lamp;
use crate::log::Log;
use crate::machine::{reset, watchdog};
use crate::say;
use crate::whole::sum;

const REGISTER: &CStr = c"begins.bin";
const REASONS: [Begin; 5] = [Begin::PowerOn, Begin::BrownOut, Begin::Watchdog, Begin::Software, Begin::Pin];

/// What is to go wrong in this life, if anything.
pub fn injected() -> Option<Injected> {
    let mut bytes = [0; Injected::BYTES];
    let read = files::read(c"injected.bin", &mut bytes);
    Injected::decode(bytes.get(..read)?)
}

/// Why this life began. What was to go wrong in the one before does not again.
fn began() -> Begin {
    let mut reason = [0];
    let read = files::read(REGISTER, &mut reason);
    if read == 1 { REASONS.get(usize::from(reason[0])).copied().unwrap_or(Begin::Unknown) } else { Begin::PowerOn }
}

/// Leaves the reason for the next life.
fn leave(reason: Begin) {
    let index = REASONS.iter().position(|one| *one == reason).unwrap_or(REASONS.len());
    if let Ok(mut file) = Writer::create(REGISTER, &mut [0; 1]) {
        file.put(&[index as u8]);
        let _ = file.close(); // a reason that is missing is seen by whoever reads the log
    }
}

/// Whether nothing stands beside the monitor, neither recorder nor store: where `bare.bin` is there.
pub fn bare() -> bool {
    files::read(c"bare.bin", &mut [0]) > 0
}

/// One life with what is injected.
#[inline(never)]
pub fn run(
    monitor: &mut Monitor,
    injected: Injected,
    frames: FileFrames,
    outputs: impl Actuators,
    log: Log,
) -> Result<(), &'static str> {
    let begin = began();
    let keeps = matches!(injected.fault, Fault::StoreFails | Fault::SupplyFails);
    let injected = if begin == Begin::PowerOn { injected } else { Injected { fault: Fault::Nothing, ..injected } };
    tell("begin");
    let rate_mhz = monitor.rate_mhz();
    let mut app = App::new(monitor, Converter::new(frames, injected)?, outputs, log, ()).begun(begin);
    if !keeps {
        live(&mut app, injected, rate_mhz);
        tell("end");
        return crate::close(app.into_reports());
    }
    let (store, begun) = Store::mount(Flash::take()?, &flash::PLACES, Policy::Fram.every(rate_mhz))
        .map_err(|_| "flash.bin is of another firmware")?;
    let mut app = app.with_keeper(store);
    if let Read::Here(kept) = &begun.kept {
        app = app.resumed(&kept.saved); // else as the host replays it: nothing was before
    }
    say!("found-totals {}", begun.kept.here().map_or(0, |kept| sum(&kept.totals)));
    live(&mut app, injected, rate_mhz);
    tell("end");
    let totals = app.keeper().totals(app.monitor());
    say!("kept-totals {}", sum(&totals));
    say!("kept-joules {}", totals.electrical.joules);
    app.keeper().flash().leave()?;
    crate::close(app.into_reports())
}

/// Runs to the end of the frames, or until the fault ends it.
fn live<S, O, R, P, K>(app: &mut App<'_, S, O, R, P, K>, injected: Injected, rate_mhz: u32)
where
    S: FrameSource,
    O: Actuators,
    R: Reports,
    P: Probe,
    K: Keeper,
{
    let (mut due, mut clock) = (injected.fault != Fault::Nothing, 0);
    if injected.fault == Fault::LoopHangs {
        watchdog::start();
    }
    loop {
        watchdog::feed();
        if app.poll() == Poll::Ended {
            return;
        }
        let frames = app.monitor().now().0 >> 16;
        app.clock(1_700_000_000 + clock + (frames * 1_000 / u64::from(rate_mhz.max(1))) as i64);
        if due && frames >= u64::from(injected.at) {
            due = false;
            match injected.fault {
                Fault::ClockSet => clock = i64::from(injected.amount),
                Fault::SupplyFails => {
                    leave(Begin::BrownOut);
                    return app.power_fails();
                }
                Fault::LoopHangs => {
                    leave(Begin::Watchdog);
                    watchdog::hang();
                }
                Fault::Panics => {
                    leave(Begin::Software);
                    panic!("as was injected");
                }
                Fault::OutputFails => Lamp::RELAY.stick(),
                Fault::StoreFails => flash::fail(),
                _ => {}
            }
        }
    }
}

/// How the outputs stand.
pub fn tell(when: &str) {
    for (name, lamp) in [
        ("relay", Lamp::RELAY),
        ("start", Lamp::START),
        ("feed", Lamp::FEED),
        ("wait", Lamp::WAIT),
        ("stop", Lamp::STOP),
        ("well", Lamp::WELL),
    ] {
        say!("{when}-{name} {}", u32::from(lamp.high()));
    }
}

/// A panic in such a life: a board begins anew.
pub fn panicked() {
    if injected().is_some() {
        tell("panic");
        reset();
    }
}
