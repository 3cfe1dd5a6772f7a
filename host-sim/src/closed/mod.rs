//! The verb `closed-loop`: the plant model and the firmware core together, as they would run.
//!
//! ```text
//! plant -> eight frames -> replay's loop -> core -> decision -> hands -> contactor, belt, lamp -> plant
//!                              +-> reports, as of any trace          person -> permit, release -> core
//! ```

pub mod hands;
mod reader;

use std::process::ExitCode;

use shaftwork_core::FeedMode;

use crate::cli;
use crate::error::{Fault, Usage};
use crate::replay::source::Source;
use crate::replay::{self, places};
use crate::settings::{self, Gaps, Settings, Wiring};
use crate::synth::told;
use crate::trace::Options;
use crate::{clash, plant};
use hands::Hands;
use reader::PlantReader;

/// Runs a scenario in a closed loop.
///
/// # Errors
/// The scenario or the settings are at fault, or an output cannot be written.
pub fn run(args: &cli::ClosedLoop) -> anyhow::Result<ExitCode> {
    let as_replay = args.replay();
    let names = places::own_names(&as_replay.traces);
    clash::refuse(&places::inputs(&as_replay), &places::targets(&as_replay, &names))?;
    let mut story = told(&args.scenario)?;
    let (settings, warnings) = settings::load(&args.settings)?;
    settings.need_all_waves("a closed loop")?;
    if settings.supply.wiring != Wiring::FourWire {
        return Err(Fault::new(&*settings.file, settings.supply.wiring.as_str())
            .at("key supply.wiring")
            .wanted("\"four-wire\", which the plant model has")
            .mend("take settings that 'shaftwork synth' writes beside a trace")
            .into());
    }
    if settings.feeder.is_some() && story.scenario.mill.belt.is_none() {
        return Err(Fault::new(&story.name, "nothing is fed by a belt")
            .wanted("a scenario with [mill.belt]: the settings have a [feeder] to be governed")
            .mend("take belt-fed, or take [feeder] out of the settings: a person feeds by the lamp then")
            .into());
    }
    if args.manual.is_some() && settings.feeder.is_none() {
        return Err(Usage("--manual sets a feeder's speed, and the settings have no [feeder]".to_owned()).into());
    }
    story.scenario.duration_s = args.duration_s.unwrap_or(story.scenario.duration_s);
    story.scenario.rate_hz = settings.sampling.rate_hz.unwrap_or(story.scenario.rate_hz);
    let warnings: Vec<String> = warnings.iter().map(|w| format!("settings, {w}")).collect();
    let source = source(&story.name, &story.scenario, args, &settings)?;
    replay::alone(&as_replay, source, &settings, &warnings)
}

/// The plant as a trace whose rows heed what the core decides.
fn source(
    name: &str,
    scenario: &plant::Scenario,
    args: &cli::ClosedLoop,
    settings: &Settings,
) -> anyhow::Result<Source> {
    let mode = args.manual.map_or(FeedMode::Automatic, |pct| FeedMode::Manual((pct * 10.0).round() as u16));
    let hands = Hands::new(scenario.rate_hz, settings.feeder.is_some(), mode);
    let reader = PlantReader::new(name, scenario, args.seed, hands.clone());
    let options = Options {
        accept_short: false,
        gaps_split: settings.sampling.gaps == Gaps::Split,
        rate_hz: settings.sampling.rate_hz,
    };
    let source = Source::of(name, Box::new(reader), settings, options)?;
    Ok(Source { hands: Some(hands), ..source })
}
