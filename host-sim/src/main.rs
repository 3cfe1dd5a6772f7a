//! The command `shaftwork`: runs a verb and turns its outcome into an exit status.

use std::process::ExitCode;

use shaftwork_sim::cli::{self, Verb};
use shaftwork_sim::{
    calibrate, capture, check, closed, commission, motor_study, noload, replay, shift, step_test, synth, trip_study,
    wiring,
};

fn main() -> ExitCode {
    run().unwrap_or_else(|error| cli::failed(&error))
}

fn run() -> anyhow::Result<ExitCode> {
    match cli::parse().verb {
        Verb::Replay(args) => replay::run(&args.validate()?),
        Verb::Info(args) => cli::info(&args),
        Verb::CheckSettings(args) => check::run(&args),
        Verb::Calibrate(args) => calibrate::run(&args),
        Verb::CheckWiring(args) => wiring::run(&args),
        Verb::LearnNoLoad(args) => noload::run(&args),
        Verb::Capture(args) => capture::run(&args),
        Verb::Commission(args) => commission::run(&args),
        Verb::ClosedLoop(args) => closed::run(&args),
        Verb::StepTest(args) => step_test::run(&args),
        Verb::Shift(args) => shift::run(&args),
        Verb::TripStudy(args) => trip_study::run(&args),
        Verb::MotorStudy(args) => motor_study::run(&args),
        Verb::Synth(args) => synth::run(&args),
        Verb::Completions(args) => cli::completions(&args),
        Verb::Man(args) => cli::man(&args),
    }
}
