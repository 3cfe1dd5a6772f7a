//! A trace through the core for one listener: what verbs have in common that measure a trace and make no report of it.

use anyhow::Context as _;
use shaftwork_core::{Monitor, Settings as CoreSettings};

use crate::convert::Converter;
use crate::fit;
use crate::replay::drive::{self, Core, Listener};
use crate::replay::side::Side;
use crate::replay::source::Source;
use crate::settings::Settings;

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
    let core = fit::core_settings(settings, source.rate_hz)?;
    let monitor = Monitor::new(&core).context("the core refuses these settings")?;
    let (mut side, _) = Side::new(&source.selection, settings.mass, true, source.rate_hz);
    let mut listener = make(&core, source.rate_hz);
    let converter = Converter::new(&settings.sampling);
    drive::drive(&mut source, &mut side, Core::Samples(Box::new(monitor), &converter), &mut listener)?;
    Ok(listener)
}
