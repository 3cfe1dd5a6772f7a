//! Meter and judge for a board: blocks of frames in; records, intervals, events and a decision out.

use crate::error::SettingsError;
use crate::frame::{BLOCK, Frame};
use crate::judge::Judge;
use crate::judge::event::Event;
use crate::judge::feed::FeedInputs;
use crate::judge::notice::Notice;
use crate::judge::report::{Decision, Interval, Meaning, Moment, Totals};
use crate::judge::restart::Hindrance;
use crate::judge::saved::Saved;
use crate::meter::Meter;
use crate::record::Phasors;
use crate::settings::{Coefficients, Settings};
use crate::snapshot::Snapshot;
use crate::time::{Instant, Span};
use crate::unit::Rpm;
use heapless::Deque;

/// Half cycles that wait to be taken beside the newest one: up to three at the end of a trace, and one that was left.
const MOMENTS: usize = 4;

/// The whole core behind one face.
///
/// Deadline: [`Monitor::ingest`] must be called for each eight frames before the next eight are due;
/// its work is bounded (the instruction count of the worst call is published with each release).
/// After each call take what it left: at most one half cycle and one interval, and all events. What
/// is not taken is lost when newer ones come (half cycles, intervals) or counted as lost (events).
///
/// A half cycle is closed within the next one. Then the judge does one thing a block, so that none has all: in the first it sees what the
/// motor and the mill do, in the second it decides (trips, feed, start) and hands the half cycle out, in the third it closes a window
/// that has ended (idle power, the feeder's speed). So a decision comes a block after its half cycle was closed, 2 ms at 4 kHz.
///
/// ```
/// use shaftwork_core::{Frame, Monitor, Settings};
/// let mut monitor = Monitor::new(&Settings::example()).unwrap();
/// for _ in 0..500 {
///     monitor.ingest(&[Frame::default(); 8]); // a second of nothing at 4 kHz
///     while monitor.pop_event().is_some() {}
/// }
/// monitor.finish(&[]);
/// assert_eq!(monitor.totals().starts, 0);
/// assert!(monitor.decision().trip.is_none());
/// ```
#[derive(Debug, Clone)]
pub struct Monitor {
    c: Coefficients,
    meter: Meter,
    judge: Judge,
    /// What the newest half cycle means, whose record lies in the meter; and those before it at the end of a trace.
    newest: Option<Meaning>,
    moments: Deque<Moment, MOMENTS>,
    interval: Option<Interval>,
}

impl Monitor {
    /// Checks the settings and starts with nothing seen.
    ///
    /// # Errors
    ///
    /// The first setting that cannot be used.
    pub fn new(settings: &Settings) -> Result<Self, SettingsError> {
        Ok(Self::of(&settings.build()?))
    }

    /// Starts with what was built already: nothing of it is copied on the way, which a small board's stack has no room for.
    #[must_use]
    #[inline(never)]
    pub fn of(c: &Coefficients) -> Self {
        Self {
            meter: Meter::new(&c.meter),
            judge: Judge::new(&c.judge),
            c: *c,
            newest: None,
            moments: Deque::new(),
            interval: None,
        }
    }

    /// Takes eight frames.
    #[inline(never)] // one call to count and to look at, on every board
    pub fn ingest(&mut self, block: &[Frame; BLOCK]) {
        self.decide();
        if self.meter.may_hand_out(&self.c.meter) {
            self.set_aside();
        }
        self.meter.ingest(&self.c.meter, block);
        // A window comes some blocks after its last half cycle: where it comes with a later one, it belongs before that. It waits
        // for what the judge makes of its half cycles.
        if !self.judge.owes_window() {
            self.pass_window_on();
        }
        self.pass_half_cycle_on();
    }

    /// Takes the last 0 to 7 frames (further ones are left out) and closes all that is open. Up to
    /// three half cycles, the last of them short, are left to be taken.
    pub fn finish(&mut self, rest: &[Frame]) {
        self.decide();
        self.set_aside();
        self.meter.finish(&self.c.meter, rest);
        loop {
            if self.judge.awaits_window() {
                self.pass_window_on();
            }
            self.pass_half_cycle_on();
            self.decide();
            self.pass_window_on();
            self.set_aside();
            if !self.meter.close_last(&self.c.meter) {
                break;
            }
        }
    }

