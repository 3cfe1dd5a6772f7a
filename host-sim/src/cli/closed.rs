//! `closed-loop` as typed.

use std::path::PathBuf;

use clap::Args;

use super::Replay;
use super::replay::Wanted;
use super::synth::{seconds, within};
use crate::error::Usage;

/// `closed-loop`.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork closed-loop belt-fed --settings mill.toml\n  \
        shaftwork closed-loop belt-fed --settings mill.toml --manual 60 --out fixed\n  \
        shaftwork closed-loop my.toml --settings mill.toml --seed 7 --expect quiet --json -\n\n\
        The feeder is governed where the settings have [feeder]; otherwise the lamp is heeded, \
        by a person as the scenario's mill.hand.lamp says.\n\n\
        Exit status: 0 done; 1 a scenario or the settings are bad; 2 wrong usage; 3 an --expect failed; \
        130 a signal ended it.")]
pub struct ClosedLoop {
    /// Which scenario: a name that synth --list tells, or a file of your own, NAME.toml
    #[arg(value_name = "SCENARIO")]
    pub scenario: String,
    /// Settings file (TOML), with a table feeder for one that is governed
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// The same seed gives the same run
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Length of the run, s, instead of the scenario's own
    #[arg(long, value_name = "S", value_parser = seconds)]
    pub duration_s: Option<f64>,
    /// Set the feeder by hand to X % of full speed instead of governing it; it stops for the load all the same
    #[arg(long, value_name = "X", value_parser = percent)]
    pub manual: Option<f64>,
    /// What is written of it.
    #[command(flatten)]
    pub wanted: Wanted,
}

impl ClosedLoop {
    /// What is done with what comes out is what a replay does.
    ///
    /// # Errors
    /// In words, if what is wanted makes no sense together.
    pub fn replay(&self) -> Result<Replay, Usage> {
        Replay::of(&self.scenario, &self.settings, &self.wanted)
    }
}

fn percent(text: &str) -> Result<f64, String> {
    within(text, 0.0..=100.0, "a share of full speed in %")
}
