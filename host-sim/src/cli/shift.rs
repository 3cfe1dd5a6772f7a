//! `shift` as typed.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;

/// `shift`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork replay monday.cff --settings mill.toml --out logs/monday\n  \
        shaftwork shift logs --site site.toml --tickets tickets.csv\n  \
        shaftwork shift logs --site site.toml --tickets tickets.csv \\\n      \
        --from 2026-03-02 --to 2026-03-08 --out week\n\n\
        A log is what 'replay --out' writes (minutes or intervals, CSV or Parquet),\n\
        or a meter's own: time, active_w or register_kwh. docs/formats.md has the\n\
        columns of logs, tickets and stoppages and the keys of the site's file.\n\n\
        Not for legal trade metering.\n\n\
        Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage;\n\
        130 a signal ended it.")]
pub struct Shift {
    /// Interval logs (.csv, .parquet), or folders of them
    #[arg(value_name = "LOG", required = true)]
    pub logs: Vec<PathBuf>,
    /// The site's file (TOML): zone, shifts, motor, meter, tariff, baseline
    #[arg(long, value_name = "FILE")]
    pub site: PathBuf,
    /// Weigh tickets (CSV): time, kg, who, and ticket, material, screen, corrects, why; may be given again
    #[arg(long, value_name = "FILE")]
    pub tickets: Vec<PathBuf>,
    /// Why the mill stood (CSV): from, to, reason, who; may be given again
    #[arg(long, value_name = "FILE")]
    pub stoppages: Vec<PathBuf>,
    /// From the shifts that begin on this date on; by default from the logs' first
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub from: Option<Date>,
    /// To the shifts that begin on this date; by default to the logs' last
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub to: Option<Date>,
    /// Write shift.html, a page to hand over, and shifts.csv into DIR
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write a row for each shift as CSV to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write everything as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}

fn date(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| "a date such as 2026-03-02 is wanted".to_owned())
}
