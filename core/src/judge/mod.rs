//! JUDGE: records -> energy, shaft power, states, trips, totals, a decision. Knows nothing of samples.
//!
//! ```text
//! HalfCycle ─┬─ energy registers
//!            ├─ shaft: losses, slip, torque ─ running: start, run-up, stop ─ mill: idle, breaking; idle power
//!            ├─ trip/: one state machine a file, all see one View
//!            └─ feed ─ Decision
//! Window ──── Interval: the window's figures with the means of its half cycles
//! ```

mod count;
mod doubt;
mod energy;
mod estimate;
pub mod event;
pub mod feed;
mod flywheel;
mod gain;
mod idle;
mod mean;
mod memory;
mod mill;
pub mod notice;
mod queue;
pub mod report;
pub mod restart;
mod rotor;
mod running;
pub mod saved;
mod shaft;
mod slip;
mod star;
#[cfg(test)]
mod tests;
mod trip;
mod warned;
mod winding;

use crate::record::{HalfCycle, Window};
use crate::settings::JudgeCoefficients;
use crate::snapshot::Snapshot;
use crate::time::{Instant, Span};
use crate::unit::{Ratio, Rpm};
use event::{Cause, Event, EventKind};
use feed::FeedInputs;
pub(crate) use memory::Memory;
use memory::Seen;
use notice::Notice;
use queue::Queue;
use report::{Decision, Interval, Meaning, Moment, Totals};
use restart::Hindrance;

/// What is remembered, and the events that wait. Configuration is passed in.
///
/// ```
/// use shaftwork_core::{judge::{Judge, event::State}, record::HalfCycle, settings::Settings, time::*};
/// let c = Settings::example().build().unwrap().judge;
/// let mut judge = Judge::new(&c);
/// let (end, length, cycle) = (Instant(80 << 16), Span(40 << 16), Span(80 << 16));
/// let half = HalfCycle { end, length, cycle, ..HalfCycle::default() };
/// let moment = judge.half_cycle(&c, &half);
/// assert_eq!(moment.state, State::Stopped, "no current");
/// assert_eq!(judge.totals().time[0], half.length);
/// ```
#[derive(Debug, Clone)]
pub struct Judge {
    memory: Memory,
    events: Queue,
}

impl Judge {
    /// Nothing seen yet.
    #[must_use]
    #[inline(never)]
    pub fn new(c: &JudgeCoefficients) -> Self {
        Self { memory: Memory::new(c), events: Queue::default() }
    }

    /// Takes a half cycle; gives what it means.
    pub fn half_cycle(&mut self, c: &JudgeCoefficients, half: &HalfCycle) -> Moment {
        let mut half_cycle = *half;
        let seen = self.see_record(c, &mut half_cycle);
        let meaning = self.memory.decide(c, &half_cycle, &seen, &mut self.events);
        self.close_window(c);
        Moment::of(half_cycle, meaning)
    }

    /// The same in three steps, for a monitor that does one a block: what is seen of a half cycle. What was not measured is filled
    /// in where the record lies.
    pub(crate) fn see(&mut self, c: &JudgeCoefficients, half: &mut HalfCycle) {
        self.memory.seen = Some(self.see_record(c, half));
    }

    /// What is decided on the half cycle that was seen, if it has not been yet; gives what it means.
    pub(crate) fn decide(&mut self, c: &JudgeCoefficients, half: &HalfCycle) -> Option<Meaning> {
        let seen = self.memory.seen.take()?;
        Some(self.memory.decide(c, half, &seen, &mut self.events))
    }

    /// Whether a window has ended that is not closed yet.
    pub(crate) const fn owes_window(&self) -> bool {
        self.memory.ended.is_some()
    }

    /// Whether a half cycle was seen that is not decided on yet.
    pub(crate) const fn has_seen(&self) -> bool {
        self.memory.seen.is_some()
    }

    fn see_record(&mut self, c: &JudgeCoefficients, half: &mut HalfCycle) -> Seen {
        if let Some(curve) = &c.curve {
            estimate::fill(c, curve, half, self.memory.motor.in_star());
        }
        self.memory.see(c, half, &mut self.events)
    }

    /// Does what the end of a window asks for, if one has come with the last half cycle.
    pub(crate) fn close_window(&mut self, c: &JudgeCoefficients) {
        if self.memory.ended.is_some() {
            self.memory.close_window(c);
        }
    }

    /// Takes a window whose half cycles have all been given; gives its interval.
    pub fn window(&mut self, window: Window) -> Interval {
        let mut interval = None;
        self.pass_window_on(&window, &mut interval);
        interval.unwrap_or_default()
    }

