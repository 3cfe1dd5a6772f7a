//! `synth` as typed.

use std::path::PathBuf;

use clap::Args;

/// `synth`.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork synth --list\n  \
        shaftwork synth wedge --seed 7 --out jam.cfg\n  \
        shaftwork replay jam.cfg --settings jam.settings.toml\n  \
        shaftwork synth wedge --show > my.toml; shaftwork synth my.toml --out my.cfg\n\n\
        Exit status: 0 done; 1 a scenario file is bad or an output cannot be written; 2 wrong usage.")]
pub struct Synth {
    /// Which scenario: a name that --list tells, or a file of your own, NAME.toml
    #[arg(value_name = "SCENARIO", required_unless_present = "list")]
    pub scenario: Option<String>,
    /// The same seed gives the same bytes
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Write the trace to FILE: .cfg (with its .dat) or .cff for COMTRADE, .csv; truth and settings beside it
    #[arg(long, value_name = "FILE", required_unless_present_any = ["list", "show"])]
    pub out: Option<PathBuf>,
    /// Length of the trace, s, instead of the scenario's own
    #[arg(long, value_name = "S", value_parser = seconds)]
    pub duration_s: Option<f64>,
    /// Samples a second, instead of the scenario's own
    #[arg(long, value_name = "HZ", value_parser = rate)]
    pub rate_hz: Option<f64>,
    /// Tell the scenarios
    #[arg(long)]
    pub list: bool,
    /// Print the whole scenario as TOML: copy it and change what you like
    #[arg(long, conflicts_with = "list")]
    pub show: bool,
}

pub(super) fn within(text: &str, span: std::ops::RangeInclusive<f64>, what: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if span.contains(&x) => Ok(x),
        _ => Err(format!("{what}, {} to {}, is wanted", span.start(), span.end())),
    }
}

pub(super) fn seconds(text: &str) -> Result<f64, String> {
    within(text, 1.0..=1e6, "a length in s")
}

fn rate(text: &str) -> Result<f64, String> {
    within(text, 2_000.0..=16_000.0, "a rate in Hz")
}
