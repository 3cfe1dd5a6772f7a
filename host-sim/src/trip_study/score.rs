//! How well settings do: what each decision is, sums over a part of the traces, the front, the one to recommend.
//!
//! ```text
//! jam at T    caught   a trip from T - early to T + allowed
//!             late     a trip after that
//!             missed   no trip
//!             false    a trip before T - early: the mill stands, the jam never comes
//! honest      quiet    no trip
//!             false    a trip
//! ```
//!
//! The first trip counts: what comes after it would find the motor off.

use std::cmp::Ordering;

use super::decided::Decided;
use super::records::Records;
use super::verdict::Verdict;

/// When a jam counts as caught, and how much room is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// So long before the jam's time a trip is for it, s: a person marked it.
    pub early_s: f64,
    /// So long after it, s.
    pub allowed_s: f64,
    /// By how much nearer pick-ups and delays may be before honest work trips.
    pub margin: f64,
}

/// What a decision is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// A jam, in time.
    Caught,
    /// A jam, too late.
    Late,
    /// A jam, not at all.
    Missed,
    /// Honest work, left alone.
    Quiet,
    /// Honest work, tripped.
    False,
}

impl Outcome {
    /// Its word in every output.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Caught => "caught",
            Self::Late => "late",
            Self::Missed => "missed",
            Self::Quiet => "quiet",
            Self::False => "false",
        }
    }

    /// Whether it is as it should be.
    pub const fn right(self) -> bool {
        matches!(self, Self::Caught | Self::Quiet)
    }
}

/// A decision in figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// What it is.
    pub outcome: Outcome,
    /// When the trip was, s.
    pub trip_s: Option<f64>,
    /// Time from the jam to it, s, where it was for the jam.
    pub after_s: Option<f64>,
    /// How near the honest part came to a trip: 1 is one.
    pub near: f64,
    /// Whether it would have tripped with pick-ups and delays nearer by the margin, or did.
    pub touchy: bool,
    /// What was decided.
    pub decided: Decided,
}

impl Row {
    /// Of a decision.
    pub fn new(decided: Decided, records: &Records, verdict: Verdict, rules: Rules) -> Self {
        let trip_s = decided.trip.map(|(at, _)| records.seconds(at));
        let (outcome, after_s) = match (verdict, trip_s) {
            (Verdict::Honest, None) => (Outcome::Quiet, None),
            (Verdict::Jam(_), None) => (Outcome::Missed, None),
            (Verdict::Honest, Some(_)) => (Outcome::False, None),
            (Verdict::Jam(t_s), Some(at_s)) if at_s < t_s - rules.early_s => (Outcome::False, None),
            (Verdict::Jam(t_s), Some(at_s)) if at_s <= t_s + rules.allowed_s => (Outcome::Caught, Some(at_s - t_s)),
            (Verdict::Jam(t_s), Some(at_s)) => (Outcome::Late, Some(at_s - t_s)),
        };
        let near = decided.near.map_or(0.0, |near| f64::from(near.share.to_bits()) / f64::from(1 << 24));
        let near = if outcome == Outcome::False { 1.0 } else { near.min(1.0) };
        Self { outcome, trip_s, after_s, near, touchy: outcome == Outcome::False, decided }
    }
}

/// Sums of a setting over a part of the traces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Jams.
    pub jams: usize,
    /// Of these caught,
    pub caught: usize,
    /// late,
    pub late: usize,
    /// and missed; the rest was cut off by a false trip.
    pub missed: usize,
    /// Honest traces.
    pub honest: usize,
    /// False trips, those before a jam among them.
    pub falses: usize,
    /// Those that there would be with pick-ups and delays nearer by the margin.
    pub touchy: usize,
    /// Time from a jam to the trip that caught it, s: the mean and the longest. A trip before the mark, which is a person's, counts as one at it:
    /// no setting is the quicker for it.
    pub mean_s: Option<f64>,
    /// See `mean_s`.
    pub longest_s: Option<f64>,
    /// The nearest that honest work came to a trip, 1 is one; and on which trace.
    pub near: f64,
    /// See `near`.
    pub near_trace: Option<usize>,
}

