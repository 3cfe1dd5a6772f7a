//! The set point: the step with the most tonnes an hour, and so the least energy a tonne, that leaves the motor its reserve.

use serde::Serialize;

use super::curve::NO_FEED_T_H;
use super::step::Step;

/// What must not be exceeded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aims {
    /// Load at which the feed stops, share of rated power.
    pub stop: f64,
    /// Thermal level from which the governor gives way, share of the trip level.
    pub thermal: f64,
}

/// Reserve that the load which lasts keeps to the feed stop in 95 % of the time (common practice, no source).
const RESERVE: f64 = 0.95;

/// Why no more is fed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Held {
    /// The next step chokes.
    Choke,
    /// The load of the next step comes too near to the feed stop.
    FeedStop,
    /// The next step would heat the motor too much in the end.
    Thermal,
    /// No more was fed.
    Fed,
}

/// Where to run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Which step, from the least feed on.
    pub step: usize,
    /// Its load, share of rated power.
    pub load: f64,
    /// What keeps it from more.
    pub held: Held,
}

impl Point {
    /// The best of the steps below the choke, if they are `choked` above; `None` where none leaves the motor its reserve.
    pub fn new(steps: &[Step], choked: bool, aims: Aims) -> Option<Self> {
        let limit = |step: &Step| match step {
            _ if step.p95 > RESERVE * aims.stop => Some(Held::FeedStop),
            _ if step.thermal.is_some_and(|level| level > aims.thermal) => Some(Held::Thermal),
            _ => None,
        };
        let first = steps.iter().position(|step| limit(step).is_some());
        let end = first.unwrap_or(steps.len());
        let held = match first {
            Some(at) => limit(&steps[at]),
            None => choked.then_some(Held::Choke),
        };
        let step = end.checked_sub(1).filter(|at| steps[*at].t_h > NO_FEED_T_H)?;
        Some(Self { step, load: steps[step].load, held: held.unwrap_or(Held::Fed) })
    }
}
