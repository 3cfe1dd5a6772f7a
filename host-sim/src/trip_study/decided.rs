//! What a setting decides on a trace: the core's judge over its records, until it trips.

use shaftwork_core::judge::Judge;
use shaftwork_core::judge::event::{Cause, EventKind};
use shaftwork_core::settings::{Action, JudgeCoefficients};
use shaftwork_core::time::Instant;
use shaftwork_core::unit::Ratio;

use super::idle::action;
use super::records::{Records, Step};

/// What came of a trace under a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Decided {
    /// The first trip: at the end of which half cycle, and why. What would come after it does not count: the motor is off.
    pub trip: Option<(Instant, Cause)>,
    /// How near the honest part came to a trip, of the elements that are watched; none where none of them stirred.
    pub near: Option<Near>,
}

/// The nearest that an element came to what it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Near {
    /// Share of its delay or level, 1 is a trip.
    pub share: Ratio,
    /// When.
    pub at: Instant,
    /// Which.
    pub cause: Cause,
}

/// Judges a trace; nearness counts until a moment, a jam's own.
pub fn decide(c: &JudgeCoefficients, records: &Records, watched: &[Cause], until: Instant) -> Decided {
    let trips = |cause: &&Cause| action(&c.trips, **cause) == Some(Action::Trip);
    let watched: Vec<Cause> = watched.iter().filter(trips).copied().collect();
    let mut judge = Judge::new(c);
    let mut out = Decided::default();
    if let Some(snapshot) = &records.begin {
        judge.resume_from(c, snapshot);
    }
    for step in &records.steps {
        match step {
            Step::Half(half) => {
                judge.half_cycle(c, half);
                if half.end < until {
                    out.near = nearest(&judge, c, &watched, half.end, out.near);
                }
                out.trip = first_trip(&mut judge);
                if out.trip.is_some() {
                    return out;
                }
            }
            Step::Speed(speed) => judge.set_speed(*speed),
            Step::Gap { at, length } => judge.gap(c, *at, *length),
        }
    }
    out
}

/// The first trip among the events that wait, which are taken.
fn first_trip(judge: &mut Judge) -> Option<(Instant, Cause)> {
    let mut first = None;
    while let Some(event) = judge.pop_event() {
        if let EventKind::Trip { cause, .. } = event.kind {
            first.get_or_insert((event.at, cause));
        }
    }
    first
}

fn nearest(judge: &Judge, c: &JudgeCoefficients, watched: &[Cause], at: Instant, near: Option<Near>) -> Option<Near> {
    watched.iter().fold(near, |near, cause| {
        let share = judge.share(c, *cause, at);
        let further = share > near.map_or(Ratio::ZERO, |near| near.share);
        if further { Some(Near { share, at, cause: *cause }) } else { near }
    })
}
