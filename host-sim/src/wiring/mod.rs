//! The verb `check-wiring`: what is connected wrongly, by the core's own logic over the windows of a trace.
//!
//! ```text
//! trace -> core -> window, phasors -> core::wiring::diagnose -> votes -> words, JSON, drawing
//!            └ frames -> waves (clipped, stuck) ────────────────────────────┘
//! ```

mod drawing;
mod json;
pub mod votes;
mod waves;
pub mod words;

use std::io::Write as _;
use std::process::ExitCode;

use anyhow::Context as _;
use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::Expected;
use shaftwork_core::{Frame, Monitor, Window};

use crate::clash;
use crate::cli::{CheckWiring, show};
use crate::convert::Converter;
use crate::fit;
use crate::replay::drive::{self, Listener, News};
use crate::replay::side::Side;
use crate::replay::source::Source;
use crate::report::Whole;
use crate::settings::{self, Settings};
use crate::trace;
use votes::Votes;
use waves::Waves;
use words::Finding;

/// All that was found in one trace.
pub struct Result<'a> {
    /// The trace as it was named.
    pub trace: &'a str,
    /// What it is compared with.
    pub settings: &'a Settings,
    /// What the windows say.
    pub votes: Votes,
    /// What it comes to, in words.
    pub finding: Finding,
}

/// Checks a trace's wiring; prints words, and writes the drawing and the JSON where they are wanted.
///
/// # Errors
/// Trace or settings are at fault, or an output cannot be written.
pub fn run(args: &CheckWiring) -> anyhow::Result<ExitCode> {
    let mut inputs = trace::files(&args.trace);
    inputs.push(args.settings.clone());
    let outputs = clash::json(args.json.as_deref()).into_iter().chain(args.svg.clone().map(|path| ("--svg", path)));
    clash::refuse(&inputs, &outputs.collect::<Vec<_>>())?;
    let (settings, _) = settings::load(&args.settings)?;
    let (votes, waves) = look(&args.trace, &settings, args.accept_short)?;
    let finding = words::tell(&settings, &votes, &waves.told(&settings));
    let result = Result { trace: &args.trace, settings: &settings, votes, finding };
    if let Some(path) = &args.svg {
        let mut file = Whole::create(path)?;
        file.write_all(drawing::svg(&result).as_bytes())?;
        file.commit()?;
    }
    show(&words::text(&result), &json::document(&result), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Replays the trace for its windows alone.
fn look(trace: &str, settings: &Settings, accept_short: bool) -> anyhow::Result<(Votes, Waves)> {
    let mut source = Source::open(trace, settings, accept_short)?;
    let core = fit::core_settings(settings, source.rate_hz)?;
    let monitor = Monitor::new(&core).context("the core refuses these settings")?;
    let (mut side, _) = Side::new(&source.selection, settings.mass, true, source.rate_hz);
    let expected = Expected::new(&core);
    let rate_hz = source.rate_hz;
    let mut looker =
        Looker { votes: Votes::new(expected, settings.motor.rated_current_a), waves: Waves::new(settings, rate_hz) };
    drive::drive(&mut source, &mut side, monitor, &Converter::new(&settings.sampling), &mut looker)?;
    Ok((looker.votes, looker.waves))
}

/// Takes what the wiring is judged by, and nothing else.
struct Looker {
    votes: Votes,
    waves: Waves,
}

impl Listener for Looker {
    fn frames(&mut self, frames: &[Frame], _news: &News) -> anyhow::Result<()> {
        self.waves.take(frames);
        Ok(())
    }

    fn phasors(&mut self, window: &Window, phasors: &Phasors) {
        let flows = self.votes.window(window, phasors);
        self.waves.window(flows);
    }
}

#[cfg(test)]
mod tests;
