//! Malformed inputs through the program as people run it: what they type and get wrong, and what their
//! loggers make.
//!
//! Each case ends in exit status 1 (content) or 2 (usage) within [`harness::LIMIT`] and [`harness::MEMORY_KB`],
//! with a message that has file or argument, place and cure, and leaves nothing behind. What must be in the
//! message stands in the table, so that a message which loses its place or its cure fails.

#![allow(clippy::too_many_lines, reason = "the cases are tables")]

mod comtrade;
mod comtrade_channels;
mod csv;
mod csv_files;
mod files;
mod harness;
mod parts;
mod records;
mod settings;

/// All tables together, so that none gets lost.
#[test]
fn there_are_at_least_two_hundred() {
    let all: Vec<_> = [
        csv::cases(),
        csv_files::cases(),
        comtrade::cases(),
        comtrade_channels::cases(),
        records::cases(),
        settings::cases(),
        files::cases(),
    ]
    .concat();
    let names: std::collections::BTreeSet<_> = all.iter().map(|case| case.name.clone()).collect();
    assert_eq!(names.len(), all.len(), "two cases of one name");
    assert!(all.len() >= 200, "{} cases", all.len());
    println!("{} cases", all.len());
}

#[test]
fn csv_traces() {
    harness::run(&csv::cases());
}

#[test]
fn csv_files() {
    harness::run(&csv_files::cases());
}

#[test]
fn comtrade_configurations() {
    harness::run(&comtrade::cases());
}

#[test]
fn comtrade_channels_and_rates() {
    harness::run(&comtrade_channels::cases());
}

#[test]
fn comtrade_records() {
    harness::run(&records::cases());
}

#[test]
fn settings_files() {
    harness::run(&settings::cases());
}

#[test]
fn files_and_arguments() {
    harness::run(&files::cases());
}

/// The parts that the cases are made of are sound: without the slip each is replayed or checked.
#[test]
fn without_the_slip_all_is_well() {
    harness::sound();
}
