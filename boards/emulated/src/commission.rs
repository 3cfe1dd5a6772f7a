//! Every trip element tried by injection, where `commission.bin` is there: no trace is replayed, and `sheet.bin` is written.

use shaftwork_app::commission::inject;
use shaftwork_app::{Alarm, Outputs, Pins};
use shaftwork_report_bits::settings::MAX_BYTES;
use shaftwork_report_bits::sheet;

use crate::files::{self, BUFFERS, Writer};
use crate::lamp::Lamp;
use crate::{life, say};

/// Whether it is wanted.
pub fn wanted() -> bool {
    files::read(c"commission.bin", &mut [0]) > 0
}

/// Tries the elements, with the outputs blocked.
#[inline(never)] // what it needs is not there in a run of frames
pub fn run() -> Result<(), &'static str> {
    let settings = crate::settings(&mut [0; MAX_BYTES])?.0;
    let pins = Pins { relay: Lamp::RELAY, start: Lamp::START, feed: Lamp::FEED, wait: Lamp::WAIT, stop: Lamp::STOP };
    let outputs = Outputs::new(pins).map_err(|_| "a pin cannot be set")?;
    let mut outputs = (outputs, Alarm::new(Lamp::WELL).map_err(|_| "a pin cannot be set")?);
    let sheet = inject(&settings, &mut outputs, &mut || true).map_err(|_| "a pin cannot be set")?;
    let [buffer, ..] = BUFFERS.try_take().ok_or("the buffers are lent already")?;
    let mut file = Writer::create(c"sheet.bin", buffer)?;
    file.put(sheet::encode(&sheet, &mut [0; sheet::MAX_BYTES]));
    file.close().map_err(|()| "sheet.bin cannot be written")?;
    say!("rows {}", sheet.rows.len());
    say!("relay-changes {}", Lamp::RELAY.changes());
    life::tell("end");
    Ok(())
}
