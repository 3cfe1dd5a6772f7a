//! A trace through the core for one listener: what verbs have in common that measure a trace and make no report of it.
//! None of them is served by power that is estimated.

use anyhow::Context as _;
use shaftwork_core::{Monitor, Settings as CoreSettings};

use crate::convert::Converter;
use crate::error::Fault;
use crate::fit;
use crate::replay::drive::{self, Core, Listener};
use crate::replay::rms::Rms;
use crate::replay::side::Side;
use crate::replay::source::Source;
use crate::settings::{Settings, Values};

/// Opens the trace, makes the listener from what the core is told and the rate in Hz, and gives it back after the last frame.
///
/// # Errors
/// Trace or settings are at fault, or the listener refuses.
pub fn listen<L: Listener>(
    trace: &str,
    settings: &Settings,
    accept_short: bool,
    make: impl FnOnce(&CoreSettings, f64) -> L,
) -> anyhow::Result<L> {
    let mut source = Source::open(trace, settings, accept_short)?;
    if source.estimates {
        return Err(Fault::new(trace, "active power is not in it")
            .wanted("a column active_w or active_kw: power that is estimated from the current tells nothing new of the motor")
            .mend("log active power as well, or name its column in [channels] as active")
            .into());
    }
    let core = fit::core_settings(settings, source.rate_hz)?;
    let refused = "the core refuses these settings";
    let (mut side, _) = Side::new(&source.selection, settings.mass, true, source.rows_hz);
    let mut listener = make(&core, source.rate_hz);
    let converter = Converter::new(&settings.sampling);
    let core = match settings.sampling.values {
        Values::Samples => Core::Samples(Box::new(Monitor::new(&core).context(refused)?), &converter),
        Values::Rms => {
            let c = core.build().context(refused)?.judge;
            Core::Rms(Box::new(Rms::new(c, settings, source.rows_hz, source.rate_hz)))
        }
    };
    drive::drive(&mut source, &mut side, core, None, &mut listener)?;
    Ok(listener)
}
