//! What happened and in what order, for people: a start is told once, idle spells as spells, trips always.
//!
//! Bounded, whatever the length of a trace: of what is too much the number is told.

use std::collections::BTreeMap;

use super::EventRow;
use super::event::Detail;

/// How much is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Events; as many trips are told beyond that.
    pub events: usize,
    /// Idle spells that are told one by one; more are told as a number.
    pub spells: usize,
}

/// Time in which the mill ran empty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spell {
    /// When it began, s.
    pub from_s: f64,
    /// How long it lasted, s.
    pub length_s: f64,
}

/// A warning of the core: how often it came, and when first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warned {
    /// Its name in the outputs.
    pub what: &'static str,
    /// How often.
    pub times: u64,
    /// When first, s.
    pub first_s: f64,
}

/// Gathers what happened.
#[derive(Debug, Clone)]
pub struct Story {
    limits: Limits,
    events: Vec<EventRow>,
    others: u64,
    warned: BTreeMap<&'static str, Warned>,
    /// Whether the run-up that follows has been told with its start.
    run_up_told: bool,
    idle_from_s: Option<f64>,
    spells: Vec<Spell>,
    /// Idle spells in all, and the longest of them.
    idle: (u64, Option<Spell>),
}

impl Story {
    /// Nothing has happened yet.
    pub fn new(limits: Limits) -> Self {
        Self {
            limits,
            events: Vec::new(),
            others: 0,
            warned: BTreeMap::new(),
            run_up_told: false,
            idle_from_s: None,
            spells: Vec::new(),
            idle: (0, None),
        }
    }

    /// Takes an event.
    pub fn event(&mut self, row: &EventRow) {
        match (row.event, row.detail) {
            ("idle_begins", _) => self.idle_from_s = Some(row.t_s),
            ("idle_ends", _) => self.idle_ends(row.t_s),
            ("run_up", _) if std::mem::take(&mut self.run_up_told) => {}
            (_, detail) => {
                if matches!(row.event, "start" | "stop" | "gap") {
                    self.idle_ends(row.t_s);
                }
                match detail {
                    Detail::Start { duration_s, .. } => self.run_up_told = duration_s.is_some(),
                    Detail::Warning { what } => {
                        let first = Warned { what, times: 0, first_s: row.t_s };
                        self.warned.entry(what).or_insert(first).times += 1;
                    }
                    _ => {}
                }
                let most = self.limits.events * if row.cause().is_some() { 2 } else { 1 };
                if self.events.len() < most { self.events.push(row.clone()) } else { self.others += 1 }
            }
        }
    }

    /// The trace has ended at this time, s.
    pub fn end(&mut self, t_s: f64) {
        self.idle_ends(t_s);
    }

    fn idle_ends(&mut self, t_s: f64) {
        let Some(from_s) = self.idle_from_s.take() else { return };
        let spell = Spell { from_s, length_s: t_s - from_s };
        if self.spells.len() < self.limits.spells {
            self.spells.push(spell);
        }
        let (count, longest) = &mut self.idle;
        *count += 1;
        *longest = longest.filter(|longest| longest.length_s >= spell.length_s).or(Some(spell));
    }

    /// The events that are told, in order of time.
    pub fn events(&self) -> &[EventRow] {
        &self.events
    }

    /// How many are not told.
    pub fn others(&self) -> u64 {
        self.others
    }

    /// The idle spells, where they are few.
    pub fn spells(&self) -> &[Spell] {
        if self.idle.0 > self.limits.spells as u64 { &[] } else { &self.spells }
    }

    /// How many idle spells there were and the longest, where they are many.
    pub fn many_spells(&self) -> Option<(u64, Spell)> {
        let (count, longest) = self.idle;
        longest.filter(|_| count > self.limits.spells as u64).map(|longest| (count, longest))
    }

