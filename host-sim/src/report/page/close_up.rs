//! Close-ups: the seconds around what happened, half cycle by half cycle.
//!
//! The last seconds are kept in a ring; when something happens they begin a track, which goes on for some seconds
//! more. What happens within a close-up that is still open belongs to it. There are at most so many of each
//! kind: the first ones; the table of events lists the others too.

use std::collections::VecDeque;

use shaftwork_core::judge::event::{Event, EventKind};

use super::reading::{QUANTITIES, Reading};
use super::track::Track;
use crate::report::number::frames_s;

/// Seconds that are kept in case something happens, s.
const KEPT_S: f64 = 20.0;
/// Readings in the ring at most: 20 s at 60 Hz and some.
const RING: usize = 2_600;
/// Slots of a close-up.
const SLOTS: usize = 1_400;
/// The longest start that is drawn, s.
const LONGEST_START_S: f64 = 90.0;

/// Kinds of which each has its own number of close-ups.
const KINDS: usize = 3;

/// How an event is looked at: seconds before and after, its kind, and how many of that kind there may be.
fn frame(kind: &EventKind) -> Option<(f64, f64, usize, usize)> {
    match kind {
        EventKind::Trip { .. } => Some((KEPT_S, 5.0, 0, 10)),
        EventKind::Start => Some((1.0, LONGEST_START_S, 1, 4)),
        EventKind::Stop | EventKind::Warning(_) | EventKind::Gap { .. } => Some((5.0, 5.0, 2, 4)),
        _ => None,
    }
}

/// The seconds around an event.
#[derive(Debug, Clone)]
pub struct CloseUp {
    /// The readings.
    pub track: Track,
    /// From when on, s.
    pub from_s: f64,
    /// To when, s.
    pub to_s: f64,
    /// When the event that opened it was, s.
    pub event_s: f64,
    /// A trip opened it or fell into it.
    pub trip: bool,
    /// What led to it.
    pub before: Option<Before>,
    open: bool,
    starting: bool,
}

/// Figures in the seconds before a trip and at it; currents are those of the largest phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Before {
    /// When the trip was, s.
    pub t_s: f64,
    /// How far back is looked, s.
    pub ago_s: f64,
    /// Lowest and highest current, A, until it rose for good; `None` where it was above all the time.
    pub current: Option<(f64, f64)>,
    /// Since when the current has been above the jam pick-up at the trip, s; `None` where it is not.
    pub rose_s: Option<f64>,
    /// The current at the trip, A.
    pub now_a: f64,
    /// The last readings, by [`QUANTITIES`].
    pub now: [f64; QUANTITIES.len()],
}

/// Makes close-ups as the trace passes.
#[derive(Debug)]
pub struct CloseUps {
    rate_hz: f64,
    /// The jam pick-up, A.
    pickup_a: f64,
    ring: VecDeque<Reading>,
    all: Vec<CloseUp>,
    counts: [usize; KINDS],
}

impl CloseUps {
    /// None yet, at a rate in Hz; with the jam pick-up in A, infinite where there is none.
    pub fn new(rate_hz: f64, pickup_a: f64) -> Self {
        Self { rate_hz, pickup_a, ring: VecDeque::new(), all: Vec::new(), counts: [0; KINDS] }
    }

    /// Takes a reading.
    pub fn add(&mut self, reading: &Reading) {
        while self.ring.len() >= RING || self.ring.front().is_some_and(|r| r.t_s < reading.t_s - KEPT_S) {
            self.ring.pop_front();
        }
        self.ring.push_back(*reading);
        for open in self.all.iter_mut().filter(|c| c.open) {
            if reading.t_s <= open.to_s {
                open.track.add(reading);
            } else {
                open.open = false;
            }
        }
    }

    /// Takes an event; its readings have been given before.
    pub fn event(&mut self, event: &Event) {
        let t_s = frames_s(event.at.0, self.rate_hz);
        if let EventKind::RunUp { .. } | EventKind::Stop = event.kind {
            for start in self.all.iter_mut().filter(|c| c.open && c.starting) {
                (start.starting, start.to_s) = (false, t_s + 3.0);
            }
        }
        let Some((before_s, after_s, kind, most)) = frame(&event.kind) else { return };
        let trip = matches!(event.kind, EventKind::Trip { .. });
        let starting = matches!(event.kind, EventKind::Start);
        let from_s = (t_s - before_s).max(0.0);
        // An open one that shows enough of what came before serves for this as well.
        if let Some(open) = self.all.iter_mut().find(|c| c.open && (!trip || c.trip || c.from_s <= from_s + 2.0)) {
            open.to_s = open.to_s.max(t_s + if starting { 5.0 } else { after_s });
            if trip && !open.trip {
                (open.trip, open.event_s, open.before) = (true, t_s, before(&self.ring, self.pickup_a));
            }
            return;
        }
        if self.counts[kind] >= most {
            return;
        }
        self.counts[kind] += 1;
        let mut track = Track::new(from_s, SLOTS);
        self.ring.iter().filter(|r| r.t_s >= from_s).for_each(|r| track.add(r));
        let before = if trip { before(&self.ring, self.pickup_a) } else { None };
        self.all.push(CloseUp { track, from_s, to_s: t_s + after_s, event_s: t_s, trip, before, open: true, starting });
    }

