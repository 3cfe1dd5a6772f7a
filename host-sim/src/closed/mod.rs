//! The verb `closed-loop`: the plant model and the firmware core together, as they would run.
//!
//! ```text
//! plant -> eight frames -> replay's loop -> core -> decision -> hands -> contactor, belt, lamp -> plant
//!                              +-> reports, as of any trace          person -> permit, release -> core
//! ```

pub mod hands;
mod reader;
pub mod staircase;

use std::process::ExitCode;

use shaftwork_core::FeedMode;

use crate::clash;
use crate::cli;
use crate::error::{Fault, Usage};
use crate::replay::source::Source;
use crate::replay::{self, places};
use crate::settings::{self, Gaps, Settings, Wiring};
use crate::synth::story::Story;
use crate::synth::told;
use crate::trace::Options;
use hands::Hands;
use reader::PlantReader;

/// Runs a scenario in a closed loop.
///
/// # Errors
/// The scenario or the settings are at fault, or an output cannot be written.
pub fn run(args: &cli::ClosedLoop) -> anyhow::Result<ExitCode> {
    let as_replay = args.replay()?;
    let names = places::own_names(&as_replay.traces);
    clash::refuse(&places::inputs(&as_replay), &places::targets(&as_replay, &names))?;
    let mut story = told(&args.scenario)?;
    let (settings, warnings) = settings::load(&args.settings)?;
    suits(&settings)?;
    if settings.feeder.is_some() {
        has_belt(&story)?;
    }
    if args.manual.is_some() && settings.feeder.is_none() {
        return Err(Usage("--manual sets a feeder's speed, and the settings have no [feeder]".to_owned()).into());
    }
    story.scenario.lasts(args.duration_s.unwrap_or(story.scenario.duration_s));
    let warnings: Vec<String> = warnings.iter().map(|w| format!("settings, {w}")).collect();
    let mode = args.manual.map_or(FeedMode::Automatic, |pct| FeedMode::Manual((pct * 10.0).round() as u16));
    let rate_hz = rate_hz(&settings, &story);
    let hands = Hands::new(rate_hz, settings.feeder.is_some(), mode);
    let source = source(story, args.seed, &settings, hands)?;
    replay::alone(&as_replay, source, &settings, &warnings)
}

/// Frames a second, Hz: the settings' where they say so.
pub fn rate_hz(settings: &Settings, story: &Story) -> f64 {
    settings.sampling.rate_hz.unwrap_or(story.scenario.rate_hz)
}

/// Whether the core can read the plant with these settings.
///
/// # Errors
/// In words, if not.
pub fn suits(settings: &Settings) -> anyhow::Result<()> {
    settings.need_all_waves("a closed loop")?;
    if settings.supply.wiring != Wiring::FourWire {
        return Err(Fault::new(&*settings.file, settings.supply.wiring.as_str())
            .at("key supply.wiring")
            .wanted("\"four-wire\", which the plant model has")
            .mend("take settings that 'shaftwork synth' writes beside a trace")
            .into());
    }
    Ok(())
}

/// Whether there is a feeder to be driven.
///
/// # Errors
/// In words, if not.
pub fn has_belt(story: &Story) -> Result<(), Fault> {
    if story.scenario.mill.belt.is_none() {
        return Err(Fault::new(&story.name, "nothing is fed by a belt")
            .wanted("a scenario with [mill.belt]: there is a feeder to be driven")
            .mend("take belt-fed; for a closed loop you may take [feeder] out of the settings: a person feeds by the lamp then"));
    }
    Ok(())
}

/// The plant as a trace whose rows heed what the core decides.
///
/// # Errors
/// The settings do not fit.
pub fn source(mut story: Story, seed: u64, settings: &Settings, hands: Hands) -> anyhow::Result<Source> {
    story.scenario.rate_hz = rate_hz(settings, &story);
    let reader = PlantReader::new(&story.name, &story.scenario, seed, hands.clone());
    let options = Options {
        accept_short: false,
        gaps_split: settings.sampling.gaps == Gaps::Split,
        rate_hz: settings.sampling.rate_hz,
    };
    let source = Source::of(&story.name, Box::new(reader), settings, options)?;
    Ok(Source { hands: Some(hands), ..source })
}