    /// The oldest half cycle that was closed and not taken yet, with what it means.
    pub fn take_moment(&mut self) -> Option<Moment> {
        if let Some(moment) = self.moments.pop_front() {
            return Some(moment);
        }
        let meaning = self.newest.take()?;
        self.meter.last().map(|half| Moment::of(*half, meaning))
    }

    /// The interval that was closed by the last call, once.
    pub const fn take_interval(&mut self) -> Option<Interval> {
        self.interval.take()
    }

    /// The channels' fundamentals in the interval that was closed by the last call: for
    /// [`crate::wiring::diagnose`], together with [`Monitor::take_interval`].
    #[must_use]
    pub fn phasors(&self) -> Phasors {
        self.meter.phasors()
    }

    /// The oldest event that was not taken yet.
    pub fn pop_event(&mut self) -> Option<Event> {
        self.judge.pop_event()
    }

    /// The sums so far.
    #[must_use]
    pub const fn totals(&self) -> &Totals {
        self.judge.totals()
    }

    /// What the board should do now.
    #[must_use]
    #[inline(never)] // in many places of a board's loop
    pub const fn decision(&self) -> Decision {
        self.judge.decision()
    }

    /// The total fed so far, mg; a smaller figure than before is left out.
    pub fn set_mass(&mut self, mg: u64) {
        self.judge.set_mass(mg);
    }

    /// The tachometer's speed; `None` when there is none.
    pub const fn set_speed(&mut self, speed: Option<Rpm>) {
        self.judge.set_speed(speed);
    }

    /// The zero-speed input: whether the rotor stands; `None` where there is none, or it has failed.
    pub const fn set_standstill(&mut self, stands: Option<bool>) {
        self.judge.set_standstill(stands);
    }

    /// What the inputs tell of the feed, now and until they tell something else ([`crate::judge::feed`]).
    pub fn set_feed(&mut self, inputs: FeedInputs) {
        let now = self.now();
        self.judge.set_feed(&self.c.judge, now, inputs);
    }

    /// The board tells of itself: it is noted as an event of now.
    #[inline(never)] // in many places of a board's loop
    pub fn note(&mut self, notice: Notice) {
        let now = self.now();
        self.judge.note(now, notice);
    }

    /// A person resets the latched trips; `here` is one at the mill, who sees it.
    ///
    /// # Errors
    ///
    /// Why it is refused: what is latched stays so.
    pub fn reset(&mut self, here: bool) -> Result<(), Hindrance> {
        self.judge.reset(&self.c.judge, self.now(), here)
    }

    /// How long until the thermal image trips if the current stays as it is, and until a start is no longer refused if the
    /// motor rests; `None` where nothing comes by itself.
    pub fn foretold(&mut self) -> [Option<Span>; 2] {
        let now = self.now();
        self.judge.foretold(&self.c.judge, now)
    }

    /// What must outlast a power cut.
    #[must_use]
    pub fn saved(&self) -> Saved {
        self.judge.saved(self.now())
    }

    /// Power is back: begins where `saved` was. To be called before the first block, and before the inputs tell of the feed.
    pub fn resume(&mut self, saved: &Saved) {
        self.judge.resume(&self.c.judge, self.now(), saved);
    }

