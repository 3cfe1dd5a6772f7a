//! The mills of the wedge study: motors, inertias, loads, supplies.
//!
//! | drawn | from |
//! |---|---|
//! | motor | six of [`crate::machine`] with the plant's own one: 30 to 110 kW, 50 and 60 Hz, 2 to 6 poles |
//! | twice the rotor's energy over rated power | 5 to 9 s (the load that a 100 hp motor is made to start has 8.7 s: NEMA MG 1, 12.54) |
//! | empty mill | 10 to 25 % of rated power |
//! | supply | 90 to 110 % of rated voltage |
//! | time between pieces | 1.6 to 5 s, 1 to 3.2 s or 0.7 to 2.3 s, and not before the last one is done: 0.41 pieces a second in the mean |

use super::draw::{Rating, piece, wedge};
use crate::machine::{Extra, Machine, spread};
use shaftwork_sim::plant::Scenario;
use shaftwork_sim::plant::circuit::Circuit;
use shaftwork_sim::plant::mill::{Lump, Mill};
use shaftwork_sim::plant::seed::{Random, Span};
use shaftwork_sim::plant::supply::{Closed, Supply};
use shaftwork_sim::settings;
use shaftwork_sim::settings::Settings;

const MOTORS: [&str; 5] = [
    "90 kW 690 V 50 Hz",
    "110 kW 480 V 60 Hz",
    "45 kW 6-pole 400 V 50 Hz",
    "30 kW 2-pole 400 V 50 Hz",
    "55 kW 230 V 60 Hz 4-pole deep bar",
];
const STORED_S: Span = Span(5.0, 9.0);
const EMPTY: Span = Span(0.10, 0.25);
const VOLTAGE: Span = Span(0.90, 1.10);
const INTERVALS_S: [Span; 3] = [Span(1.6, 5.0), Span(1.0, 3.2), Span(0.7, 2.3)];
/// The motor runs up, and the mill is idle, before the first frame, s.
const LEAD_S: f64 = 20.0;
/// Feeding goes on for so long, s.
const FED_S: f64 = 900.0;
/// A wedge comes within this time, s, and is looked at for so long.
const WEDGED_S: Span = Span(6.0, 9.0);
const LOOKED_S: f64 = 6.0;

/// A motor with all that is known of it.
#[derive(Debug, Clone)]
pub struct Motor {
    /// What it is.
    pub machine: Machine,
    /// Its ratings.
    pub rating: Rating,
    /// Rated current, A.
    pub rated_a: f64,
    /// Slip at rated load, and at breakdown.
    pub slips: [f64; 2],
    /// The settings file's text, without any element that could trip first.
    pub text: String,
}

/// One mill of the study with what falls into it.
#[derive(Debug, Clone)]
pub struct Case {
    /// Which of the motors.
    pub motor: usize,
    /// What happens.
    pub scenario: Scenario,
    /// Pieces that fall.
    pub pieces: u32,
    /// All that turns, kg m².
    pub inertia_kg_m2: f64,
}

/// The motors.
///
/// # Panics
///
/// When one of them is not there, or cannot bear its load.
#[must_use]
pub fn motors() -> Vec<Motor> {
    let own = Machine {
        name: "55 kW 400 V 50 Hz",
        circuit: Circuit::mill_55_kw(),
        rated_w: 55e3,
        rate_hz: 4000.0,
        bits: 16,
        start_s: 6.0,
    };
    let listed = spread().into_iter().filter(|machine| MOTORS.contains(&machine.name));
    let motors: Vec<Motor> = std::iter::once(own).chain(listed).map(Motor::new).collect();
    assert_eq!(motors.len(), 1 + MOTORS.len());
    motors
}

impl Motor {
    fn new(machine: Machine) -> Self {
        let plate = machine.plate();
        Self {
            rating: Rating { watts: machine.rated_w, newtonmetres: plate.rated.shaft_nm },
            rated_a: plate.rated.current_a,
            slips: [plate.rated.slip, plate.breakdown.slip],
            text: machine.settings(&Extra::default()),
            machine,
        }
    }

