//! What a larger board has beside the loop: a recorder and a store.

use shaftwork_app::{Actuators, App};
use shaftwork_core::Totals;
use shaftwork_core::settings::Coefficients;
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::{Report, report, settings as encoded};
use shaftwork_store::wear::Policy;
use shaftwork_store::{Change, Read, Store};

use crate::flash::{self, Flash};
use crate::frames::Paced;
use crate::log::Log;
use crate::machine::Load;
use crate::{Head, UNUSABLE, close, memory, replay, say, settings};

/// With a recorder and a store, whose flash is as the life before has left it.
#[inline(never)] // what it needs is not there in a run without them
pub fn run<O: Actuators>(
    app: App<'_, Paced, O, Log, Load>,
    built: &Coefficients,
    head: &Head,
    made: usize,
) -> Result<(), &'static str> {
    let app = app.with_recorder(memory::recorder(built, head.bits, head.rate_mhz)?);
    let settings = settings(&mut [0; encoded::MAX_BYTES])?.0;
    let (mut store, begun) = Store::mount(Flash::take()?, &flash::PLACES, Policy::Fram.every(head.rate_mhz))
        .map_err(|_| "flash.bin is of another firmware")?;
    if begun.settings != Read::Here(settings) {
        store.set(&settings).map_err(|_| UNUSABLE)?;
        // Whoever sets a board waits until it has acknowledged that: before, a power cut may lose what was set, and a trace may be shorter.
        while store.change() == Change::Busy {
            store.step(app.monitor());
        }
    }
    let mut app = app.with_keeper(store);
    if let Read::Here(kept) = &begun.kept {
        app = app.resumed(&kept.saved); // else as the host replays it: nothing was before
    }
    say!("found {}", u32::from(begun.kept.here().is_some()));
    say!("found-settings {}", u32::from(begun.settings == Read::Here(settings)));
    say!("found-trip {}", u32::from(app.monitor().decision().trip.is_some()));
    say!("found-totals {}", begun.kept.here().map_or(0, |kept| sum(&kept.totals)));
    replay(&mut app, head, made)?;
    say!("captures {}", app.reports().reports().captures());
    say!("recorder-bytes {}", size_of::<memory::Memory>());
    say!("events {}", app.reports().recorder().log.next().wrapping_sub(1));
    let totals = app.keeper().totals(app.monitor());
    say!("kept-totals {}", sum(&totals));
    say!("kept-joules {}", totals.electrical.joules);
    say!("kept-trip {}", u32::from(app.monitor().decision().trip.is_some()));
    say!("store-fails {}", u32::from(app.keeper().failing().is_some() || app.keeper().missed() > 0));
    app.keeper().flash().leave()?;
    close(app.into_reports().into_reports())
}

/// A number that tells totals apart: the check sum of their report.
pub fn sum(totals: &Totals) -> u32 {
    crc32(Report::Totals(*totals).encode(&mut [0; report::MAX_BYTES]))
}
