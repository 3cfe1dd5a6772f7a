//! The command line: what may be typed, and what it means once it has been checked.
//!
//! The structs ending in `Args` are as typed; `validate` turns them into what the verbs take. Arguments
//! that make no sense together are a [`Usage`]: exit status 2, as for those that cannot be read at all.

mod expect;
mod outcome;
mod pages;
mod show;

use std::path::{Path, PathBuf};

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Args, Parser, Subcommand};

pub use expect::{At, Expect};
pub use outcome::failed;
pub use pages::{completions, man};
pub use show::{info, show};

use crate::error::Usage;

/// The whole command line.
#[derive(Debug, Parser)]
#[command(
    name = "shaftwork",
    version,
    max_term_width = 80,
    subcommand_value_name = "VERB",
    subcommand_help_heading = "Verbs"
)]
#[command(about = "Shaft power, energy per tonne, trips and jams of a hammer mill, from logged traces of its motor")]
#[command(after_help = "'shaftwork help VERB' explains a verb with an example. Begin with:\n  \
    shaftwork info TRACE\n  \
    shaftwork replay TRACE --settings FILE\n\n\
    Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage; 3 an --expect failed.\n\n\
    A monitor, no protective device: overload relays, guards and emergency stops stay hard-wired.")]
pub struct Cli {
    /// What is to be done.
    #[command(subcommand)]
    pub verb: Verb,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Run the firmware core over logged traces
    #[command(
        long_about = "Runs the firmware core over a logged trace and shows what it would have measured and done: a \
        verdict, what happened, times, energy, load and warnings. Several traces come to a line each. The \
        recorded motor cannot be stopped: a trip is logged once and the rest goes on."
    )]
    Replay(ReplayArgs),
    /// Show what a trace holds
    #[command(
        long_about = "Shows what a trace holds: channels, units, rates, records, whole-record rms, missing values. \
        Works on any record, however short, and needs no settings."
    )]
    Info(Info),
    /// Check a settings file and show what will be used
    #[command(
        long_about = "Checks a settings file and shows what will be used: what was given, what is a default and \
        what was inferred, with pick-ups in amperes and volts and times in seconds."
    )]
    CheckSettings(CheckSettings),
    /// Print a script that lets a shell complete verbs and options
    #[command(long_about = "Prints a script that lets a shell complete verbs, options and files.")]
    Completions(Completions),
    /// Print the manual page, or write all pages into a folder
    #[command(
        long_about = "Prints the manual page of the command, or writes the pages of the command and of each verb into \
        a folder."
    )]
    Man(ManPages),
}

/// `check-settings`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork check-settings mill.toml\n  \
        shaftwork check-settings --json - mill.toml\n\n\
        Exit status: 0 sound, perhaps with warnings; 1 a key or value is wrong; 2 wrong usage.")]
pub struct CheckSettings {
    /// Settings file (TOML); - is standard input
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}

/// `info`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork info shift.csv\n  \
        shaftwork info --json - jam.cfg\n\n\
        Exit status: 0 done; 1 the file is no trace or cannot be read; 2 wrong usage.")]
pub struct Info {
    /// CSV trace or COMTRADE record (.cfg, .dat or .cff); - is standard input
    #[arg(value_name = "TRACE")]
    pub trace: String,
    /// Take a record that ends early as far as it is whole
    #[arg(long)]
    pub accept_short: bool,
    /// Write the same as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
}

/// `completions`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Example, for this session of bash (the README says how to keep it, and the other shells):\n  \
        source <(shaftwork completions bash)")]
pub struct Completions {
    /// The shell that is to complete
    #[arg(value_name = "SHELL")]
    pub shell: clap_complete::Shell,
}

/// `man`.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork man | man -l -\n  \
        shaftwork man --out ~/.local/share/man/man1")]
pub struct ManPages {
    /// Write shaftwork.1 and a page for each verb into DIR
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// `replay` as typed.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork replay jam.csv --settings mill.toml\n  \
        shaftwork replay jam.cfg --settings mill.toml --expect trip:jam@25.9+-0.1\n  \
        shaftwork replay shift.cff --settings mill.toml --mass-kg 8400 --out shift\n  \
        shaftwork replay monday.csv tuesday.csv --settings mill.toml --out week\n\n\
        Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage; 3 an --expect failed.")]
pub struct ReplayArgs {
    /// CSV traces or COMTRADE records (.cfg, .dat or .cff); - is standard input
    #[arg(value_name = "TRACE", required = true)]
    pub traces: Vec<String>,
    /// Settings file (TOML): nameplate, converter, trips; check it with check-settings
    #[arg(long, value_name = "FILE")]
    pub settings: PathBuf,
    /// Mass fed over the whole trace as weighed, kg; otherwise the trace's own mass, if it has any
    #[arg(long, value_name = "X", value_parser = kilograms, allow_negative_numbers = true)]
    pub mass_kg: Option<f64>,
    /// Take a record that ends early as far as it is whole
    #[arg(long)]
    pub accept_short: bool,
    /// Write report.html, intervals.csv and events.csv into DIR; several traces have a folder each and summary.json
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write intervals, events, totals, load and warnings as JSON to FILE; - is standard output
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Fail (status 3) unless it comes so: 'quiet' or 'trip:CAUSE', once for each trip
    #[arg(long, value_name = "EXPR", long_help = expect::help())]
    pub expect: Vec<Expect>,
    /// Print the digest of the core's reports as the last line
    #[arg(long)]
    pub digest: bool,
    /// Write what a board is given and what it must report, bit for bit, into DIR
    #[arg(long, value_name = "DIR")]
    pub bits: Option<PathBuf>,
}

/// The command line as typed; help, a version and what cannot be read end the process here.
pub fn parse() -> Cli {
    Cli::try_parse().unwrap_or_else(|error| advised(error).exit())
}

/// An error of the command line with what helps where a bare name would not.
fn advised(mut error: clap::Error) -> clap::Error {
    let about_settings = |missing: &ContextValue| matches!(missing, ContextValue::Strings(all) if all.iter().any(|one| one.contains("--settings")));
    if error.kind() == ErrorKind::MissingRequiredArgument
        && error.get(ContextKind::InvalidArg).is_some_and(about_settings)
    {
        let tip =
            "settings are the nameplate, the converter and the trips in a TOML file; examples/demo has one".into();
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![tip]));
    }
    error
}

