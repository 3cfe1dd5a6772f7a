//! What must outlast a power cut, so that nobody cools a motor or clears a trip by switching off the monitor: for a board that keeps it
//! ([`crate::Monitor::saved`], [`crate::Monitor::resume`]).

use super::Judge;
use super::event::Cause;
use super::feed::Feeding;
use super::restart::Restart;
use super::rotor::Rotor;
use super::running::Motor;
use crate::settings::JudgeCoefficients;
use crate::time::{Instant, Span};
use crate::unit::{Joules, Watts};

/// To be kept in a memory that does not forget, every so often, and when a trip is given or a person is called.
///
/// How long the power was off is not known, so no time is taken to have passed: the motor has not cooled, starts count as long
/// as they did, the rest begins anew, and the rotor may turn until its coast-down time is over. What the inputs told is forgotten: a
/// feeder stands until they tell of a permit anew and a person releases it.
///
/// ```
/// use shaftwork_core::{Cause, Monitor, Settings, judge::saved::Saved};
/// let mut monitor = Monitor::new(&Settings::example()).unwrap();
/// monitor.resume(&Saved { trip: Some(Cause::Jam), ..Saved::default() });
/// assert_eq!(monitor.decision().trip, Some(Cause::Jam));
/// assert!(monitor.reset(true).is_err(), "the rotor may turn");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Saved {
    /// Thermal level over the trip level, Q32.
    pub thermal_q32: i64,
    /// What a start adds to it, and a tenth, Q32.
    pub start_heat_q32: i64,
    /// Heat in the rotor's bars, and what a start leaves there.
    pub rotor: [Joules; 2],
    /// The latched trip.
    pub trip: Option<Cause>,
    /// How long each start of the last hour still counts; nothing for those that are not there.
    pub starts: [Span; 16],
    /// Idle power as learnt.
    pub idle: Option<Watts>,
    /// The feed has called a person, and nobody has released it since.
    pub called: bool,
}

impl Judge {
    /// What must outlast a power cut.
    #[must_use]
    pub fn saved(&self, now: Instant) -> Saved {
        let memory = &self.memory;
        let (thermal_q32, trip, starts) = memory.trips.save(now);
        Saved {
            thermal_q32,
            start_heat_q32: memory.restart.heat(),
            rotor: memory.rotor.saved(),
            trip,
            starts,
            idle: memory.mill.idle.power(),
            called: memory.feed.drive().call,
        }
    }

    /// Power is back: begins where `saved` was.
    pub fn resume(&mut self, c: &JudgeCoefficients, now: Instant, saved: &Saved) {
        let memory = &mut self.memory;
        memory.trips.resume(now, (saved.thermal_q32, saved.trip, &saved.starts));
        memory.restart = Restart::resumed(now, c.coast_down, saved.start_heat_q32);
        let [heat, start] = saved.rotor;
        memory.rotor = Rotor::resumed(heat, start);
        memory.motor = Motor::Fresh { turns_until: Some(now.after(c.coast_down)), again: false };
        memory.mill.idle.resume(now, saved.idle);
        memory.feed = Feeding::resumed(&c.feed, saved.called);
        memory.start = memory.hindrance(c, now);
    }
}
