//! Where a replay is known not to give the truth, and why.
//!
//! A row that lies outside its bound without standing here breaks the promise; so does one that stands here and lies
//! inside: whoever mends the cause strikes the line out. Each has its own span, in the unit of the row's bound (per cent): a
//! difference that grows beyond it breaks the promise too.

use super::row::{Row, Verdict};

/// Scenario, figure, how far it lies outside, and why. A row without a difference has an empty span.
type Exception = (&'static str, &'static str, [f64; 2], &'static str);

const DEAD: &str = "a current that is not measured: what was measured is the energy of the other two phases; the warning says so, and what \
     follows from it is null";

/// All of them.
const EXCEPTIONS: [Exception; 1] =
    [("dead-sensor", "electrical energy less what was given back, kWh", [-27.0, -18.0], DEAD)];

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
