//! Where a replay is known not to give the truth, and why.
//!
//! A row that lies outside its bound without standing here breaks the promise; so does one that stands here and lies
//! inside: whoever mends the cause strikes the line out. Each has its own span, in the unit of the row's bound (per cent): a
//! difference that grows beyond it breaks the promise too.

use super::row::{Row, Verdict};

/// Scenario, figure, how far it lies outside, and why. A row without a difference has an empty span.
type Exception = (&'static str, &'static str, [f64; 2], &'static str);

/// Of a row that is so or is not.
const FACT: [f64; 2] = [0.0; 2];

const LATE: &str = "the motor gives its highest power as it runs up, and the run-up is told some 30 ms late: in a trace that \
                    hardly does anything else this is much of the shaft's energy; the row `from the run-up as told` counts from \
                    there";
const STALLED: &str = "a rotor that is held while current flows: its speed falls faster than a cycle shows, and from the slip \
                       that looks like standstill on it is taken to stand";
const LAG: &str = "two seconds of trace whose shaft energy is the tail of the run-up: power is a cycle's mean, told a \
                   quarter of a cycle late, some 0.1 Wh";
const PAUSE: &str = "the pause between star and delta, 50 ms without current, is told as a stop and another start";

const DEAD: &str = "a current that is not measured: power is that of the other two phases; the warning says so";

const BACKWARD: &str = "the plant's rotor has one resistance at a time, that of its slip; the core takes what turns against it to meet \
                        the deep bars' at twice the frequency, as in a real cage: here the truth is the simpler of the two";

const COUNT: &str = "a count of this scale is 1 kg, so that hours fit into the record";

const SHAFT: &str = "shaft energy while running, kWh";
const NET: &str = "net energy, kWh";

/// All of them.
const EXCEPTIONS: [Exception; 29] = [
    ("cold-start", SHAFT, [-4.0, -1.0], LATE),
    ("cold-start", NET, [-4.0, -1.0], LATE),
    ("star-delta-start", SHAFT, [-4.0, -1.0], LATE),
    ("star-delta-start", NET, [-4.0, -1.0], LATE),
    ("soft-start", SHAFT, [-4.0, -1.0], LATE),
    ("soft-start", NET, [-4.0, -1.0], LATE),
    ("light-start", SHAFT, [-36.0, -25.0], LATE),
    ("light-start", NET, [-36.0, -25.0], LATE),
    ("light-start", "shaft energy from the run-up as told, kWh", [5.0, 8.0], LAG),
    ("star-delta-start", "starts", FACT, PAUSE),
    ("star-delta-start", "stops", FACT, PAUSE),
    ("star-delta-start", "start takes, s", FACT, PAUSE),
    ("star-delta-start", "start's peak current, A", FACT, PAUSE),
    ("wedge", SHAFT, [-3.0, -1.0], STALLED),
    ("wedge", NET, [-3.0, -1.0], STALLED),
    ("wedge", "net energy a tonne, kWh/t", [-3.0, -1.0], STALLED),
    ("light-jam", SHAFT, [-6.0, -4.0], STALLED),
    ("light-jam", NET, [-6.0, -4.0], STALLED),
    ("lost-phase", SHAFT, [-4.0, -1.0], BACKWARD),
    ("lost-phase", NET, [-4.0, -1.0], BACKWARD),
    ("lost-phase", "net energy a tonne, kWh/t", [-4.0, -1.0], BACKWARD),
    ("lost-phase-upstream", SHAFT, [-4.0, -1.0], BACKWARD),
    ("lost-phase-upstream", NET, [-4.0, -1.0], BACKWARD),
    ("lost-phase-upstream", "net energy a tonne, kWh/t", [-4.0, -1.0], BACKWARD),
    ("shift", "mass fed, kg", [-0.5, 0.5], COUNT),
    ("dead-sensor", "electrical energy less what was given back, kWh", [-27.0, -18.0], DEAD),
    ("dead-sensor", SHAFT, [-27.0, -18.0], DEAD),
    ("dead-sensor", NET, [-27.0, -18.0], DEAD),
    ("dead-sensor", "net energy a tonne, kWh/t", [-27.0, -18.0], DEAD),
];

/// Warnings that a scenario must bring, by words of theirs; any other has to come without.
const WARNINGS: [(&str, &str); 1] = [("dead-sensor", "the second current is gone")];

/// Words that a warning of a scenario must have.
#[must_use]
pub fn warning(scenario: &str) -> Option<&'static str> {
    WARNINGS.iter().find(|(name, _)| *name == scenario).map(|(_, words)| *words)
}

/// Sorts a scenario's rows by what is known; says what stands here without need.
pub fn apply(scenario: &str, rows: &mut [Row]) -> Vec<String> {
    let mut needless = Vec::new();
    for (_, figure, [low, high], why) in EXCEPTIONS.iter().filter(|(name, ..)| *name == scenario) {
        match rows.iter_mut().find(|row| row.figure == *figure) {
            Some(row) if row.verdict == Verdict::Outside => {
                if row.off.is_none_or(|off| (*low..=*high).contains(&off)) {
                    row.verdict = Verdict::Known(why);
                } else {
                    needless.push(format!("{scenario}, {figure}: {} is beyond what is excepted", row.difference));
                }
            }
            Some(_) => needless.push(format!("{scenario}, {figure}: is inside its bound, yet excepted")),
            None => needless.push(format!("{scenario}, {figure}: excepted, yet there is no such row")),
        }
    }
    needless
}
