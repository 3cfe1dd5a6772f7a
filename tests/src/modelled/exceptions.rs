//! Where a replay is known not to give the truth, and why.
//!
//! A row that lies outside its bound without standing here breaks the promise; so does one that stands here and lies
//! inside: whoever mends the cause strikes the line out.

use super::row::{Row, Verdict};

/// Scenario, figure, and why it lies outside.
type Exception = (&'static str, &'static str, &'static str);

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
    ("cold-start", SHAFT, LATE),
    ("cold-start", NET, LATE),
    ("star-delta-start", SHAFT, LATE),
    ("star-delta-start", NET, LATE),
    ("soft-start", SHAFT, LATE),
    ("soft-start", NET, LATE),
    ("light-start", SHAFT, LATE),
    ("light-start", NET, LATE),
    ("light-start", "shaft energy from the run-up as told, kWh", LAG),
    ("star-delta-start", "starts", PAUSE),
    ("star-delta-start", "stops", PAUSE),
    ("star-delta-start", "start takes, s", PAUSE),
    ("star-delta-start", "start's peak current, A", PAUSE),
    ("wedge", SHAFT, STALLED),
    ("wedge", NET, STALLED),
    ("wedge", "net energy a tonne, kWh/t", STALLED),
    ("light-jam", SHAFT, STALLED),
    ("light-jam", NET, STALLED),
    ("lost-phase", SHAFT, BACKWARD),
    ("lost-phase", NET, BACKWARD),
    ("lost-phase", "net energy a tonne, kWh/t", BACKWARD),
    ("lost-phase-upstream", SHAFT, BACKWARD),
    ("lost-phase-upstream", NET, BACKWARD),
    ("lost-phase-upstream", "net energy a tonne, kWh/t", BACKWARD),
    ("shift", "mass fed, kg", COUNT),
    ("dead-sensor", "electrical energy less what was given back, kWh", DEAD),
    ("dead-sensor", SHAFT, DEAD),
    ("dead-sensor", NET, DEAD),
    ("dead-sensor", "net energy a tonne, kWh/t", DEAD),
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
    for (_, figure, why) in EXCEPTIONS.iter().filter(|(name, ..)| *name == scenario) {
        match rows.iter_mut().find(|row| row.figure == *figure) {
            Some(row) if row.verdict == Verdict::Outside => row.verdict = Verdict::Known(why),
            Some(_) => needless.push(format!("{scenario}, {figure}: is inside its bound, yet excepted")),
            None => needless.push(format!("{scenario}, {figure}: excepted, yet there is no such row")),
        }
    }
    needless
}
