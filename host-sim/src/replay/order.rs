//! The core's events become those of the output, in order of time.
//!
//! The core tells of a run-up when it happens; the output stamps a `start` at its onset and gives its
//! duration and peak current. So a start stays open until its run-up, and whatever is stamped later waits
//! behind it. A start that ends otherwise (stop, gap, end of the trace) is written without figures. Events
//! that the core stamps a little back are sorted in as well: nothing leaves before the clock is a second
//! past it.

use std::collections::VecDeque;

use shaftwork_core::judge::event::{Event, EventKind};
use shaftwork_core::recorder::Account;
use shaftwork_core::time::{Instant, Span};

use crate::report::event::{Detail, EventRow};
use crate::report::number::{frames_s, seconds};
use crate::report::{Reason, Why};

/// How far back an event may be stamped and still be sorted in, s.
const SLACK_S: f64 = 1.0;
/// Events that wait at most: a start behind which more wait is written without figures.
const MOST: usize = 10_000;

/// An event on its way out.
#[derive(Debug)]
struct Waiting {
    at: Instant,
    row: EventRow,
    /// A start whose run-up is not known.
    open: bool,
}

/// Sorts events and completes starts.
#[derive(Debug)]
pub struct Order {
    rate_hz: f64,
    slack: Span,
    queue: VecDeque<Waiting>,
    /// The time of the last event that left.
    last: Instant,
}

impl Order {
    /// Nothing has happened yet; the rate in Hz makes frames into seconds.
    pub fn new(rate_hz: f64) -> Self {
        // At most 16 000 frames in a second, Q16: no overflow.
        let slack = Span((SLACK_S * rate_hz.clamp(0.0, 1e6) * 65_536.0) as u64);
        Self { rate_hz, slack, queue: VecDeque::new(), last: Instant::default() }
    }

    /// Takes the core's next event, with what came before it where that is a decision.
    pub fn push(&mut self, event: &Event, account: Option<&Account>) {
        let at = event.at;
        let row = EventRow::of(event, self.rate_hz).after(account, self.rate_hz);
        match event.kind {
            EventKind::Start => {
                self.give_up("another start came before run-up");
                return self.insert(Waiting { at, row, open: true });
            }
            EventKind::Stop => self.give_up("the motor stopped before run-up"),
            EventKind::Gap { .. } => self.give_up("a gap came before run-up"),
            _ => {
                if let Some(start) = Detail::ran_up(event, self.rate_hz) {
                    self.complete(start);
                }
            }
        }
        self.insert(Waiting { at, row, open: false });
        if self.queue.len() > MOST {
            self.give_up("too much happened before run-up");
        }
    }

    /// The trace has ended: nothing waits any longer.
    pub fn finish(&mut self) {
        self.give_up("the trace ends before run-up");
        self.slack = Span::ZERO;
    }

    /// The next event that may leave, with the clock at `now`.
    pub fn pop(&mut self, now: Instant) -> Option<EventRow> {
        let front = self.queue.front()?;
        if front.open || front.at.after(self.slack) > now && self.slack != Span::ZERO {
            return None;
        }
        let mut out = self.queue.pop_front()?;
        if out.at < self.last {
            // Stamped further back than the slack: it leaves late, never out of order.
            out.row.t_s = seconds(frames_s(self.last.0, self.rate_hz));
        }
        self.last = self.last.max(out.at);
        Some(out.row)
    }

    fn insert(&mut self, new: Waiting) {
        let place = self.queue.partition_point(|w| w.at <= new.at);
        self.queue.insert(place, new);
    }

    fn complete(&mut self, detail: Detail) {
        if let Some(start) = self.queue.iter_mut().find(|w| w.open) {
            start.row.detail = detail;
            start.open = false;
        }
    }

