//! A trace through the core for one listener: what verbs have in common that measure a trace and make no report of it.
//! None of them is served by power that is estimated.

use anyhow::Context as _;
use shaftwork_core::judge::report::Totals;
use shaftwork_core::time::Instant;
use shaftwork_core::{Monitor, Settings as CoreSettings};

use crate::convert::Converter;
use crate::error::Fault;
use crate::fit;
use crate::replay::drive::{self, Core, Listener};
use crate::replay::rms::Rms;
use crate::replay::side::Side;
use crate::replay::source::Source;
use crate::report::Reason;
use crate::settings::{Settings, Values};

/// What is known of a trace when it has been heard.
#[derive(Debug)]
pub struct Heard {
    /// Why there is no mass, where there is none.
    pub no_mass: Reason,
    /// The smallest step of a column of mass, kg.
    pub step_kg: Option<f64>,
    /// The core's sums.
    pub totals: Totals,
    /// All time, gaps included.
    pub clock: Instant,
    /// What a person should know.
    pub warnings: Vec<String>,
}

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
    let (listener, _) = hear(&mut source, settings, false, make)?;
    Ok(listener)
}

/// The same of a trace that is open, `weighed` with its mass; gives back the side of it too.
///
/// # Errors
/// As [`listen`].
pub fn hear<L: Listener>(
    source: &mut Source,
    settings: &Settings,
    weighed: bool,
    make: impl FnOnce(&CoreSettings, f64) -> L,
) -> anyhow::Result<(L, Heard)> {
    if source.estimates {
        return Err(Fault::new(&*source.path, "active power is not in it")
            .wanted("a column active_w or active_kw: power that is estimated from the current tells nothing new of the motor")
            .mend("log active power as well, or name its column in [channels] as active")
            .into());
    }
    let core = fit::core_settings(settings, source.rate_hz)?;
    let refused = "the core refuses these settings";
    let (mut side, no_mass) = Side::new(&source.selection, settings.mass, !weighed, source.rows_hz);
    let mut listener = make(&core, source.rate_hz);
    let converter = Converter::new(&settings.sampling);
    let core = match settings.sampling.values {
        Values::Samples => Core::Samples(Box::new(Monitor::new(&core).context(refused)?), &converter),
        Values::Rms => {
            let c = core.build().context(refused)?.judge;
            Core::Rms(Box::new(Rms::new(c, settings, source.rows_hz, source.rate_hz)))
        }
    };
    let end = drive::drive(source, &mut side, core, None, &mut listener)?;
    let warnings = side.warnings().into_iter().chain(end.waves).collect();
    Ok((listener, Heard { no_mass, step_kg: side.step_kg(), totals: end.totals, clock: end.clock, warnings }))
}