    /// Time and cause of each trip.
    pub fn trips(&self) -> Vec<(f64, &'static str)> {
        self.events.iter().filter_map(|row| row.cause().map(|cause| (row.t_s, cause))).collect()
    }

    /// Time and cause of each feed stop.
    pub fn feed_stops(&self) -> Vec<(f64, &'static str)> {
        let stop = |row: &EventRow| match row.detail {
            Detail::Alarm(seen) if row.event == "feed_stop" => Some((row.t_s, seen.cause)),
            _ => None,
        };
        self.events.iter().filter_map(stop).collect()
    }

    /// The core's warnings, each once.
    pub fn warned(&self) -> impl Iterator<Item = &Warned> {
        self.warned.values()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::Why;
    use shaftwork_core::judge::event::{Cause, Figures};

    const LIMITS: Limits = Limits { events: 60, spells: 6 };

    fn of(events: &[(f64, &'static str)]) -> Story {
        let mut story = Story::new(LIMITS);
        for (t_s, event) in events {
            story.event(&EventRow::plain(*t_s, event));
        }
        story
    }

    fn start(duration_s: Option<f64>) -> EventRow {
        let detail = Detail::Start { duration_s, peak_current_a: duration_s, rotor_heat_kj: duration_s };
        EventRow { t_s: 2.0, event: "start", detail, account: None, why: Why::new() }
    }

    fn names(story: &Story) -> Vec<&'static str> {
        story.events().iter().map(|row| row.event).collect()
    }

    #[test]
    fn a_start_is_told_once() {
        for (duration_s, want) in [(Some(5.0), vec!["start", "stop"]), (None, vec!["start", "run_up", "stop"])] {
            let mut story = Story::new(LIMITS);
            story.event(&start(duration_s));
            story.event(&EventRow::plain(7.0, "run_up"));
            story.event(&EventRow::plain(9.0, "stop"));
            assert_eq!(names(&story), want);
        }
    }

    #[test]
    fn few_idle_spells_are_told_and_many_counted() {
        let mut story = of(&[(1.0, "idle_begins"), (3.0, "idle_ends"), (8.0, "idle_begins"), (9.0, "stop")]);
        assert_eq!(story.spells(), [Spell { from_s: 1.0, length_s: 2.0 }, Spell { from_s: 8.0, length_s: 1.0 }]);
        assert_eq!((names(&story), story.many_spells()), (vec!["stop"], None));
        for i in 0..5 {
            story.event(&EventRow::plain(10.0 + f64::from(i), "idle_begins"));
            story.event(&EventRow::plain(10.5 + f64::from(i), "idle_ends"));
        }
        assert!(story.spells().is_empty());
        assert_eq!(story.many_spells(), Some((7, Spell { from_s: 1.0, length_s: 2.0 })));
    }

    #[test]
    fn an_idle_spell_may_last_to_the_end() {
        let mut story = of(&[(1.0, "idle_begins")]);
        story.end(4.0);
        assert_eq!(story.spells(), [Spell { from_s: 1.0, length_s: 3.0 }]);
    }

    #[test]
    fn trips_are_kept_when_there_is_too_much() {
        let mut story = of(&vec![(1.0, "stop"); 2 * LIMITS.events]);
        story.event(&EventRow::trip(2.0, Cause::PhaseLoss, &Figures::default()));
        assert_eq!((story.others(), story.trips()), (LIMITS.events as u64, vec![(2.0, "phase-loss")]));
    }

    #[test]
    fn a_warning_is_counted() {
        let mut story = Story::new(LIMITS);
        for t_s in [3.0, 4.0] {
            let detail = Detail::Warning { what: "voltage-gone" };
            story.event(&EventRow { t_s, event: "warning", detail, account: None, why: Why::new() });
        }
        let want = Warned { what: "voltage-gone", times: 2, first_s: 3.0 };
        assert_eq!(story.warned().collect::<Vec<_>>(), [&want]);
    }
}
