//! `calibrate` as typed.

use std::path::PathBuf;

use clap::Args;

/// `calibrate`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork calibrate run.cfg --settings mill.toml --reference meter.csv\n  \
        shaftwork calibrate run.cfg --settings mill.toml --reference meter.csv --out mill-2026.toml\n\n\
        The readings are CSV: from_s,to_s (or t_s), then any of va_v ... ic_a, active_w.\n\n\
        Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage.")]
pub struct Calibrate {
    /// CSV trace or COMTRADE record (.cfg, .dat or .cff)
    #[arg(value_name = "TRACE")]
    pub trace: String,
    /// Settings file (TOML)
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Readings of a reference meter over stretches of the trace (CSV)
    #[arg(long, value_name = "CSV")]
    pub reference: PathBuf,
    /// Write the settings with the calibration to FILE, all else as it was
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Write the calibration as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}