    fn give_up(&mut self, reason: Reason) {
        if let Some(start) = self.queue.iter_mut().find(|w| w.open) {
            start.row.why = Why::from([("duration_s", reason), ("peak_current_a", reason), ("rotor_heat_kj", reason)]);
            start.open = false;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use shaftwork_core::judge::event::{Cause, Figures};
    use shaftwork_core::unit::{Amps, Joules};

    const RATE: f64 = 4_000.0;

    fn at(s: f64) -> Instant {
        Instant((s * RATE * 65_536.0) as u64)
    }

    fn event(s: f64, kind: EventKind) -> Event {
        Event { at: at(s), kind }
    }

    fn run(events: &[Event]) -> Vec<EventRow> {
        let mut order = Order::new(RATE);
        let mut out = Vec::new();
        for e in events {
            order.push(e, None);
            out.extend(std::iter::from_fn(|| order.pop(e.at)));
        }
        order.finish();
        out.extend(std::iter::from_fn(|| order.pop(at(1e4))));
        out
    }

    fn trip() -> EventKind {
        EventKind::Trip { cause: Cause::PhaseLoss, figures: Figures::default() }
    }

    fn shown(rows: &[EventRow]) -> Vec<(f64, &'static str)> {
        rows.iter().map(|r| (r.t_s, r.event)).collect()
    }

    #[test]
    fn a_start_is_stamped_at_onset_and_told_with_its_figures() {
        let up = EventKind::RunUp {
            onset: at(2.0),
            peak: Amps::from_bits(640 << 17),
            rotor_heat: Joules::from_bits(212_345 << 20),
        };
        let rows =
            run(&[event(2.0, EventKind::Start), event(3.0, trip()), event(5.5, up), event(9.0, EventKind::IdleBegins)]);
        assert_eq!(shown(&rows), [(2.0, "start"), (3.0, "trip"), (5.5, "run_up"), (9.0, "idle_begins")]);
        assert_eq!(
            rows[0].detail,
            Detail::Start { duration_s: Some(3.5), peak_current_a: Some(640.0), rotor_heat_kj: Some(212.3) }
        );
    }

    #[test]
    fn nothing_overtakes_an_open_start() {
        let mut order = Order::new(RATE);
        order.push(&event(2.0, EventKind::Start), None);
        order.push(&event(3.0, trip()), None);
        assert_eq!(order.pop(at(100.0)), None);
        order.push(&event(50.0, EventKind::RunUp { onset: at(2.0), peak: Amps::ZERO, rotor_heat: Joules::ZERO }), None);
        assert_eq!(order.pop(at(100.0)).unwrap().event, "start");
        assert_eq!(order.pop(at(100.0)).unwrap().event, "trip");
    }

    #[test]
    fn a_start_without_run_up_says_why() {
        for (second, reason) in [
            (None, "the trace ends before run-up"),
            (Some(EventKind::Stop), "the motor stopped before run-up"),
            (Some(EventKind::Gap { length: Span(4_000 << 16) }), "a gap came before run-up"),
        ] {
            let mut events = vec![event(2.0, EventKind::Start)];
            events.extend(second.map(|kind| event(4.0, kind)));
            let json = serde_json::to_value(&run(&events)[0]).unwrap();
            assert!(json["duration_s"].is_null() && json["peak_current_a"].is_null());
            assert_eq!(json["why"]["duration_s"], reason);
        }
    }

    #[test]
    fn an_event_stamped_back_is_sorted_in() {
        let rows = run(&[
            event(5.0, EventKind::Stop),
            event(4.5, EventKind::IdleEnds),
            event(9.0, trip()),
            event(3.0, EventKind::Reset),
        ]);
        assert_eq!(shown(&rows), [(4.5, "idle_ends"), (5.0, "stop"), (5.0, "reset"), (9.0, "trip")]);
    }

    #[test]
    fn the_queue_is_bounded() {
        let mut order = Order::new(RATE);
        order.push(&event(1.0, EventKind::Start), None);
        for _ in 0..=MOST {
            order.push(&event(2.0, EventKind::Stop), None);
        }
        assert!(order.pop(at(10.0)).is_some());
    }

    proptest! {
        /// Whatever the core says, everything leaves, in order of time.
        #[test]
        fn always_in_order(steps in proptest::collection::vec((0_u8..9, 0.0..3.0_f64), 0..60)) {
            let mut now: f64 = 0.0;
            let events: Vec<Event> = steps.iter().map(|(kind, step)| {
                now = (now + step - 0.2).max(0.0);
                let kind = match kind {
                    0 | 1 => EventKind::Start,
                    2 => EventKind::RunUp { onset: at(now - 1.0), peak: Amps::ZERO, rotor_heat: Joules::ZERO },
                    3 => EventKind::Stop,
                    4 => EventKind::IdleBegins,
                    5 => EventKind::IdleEnds,
                    6 => EventKind::Gap { length: Span::ZERO },
                    _ => trip(),
                };
                event(now, kind)
            }).collect();
            let rows = run(&events);
            prop_assert_eq!(rows.len(), events.len());
            prop_assert!(rows.windows(2).all(|w| w[0].t_s <= w[1].t_s));
        }
    }
}
