//! The verb `learn-no-load`: a motor that drives nothing, at one voltage or several -> core loss, friction and windage.
//!
//! ```text
//! trace -> core -> windows -> levels (steady stretches) -> refusals -> separate -> words, TOML, JSON, drawing
//! ```

mod drawing;
mod instruments;
pub mod levels;
mod refuse;
pub mod separate;
mod words;

use std::path::Path;
use std::process::ExitCode;

use crate::clash;
use crate::cli::{LearnNoLoad, show};
use crate::error::Usage;
use crate::fit::circuit;
use crate::listen::listen;
use crate::settings::derive::derive;
use crate::settings::{self, Settings, rewrite::rewritten, warmed};
use crate::trace;
use crate::whole;
use levels::{Level, Levels, Rated};
use separate::{Known, Separation};

/// Where the stator's resistance comes from, and so how far it may be off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Resistance {
    /// Given, and brought to the temperature that the winding had.
    AtTest,
    /// Given, and taken as warm.
    Warm,
    /// Inferred from the nameplate.
    Inferred,
}

impl Resistance {
    /// Its limit, part of it: 5 K of a winding's temperature; a winding that is colder than at rated load; a stator that has a
    /// quarter to a half of the rated losses (common practice, no source).
    const fn limit(self) -> f64 {
        match self {
            Self::AtTest => 0.02,
            Self::Warm => 0.15,
            Self::Inferred => 0.3,
        }
    }
}

/// Where the stray load loss that the rated losses leave lies: within what is believed, or beyond it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Left {
    /// It is taken as it is.
    Within,
    /// Nothing is left, or less: none is taken off.
    Nothing,
    /// More than twice what a standard assigns: that much is taken off.
    Much,
}

/// All that was found in one trace.
#[derive(Debug, Clone, PartialEq)]
pub struct Learnt<'a> {
    /// The trace as it was named.
    pub trace: &'a str,
    /// What it belongs to.
    pub settings: &'a Settings,
    /// The steady levels, in order.
    pub levels: Vec<Level>,
    /// A phase of the star during the test, ohm.
    pub stator_ohm: f64,
    /// How that is known.
    pub resistance: Resistance,
    /// What came out.
    pub separation: Separation,
    /// What the other losses leave for the stray load loss.
    pub left: Left,
    /// What a reader should know.
    pub notes: Vec<String>,
}

impl Learnt<'_> {
    /// The level nearest to rated voltage.
    pub fn rated_level(&self) -> Option<&Level> {
        self.separation.nearest.map(|k| &self.levels[k])
    }

    /// The keys for `[motor]`, W to a tenth.
    pub fn keys(&self) -> [(&'static str, f64); 2] {
        let tenth = |w: f64| (w * 10.0).round() / 10.0;
        let Separation { core, friction, .. } = &self.separation;
        [("core_loss_w", tenth(core.value)), ("friction_loss_w", tenth(friction.value))]
    }
}

