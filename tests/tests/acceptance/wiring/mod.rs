//! What the commissioning check names, over every single fault and every pair of faults.
//!
//! Truth is made here in `f64`: phasors of a motor's circuit in steady state (`plant::steady`, itself checked against
//! textbook circuits), with the faults worked on the phasors themselves. Two sets of faults are one class when they turn
//! balanced phasors into the same figures but for a common turn: then nothing measured can tell them apart. Polarity:
//! IEC 61869; the motor's negative-sequence impedance is that at slip 2 - s (symmetrical components, Fortescue 1918).

mod bench;
mod classes;
mod invisible;
mod lines;
mod tally;

use std::fmt::Write as _;

use shaftwork_acceptance::drawn::drawn;
use shaftwork_acceptance::machine::{Machine, Sheet, fresh, spread};
use shaftwork_core::settings::Wiring;

use bench::{Bench, Tallies};

/// Shares of rated load.
const LOADS: [f64; 6] = [0.1, 0.25, 0.5, 0.75, 1.0, 1.25];
const WIRINGS: [(Wiring, &str); 3] =
    [(Wiring::FourWire, "four-wire"), (Wiring::ThreeWire, "three-wire"), (Wiring::TwoElement, "two-element")];
const SHEETS: [(Sheet, &str); 2] = [(Sheet::Whole, "nameplate and curves"), (Sheet::Least, "nameplate alone")];
/// The draw of which figures are given: counted once when everything in the check, in the classes and in what is asserted was as it is.
const LAST_DRAW: u64 = 2;
/// Motors on which misses were looked at and mended: no figures are given of them.
const MENDED: [&str; 2] = ["55 kW 230 V 60 Hz 4-pole deep bar", "110 kW 480 V 60 Hz"];

#[test]
fn single_faults_and_pairs_are_named_of_motors_drawn_by_chance() {
    count(&drawn(LAST_DRAW));
}

/// The same of the sixes that were counted before the last step of the check or of what is asserted; three times as long as the other, so only
/// where `SHAFTWORK_CASES` asks for more cases than every run of the tests needs.
#[test]
fn single_faults_and_pairs_are_named_of_the_motors_counted_earlier() {
    if std::env::var_os("SHAFTWORK_CASES").is_none() {
        eprintln!("skipped: the wiring of motors counted earlier; SHAFTWORK_CASES is not set");
        return;
    }
    count(&spread().into_iter().filter(|one| !MENDED.contains(&one.name)).collect::<Vec<_>>());
    count(&fresh());
    (1..LAST_DRAW).for_each(|draw| count(&drawn(draw)));
}

fn count(machines: &[Machine]) {
    let cases: Vec<_> = machines
        .iter()
        .enumerate()
        .flat_map(|motor| WIRINGS.map(|wiring| SHEETS.map(|sheet| (motor, wiring, sheet))))
        .flatten()
        .collect();
    let all: Vec<Tallies> = std::thread::scope(|scope| {
        let runs: Vec<_> = cases
            .iter()
            .map(|((number, machine), wiring, (sheet, _))| {
                scope.spawn(move || Bench::new(machine, *number, *wiring, *sheet).tallies())
            })
            .collect();
        runs.into_iter().map(|run| run.join().expect("no panic")).collect()
    });
    let mut report = String::new();
    for (((_, machine), (_, wiring), (_, plate)), tallies) in cases.iter().zip(&all) {
        for (what, tally) in ["sound", "single", "pairs"].into_iter().zip(tallies) {
            let _ = writeln!(report, "{}, {wiring}, {plate}, {what}: {}", machine.name, tally.line());
        }
    }
    let mut sums = Vec::new();
    for (_, wiring) in WIRINGS {
        for (_, plate) in SHEETS {
            let mut sum = Tallies::default();
            for (((_, _), (_, name), (_, sheet)), tallies) in cases.iter().zip(&all) {
                if *name == wiring && *sheet == plate {
                    sum.iter_mut().zip(tallies).for_each(|(sum, tally)| sum.add(tally));
                }
            }
            for (what, tally) in ["sound", "single", "pairs"].into_iter().zip(&sum) {
                let _ = writeln!(report, "ALL, {wiring}, {plate}, {what}: {}\n{}", tally.line(), tally.misses());
            }
            sums.push((wiring, plate, sum));
        }
    }
    println!("{report}");
    for (wiring, plate, [sound, one, two]) in &sums {
        let case = format!("{wiring}, {plate}");
        assert!(sound.by_class.percent() >= 100.0, "{case}: sound ones are blamed\n{report}");
        assert!(one.by_class.percent() >= 95.0 && two.by_class.percent() >= 95.0, "{case}\n{report}");
        // Nothing but what a sound motor may show at another load.
        assert!(
            [sound, one, two].iter().all(|tally| tally.accepted.is_empty()),
            "{case}: a fault is accepted\n{report}"
        );
    }
}
