//! `step-test` as typed.

use std::path::PathBuf;

use clap::Args;

use super::synth::{seconds, within};

/// `step-test`.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork step-test belt-fed --settings mill.toml\n  \
        shaftwork step-test belt-fed --settings mill.toml --speeds 20,30,40,50 \\\n      \
        --hold-s 300 --svg curve.svg\n  \
        shaftwork step-test steps.csv --settings mill.toml --out tuned.toml\n\n\
        At the mill: guards closed, nobody within reach, the feed stop at work. Let\n\
        the mill run empty for two minutes, then feed evenly, each step for two\n\
        minutes or longer, until the load nears its limit; note every step in the\n\
        trace (run: feeder_pct=40) or in the settings ([[run]]), with mass_kg where\n\
        there is no scale.\n\n\
        Exit status: 0 done; 1 the content of an input is bad, or there are too few\n\
        steps; 2 wrong usage; 130 a signal ended it.")]
pub struct StepTest {
    /// A trace whose runs are steps of the feed (.csv, .cfg, .dat or .cff), or a scenario: a name that synth --list tells, or NAME.toml
    #[arg(value_name = "TRACE|SCENARIO")]
    pub source: String,
    /// Settings file (TOML): nameplate and converter; of a feeder nothing need be known
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Speeds of a scenario's feeder one after the other, % of full speed; by default 20,30,40,50,60,70,80,90,100
    #[arg(long, value_name = "X,...", value_delimiter = ',', value_parser = speed)]
    pub speeds: Option<Vec<f64>>,
    /// How long a scenario's feeder is held at each of them, and empty before, s; by default 120
    #[arg(long, value_name = "S", value_parser = hold)]
    pub hold_s: Option<f64>,
    /// The same seed gives the same run of a scenario; by default 1
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// What the feeder brings at full speed, t/h, where a trace tells rates and no speeds: for the gain
    #[arg(long, value_name = "X", value_parser = rate)]
    pub full_t_h: Option<f64>,
    /// Take a record that ends early as far as it is whole
    #[arg(long)]
    pub accept_short: bool,
    /// Write the settings with what was found for the feeder to FILE, all else as it was
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Draw energy a tonne over rate, and the answer of the load, into FILE
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}

impl StepTest {
    /// Speeds where none are given, %.
    pub const SPEEDS: [f64; 9] = [20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0];
    /// How long each is held, s.
    pub const HOLD_S: f64 = 120.0;
}

fn speed(text: &str) -> Result<f64, String> {
    within(text, 1.0..=100.0, "a speed in % of full speed")
}

fn hold(text: &str) -> Result<f64, String> {
    seconds(text).and_then(|_| within(text, 20.0..=36_000.0, "a length in s"))
}

fn rate(text: &str) -> Result<f64, String> {
    within(text, 0.001..=1e4, "a rate in t/h")
}
