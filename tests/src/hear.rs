//! A scenario of the catalogue through the core, as its settings say and with more of one's own.

use crate::rig::{Heard, Listening};
use shaftwork_sim::plant::{Scenario, Truth, run};
use shaftwork_sim::settings::{self, Settings};
use shaftwork_sim::synth::catalogue;
use std::convert::Infallible;

/// What was heard of it.
#[derive(Debug)]
pub struct Story {
    /// As it was played.
    pub scenario: Scenario,
    /// As they were read.
    pub settings: Settings,
    /// What the core reported.
    pub heard: Heard,
    /// The truth at each frame.
    pub truths: Vec<Truth>,
}

/// Plays a scenario until a time, its settings edited; `change` may alter each frame's readings: va, vb, vc (V), ia, ib,
/// ic (A).
///
/// # Panics
///
/// When there is no such scenario or the settings are refused: the test itself is wrong then.
#[must_use]
pub fn hear(
    name: &str,
    edit: impl FnOnce(String) -> String,
    until_s: f64,
    mut change: impl FnMut(f64, &mut [f64; 6]),
) -> Story {
    let story = catalogue::find(name).unwrap_or_else(|| panic!("there is no scenario {name}"));
    let mut scenario = story.scenario.clone();
    scenario.duration_s = scenario.duration_s.min(until_s);
    let text = edit(story.settings());
    let (settings, _) = settings::parse(&text, name).unwrap_or_else(|faults| panic!("{faults}"));
    let mut core = Listening::to(&settings, scenario.rate_hz);
    let mut truths = Vec::new();
    let Ok(_) = run(&scenario, 1, |frame| {
        let r = frame.reading;
        let mut readings = [r[0], r[1], r[2], r[3], r[4], r[5]];
        change(frame.truth.t_s, &mut readings);
        core.take(readings);
        truths.push(frame.truth);
        Ok::<(), Infallible>(())
    });
    Story { scenario, settings, heard: core.finish(), truths }
}
