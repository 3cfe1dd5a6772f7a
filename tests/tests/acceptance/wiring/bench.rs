//! A motor with its settings, asked with every fault.

use shaftwork_acceptance::machine::{Extra, Machine, Sheet};
use shaftwork_core::Window;
use shaftwork_core::settings::Wiring;
use shaftwork_core::wiring::{Diagnosis, Expected, Fault, Faults, diagnose};
use shaftwork_sim::wiring::expected;
use shaftwork_sim::{fit, settings};

use super::LOADS;
use super::classes::{apart, singles, sound, weigh};
use super::invisible::Sound;
use super::lines::{Supply, Work, channels, motor, phasors};
use super::tally::{Seen, Tally};

/// Voltage over rated, negative over positive sequence: what EN 50160 lets a public supply have.
const SUPPLIES: [(f64, f64); 4] = [(0.95, 0.0), (1.05, 0.02), (1.05, 0.0), (0.95, 0.02)];
/// The loads at which the check's words ask to check, of [`LOADS`].
const LIGHT_AND_FULL: [usize; 2] = [1, 4];
/// Loads and supplies.
const SITUATIONS: usize = LOADS.len() * SUPPLIES.len();

/// Sound installations, single faults and pairs.
pub type Tallies = [Tally; 3];

/// A motor, how it is measured, and what is known of it.
pub struct Bench<'a> {
    machine: &'a Machine,
    /// Moves the situations, so that no two motors are asked the same.
    number: usize,
    wiring: Wiring,
    expected: Expected,
    sound: Sound,
    no_load_var: f64,
}

impl<'a> Bench<'a> {
    pub fn new(machine: &'a Machine, number: usize, (wiring, name): (Wiring, &str), sheet: Sheet) -> Self {
        let text = machine.settings(&Extra { sheet, ..Extra::default() });
        // The lists have as many figures as the wiring has channels; all are what they are by default.
        let text: String = text
            .lines()
            .filter(|line| !["gain", "phase_deg", "skew_us"].iter().any(|key| line.starts_with(key)))
            .map(|line| if line.starts_with("wiring") { format!("wiring = \"{name}\"\n") } else { format!("{line}\n") })
            .collect();
        let (settings, _) = settings::parse(&text, "mill.toml").expect("sound settings");
        let c = &machine.circuit;
        Self {
            machine,
            number,
            wiring,
            expected: expected(&settings, &fit::core_settings(&settings, machine.rate_hz).expect("a motor")),
            sound: Sound::new(machine, wiring, sheet),
            no_load_var: c.line_v.powi(2) / (c.magnetising_ohm + c.stator_leakage_ohm),
        }
    }

    /// Sound installations in every situation, single faults in every second one; every second pair in one of them,
    /// the others with the next motor.
    pub fn tallies(&self) -> Tallies {
        let mut tallies = Tallies::default();
        let works = singles(self.wiring);
        for situation in 0..SITUATIONS {
            self.ask(&mut tallies[0], situation, &[]);
            for (_, a) in works.iter().enumerate().filter(|(n, _)| (n + situation / LOADS.len()).is_multiple_of(2)) {
                self.ask(&mut tallies[1], situation, &[*a]);
            }
        }
        let pairs = works.iter().enumerate().flat_map(|(n, a)| works[n + 1..].iter().map(move |b| [*a, *b]));
        // One fault by two factors is one fault.
        let pairs = pairs.filter(|[a, b]| a.0 != b.0).enumerate();
        for (n, pair) in pairs.filter(|(n, _)| (n + self.number).is_multiple_of(2)) {
            self.ask(&mut tallies[2], (7 * n + 5 * self.number) % SITUATIONS, &pair);
        }
        tallies
    }

    fn ask(&self, tally: &mut Tally, situation: usize, faults: &[Work]) {
        let load = situation % LOADS.len();
        let (found, invisible) = self.found(situation, faults);
        let answer = weigh(self.wiring, faults, &found);
        let seen = match (sound(&found), invisible) {
            (false, false) => Seen::Told,
            (false, true) => Seen::ToldThough,
            (true, false) => Seen::Accepted,
            // Equal in every figure is right at every load; else one of the two loads that the check asks for must tell it.
            (true, true) if answer.strict => Seen::Equal,
            (true, true) => {
                let told = |other: usize| !sound(&self.found(situation - load + other, faults).0);
                if LIGHT_AND_FULL.into_iter().any(told) { Seen::Silent } else { Seen::Accepted }
            }
        };
        tally.count(load, faults, apart(self.wiring, faults), &answer, seen);
    }

    /// What the check says, and whether a sound motor may show that.
    fn found(&self, situation: usize, faults: &[Work]) -> (Diagnosis, bool) {
        let load = LOADS[situation % LOADS.len()];
        let (voltage, unbalance) = SUPPLIES[situation / LOADS.len()];
        // The golden angle: all round, and never the same.
        let angle = 137.5 * (situation + SITUATIONS * self.number) as f64;
        let truth = faults.iter().fold(Faults::NONE, |set, work| set.with(work.0));
        let backwards = truth.has(Fault::SupplyReversed);
        let Machine { circuit, rated_w, .. } = self.machine;
        let lines = motor(circuit, *rated_w, load, Supply { voltage, unbalance, angle }, backwards);
        let shown = channels(self.wiring, lines, faults, self.no_load_var);
        // Cut waves are seen by themselves.
        let clipped = truth.has(Fault::Clipped);
        let window = Window { clipped: u32::from(clipped) * 40, ..Window::default() };
        (diagnose(&self.expected, &window, &phasors(shown)), !clipped && self.sound.may_show(shown))
    }
}
