//! The command line: what may be typed, and what it means once it has been checked.
//!
//! The structs ending in `Args` are as typed; `validate` turns them into what the verbs take. Arguments
//! that make no sense together are a [`Usage`](crate::error::Usage): exit status 2, as for those that cannot be read at all.

mod calibrate;
mod capture;
mod closed;
mod commission;
mod expect;
mod motor_study;
mod noload;
mod outcome;
mod pages;
mod replay;
mod shift;
pub mod show;
mod step_test;
mod synth;
mod trip_study;
mod wiring;

use std::path::PathBuf;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Args, Parser, Subcommand};

pub use calibrate::Calibrate;
pub use capture::Capture;
pub use closed::ClosedLoop;
pub use commission::Commission;
pub use expect::{At, Expect};
pub use motor_study::MotorStudy;
pub use noload::LearnNoLoad;
pub use outcome::failed;
pub use pages::{completions, man};
pub use replay::{Replay, ReplayArgs};
pub use shift::Shift;
pub use show::{info, show};
pub use step_test::StepTest;
pub use synth::Synth;
pub use trip_study::TripStudy;
pub use wiring::CheckWiring;

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
    Exit status: 0 done; 1 the content of an input is bad; 2 wrong usage; 3 an --expect or a commissioning test failed; \
    130 a signal ended it.\n\n\
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
    /// Check how voltages and currents are connected, from a trace of the motor at work
    #[command(
        long_about = "Names what is connected wrongly: a transformer turned round, phases exchanged, a missing voltage, a \
        wrong ratio, a clipped or stuck channel, capacitors in the current; in words, as JSON and as a drawing of the \
        phasors. Waveforms of an inverter are refused. Faults that no figure can tell apart are named together; the \
        direction of rotation is to be confirmed by eye."
    )]
    CheckWiring(CheckWiring),
    /// Find gains, offsets and phase errors from readings of a reference meter
    #[command(
        long_about = "Compares a trace with what a reference meter showed meanwhile and finds gain, offset_counts and \
        phase_deg of [sampling] by least squares, with what is left; prints the lines to paste, or writes a new settings \
        file."
    )]
    Calibrate(Calibrate),
    /// Learn core loss and friction from a trace of the motor with nothing on its shaft
    #[command(
        long_about = "Separates the losses of a motor that drives nothing (no-load test, IEC 60034-2-1): friction and windage \
        where a straight line of loss over voltage squared meets zero, core loss from the rest; each with its band, \
        no-load current and power factor. Prints the lines for [motor], or writes a new settings file. A motor that \
        drives something is refused."
    )]
    LearnNoLoad(LearnNoLoad),
    /// Turn what a board captured around a decision into a COMTRADE record that replays
    #[command(
        long_about = "Turns what a board's recorder captured around a decision into a COMTRADE record. What the monitor remembered \
        then is written beside it: 'replay' goes on from there and comes to the same decision, or shows what other settings \
        would have decided."
    )]
    Capture(Capture),
    /// Run the plant model and the firmware core together, as a board would
    #[command(
        long_about = "Runs the plant model and the firmware core together: what the core decides opens the contactor, lights the \
        lamp and drives the feeder, and the plant answers. Reports as 'replay' does. The person at the mill keeps the permit \
        on, heeds the lamp, releases a feed that waits for it, and starts nothing again after a trip."
    )]
    ClosedLoop(ClosedLoop),
    /// Try every trip element by injection and print the as-left sheet
    #[command(
        long_about = "Puts a test source in the converter's place and tries every trip element that is on: just short of its \
        pick-up, which it must bear, and just beyond, at which it must operate in time. Prints the as-left sheet: settings \
        with their check sum, version, a row for each element, lines to sign. A board tries the same by itself: --sheet \
        reads what it wrote, and holds it against what this computer comes to."
    )]
    Commission(Commission),
    /// Find energy a tonne over rate, the choke, a set point and the feeder's tuning, from steps of the feed
    #[command(
        long_about = "Finds from steps of the feed how energy a tonne goes with rate (what breaks a tonne, and the empty mill's power \
        spread over what is fed), where the mill chokes, a set point with reserve, and gain, lag and delay for the tuning of a \
        governed feeder; with bands, and never beyond what was fed. From a recorded trace whose runs are the steps, or from the \
        plant model, whose feeder goes up a staircase until the feed stops."
    )]
    StepTest(StepTest),
    /// Close shifts: energy, tonnes, idle hours, demand and drift, figures that add up
    #[command(
        long_about = "Books interval logs and weigh tickets on the shifts of a calendar: kWh, tonnes, kWh per tonne gross and net with \
        their uncertainty, idle hours and money, demand, power factor, starts, trips, drift against the mill's own baseline. Shifts and \
        what lies outside of them add up; what was measured, bridged by a register, estimated or is missing is told apart."
    )]
    Shift(Shift),
    /// Compare trip settings on traces of jams and of honest work
    #[command(
        long_about = "Judges every trace of a folder under every combination of the settings that a file varies, with the firmware core: \
        which jams are caught in time, late or missed, which honest traces trip, how soon, and how near honest work came to a \
        trip. Shows the settings that no other beats, and recommends one: chosen on every second trace, shown on the others."
    )]
    TripStudy(TripStudy),
    /// Put the recorded load on other motors: which would have done it?
    #[command(
        long_about = "Puts the load of a replay's intervals on other motors: each turns the mill's rotor by its own circuit, and the firmware \
        core judges its currents. Load against its rating (rms, 95 %, peaks of 1 and 10 s), thermal image, starts, stalls, trips, kWh \
        a tonne; the smallest that would have done it. The recorded motor goes through the same, as a check."
    )]
    MotorStudy(MotorStudy),
    /// Make a trace from the plant model, with its truth
    #[command(
        long_about = "Makes a trace from a model of supply, motor, mill and feed, with the truth and the settings that \
        replay it beside it. Figures are invented; the model obeys physics. A trace may be hours long."
    )]
    Synth(Synth),
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
#[command(
    after_help = "Example, for the bash that runs now (the README says how to keep it, and the other shells):\n  \
        source <(shaftwork completions bash)"
)]
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
