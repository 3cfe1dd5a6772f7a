//! `replay` on the command line: what may be typed, and what makes sense together.

use std::path::{Path, PathBuf};

use clap::Args;

use super::expect::{self, Expect};
use crate::error::Usage;

/// `replay` as typed.
#[derive(Debug, Clone, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
        shaftwork replay jam.csv --settings mill.toml\n  \
        shaftwork replay jam.cfg --settings mill.toml --expect trip:jam@25.9+-0.1\n  \
        shaftwork replay shift.cff --settings mill.toml --mass-kg 8400 --out shift\n  \
        shaftwork replay monday.csv tuesday.csv --settings mill.toml --out week\n\n\
        A trace holds samples of the waves. A logger's rms values want values = \"rms\" under [sampling]; currents \
        alone want wiring = \"currents-only\" under [supply], and power is estimated.\n\n\
        Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage; 3 an --expect failed; \
        130 a signal ended it.")]
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
    /// What is written of it.
    #[command(flatten)]
    pub wanted: Wanted,
}

/// What is written, printed and expected of a replay, or of a closed loop.
#[derive(Debug, Clone, PartialEq, Args)]
pub struct Wanted {
    /// Write report.html, intervals.csv, events.csv and runs.csv into DIR; several traces have a folder each and summary.json
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
        let Self { traces, settings, mass_kg, accept_short, wanted } = self;
        let Wanted { out, json, expect, digest, bits } = wanted;
        Replay { traces, settings, json, out, mass_kg, accept_short, expect, digest, bits }.checked()
    }
}

impl Replay {
    /// Of one trace, as a closed loop has it.
    ///
    /// # Errors
    /// In words, if what is wanted makes no sense together.
    pub(super) fn of(trace: &str, settings: &Path, wanted: &Wanted) -> Result<Self, Usage> {
        let Wanted { out, json, expect, digest, bits } = wanted.clone();
        let (traces, settings) = (vec![trace.to_owned()], settings.to_owned());
        Self { traces, settings, json, out, mass_kg: None, accept_short: false, expect, digest, bits }.checked()
    }

    fn checked(self) -> Result<Self, Usage> {
        let Self { traces, settings, json, out, mass_kg, expect, digest, bits, .. } = &self;
        let digest = *digest;
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
        expect::agree(expect)?;
        Ok(self)
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
    use crate::cli::Cli;
    use clap::{CommandFactory as _, Parser};

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
