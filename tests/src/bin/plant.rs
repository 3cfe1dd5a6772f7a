//! Prints how fast the plant model runs: simulated over real time, the full model and the reduced one.
//!
//! ```text
//! plant [SCENARIO...]
//! ```
//!
//! One thread, and its time on a processor where the system tells it (Linux). It has no bounds: it measures, and
//! whoever reads it judges.

use anyhow::{Context as _, Result};
use shaftwork_acceptance::clock::Clock;
use shaftwork_sim::plant::reduced::{self, Reduced, Refused};
use shaftwork_sim::plant::{Frame, Scenario, run};
use shaftwork_sim::synth::catalogue;
use shaftwork_sim::synth::story::Story;
use std::convert::Infallible;
use std::process::ExitCode;

/// Length of a run of the full model, s, and of the reduced one.
const FULL_S: f64 = 60.0;
const REDUCED_S: f64 = 3600.0;
const ROUNDS: usize = 5;

fn main() -> Result<ExitCode> {
    let names: Vec<String> = std::env::args().skip(1).collect();
    println!("| scenario | full model, 4 kHz | reduced model | half cycles/s |");
    println!("|---|---|---|---|");
    if names.is_empty() {
        for story in catalogue::all() {
            row(&story)?;
        }
    }
    for name in &names {
        row(&catalogue::find(name).with_context(|| format!("there is no scenario '{name}'"))?)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Prints a scenario's line; one that the reduced model refuses has its reason.
fn row(story: &Story) -> Result<()> {
    let scenario = |duration_s| Scenario { rate_hz: 4000.0, duration_s, ..story.scenario.clone() };
    let (short, long) = (scenario(FULL_S), scenario(REDUCED_S));
    let full = ratio(&short, || {
        let Ok(_) = run(&short, 1, |_: &Frame<'_>| Ok::<(), Infallible>(()));
        Ok(())
    })?;
    if let Err(refused) = Reduced::new(&long, 1) {
        println!("| {} | {full:.0} x | {refused} | |", story.name);
        return Ok(());
    }
    let mut half_cycles = 0_u32;
    let reduced = ratio(&long, || {
        half_cycles = 0;
        reduced::run(&long, 1, |_| {
            half_cycles += 1;
            Ok::<(), Refused>(())
        })?;
        Ok(())
    })?;
    let rate = reduced * f64::from(half_cycles) / (long.lead_s + long.duration_s);
    println!("| {} | {full:.0} x | {reduced:.0} x | {rate:.0} |", story.name);
    Ok(())
}

/// Simulated over real time, lead included: the median of some rounds.
fn ratio(scenario: &Scenario, mut work: impl FnMut() -> Result<()>) -> Result<f64> {
    let mut ratios = Vec::new();
    for _ in 0..ROUNDS {
        let clock = Clock::start();
        work()?;
        ratios.push((scenario.lead_s + scenario.duration_s) / clock.seconds());
    }
    ratios.sort_by(f64::total_cmp);
    Ok(ratios[ROUNDS / 2])
}
