//! `capture` as typed.

use std::path::PathBuf;

use clap::Args;

/// `capture`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork capture capture-1.bin --settings mill.toml --out jam.cfg\n  \
        shaftwork replay jam.cfg --settings mill.toml\n\n\
        Exit status: 0 done; 1 the file is no capture of this version, or the settings\n\
        are bad; 2 wrong usage.")]
pub struct Capture {
    /// What the board wrote around a decision
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Settings file (TOML) that the board was given
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Write the record to FILE, NAME.cfg, with NAME.dat and NAME.inf beside it
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
}
