//! The verb `check-wiring`: what is connected wrongly, by the core's own logic over the windows of a trace.
//!
//! ```text
//! trace -> core -> window, phasors -> core::wiring::diagnose -> votes -> words, JSON, drawing
//!            └ frames -> waves (clipped, stuck) ────────────────────────────┘
//! ```

mod drawing;
pub mod figures;
mod json;
pub mod told;
pub mod votes;
mod waves;
pub mod words;

use std::process::ExitCode;

use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::{Diagnosis, Expected};
use shaftwork_core::{Frame, Window};

use crate::clash;
use crate::cli::{CheckWiring, show};
use crate::listen::listen;
use crate::replay::drive::{Listener, News};
use crate::settings::{self, Settings};
use crate::trace;
use crate::whole;
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
    clash::refuse_named(&inputs, &[("--json", &args.json), ("--svg", &args.svg)])?;
    let (settings, _) = settings::load(&args.settings)?;
    settings.need_all_waves("check-wiring")?;
    settings.need_line_currents("check-wiring")?;
    let (votes, waves) = look(&args.trace, &settings, args.accept_short)?;
    let finding = words::tell(&settings, &votes, &waves.told(&settings));
    let result = Result { trace: &args.trace, settings: &settings, votes, finding };
    if let Some(path) = &args.svg {
        whole::write(path, drawing::svg(&result).as_bytes())?;
    }
    show(&words::text(&result), &json::document(&result), args.json.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// What the settings let one expect of the motor.
pub fn expected(settings: &Settings, core: &shaftwork_core::Settings) -> Expected {
    let motor = &settings.motor;
    let known = motor.power_factor_pct.is_some() || motor.locked_rotor_current_a.is_some();
    let expected = Expected::new(core);
    if known { expected } else { expected.of_guessed_leakage() }
}

/// Replays the trace for its windows alone.
fn look(trace: &str, settings: &Settings, accept_short: bool) -> anyhow::Result<(Votes, Waves)> {
    let looker = listen(trace, settings, accept_short, |core, rate_hz| Looker {
        votes: Votes::new(expected(settings, core), settings.motor.rated_current_a),
        waves: Waves::new(settings, rate_hz),
    })?;
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
        let flows = self.votes.window(window, phasors) != Diagnosis::Idle;
        self.waves.window(flows);
    }
}

#[cfg(test)]
mod tests;