    /// All close-ups, in order of time; the trace ends at a time in s.
    pub fn finish(mut self, end_s: f64) -> Vec<CloseUp> {
        for c in &mut self.all {
            c.to_s = c.to_s.min(end_s);
        }
        self.all
    }
}

/// What the figures were in the ten seconds before the newest reading, or as far back as is known.
fn before(ring: &VecDeque<Reading>, pickup_a: f64) -> Option<Before> {
    const AGO_S: f64 = 10.0;
    let (oldest, newest) = (ring.front()?, ring.back()?);
    let begin_s = (newest.t_s - AGO_S).max(oldest.t_s);
    let rose = ring.iter().rev().take_while(|r| r.largest_a() > pickup_a).last();
    let quiet_s = rose.map_or(newest.t_s, |r| r.t_s);
    let earlier = ring.iter().filter(|r| r.t_s >= begin_s && r.t_s < quiet_s).map(Reading::largest_a);
    let current = earlier
        .fold(None, |range: Option<(f64, f64)>, a| Some(range.map_or((a, a), |(low, high)| (low.min(a), high.max(a)))));
    Some(Before {
        t_s: newest.t_s,
        ago_s: quiet_s - begin_s,
        current,
        rose_s: rose.map(|r| r.t_s - r.length_s),
        now_a: newest.largest_a(),
        now: newest.values,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::Cause;
    use shaftwork_core::judge::event::Figures;
    use shaftwork_core::time::Instant;
    use shaftwork_core::unit::{Amps, Joules};

    fn at(s: f64) -> Instant {
        Instant((s * 4_000.0 * 65_536.0) as u64)
    }

    /// Readings of a rising power up to a time, with events among them.
    fn run(seconds: u32, events: &[(f64, EventKind)]) -> Vec<CloseUp> {
        let mut all = CloseUps::new(4_000.0, 25.5);
        let mut left = events.iter().peekable();
        for k in 1..=seconds * 100 {
            let t_s = f64::from(k) / 100.0;
            all.add(&Reading { t_s, length_s: 0.01, values: [t_s; QUANTITIES.len()], state: 3 });
            while let Some((s, kind)) = left.next_if(|(s, _)| *s <= t_s) {
                all.event(&Event { at: at(*s), kind: *kind });
            }
        }
        all.finish(f64::from(seconds))
    }

    fn trip() -> EventKind {
        EventKind::Trip { cause: Cause::Jam, figures: Figures::default() }
    }

    #[test]
    fn twenty_seconds_before_a_trip_and_five_after() {
        let all = run(60, &[(30.0, trip()), (31.0, trip())]);
        assert_eq!(all.len(), 1, "the second falls into the first");
        assert_eq!((all[0].from_s, all[0].to_s, all[0].event_s), (10.0, 36.0, 30.0));
        // The current is the time in seconds: above 25.5 A from 25.5 s on.
        let before = all[0].before.unwrap();
        assert!((before.rose_s.unwrap() - 25.5).abs() < 0.02 && (before.now_a - 30.0).abs() < 0.02, "{before:?}");
        let (low, high) = before.current.unwrap();
        assert!((low - 20.0).abs() < 0.02 && (high - 25.5).abs() < 0.02 && (before.ago_s - 5.5).abs() < 0.02);
    }

    #[test]
    fn a_start_lasts_to_its_run_up() {
        let up = EventKind::RunUp { onset: at(2.0), peak: Amps::ZERO, rotor_heat: Joules::ZERO };
        let all = run(60, &[(2.0, EventKind::Start), (7.5, up), (40.0, EventKind::Stop)]);
        assert_eq!(all.len(), 2);
        assert_eq!((all[0].from_s, all[0].to_s), (1.0, 10.5));
        assert_eq!((all[1].from_s, all[1].to_s), (35.0, 45.0));
        assert!(all[1].before.is_none());
    }

    #[test]
    fn a_trip_in_a_start_makes_it_a_trip() {
        let all = run(60, &[(2.0, EventKind::Start), (17.0, trip())]);
        assert_eq!(all.len(), 1);
        assert!(all[0].trip && (all[0].event_s - 17.0).abs() < 1e-9 && all[0].from_s <= 1.0);
    }

    #[test]
    fn there_are_so_many_and_no_more() {
        let events: Vec<_> = (1..40).map(|k| (f64::from(k) * 30.0, trip())).collect();
        assert_eq!(run(1_200, &events).len(), 10);
    }
}
