//! How old the hammers are: running hours and tonnes since they were changed, whatever period is shown.

use super::super::log::merge::Merged;
use super::super::site::{Change, Changed, Site, Source};
use super::super::tickets::Tickets;
use super::Accounts;
use crate::minutes::{BREAKING, IDLE, MINUTE_US};

/// A set of hammers at the end of a shift.
#[derive(Debug, Clone, PartialEq)]
pub struct Hammers {
    /// When they were put in, µs of UTC.
    pub at_us: i64,
    /// What was said of them.
    pub note: Option<String>,
    /// How long they have run since, idle and breaking, h; `None`: the logs begin later.
    pub run_h: Option<f64>,
    /// What they have broken, t; `None`: it is not known.
    pub t: Option<f64>,
    /// Time since of which no row tells, h.
    pub without_rows_h: f64,
}

/// Sums up to each minute of the logs.
struct UpTo {
    first: i64,
    /// Running time and measured time, µs, and what was fed, kg.
    sums: Vec<(i64, i64, f64)>,
}

impl UpTo {
    fn new(logs: &Merged) -> Self {
        let (mut run_us, mut us, mut kg) = (0, 0, 0.0);
        let mut sums = vec![(0, 0, 0.0)];
        for bin in &logs.bins.bins {
            run_us += bin.states_us[IDLE] + bin.states_us[BREAKING];
            us += bin.us;
            kg += bin.kg;
            sums.push((run_us, us, kg));
        }
        Self { first: logs.bins.first, sums }
    }

    fn at(&self, minute: i64) -> (i64, i64, f64) {
        let at = usize::try_from(minute - self.first).unwrap_or(0);
        self.sums[at.min(self.sums.len() - 1)]
    }
}

impl Accounts {
    /// Tells each shift, and the whole period, how old the hammers are at its end.
    pub fn age_hammers(&mut self, site: &Site, logs: &Merged, tickets: &Tickets) {
        let sets: Vec<&Change> = site.changes.iter().filter(|change| change.what == Changed::Hammers).collect();
        if sets.is_empty() {
            return;
        }
        let up_to = UpTo::new(logs);
        let age = |end: i64| {
            let set = sets.iter().rev().find(|set| set.at_us < end * MINUTE_US)?;
            let begin = set.at_us.div_euclid(MINUTE_US);
            let reach = begin >= up_to.first;
            let ([a, b], weighed) = ([up_to.at(begin), up_to.at(end)], set.at_us..end * MINUTE_US);
            let kg = tickets.all.iter().filter(|ticket| weighed.contains(&ticket.at_us)).map(|ticket| ticket.kg);
            let t = match site.mass.source {
                Source::Tickets => tickets.given.then(|| kg.sum::<f64>() / 1e3),
                Source::Log => (logs.mass && reach).then(|| (b.2 - a.2) / 1e3),
                Source::Nothing => None,
            };
            Some(Hammers {
                at_us: set.at_us,
                note: set.note.clone(),
                run_h: reach.then(|| (b.0 - a.0) as f64 / 3.6e9),
                t: t.filter(|_| reach),
                without_rows_h: ((end - begin) * MINUTE_US - (b.1 - a.1)) as f64 / 3.6e9,
            })
        };
        for account in self.shifts.iter_mut().chain([&mut self.whole]) {
            account.hammers = age(account.to);
        }
    }
}
