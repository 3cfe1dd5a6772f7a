//! Where a replay is known not to give the truth, and why.
//!
//! A row that lies outside its bound without standing here breaks the promise; so does one that stands here and lies
//! inside: whoever mends the cause strikes the line out.

use super::row::{Row, Verdict};

/// Scenario, figure, and why it lies outside.
type Exception = (&'static str, &'static str, &'static str);

const LATE: &str = "the motor gives its highest power as it runs up, and running is counted from the third half cycle that \
                    shows it, some 50 ms late: the row `from a cycle after the run-up as told` counts from there";
const STALLED: &str = "a rotor held under current: beyond 10 % of slip the core tells no speed, and shaft power is an upper \
                       estimate";
const LAG: &str = "two seconds of trace whose shaft energy is the tail of the run-up: power is a cycle's mean, told a \
                   quarter of a cycle late, some 0.1 Wh";
const PAUSE: &str = "the pause between star and delta, 50 ms without current, is told as a stop and another start";

const SHAFT: &str = "shaft energy while running, kWh";
const NET: &str = "net energy, kWh";

/// All of them.
const EXCEPTIONS: [Exception; 18] = [
    ("cold-start", SHAFT, LATE),
    ("cold-start", NET, LATE),
    ("hot-restart", SHAFT, LATE),
    ("hot-restart", NET, LATE),
    ("star-delta-start", SHAFT, LATE),
    ("star-delta-start", NET, LATE),
    ("light-start", SHAFT, LATE),
    ("light-start", NET, LATE),
    ("light-start", "shaft energy from a cycle after the run-up as told, kWh", LAG),
    ("star-delta-start", "starts", PAUSE),
    ("star-delta-start", "stops", PAUSE),
    ("star-delta-start", "start takes, s", PAUSE),
    ("star-delta-start", "start's peak current, A", PAUSE),
    ("wedge", SHAFT, STALLED),
    ("wedge", NET, STALLED),
    ("wedge", "net energy a tonne, kWh/t", STALLED),
    ("light-jam", SHAFT, STALLED),
    ("light-jam", NET, STALLED),
];

/// Warnings that a scenario must bring, by words of theirs; any other has to come without.
const WARNINGS: [(&str, &str); 0] = [];

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