    /// All that it remembers now: call it after [`Monitor::ingest`] or [`Monitor::gap`].
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        Snapshot { meter: self.meter, memory: *self.judge.memory() }
    }

    /// Goes back to a snapshot, of this monitor or of another one, to do again what was done from there on; what waits to be taken is left
    /// as it is. The inputs of the feed are those of then, a permit too: a board that begins again calls [`Monitor::resume`].
    pub fn restore(&mut self, snapshot: &Snapshot) {
        self.set_aside();
        self.meter = snapshot.meter;
        self.judge.restore(&self.c.judge, &snapshot.memory);
    }

    /// Samples are missing: metering starts anew after `length`, which counts as unknown. Call
    /// [`Monitor::finish`] before, so that what was begun is counted.
    #[inline(never)] // a meter that begins anew takes room on the stack, which nothing else is to wait for
    pub fn gap(&mut self, length: Span) {
        let at = self.now();
        self.decide();
        self.set_aside();
        self.judge.gap(&self.c.judge, at, length);
        self.meter.restart(&self.c.meter, at.after(length).0 >> 16);
    }

    /// Frames a second, mHz.
    #[must_use]
    pub const fn rate_mhz(&self) -> u32 {
        self.c.meter.rate_mhz
    }

    /// Frames taken, gaps included.
    #[must_use]
    pub const fn now(&self) -> Instant {
        Instant(self.meter.frames() << 16)
    }

    /// Keeps the newest half cycle together with its record, which is about to make room.
    #[inline(never)]
    fn set_aside(&mut self) {
        if let (Some(meaning), Some(half)) = (self.newest.take(), self.meter.last()) {
            // A board may only want intervals: the newest are kept.
            if self.moments.is_full() {
                self.moments.pop_front();
            }
            let _ = self.moments.push_back(Moment::of(*half, meaning)); // there is room
        }
    }

    /// Decides on the half cycle of the block before, if there was one; else closes the window that has ended.
    fn decide(&mut self) {
        if !self.judge.has_seen() {
            self.judge.close_window(&self.c.judge);
        } else if let Some(half) = self.meter.last() {
            self.newest = self.judge.decide(&self.c.judge, half);
        }
    }

    fn pass_half_cycle_on(&mut self) {
        if let Some(half) = self.meter.newest() {
            self.judge.close_window(&self.c.judge);
            self.judge.see(&self.c.judge, half);
            self.meter.in_star(self.judge.in_star(&self.c.judge));
        }
    }

    fn pass_window_on(&mut self) {
        self.judge.close_window(&self.c.judge);
        if let Some(window) = self.meter.made_window() {
            self.judge.pass_window_on(window, &mut self.interval);
        }
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;
    use std::vec::Vec;

    fn taken(monitor: &mut Monitor) -> impl Iterator<Item = Moment> {
        core::iter::from_fn(|| monitor.take_moment())
    }

    /// Some half cycles that wait, as where two are handed out in two blocks running (71 Hz at 2 kHz), keep their own records.
    #[test]
    fn half_cycles_that_wait_are_those_that_are_taken_at_once() {
        for (rate_mhz, hertz, every) in [(2_000_000, 71.0, 6), (2_000_000, 50.0, 1), (4_000_000, 50.0, 15)] {
            let mut settings = Settings::example();
            settings.sampling.rate_mhz = rate_mhz;
            let mut at_once = Monitor::new(&settings).unwrap();
            let mut later = at_once.clone();
            let (mut seen, mut kept) = (Vec::new(), Vec::new());
            for n in 0..1_500 {
                let block = core::array::from_fn(|k| {
                    let turns = f64::from(n * 8 + k as u32) / f64::from(rate_mhz) * 1e3 * hertz;
                    Frame(core::array::from_fn(|channel| {
                        let lag = (channel % 3) as f64 / 3.0;
                        (((turns - lag) * core::f64::consts::TAU).sin() * f64::from(9_000 + n)) as i32
                    }))
                });
                at_once.ingest(&block);
                later.ingest(&block);
                seen.extend(taken(&mut at_once));
                if n % every == 0 {
                    kept.extend(taken(&mut later));
                }
            }
            for (monitor, moments) in [(&mut at_once, &mut seen), (&mut later, &mut kept)] {
                moments.extend(taken(monitor));
                monitor.finish(&[]);
                moments.extend(taken(monitor));
            }
            let frames = 12_000.0 / (f64::from(rate_mhz) / 1e3 / hertz / 2.0);
            assert!((seen.len() as f64 - frames).abs() < 3.0, "{} half cycles of {frames}", seen.len());
            let other = seen.iter().zip(&kept).find(|(one, other)| one != other);
            assert_eq!(other, None, "{rate_mhz} mHz, {hertz} Hz");
            assert_eq!(seen.len(), kept.len(), "{rate_mhz} mHz, {hertz} Hz");
        }
    }
}