/// Learns; prints a table and the lines for `[motor]`, writes a new settings file, a drawing and JSON where they are wanted.
///
/// # Errors
/// Trace or settings are at fault, the trace is no no-load test, or an output cannot be written.
pub fn run(args: &LearnNoLoad) -> anyhow::Result<ExitCode> {
    if args.out.is_some() && args.settings == Path::new("-") {
        let words = "learn-no-load reads the settings twice for --out: give them as a file, not '-'";
        return Err(Usage(words.to_owned()).into());
    }
    let mut inputs = trace::files(&args.trace);
    inputs.push(args.settings.clone());
    clash::refuse_named(&inputs, &[("--json", &args.json), ("--out", &args.out), ("--svg", &args.svg)])?;
    let (settings, _) = settings::load(&args.settings)?;
    let learnt = learn(&args.trace, &settings, args.winding_c, args.accept_short)?;
    if let Some(out) = &args.out {
        let keys = learnt.keys().map(|(key, watts)| (key, watts.into()));
        whole::write(out, rewritten(&args.settings, "motor", keys)?.as_bytes())?;
    }
    if let Some(path) = &args.svg {
        whole::write(path, drawing::svg(&learnt).as_bytes())?;
    }
    show(&words::text(&learnt), &words::document(&learnt), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Works it out.
///
/// # Errors
/// The trace cannot be read, or is no no-load test.
pub fn learn<'a>(
    trace: &'a str,
    settings: &'a Settings,
    winding_c: Option<f64>,
    accept_short: bool,
) -> anyhow::Result<Learnt<'a>> {
    settings.need_voltages("learn-no-load")?;
    let motor = &settings.motor;
    let rated = Rated {
        line_v: motor.rated_voltage_v,
        current_a: motor.rated_current_a,
        power_w: motor.rated_power_kw * 1e3,
        synchronous_rpm: motor.synchronous_speed_rpm(),
        hertz: motor.rated_frequency_hz,
    };
    let mut found = listen(trace, settings, accept_short, |_, rate_hz| Levels::new(rated, settings, rate_hz))?;
    found.close();
    refuse::nothing_steady(trace, &found, &rated)?;
    let (stator_ohm, resistance) = stator(settings, winding_c);
    let known = Known {
        rated_v: rated.line_v,
        stator_ohm,
        ohm_limit: resistance.limit(),
        stray_ohm: 0.0,
        stray_limit_ohm: 0.0,
        accuracy: settings.accuracy,
    };
    let levels = found.found;
    refuse::load(trace, settings, &levels, stator_ohm)?;
    let separation =
        separate::separate(&levels, &known).ok_or_else(|| refuse::far_from_rated(trace, &levels, &rated))?;
    refuse::no_motor(trace, settings, &separation)?;
    let (separation, left) = without_stray(settings, &levels, known, separation);
    let mut learnt = Learnt { trace, settings, levels, stator_ohm, resistance, separation, left, notes: Vec::new() };
    learnt.notes = words::notes(&learnt, found.clipped);
    Ok(learnt)
}

/// The same with the stray load loss taken off: what the nameplate's and the curves' losses leave for it beside what was
/// learnt. That is no measurement: it may be off by all of it, and by half of what the standard assigns at least.
///
/// What a nameplate alone leaves hangs on an efficiency that may be off by 15 % of the losses and on a resistance that is inferred: it
/// is believed between nothing and twice what the standard assigns, which is where its band ends too.
fn without_stray(
    settings: &Settings,
    levels: &[Level],
    mut known: Known,
    mut separation: Separation,
) -> (Separation, Left) {
    let assigned_ohm = circuit::assigned_stray_ohm(settings);
    let most_ohm = 2.0 * assigned_ohm;
    let mut place = Left::Within;
    let mut told = settings.clone();
    // What is taken off the core is left to the stray loss of a load: a tenth of it, and a tenth of that.
    for _ in 0..4 {
        told.motor.core_loss_w = Some(separation.core.value.max(0.0));
        told.motor.friction_loss_w = Some(separation.friction.value.max(0.0));
        let left = circuit::fit(&told).map_or(assigned_ohm, |circuit| circuit.stray_ohm);
        place = match left {
            _ if left <= 0.0 => Left::Nothing,
            _ if left > most_ohm => Left::Much,
            _ => Left::Within,
        };
        known.stray_ohm = left.clamp(0.0, most_ohm);
        known.stray_limit_ohm = known.stray_ohm.max(0.5 * assigned_ohm);
        separation = separate::separate(levels, &known).unwrap_or(separation);
    }
    (separation, place)
}

/// The stator's resistance during the test, and how it is known.
fn stator(settings: &Settings, winding_c: Option<f64>) -> (f64, Resistance) {
    let warm = derive(settings).stator_resistance_ohm.value;
    match (settings.motor.stator_resistance_ohm, winding_c) {
        (None, _) => (warm, Resistance::Inferred),
        (Some(_), None) => (warm, Resistance::Warm),
        (Some(_), Some(at_c)) => (warm / warmed(at_c, settings), Resistance::AtTest),
    }
}

#[cfg(test)]
mod tests;
