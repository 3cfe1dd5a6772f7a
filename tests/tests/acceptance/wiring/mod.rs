//! What the commissioning check names, over every single fault and every pair of faults.
//!
//! Truth is made here in `f64`: phasors of the motor's circuit in steady state (`plant::steady`, itself checked against
//! textbook circuits), with the faults worked on the phasors themselves. Two sets of faults are one class when they turn
//! balanced phasors into the same figures but for a common turn: then nothing measured can tell them apart. Polarity:
//! IEC 61869; the motor's negative-sequence impedance is that at slip 2 - s (symmetrical components, Fortescue 1918).

mod classes;
mod lines;

use std::collections::BTreeMap;
use std::fmt::Write as _;

use shaftwork_core::Window;
use shaftwork_core::settings::Wiring;
use shaftwork_core::wiring::{Diagnosis, Expected, Fault, Faults, Side, diagnose};
use shaftwork_sim::plant::circuit::Circuit;
use shaftwork_sim::synth::catalogue;
use shaftwork_sim::{fit, settings};

use classes::{alike, clash, kind, singles};
use lines::{Lines, Work, channels, motor, phasors};

/// Shares of rated load.
const LOADS: [f64; 6] = [0.1, 0.25, 0.5, 0.75, 1.0, 1.25];

#[derive(Default, Debug)]
struct Tally {
    /// Which of [`LOADS`].
    load: usize,
    cases: u32,
    right: u32,
    /// Named, and nothing else beside it.
    alone: u32,
    invisible: u32,
    silent: u32,
    silent_kinds: BTreeMap<String, u32>,
    /// By load.
    missed: BTreeMap<String, [u32; LOADS.len()]>,
}

impl Tally {
    fn case(&mut self, wiring: Wiring, expected: &Expected, lines: Lines, faults: &[Work], no_load_var: f64) {
        let mut truth = faults.iter().fold(Faults::NONE, |set, work| set.with(work.0));
        if let (Wiring::TwoElement, [Work(Fault::Ratio(a), x), Work(Fault::Ratio(b), y)]) = (wiring, faults)
            && (a / 3 == b / 3 && x.total_cmp(y).is_eq())
        {
            // Two of two are all of them.
            truth = Faults::NONE.with(Fault::AllRatio(if *a < 3 { Side::Voltages } else { Side::Currents }));
        }
        let clipped = u32::from(truth.has(Fault::Clipped)) * 40;
        let window = Window { clipped, ..Window::default() };
        let found = diagnose(expected, &window, &phasors(channels(wiring, lines, faults, no_load_var)));
        self.cases += 1;
        let invisible = alike(wiring, truth, Faults::NONE);
        self.invisible += u32::from(invisible);
        let sets = match &found {
            Diagnosis::Explained(class) => class.sets(),
            _ => &[],
        };
        // Listed: without any current the motor may as well stand, and nothing is said.
        let none = (3..6).all(|k| !Fault::Dead(k).exists(wiring) || truth.has(Fault::Dead(k)));
        let right = sets.iter().any(|set| alike(wiring, truth, *set)) || (none && found == Diagnosis::Idle);
        self.right += u32::from(right);
        self.alone += u32::from(right && sets.iter().all(|set| alike(wiring, truth, *set)));
        let names = faults.iter().map(|work| kind(work.0)).collect::<Vec<_>>().join(" + ");
        // Listed as invisible at one load.
        let hidden = truth.has(Fault::Capacitors) && truth.has(Fault::AllRatio(Side::Currents));
        self.invisible += u32::from(hidden);
        if sets.first() == Some(&Faults::NONE) && !invisible && !hidden {
            self.silent += 1;
            *self
                .silent_kinds
                .entry(format!("{names} {:?}", faults.iter().map(|f| f.1).collect::<Vec<_>>()))
                .or_default() += 1;
        }
        if !right {
            self.missed.entry(names).or_default()[self.load] += 1;
        }
    }

    fn add(&mut self, other: &Self) {
        self.cases += other.cases;
        self.right += other.right;
    }

    fn percent(&self) -> f64 {
        100.0 * f64::from(self.right) / f64::from(self.cases)
    }
}

/// The expectation as a user's settings make it.
fn expected(wiring: &str, plain: bool) -> Expected {
    let text = catalogue::find("hand-fed").expect("it is in the catalogue").settings();
    let text: String = text
        .lines()
        .filter(|line| {
            let detail = ["efficiency_pct", "power_factor_pct", "stator_resistance_ohm", "locked_rotor_current_a"];
            !(plain && detail.iter().any(|key| line.starts_with(key)))
        })
        .map(|line| if line.starts_with("wiring") { format!("wiring = \"{wiring}\"\n") } else { format!("{line}\n") })
        .collect();
    let (settings, _) = settings::parse(&text, "mill.toml").expect("sound settings");
    Expected::new(&fit::core_settings(&settings, 4_000.0).expect("a motor"))
}

