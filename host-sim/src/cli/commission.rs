//! `commission` as typed.

use std::path::PathBuf;

use clap::Args;

/// `commission`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork commission --settings mill.toml\n  \
        shaftwork commission --settings mill.toml --sheet sheet.bin --out sheet.html\n\n\
        Exit status: 0 every element that is on was proven; 1 sheet or settings are bad;\n\
        2 wrong usage; 3 an element was not proven.")]
pub struct Commission {
    /// Settings file (TOML) that the board is sent
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// What a board's own injection wrote, instead of trying here
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// Write the sheet to FILE: a page where its name ends in .html, else the text
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Write settings.bin and sheet-host.bin, for an emulated board, into DIR
    #[arg(long, value_name = "DIR", conflicts_with = "sheet")]
    pub bits: Option<PathBuf>,
}
