//! Where the steps come from: a scenario, whose feeder goes up a staircase, or a trace that has them.

use crate::cli::StepTest;
use crate::closed;
use crate::closed::hands::Hands;
use crate::closed::staircase::Staircase;
use crate::error::Usage;
use crate::replay::source::Source;
use crate::settings::Settings;
use crate::synth::{catalogue, told};

/// Time for a start, s.
const STARTS_S: f64 = 60.0;

/// The trace that the arguments name, and the settings that go with it.
///
/// # Errors
/// Trace, scenario or settings are at fault.
pub fn open(args: &StepTest, settings: Settings) -> anyhow::Result<(Source, Settings)> {
    let toml = std::path::Path::new(&args.source).extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    if toml || catalogue::find(&args.source).is_some() {
        return plant(args, settings);
    }
    let given =
        [("--speeds", args.speeds.is_some()), ("--hold-s", args.hold_s.is_some()), ("--seed", args.seed.is_some())];
    if let Some((option, _)) = given.into_iter().find(|(_, given)| *given) {
        let words =
            format!("{option} belongs to a scenario; the steps of a trace, which {} is, are its runs", args.source);
        return Err(Usage(words).into());
    }
    let source = Source::open(&args.source, &settings, args.accept_short)?;
    Ok((source, settings))
}

/// The plant, with somebody who sets its feeder.
fn plant(args: &StepTest, mut settings: Settings) -> anyhow::Result<(Source, Settings)> {
    let mut story = told(&args.source)?;
    closed::suits(&settings)?;
    closed::has_belt(&story)?;
    // By hand nothing of it counts but ramps and sounder: what the test is to find need not be known.
    settings.feeder.get_or_insert_default();
    // The runs of a trace are not the plant's.
    settings.runs.clear();
    let speeds = args.speeds.as_deref().unwrap_or(&StepTest::SPEEDS);
    let stairs = Staircase::new(speeds, args.hold_s.unwrap_or(StepTest::HOLD_S));
    story.scenario.lasts(STARTS_S + stairs.length_s());
    let hands = Hands::stepping(closed::rate_hz(&settings, &story), stairs);
    let source = closed::source(story, args.seed.unwrap_or(1), &settings, hands)?;
    Ok((source, settings))
}