/// The tallies of sound installations, single faults and pairs of faults.
fn tallies(wiring: Wiring, name: &str, plain: bool) -> [Tally; 3] {
    let circuit = Circuit::default();
    let no_load_var = circuit.line_v.powi(2) / (circuit.magnetising_ohm + circuit.stator_leakage_ohm);
    let expected = expected(name, plain);
    let [mut sound, mut one, mut two] = [(); 3].map(|()| Tally::default());
    let works = singles(wiring);
    // 2 % of unbalance is the most that EN 50160 lets a public supply have; at 10 % of load it is a third of the current.
    let supplies = [(0.97, 0.01), (1.0, 0.0), (0.95, 0.02), (1.05, 0.01)];
    for (place, load) in LOADS.into_iter().enumerate() {
        for (n, (voltage, unbalance)) in supplies.into_iter().enumerate() {
            let lines = |works: &[Work]| {
                let backwards = works.iter().any(|work| work.0 == Fault::SupplyReversed);
                motor(&circuit, 55e3, load, voltage, unbalance, backwards)
            };
            for tally in [&mut sound, &mut one, &mut two] {
                tally.load = place;
            }
            sound.case(wiring, &expected, lines(&[]), &[], no_load_var);
            for (first, a) in works.iter().enumerate() {
                one.case(wiring, &expected, lines(&[*a]), &[*a], no_load_var);
                // Pairs are many: on the first supply only.
                let others = if n == 0 { &works[first + 1..] } else { &[] };
                for b in others.iter().filter(|b| !clash(wiring, a.0, b.0)) {
                    two.case(wiring, &expected, lines(&[*a, *b]), &[*a, *b], no_load_var);
                }
            }
        }
    }
    [sound, one, two]
}

#[test]
fn single_faults_and_pairs_are_named() {
    let wirings =
        [(Wiring::FourWire, "four-wire"), (Wiring::ThreeWire, "three-wire"), (Wiring::TwoElement, "two-element")];
    let cases = wirings.into_iter().flat_map(|(wiring, name)| [false, true].map(|plain| (wiring, name, plain)));
    let all: Vec<_> = std::thread::scope(|scope| {
        let runs: Vec<_> = cases
            .map(|(wiring, name, plain)| (name, plain, scope.spawn(move || tallies(wiring, name, plain))))
            .collect();
        runs.into_iter().map(|(name, plain, run)| (name, plain, run.join().expect("no panic"))).collect()
    });
    let mut report = String::new();
    for (name, plain, tallies) in &all {
        let plate = if *plain { "nameplate alone" } else { "nameplate and curves" };
        for (what, tally) in ["sound", "single", "pairs"].into_iter().zip(tallies) {
            let _ = writeln!(
                report,
                "{name}, {plate}, {what}: {} of {} named ({:.2} %), {} alone, {} invisible, {} silent",
                tally.right,
                tally.cases,
                tally.percent(),
                tally.alone,
                tally.invisible,
                tally.silent
            );
            for (names, counts) in &tally.missed {
                let by_load = counts.map(|count| format!("{count:4}")).concat();
                let _ = writeln!(report, "    missed at {LOADS:?}:{by_load} {names}");
            }
            for (names, count) in &tally.silent_kinds {
                let _ = writeln!(report, "    silent {count:5} {names}");
            }
        }
    }
    println!("{report}");
    let (mut ones, mut twos) = (Tally::default(), Tally::default());
    for (name, plain, [sound, one, two]) in &all {
        let case = format!("{name}, nameplate alone: {plain}");
        assert_eq!(sound.right, sound.cases, "{case}: a sound installation is called faulty\n{report}");
        assert_eq!(one.silent + two.silent, 0, "{case}: a fault is accepted\n{report}");
        // What is missed for the most part: currents by a factor with capacitors, which are a factor alone at one load; two
        // factors that differ by a sixth; a factor beside a voltage that is missing, at light load, where 2 % of unbalance
        // that is not known may do as much.
        let least = if *name == "two-element" { 97.0 } else { 99.0 };
        assert!(one.percent() >= 99.5 && two.percent() >= least, "{case}\n{report}");
        ones.add(one);
        twos.add(two);
    }
    println!("all: single {:.2} %, pairs {:.2} %", ones.percent(), twos.percent());
    assert!(ones.percent() >= 99.5 && twos.percent() >= 98.5, "{report}");
}