    /// Its settings file's settings.
    ///
    /// # Panics
    ///
    /// When they are refused.
    #[must_use]
    pub fn settings(&self) -> Settings {
        settings::parse(&self.text, self.machine.name).unwrap_or_else(|faults| panic!("{faults}")).0
    }

    /// The mill that belongs to a seed, and the random numbers for what falls into it.
    fn mill(&self, number: usize, random: &mut Random) -> Case {
        let sync = self.machine.circuit.synchronous_rad_s();
        let inertia_kg_m2 = random.within(STORED_S) * self.rating.watts / (sync * sync);
        let windage_nm_s2 = self.machine.windage(random.within(EMPTY));
        let circuit = self.machine.circuit.clone();
        let line_v = circuit.line_v * random.within(VOLTAGE);
        let supply = Supply::new(line_v, circuit.frequency_hz, Closed::ALWAYS);
        let mill = Mill {
            inertia_kg_m2: inertia_kg_m2 - circuit.inertia_kg_m2,
            windage_nm_s2,
            working_rad_s: sync,
            ..Mill::default()
        };
        let scenario = Scenario {
            circuit,
            supply,
            mill,
            rate_hz: self.machine.rate_hz,
            lead_s: LEAD_S,
            duration_s: FED_S,
            ..Scenario::default()
        };
        Case { motor: number, scenario, pieces: 0, inertia_kg_m2 }
    }
}

fn feed(case: &mut Case, until_s: f64, rating: Rating, random: &mut Random) {
    let interval_s = INTERVALS_S[(3.0 * random.unit()) as usize % 3];
    let mut strikes: Vec<Lump> = Vec::new();
    let mut at_s = 1.0;
    while at_s < until_s {
        let done_s = piece(at_s, rating, random, &mut strikes);
        case.pieces += 1;
        at_s = done_s.max(at_s + random.within(interval_s));
    }
    case.scenario.mill.lumps = strikes;
}

/// Each motor in turn, with even numbers and with odd ones.
fn which(motors: &[Motor], number: u64) -> usize {
    (number / 2) as usize % motors.len()
}

/// A quarter of an hour of honest work, by its number.
#[must_use]
pub fn honest(motors: &[Motor], number: u64) -> Case {
    let mut random = Random::stream(number, 101);
    let of = which(motors, number);
    let mut case = motors[of].mill(of, &mut random);
    feed(&mut case, FED_S, motors[of].rating, &mut random);
    case
}

/// Some seconds of work, and a wedge.
#[must_use]
pub fn wedged(motors: &[Motor], number: u64) -> Case {
    let mut random = Random::stream(number, 102);
    let of = which(motors, number);
    let mut case = motors[of].mill(of, &mut random);
    let at_s = random.within(WEDGED_S);
    feed(&mut case, at_s, motors[of].rating, &mut random);
    case.scenario.mill.wedge = Some(wedge(at_s, motors[of].rating, &mut random));
    case.scenario.duration_s = at_s + LOOKED_S;
    case
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_sim::plant::reduced::{Refused, run};

    /// On every supply a rotor runs up within the lead, no honest piece comes near to stalling it, and loads are as the
    /// table says.
    #[test]
    fn every_mill_works_at_its_load() {
        let motors = motors();
        let (mut loads, mut pieces, mut used) = (Vec::new(), 0, Vec::new());
        for number in 0..60 {
            let case = honest(&motors, number);
            let motor = &motors[case.motor];
            let sync = motor.machine.circuit.synchronous_rpm();
            let mut slowest = f64::INFINITY;
            let end = run(&case.scenario, 0, |step| {
                slowest = slowest.min(step.truth.speed_rpm / sync);
                Ok::<(), Refused>(())
            })
            .unwrap();
            loads.push(end.shaft_j / FED_S / motor.rating.watts);
            pieces += case.pieces;
            used.push((1.0 - slowest - motor.slips[0]) / (motor.slips[1] - motor.slips[0]));
        }
        assert!(loads.iter().all(|load| (0.3..0.7).contains(load)), "{loads:?}");
        assert!(used.iter().all(|share| (0.1..0.9).contains(share)), "of the margin to breakdown slip: {used:?}");
        let rate = f64::from(pieces) / 60.0 / FED_S;
        assert!((rate - 0.41).abs() < 0.02, "{rate} pieces a second");
    }
}