    /// The same where it lies.
    pub(crate) fn pass_window_on(&mut self, window: &Window, to: &mut Option<Interval>) {
        self.memory.window(window, to);
    }

    /// Whether the half cycles of a window have all been given, but not the window.
    pub(crate) const fn awaits_window(&self) -> bool {
        self.memory.ended.is_some() || self.memory.closed.is_some()
    }

    /// The total fed so far; a smaller figure than before is left out.
    pub fn set_mass(&mut self, mg: u64) {
        self.memory.totals.mass_mg = Some(self.memory.totals.mass_mg.map_or(mg, |before| before.max(mg)));
    }

    /// The tachometer's speed, of the motor's shaft; `None` when there is none.
    pub const fn set_speed(&mut self, speed: Option<Rpm>) {
        self.memory.tachometer = speed;
    }

    /// The zero-speed input: whether the rotor stands; `None` where there is none, or it has failed.
    pub const fn set_standstill(&mut self, stands: Option<bool>) {
        self.memory.stands = stands;
    }

    /// What the inputs tell of the feed, now and until they tell something else.
    pub fn set_feed(&mut self, c: &JudgeCoefficients, now: Instant, inputs: FeedInputs) {
        self.memory.feed.set(&c.feed, now, inputs);
    }

    /// Samples are missing from `at` on. The motor's state is found anew; trips stay latched and the
    /// thermal image keeps its level.
    pub fn gap(&mut self, c: &JudgeCoefficients, at: Instant, length: Span) {
        self.close_window(c);
        self.memory.gap(c, at, length, &mut self.events);
    }

    /// A person resets the latched trips; `here` is one at the mill, who sees it.
    ///
    /// # Errors
    ///
    /// Why it is refused ([`restart`]): what is latched stays so.
    pub fn reset(&mut self, c: &JudgeCoefficients, at: Instant, here: bool) -> Result<(), Hindrance> {
        self.memory.reset(c, at, here, &mut self.events)
    }

    /// What is foretold: how long until the thermal image trips if the current stays as it is, and until a start is no longer
    /// refused if the motor rests; `None` where nothing comes by itself.
    pub fn foretold(&mut self, c: &JudgeCoefficients, now: Instant) -> [Option<Span>; 2] {
        self.memory.foretold(c, now)
    }

    /// How far an element is on its way to what it does, 1 is there: of one with a delay the share of it that has passed since it
    /// picked up; of the thermal image, the wedge and the starts their level over what decides. Q24, at most 127. For whoever compares
    /// settings by how near they came: nothing decides by it.
    #[must_use]
    pub fn share(&self, c: &JudgeCoefficients, cause: Cause, now: Instant) -> Ratio {
        let Memory { trips, motor, gain, .. } = &self.memory;
        trips.share(&c.trips, cause, now, motor.onset(), gain.gains())
    }

    /// Whether the windings are in star as far as the current tells, or will be when it comes: for
    /// [`crate::meter::Meter::in_star`].
    #[must_use]
    pub const fn in_star(&self, c: &JudgeCoefficients) -> bool {
        self.memory.motor.joined_in_star(c)
    }

    /// What is remembered, without the events that wait.
    pub(crate) const fn memory(&self) -> &Memory {
        &self.memory
    }

    /// Goes back to what was remembered then.
    pub(crate) fn restore(&mut self, c: &JudgeCoefficients, memory: &Memory) {
        self.memory = *memory;
        self.memory.trips.fit(&c.trips);
    }

    /// Goes back to what a monitor remembered, of these settings or of others: whoever judges records goes on from there as the monitor
    /// would. What it still owed then, of a half cycle that was seen and of a window that had ended, is done.
    pub fn resume_from(&mut self, c: &JudgeCoefficients, snapshot: &Snapshot) {
        self.restore(c, &snapshot.memory);
        if let Some(half) = snapshot.meter.last()
            && self.has_seen()
        {
            self.decide(c, half);
        }
        self.close_window(c);
    }

    /// The board tells of itself.
    pub fn note(&mut self, at: Instant, notice: Notice) {
        self.events.push(&mut self.memory.totals.lost_events, at, EventKind::Board(notice));
    }

    /// The oldest event that was not taken yet.
    pub fn pop_event(&mut self) -> Option<Event> {
        self.events.pop()
    }

    /// The sums so far.
    #[must_use]
    pub const fn totals(&self) -> &Totals {
        &self.memory.totals
    }

    /// What to do now.
    #[must_use]
    pub const fn decision(&self) -> Decision {
        self.memory.decision()
    }
}
