//! `check-wiring` as typed.

use std::path::PathBuf;

use clap::Args;

/// `check-wiring`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork check-wiring first.csv --settings mill.toml\n  \
        shaftwork check-wiring first.cfg --settings mill.toml --svg phasors.svg\n  \
        shaftwork check-wiring first.cfg --settings mill.toml --json -\n\n\
        Exit status: 0 checked, whatever was found; 1 the content of an input is bad; 2 wrong usage.")]
pub struct CheckWiring {
    /// CSV trace or COMTRADE record (.cfg, .dat or .cff) of the motor at work; - is standard input
    #[arg(value_name = "TRACE")]
    pub trace: String,
    /// Settings file (TOML): nameplate and converter
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Take a record that ends early as far as it is whole
    #[arg(long)]
    pub accept_short: bool,
    /// Draw the phasors, with the words, into FILE
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}
