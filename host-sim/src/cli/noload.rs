//! `learn-no-load` as typed.

use std::path::PathBuf;

use clap::Args;

/// `learn-no-load`.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork learn-no-load steps.cfg --settings mill.toml\n  \
        shaftwork learn-no-load steps.cfg --settings mill.toml --winding-c 40 \\\n      \
        --out mill-2026.toml --svg no-load.svg\n\n\
        Take the belt off or open the coupling. Hold rated voltage, then steps down to\n\
        a third of it (a variable transformer), each for ten seconds; in a log of rms\n\
        values, each for fifteen rows. With one voltage only the sum of both losses is\n\
        measured.\n\n\
        Exit status: 0 done; 1 the content of an input is bad, or the motor drives\n\
        something; 2 wrong usage.")]
pub struct LearnNoLoad {
    /// CSV trace or COMTRADE record (.cfg, .dat or .cff) of the motor with nothing on its shaft; - is standard input
    #[arg(value_name = "TRACE")]
    pub trace: String,
    /// Settings file (TOML): nameplate and converter
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Temperature of the stator's winding during the test, degrees Celsius; without it the resistance is taken as warm
    #[arg(long, value_name = "C", allow_negative_numbers = true, value_parser = celsius)]
    pub winding_c: Option<f64>,
    /// Take a record that ends early as far as it is whole
    #[arg(long)]
    pub accept_short: bool,
    /// Write the settings with the losses to FILE, all else as it was
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Draw loss over the square of voltage, with the line, into FILE
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}

fn celsius(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(c) if (-50.0..=200.0).contains(&c) => Ok(c),
        _ => Err("degrees Celsius, -50 to 200, are wanted".to_owned()),
    }
}
