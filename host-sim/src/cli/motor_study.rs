//! `motor-study` as typed.

use std::path::PathBuf;

use clap::Args;

/// `motor-study`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(override_usage = "shaftwork motor-study [OPTIONS] --settings <FILE> --motors <FILE>\n       <LOG>...")]
#[command(after_help = "Examples:\n  \
        shaftwork replay monday.cff --settings mill.toml --out logs/monday\n  \
        shaftwork motor-study logs --settings mill.toml --motors motors.toml\n  \
        shaftwork motor-study logs/monday/intervals.csv --settings mill.toml \\\n      \
        --motors motors.toml --out study\n\n\
        The file of motors has a nameplate each, with the keys of the settings' [motor]\n\
        and a name:\n  \
        [[motor]]\n  \
        name = \"45 kW\"\n  \
        rated_power_kw = 45\n  \
        ...\n  \
        [motor.trip.thermal]\n  \
        heating_time_constant_s = 500\n\
        What else of trips and mill is another motor's own goes below it. Poles,\n\
        frequency and voltage are the recorded motor's. Pick-ups in % of rated current\n\
        go with the motor.\n\n\
        The settings are those of the recorded motor. rotor_inertia_kg_m2 is needed: the\n\
        rotor carries short surges and not long ones. A larger motor's start lowers a\n\
        weak supply further than was recorded; that is not reckoned.\n\n\
        Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage;\n\
        130 a signal ended it.")]
pub struct MotorStudy {
    /// Intervals of replays (intervals.parquet, intervals.csv), or the folders that --out named
    #[arg(value_name = "LOG", required = true)]
    pub logs: Vec<PathBuf>,
    /// Settings file (TOML) of the recorded motor
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// The other motors (TOML)
    #[arg(long, value_name = "FILE")]
    pub motors: PathBuf,
    /// Write motors.html, a page with pictures, and motors.csv into DIR
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write a row for each motor as CSV to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write everything as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}
