//! Expectations: what a trace should bring, for scripts that guard settings.
//!
//! `quiet` wants no trip at all; `trip:CAUSE` wants that trip, with `@T+-TOL` at that time. Each named trip
//! must occur and no other may.

use std::fmt::Write as _;

use crate::cli::Expect;
use crate::report::{EventRow, cause_name};

/// A trip that was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// When, s.
    pub t_s: f64,
    /// As in the output.
    pub cause: &'static str,
}

/// Room for decimals that have no exact double, s.
const ROUNDING_S: f64 = 1e-9;

/// Whether a trip is the one that is expected.
fn met(wanted: &Expect, seen: &Seen) -> bool {
    match wanted {
        Expect::Quiet => false,
        Expect::Trip { cause, at } => {
            cause_name(*cause) == seen.cause
                && at.is_none_or(|at| (seen.t_s - at.t_s).abs() <= at.tolerance_s + ROUNDING_S)
        }
    }
}

fn words(wanted: &Expect) -> String {
    match wanted {
        Expect::Quiet => "no trip".to_owned(),
        Expect::Trip { cause, at: None } => cause_name(*cause).to_owned(),
        Expect::Trip { cause, at: Some(at) } => {
            format!("{} at {} s +- {} s", cause_name(*cause), at.t_s, at.tolerance_s)
        }
    }
}

/// Trips that a message names.
const SHOWN: usize = 20;
/// Trips that are kept to be judged: far more than there are causes, which latch.
pub const MOST: usize = 10_000;

/// The trip of an event, if it is one.
pub fn seen(row: &EventRow) -> Option<Seen> {
    row.cause().map(|cause| Seen { t_s: row.t_s, cause })
}

/// What went against the expectations, in words; `None` when all are met or there are none.
pub fn judge(wanted: &[Expect], trips: &[Seen]) -> Option<String> {
    if wanted.is_empty() {
        return None;
    }
    let missed = wanted.iter().any(|w| *w != Expect::Quiet && !trips.iter().any(|t| met(w, t)));
    let extra = trips.iter().any(|t| !wanted.iter().any(|w| met(w, t)));
    if !missed && !extra {
        return None;
    }
    let list = |parts: Vec<String>| if parts.is_empty() { "no trip".to_owned() } else { parts.join(", ") };
    let mut text = format!("expected {}", list(wanted.iter().map(words).collect()));
    let shown = trips.iter().take(SHOWN).map(|t| format!("{} at {:.3} s", t.cause, t.t_s)).collect();
    let _ = write!(text, "; seen: {}", list(shown));
    if trips.len() > SHOWN {
        let _ = write!(text, " and {} more", trips.len() - SHOWN);
    }
    Some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn expect(text: &str) -> Expect {
        text.parse().unwrap()
    }

    const JAM: Seen = Seen { t_s: 25.9, cause: "jam" };
    const LOSS: Seen = Seen { t_s: 11.0, cause: "phase-loss" };

    #[test]
    fn met() {
        for (wanted, seen) in [
            (vec![], vec![JAM]),
            (vec![Expect::Quiet], vec![]),
            (vec![expect("trip:jam")], vec![JAM]),
            (vec![expect("trip:jam@25.8+-0.1")], vec![JAM]),
            (vec![expect("trip:jam"), expect("trip:phase-loss@11+-0")], vec![LOSS, JAM]),
        ] {
            assert_eq!(judge(&wanted, &seen), None, "{wanted:?}");
        }
    }

    #[test]
    fn not_met_and_what_was_seen() {
        for (wanted, seen, words) in [
            (vec![Expect::Quiet], vec![JAM], "expected no trip; seen: jam at 25.900 s"),
            (vec![expect("trip:jam")], vec![], "expected jam; seen: no trip"),
            (vec![expect("trip:jam")], vec![JAM, LOSS], "expected jam; seen: jam at 25.900 s, phase-loss at 11.000 s"),
            (vec![expect("trip:jam@25+-0.5")], vec![JAM], "expected jam at 25 s +- 0.5 s; seen: jam at 25.900 s"),
        ] {
            assert_eq!(judge(&wanted, &seen).as_deref(), Some(words));
        }
    }
}