/// `replay`, validated: at least one trace; several only without what belongs to one.
#[derive(Debug, Clone, PartialEq)]
pub struct Replay {
    /// The traces as named; `-` is standard input.
    pub traces: Vec<String>,
    /// The settings file.
    pub settings: PathBuf,
    /// Where the JSON goes; `-` is standard output.
    pub json: Option<PathBuf>,
    /// The folder for tables and the page.
    pub out: Option<PathBuf>,
    /// Mass fed over the whole trace, kg.
    pub mass_kg: Option<f64>,
    /// Whether a record that ends early is taken as far as it is whole.
    pub accept_short: bool,
    /// What is expected: nothing, or quiet alone, or trips with a cause each.
    pub expect: Vec<Expect>,
    /// Whether the digest is the last line.
    pub digest: bool,
    /// The folder for the comparison with a board.
    pub bits: Option<PathBuf>,
}

impl ReplayArgs {
    /// Checks that the arguments make sense together.
    ///
    /// # Errors
    /// In words, if they do not.
    pub fn validate(self) -> Result<Replay, Usage> {
        let Self { traces, settings, json, out, mass_kg, accept_short, expect, digest, bits } = self;
        if traces.len() > 1 {
            let single = [
                ("--json", json.is_some()),
                ("--mass-kg", mass_kg.is_some()),
                ("--digest", digest),
                ("--bits", bits.is_some()),
            ];
            if let Some((option, _)) = single.iter().find(|(_, given)| *given) {
                let cure = if *option == "--json" { "; --out DIR has summary.json for all" } else { "" };
                return Err(Usage(format!(
                    "{option} belongs to a single trace, and {} are named: replay one at a time{cure}",
                    traces.len()
                )));
            }
            if out.is_none() {
                return Err(Usage(format!("{} traces need --out DIR, where each gets a folder", traces.len())));
            }
            if traces.iter().any(|trace| trace == "-") {
                return Err(Usage("standard input (-) cannot be one of several traces: replay it alone".to_owned()));
            }
        }
        if digest && json.as_deref() == Some(Path::new("-")) {
            return Err(Usage(
                "--json - and --digest both want the end of standard output: give --json a file".to_owned(),
            ));
        }
        if settings.as_os_str() == "-" && traces.iter().any(|trace| trace == "-") {
            return Err(Usage(
                "standard input (-) cannot be both the trace and the settings: give one of them a file".to_owned(),
            ));
        }
        expect::agree(&expect)?;
        Ok(Replay { traces, settings, json, out, mass_kg, accept_short, expect, digest, bits })
    }
}

/// A mass in kg, as typed.
fn kilograms(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(mass) if (0.0..=1e9).contains(&mass) => Ok(mass),
        _ => Err("a mass in kg, 0 to 1000000000, is wanted".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[derive(Debug, Parser)]
    struct Alone {
        #[command(flatten)]
        replay: ReplayArgs,
    }

    fn typed(line: &str) -> Result<Replay, String> {
        let words = std::iter::once("replay").chain(line.split_whitespace());
        let alone = Alone::try_parse_from(words).map_err(|error| error.to_string())?;
        alone.replay.validate().map_err(|usage| usage.to_string())
    }

    #[test]
    fn the_definition_is_sound() {
        Cli::command().debug_assert();
        Alone::command().debug_assert();
    }

    #[test]
    fn every_option_arrives() {
        let line = "a.csv --settings m.toml --json j --out d --mass-kg 12.5 --accept-short --digest --expect quiet";
        let got = typed(line).unwrap();
        assert_eq!((got.traces.as_slice(), got.json), (&["a.csv".to_owned()][..], Some("j".into())));
        assert_eq!((got.out, got.mass_kg, got.expect), (Some("d".into()), Some(12.5), vec![Expect::Quiet]));
        assert!(got.accept_short && got.digest);
    }

    #[test]
    fn several_traces_take_a_folder_and_nothing_that_belongs_to_one() {
        assert!(typed("a b --settings m --out d --expect trip:jam").is_ok());
        for (line, part) in [
            ("a b --settings m", "2 traces need --out DIR"),
            ("a b --settings m --out d --json j", "--json belongs to a single trace"),
            ("a b --settings m --out d --mass-kg 1", "--mass-kg belongs"),
            ("a b --settings m --out d --digest", "--digest belongs"),
            ("a - --settings m --out d", "standard input"),
            ("- --settings -", "standard input"),
            ("a --settings m --json - --digest", "standard output"),
            ("--settings m", "TRACE"),
            ("a", "--settings"),
        ] {
            let error = typed(line).unwrap_err();
            assert!(error.contains(part), "{line}: {error}");
        }
    }

    #[test]
    fn masses_are_finite_and_not_negative() {
        for mass in ["-1", "nan", "inf", "1e99", "ten"] {
            assert!(typed(&format!("a --settings m --mass-kg {mass}")).unwrap_err().contains("a mass in kg"), "{mass}");
        }
    }
}