impl Score {
    /// Over the traces that `part` says.
    pub fn new(rows: &[Row], verdicts: &[Verdict], part: &[bool]) -> Self {
        let mut out = Self {
            jams: 0,
            caught: 0,
            late: 0,
            missed: 0,
            honest: 0,
            falses: 0,
            touchy: 0,
            mean_s: None,
            longest_s: None,
            near: 0.0,
            near_trace: None,
        };
        let (mut sum_s, mut longest_s) = (0.0, f64::NEG_INFINITY);
        for (n, row) in rows.iter().enumerate().filter(|(n, _)| part.get(*n) == Some(&true)) {
            if verdicts.get(n) == Some(&Verdict::Honest) {
                out.honest += 1;
            } else {
                out.jams += 1;
            }
            match row.outcome {
                Outcome::Caught => {
                    out.caught += 1;
                    let after_s = row.after_s.unwrap_or(0.0).max(0.0);
                    sum_s += after_s;
                    longest_s = after_s.max(longest_s);
                }
                Outcome::Late => out.late += 1,
                Outcome::Missed => out.missed += 1,
                Outcome::False => out.falses += 1,
                Outcome::Quiet => {}
            }
            out.touchy += usize::from(row.touchy);
            if row.near > out.near {
                (out.near, out.near_trace) = (row.near, Some(n));
            }
        }
        if out.caught > 0 {
            (out.mean_s, out.longest_s) = (Some(sum_s / out.caught as f64), Some(longest_s));
        }
        out
    }

    /// What went wrong: jams that were not caught, and false trips. A false trip before a jam is both.
    pub const fn mistakes(&self) -> usize {
        self.jams - self.caught + self.falses
    }

    /// What was left of the way to a trip on honest work.
    pub fn margin(&self) -> f64 {
        1.0 - self.near
    }

    /// Which catches better: more of the jams, then sooner.
    pub fn by_jams(&self, other: &Self) -> Ordering {
        let time = |score: &Self| score.mean_s.unwrap_or(f64::INFINITY);
        (self.jams - self.caught).cmp(&(other.jams - other.caught)).then(time(self).total_cmp(&time(other)))
    }

    /// Which leaves honest work better alone: fewer false trips, then fewer with the margin taken off, then further from one.
    pub fn by_honest(&self, other: &Self) -> Ordering {
        let counts = |score: &Self| (score.falses, score.touchy);
        counts(self).cmp(&counts(other)).then(self.near.total_cmp(&other.near))
    }
}

/// The settings that no other beats in both ways, the quickest first; of those that come to the same the first.
pub fn front(scores: &[Score]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..scores.len()).collect();
    order.sort_by(|a, b| scores[*a].by_jams(&scores[*b]).then(scores[*a].by_honest(&scores[*b])).then(a.cmp(b)));
    let mut out: Vec<usize> = Vec::new();
    for at in order {
        if out.last().is_none_or(|best| scores[at].by_honest(&scores[*best]) == Ordering::Less) {
            out.push(at);
        }
    }
    out
}

/// Why a setting is recommended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// The quickest of those with the fewest mistakes that keep the margin.
    Quickest,
    /// None of those keeps it: the one with the most room.
    MostRoom,
    /// None catches a jam: none is any good.
    Nothing,
}

