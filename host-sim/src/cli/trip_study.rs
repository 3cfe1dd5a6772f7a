//! `trip-study` as typed.

use std::path::PathBuf;

use clap::Args;

use super::synth::within;

/// `trip-study`.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork trip-study jams --settings mill.toml --vary vary.toml\n  \
        shaftwork trip-study jams --settings mill.toml --vary vary.toml \\\n      \
        --allowed-s 1 --out study\n\n\
        A trace of the folder tells its verdict in a comment before its line of names,\n\
        # verdict = jam at 25.4 s    or    # verdict = honest\n\
        or in verdicts.toml beside the traces, as COMTRADE must:\n\
        \"wedge-07.cfg\" = \"jam at 25.4 s\"\n\
        A trace without one is left out, and told. The vary file has the settings' own\n\
        tables and keys, each with a list of values or { from = .., to = .., step = .. };\n\
        all combinations are tried.\n\n\
        A jam is caught by a trip from --early-s before its time to --allowed-s after\n\
        it, late after that; a trip before that, or on an honest trace, is false.\n\
        Of jams and of honest traces every second by name (the first, the third, ...)\n\
        serves to choose, the others to show what the choice is worth.\n\n\
        With --out the metered records of each trace are kept in DIR/records: a study\n\
        that was broken off, or is run again with other values, meters nothing twice.\n\
        They go by the content of trace, meter settings and program, and may be\n\
        deleted. All processors are used; RAYON_NUM_THREADS=1 takes one. The result\n\
        is the same.\n\n\
        Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage;\n\
        130 a signal ended it.")]
pub struct TripStudy {
    /// Folder with the traces (.csv, .cff, .cfg with .dat) and, where they do not tell it themselves, verdicts.toml
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
    /// Settings file (TOML) as it is set now: what is not varied stays so, and it is compared as well
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Which keys take which values (TOML)
    #[arg(long, value_name = "FILE")]
    pub vary: PathBuf,
    /// How long before a jam's time a trip is for it, s: the time is a person's mark
    #[arg(long, value_name = "S", default_value_t = 1.0, value_parser = seconds)]
    pub early_s: f64,
    /// How long after a jam's time a trip may come, s
    #[arg(long, value_name = "S", default_value_t = 2.0, value_parser = seconds)]
    pub allowed_s: f64,
    /// Pick-ups and delays nearer by this, %, should trip on no more honest work
    #[arg(long, value_name = "X", default_value_t = 20.0, value_parser = percent)]
    pub margin_pct: f64,
    /// Take a record that ends early as far as it is whole
    #[arg(long)]
    pub accept_short: bool,
    /// Write study.html, settings.csv and decisions.csv into DIR; metered records are kept there too
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write every setting with its figures as a table (CSV) to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}

fn seconds(text: &str) -> Result<f64, String> {
    within(text, 0.0..=3_600.0, "a length in s")
}

fn percent(text: &str) -> Result<f64, String> {
    within(text, 0.0..=90.0, "a share in %")
}
