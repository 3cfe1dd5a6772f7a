//! The command line: one verb a step.

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Result;
use clap::{Parser, Subcommand, ValueEnum};

use crate::place::Place;
use crate::step;
use crate::toolchain::Toolchain;
use crate::traces::Trace;

/// Every step of the build and of continuous integration, by name.
#[derive(Debug, Parser)]
#[command(name = "cargo xtask", bin_name = "cargo xtask")]
struct Cli {
    #[command(subcommand)]
    verb: Verb,
    /// Whose compiler builds the firmware.
    #[arg(long, value_enum, default_value_t = Choice::Auto, global = true)]
    toolchain: Choice,
    /// Seconds after which a run of the emulator is ended.
    #[arg(long, value_name = "SECONDS", default_value_t = 120, global = true)]
    emulator_limit: u64,
}

/// Whose compiler builds the firmware.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Choice {
    /// rustup's where its targets can be had, else Debian's.
    Auto,
    /// rustup's, with its own targets.
    Rustup,
    /// Debian's, which builds `core` from source.
    Debian,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Checks the format of both workspaces (`--write` changes it).
    Fmt {
        /// Writes instead of checking.
        #[arg(long)]
        write: bool,
    },
    /// Lints both workspaces, for the host and for the firmware's target.
    Clippy,
    /// All tests: both workspaces on the host, then the emulator.
    Test,
    /// Builds the core for targets without std, and shows that nothing of it needs floating point.
    NoStd,
    /// Builds the documentation; a warning is an error.
    Doc,
    /// Replays traces on the host and on the emulated board and compares every bit of every report.
    Qemu(Pick),
    /// Injects faults of a board on the emulated ones; each must end as docs/faults.md says.
    Faults {
        /// Writes the page instead of comparing.
        #[arg(long)]
        write: bool,
    },
    /// Runs the image that logs through defmt on the emulated board and decodes what it wrote.
    Defmt,
    /// Tries every trip element by injection on the host and on the emulated boards: each must write the same sheet, and pass.
    Commission,
    /// Counts the core's instructions on the emulated board, in the image and run of the bit check; without a trace, writes
    /// docs/budget.md.
    Budget(Pick),
    /// Flash and RAM of the release image, of the core alone, and of the core's state.
    Size,
    /// Links the real board's firmware: flash, RAM, no floating point in software, no allocator. It is not run.
    Board,
    /// Shows that no path leads from the core to a panic.
    PanicFree,
    /// Measures the meter's accuracy over a grid of waveforms and writes docs/accuracy.md.
    Accuracy,
    /// Replays every scenario of the plant model against its truth and compares with docs/scenarios.md.
    Scenarios {
        /// Writes the page instead of comparing.
        #[arg(long)]
        write: bool,
    },
    /// Replays the traces with known truth that lie beside the repository and compares their events with tests/golden/cases.
    Cases {
        /// Writes the texts instead of comparing.
        #[arg(long)]
        write: bool,
    },
    /// Tries the demo's report in a headless browser.
    Page,
    /// Pictures the demo's report for the README: docs/report.png.
    Picture,
    /// Prints how fast traces are read and replayed (`--large`: and the memory that 2 GB of them take).
    Speed {
        /// Goes over traces of 2 GB as well; needs 5 GB of disk.
        #[arg(long)]
        large: bool,
    },
    /// Any bytes at all through the parsers, with `cargo fuzz`; not part of `ci`.
    Fuzz {
        /// csv, cfg, dat, cff or settings; without one, all.
        targets: Vec<String>,
        /// Seconds for each.
        #[arg(long, default_value_t = 600)]
        seconds: u64,
    },
    /// Whether the core's tests notice each small change of the trip elements, with `cargo mutants`; not part of `ci`.
    Mutants {
        /// Tries only what the run before did not catch.
        #[arg(long)]
        resume: bool,
    },
    /// Everything that has to pass before a change is taken.
    Ci,
}

/// Which traces: one with its settings, or all under tests/traces.
#[derive(Debug, clap::Args)]
struct Pick {
    /// A trace; without one, all under tests/traces.
    #[arg(requires = "settings")]
    trace: Option<PathBuf>,
    /// Its settings.
    #[arg(long, requires = "trace")]
    settings: Option<PathBuf>,
}

impl Pick {
    fn traces(self, place: &Place) -> Result<Vec<Trace>> {
        match (self.trace, self.settings) {
            (Some(trace), Some(settings)) => Ok(vec![Trace::new(trace, settings)]),
            _ => crate::traces::committed(place),
        }
    }
}

/// What every step needs.
pub struct Context {
    /// Where things are.
    pub place: Place,
    /// Whose compiler builds the firmware; found out when first needed.
    pub toolchain: Toolchain,
    /// How long a run of the emulator may take.
    pub emulator_limit: Duration,
}

/// Reads the command line and runs the step.
pub fn run() -> Result<()> {
    let cli = Cli::parse();
    let place = Place::find()?;
    let context = Context {
        toolchain: Toolchain::new(cli.toolchain),
        place,
        emulator_limit: Duration::from_secs(cli.emulator_limit),
    };
    let context = &context;
    let (_seconds, _line) = match cli.verb {
        Verb::Fmt { write } => step::timed("fmt", || step::fmt::run(context, write)),
        Verb::Clippy => step::timed("clippy", || step::clippy::run(context)),
        Verb::Test => step::timed("test", || step::test::run(context)),
        Verb::NoStd => step::timed("no-std", || step::no_std::run(context)),
        Verb::Doc => step::timed("doc", || step::doc::run(context)),
        Verb::Qemu(pick) => step::timed("qemu", || step::qemu::run(context, &pick.traces(&context.place)?)),
        Verb::Faults { write } => step::timed("faults", || step::faults::run(context, write)),
        Verb::Defmt => step::timed("defmt", || step::defmt::run(context)),
        Verb::Commission => step::timed("commission", || step::commission::run(context)),
        Verb::Budget(pick) => step::timed("budget", || {
            let all = pick.trace.is_none();
            step::budget::run(context, &pick.traces(&context.place)?, all)
        }),
        Verb::Size => step::timed("size", || step::size::run(context)),
        Verb::Board => step::timed("board", || step::board::run(context)),
        Verb::PanicFree => step::timed("panic-free", || step::panic_free::run(context)),
        Verb::Accuracy => step::timed("accuracy", || step::accuracy::run(context, true)),
        Verb::Scenarios { write } => step::timed("scenarios", || step::scenarios::run(context, write)),
        Verb::Cases { write } => step::timed("cases", || step::cases::run(context, write)),
        Verb::Page => step::timed("page", || step::page::run(context)),
        Verb::Picture => step::timed("picture", || step::page::picture(context)),
        Verb::Speed { large } => step::timed("speed", || step::speed::run(context, large)),
        Verb::Fuzz { targets, seconds } => step::timed("fuzz", || step::fuzz::run(context, &targets, seconds)),
        Verb::Mutants { resume } => step::timed("mutants", || step::mutants::run(context, resume)),
        Verb::Ci => step::timed("ci", || step::ci::run(context)),
    }?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn a_trace_wants_its_settings() {
        assert!(Cli::try_parse_from(["xtask", "qemu"]).is_ok());
        assert!(Cli::try_parse_from(["xtask", "qemu", "a.csv"]).is_err());
        assert!(Cli::try_parse_from(["xtask", "qemu", "a.csv", "--settings", "a.toml"]).is_ok());
    }
}