/// The setting of the front to recommend.
pub fn recommended(front: &[usize], scores: &[Score]) -> Option<(usize, Reason)> {
    let least = front.iter().map(|at| scores[*at].mistakes()).min()?;
    let mut best = front.iter().copied().filter(|at| scores[*at].mistakes() == least);
    let keeps = |at: &usize| scores[*at].touchy == scores[*at].falses;
    // The front begins with the quickest and ends with the one that has most room.
    let nothing = |at: usize| scores[at].jams > 0 && scores[at].caught == 0;
    match best.clone().find(keeps) {
        _ if front.iter().all(|at| nothing(*at)) => best.next().map(|at| (at, Reason::Nothing)),
        Some(at) => Some((at, Reason::Quickest)),
        None => best.next_back().map(|at| (at, Reason::MostRoom)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::Cause;
    use shaftwork_core::time::Instant;

    const RULES: Rules = Rules { early_s: 1.0, allowed_s: 2.0, margin: 0.3 };

    fn records() -> Records {
        Records {
            rate_hz: 4_000.0,
            estimates: false,
            begin: None,
            base: Instant(0),
            end: Instant(0),
            steps: Vec::new(),
            warnings: Vec::new(),
        }
    }

    fn row(verdict: Verdict, trip_s: Option<f64>) -> Row {
        let records = records();
        let trip = trip_s.map(|s| (records.moment(s), Cause::Jam));
        Row::new(Decided { trip, near: None }, &records, verdict, RULES)
    }

    /// Both ends of both spans, and a half cycle beyond.
    #[test]
    fn decisions_are_named_by_their_time() {
        let jam = Verdict::Jam(25.0);
        for (verdict, trip_s, wanted) in [
            (jam, Some(23.99), Outcome::False),
            (jam, Some(24.0), Outcome::Caught),
            (jam, Some(27.0), Outcome::Caught),
            (jam, Some(27.01), Outcome::Late),
            (jam, None, Outcome::Missed),
            (Verdict::Honest, None, Outcome::Quiet),
            (Verdict::Honest, Some(1.0), Outcome::False),
        ] {
            assert_eq!(row(verdict, trip_s).outcome, wanted, "{verdict} {trip_s:?}");
        }
        assert_eq!(row(jam, Some(25.5)).after_s, Some(0.5));
    }

    #[test]
    fn a_score_sums_its_part_alone() {
        let verdicts = [Verdict::Jam(5.0), Verdict::Jam(5.0), Verdict::Honest, Verdict::Jam(5.0), Verdict::Honest];
        let rows: Vec<Row> = [Some(5.4), Some(6.0), None, Some(2.0), Some(1.0)]
            .into_iter()
            .zip(verdicts)
            .map(|(trip_s, verdict)| row(verdict, trip_s))
            .collect();
        let all = Score::new(&rows, &verdicts, &[true; 5]);
        assert_eq!((all.jams, all.caught, all.missed, all.honest, all.falses, all.mistakes()), (3, 2, 0, 2, 2, 3));
        assert!((all.mean_s.unwrap() - 0.7).abs() < 1e-6 && (all.longest_s.unwrap() - 1.0).abs() < 1e-6);
        assert!((all.near - 1.0).abs() < 1e-12);
        let part = Score::new(&rows, &verdicts, &[true, false, true, false, false]);
        assert_eq!((part.jams, part.caught, part.honest, part.falses, part.mistakes()), (1, 1, 1, 0, 0));
    }

    /// By hand: trips half a second before the mark and 0.4 s after it are 0.2 s in the mean.
    #[test]
    fn a_trip_before_the_mark_counts_as_at_it() {
        let verdicts = [Verdict::Jam(5.0); 2];
        let of = |trips: [f64; 2]| {
            let score = Score::new(&trips.map(|s| row(verdicts[0], Some(s))), &verdicts, &[true; 2]);
            assert_eq!(score.caught, 2);
            (score.mean_s.unwrap(), score.longest_s.unwrap())
        };
        let (mean_s, longest_s) = of([4.5, 5.4]);
        assert!((mean_s - 0.2).abs() < 1e-6 && (longest_s - 0.4).abs() < 1e-6, "{mean_s} {longest_s}");
        assert_eq!(of([4.5, 4.1]), (0.0, 0.0));
    }

    fn score(caught: usize, mean_s: f64, [falses, touchy]: [usize; 2], near: f64) -> Score {
        let verdicts = [Verdict::Jam(1.0)];
        Score { jams: 4, caught, falses, touchy, near, mean_s: Some(mean_s), ..Score::new(&[], &verdicts, &[]) }
    }

    /// By hand: the second is beaten by the first in both, the fourth comes to the same as the third.
    #[test]
    fn the_front_is_what_no_other_beats() {
        let all = [
            score(4, 0.3, [0, 1], 0.5),
            score(4, 0.4, [0, 1], 0.6),
            score(4, 0.5, [0, 0], 0.2),
            score(4, 0.5, [0, 0], 0.2),
            score(4, 0.1, [2, 3], 1.0),
            score(3, 0.1, [0, 0], 0.2),
            score(3, 0.2, [0, 0], 0.1),
        ];
        assert_eq!(front(&all), [4, 0, 2, 6]);
        assert_eq!(recommended(&front(&all), &all), Some((2, Reason::Quickest)), "the first is too near");
        let [first, second, .., last] = all;
        let near = [first, second, last];
        assert_eq!(recommended(&front(&near), &near), Some((0, Reason::MostRoom)), "a miss is a mistake");
        assert_eq!(recommended(&[], &[]), None);
    }
}
