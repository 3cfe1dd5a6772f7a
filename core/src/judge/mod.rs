//! JUDGE: records -> energy, shaft power, states, trips, totals, a decision. Knows nothing of samples.
//!
//! ```text
//! HalfCycle ─┬─ energy registers
//!            ├─ shaft: losses, slip, torque ─ running: start, run-up, stop ─ mill: idle, breaking; idle power
//!            ├─ trip/: one state machine a file, all see one View
//!            └─ feed ─ Decision
//! Window ──── Interval: the window's figures with the means of its half cycles
//! ```

mod doubt;
mod energy;
mod estimate;
pub mod event;
mod feed;
mod flywheel;
mod gain;
mod idle;
mod mean;
mod mill;
pub mod report;
pub mod restart;
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
use crate::settings::{Action, JudgeCoefficients};
use crate::time::{Instant, Span};
use crate::unit::{Amps, Joules, Ratio, Rpm, SquareAmps, SquareVolts, Watts};
use doubt::{Doubt, Part};
use event::{Event, EventKind, Figures, State};
use feed::Feeding;
use flywheel::Flywheel;
use gain::Gain;
use heapless::Deque;
use mean::Means;
use mill::Mill;
use report::{Decision, Interval, Moment, Totals};
use restart::{Hindrance, Restart};
use running::{Change, Motor};
use shaft::{Now, Shaft};
use slip::Slip;
use trip::{Told, Trips, Turn, View};
use warned::Warned;
use winding::Winding;

/// Events that wait to be taken. One half cycle gives at most nineteen: thirteen elements', a change of the
/// motor, two of the mill, three warnings. The end of a trace closes up to three: what does not change in each of
/// them leaves room.
const EVENTS: usize = 32;

/// The judge's memory. Configuration is passed in.
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
    motor: Motor,
    doubt: Doubt,
    winding: Winding,
    slip: Slip,
    /// Shaft power half a cycle ago.
    before: Watts,
    mill: Mill,
    flywheel: Flywheel,
    trips: Trips,
    feed: Feeding,
    restart: Restart,
    start: Option<Hindrance>,
    /// The last refusal of a reset, told once.
    refused: Option<Hindrance>,
    /// What a zero-speed input tells: whether the rotor stands.
    stands: Option<bool>,
    /// Whether a channel was missing within the window under way.
    impaired: bool,
    state: State,
    means: Means,
    /// The means of the window whose record is still to come.
    closed: Option<Interval>,
    /// Its active and reactive power where they are estimated.
    estimated: Option<(Watts, Watts)>,
    tachometer: Option<Rpm>,
    gain: Gain,
    warned: Warned,
    totals: Totals,
    events: Deque<Event, EVENTS>,
}

impl Judge {
    /// Nothing seen yet.
    #[must_use]
    pub fn new(c: &JudgeCoefficients) -> Self {
        let trips = Trips::new(&c.trips);
        let max_thermal = trips.thermal();
        Self {
            motor: Motor::Fresh { turns_until: None, again: false },
            doubt: Doubt::default(),
            winding: Winding::new(&c.motor),
            slip: Slip::default(),
            before: Watts::ZERO,
            mill: Mill::new(c),
            flywheel: Flywheel::default(),
            trips,
            feed: Feeding::default(),
            restart: Restart::new(Instant(0), c.coast_down),
            refused: None,
            impaired: false,
            start: Some(Hindrance::MayTurn),
            stands: None,
            state: State::Unknown,
            means: Means::default(),
            closed: None,
            estimated: None,
            tachometer: None,
            gain: Gain::default(),
            warned: Warned::default(),
            totals: Totals { idle: c.idle, max_thermal, ..Totals::default() },
            events: Deque::new(),
        }
    }

    /// Takes a half cycle; gives what it means.
    pub fn half_cycle(&mut self, c: &JudgeCoefficients, half: &HalfCycle) -> Moment {
        let half = &c.curve.as_ref().map_or(*half, |curve| estimate::fill(c, curve, half, self.motor.in_star()));
        let began = half.end.before(half.length);
        let largest = half.current.into_iter().max().unwrap_or_default();
        self.winding.update(&c.motor, half);
        let known = Now { warm: self.winding.warm(&c.motor), star: self.motor.in_star(), begun: self.motor.begun() };
        let mut shaft = Shaft::of(&c.motor, half, known, &mut self.slip);
        // The first half cycle of a trace is no whole cycle: it counts as energy and time, no more.
        let whole = half.cycle.0.saturating_mul(4) / 3 >= u64::from(c.motor.rated_cycle);
        let stands = self.stands(c);
        self.motor.proven(c, half.end, stands);
        if stands == Some(true) {
            self.restart.proven(half.end);
        }
        let change = if whole { self.motor.update(c, began, half.end, largest, &shaft) } else { None };
        if !self.motor.flows() {
            shaft = Shaft { speed: self.standing_speed(), ..Shaft::default() };
        }
        if let Some(rpm) = self.tachometer {
            shaft.speed = Some(rpm);
        }
        self.announce(c, half.end, change, &shaft);
        self.enter(c, half.end, &shaft);
        if matches!(change, Some(Change::RanUp { .. })) {
            self.doubt.settle(&mut self.totals, self.state);
        }
        self.count(c, half, if whole { largest } else { SquareAmps::default() }, &shaft);

        let view = View {
            now: half.end,
            length: half.length,
            half,
            state: self.state,
            onset: self.motor.onset(),
            flows: self.motor.flows(),
            lives: half.voltage_positive >= c.voltage_gone || half.voltage_negative >= c.voltage_gone,
            voltages: c.voltages,
            largest,
            lowest: half.voltage.into_iter().min().unwrap_or_default(),
            unbalance: unbalance(half),
            shaft: shaft.power,
            speed: shaft.speed,
            gaining: self.gain.update(c, half.end, self.tachometer),
            at_speed: shaft.at_speed(),
            idle: self.mill.idle.sure(),
        };
        let (events, lost) = (&mut self.events, &mut self.totals.lost_events);
        self.warned.update(&view, |warning| {
            push(events, lost, Event { at: half.end, kind: EventKind::Warning(warning) });
        });
        if whole {
            self.trip(c, half, &view, &shaft);
        }
        self.impaired |= self.trips.impaired();
        let load = shaft.load(&c.motor);
        let may_feed = self.state.running() && self.trips.latched().is_none() && !self.trips.feed_stop();
        self.feed.update(&c.feed, half.end, may_feed, load);
        self.start = self.hindrance(c, half.end);

        self.means.add(&shaft, self.state, half);
        if half.closes_window {
            let at_speed = self.means.at_speed();
            self.estimated = c.curve.as_ref().map(|_| self.means.powers());
            let length = self.means.length();
            let mut interval = self.means.close(c, self.trips.thermal(), self.totals.mass_mg);
            self.flywheel.close(c, shaft.speed, length, self.mill.idle.power(), &mut interval);
            // What is far below idle may be no mill at all, and what is measured in part is no power.
            let impaired = core::mem::replace(&mut self.impaired, false);
            let learns = !impaired && !self.trips.picked(event::Cause::Underload);
            let (steady, running) = (at_speed && interval.state.running() && learns, self.totals.running());
            self.mill.idle.window(c, half.end, interval.shaft, steady, running);
            self.totals.idle = self.mill.idle.mean(running);
            self.totals.idle_spread = self.mill.idle.spread();
            self.totals.peak_shaft =
                Some(self.totals.peak_shaft.map_or(interval.shaft, |peak| peak.max(interval.shaft)));
            self.closed = Some(interval);
        }
        Moment {
            half_cycle: *half,
            shaft: shaft.power,
            torque: shaft.torque,
            speed: shaft.speed,
            thermal: self.trips.thermal(),
            state: self.state,
        }
    }

    /// Takes a window whose half cycles have all been given; gives its interval.
    pub fn window(&mut self, window: Window) -> Interval {
        let window = match self.estimated.take() {
            Some(powers) => estimate::window(window, powers),
            None => window,
        };
        Interval { window, ..self.closed.take().unwrap_or_default() }
    }

    /// The total fed so far; a smaller figure than before is left out.
    pub fn set_mass(&mut self, mg: u64) {
        self.totals.mass_mg = Some(self.totals.mass_mg.map_or(mg, |before| before.max(mg)));
    }

    /// The tachometer's speed, of the motor's shaft; `None` when there is none.
    pub const fn set_speed(&mut self, speed: Option<Rpm>) {
        self.tachometer = speed;
    }

    /// Samples are missing from `at` on. The motor's state is found anew; trips stay latched and the
    /// thermal image keeps its level.
    pub fn gap(&mut self, c: &JudgeCoefficients, at: Instant, length: Span) {
        self.motor.gap(c, at.after(length));
        self.slip.forget();
        self.flywheel.forget();
        self.trips.gap();
        self.feed.gap();
        self.change_state(State::Unknown, at);
        self.add_time(length);
        self.means = Means::default();
        self.start = self.hindrance(c, at.after(length));
        self.push(Event { at, kind: EventKind::Gap { length } });
    }

    /// The zero-speed input: whether the rotor stands; `None` where there is none, or it has failed.
    pub const fn set_standstill(&mut self, stands: Option<bool>) {
        self.stands = stands;
    }

    /// A person resets the latched trips; `here` is one at the mill, who sees it.
    ///
    /// # Errors
    ///
    /// Why it is refused ([`restart`]): what is latched stays so.
    pub fn reset(&mut self, c: &JudgeCoefficients, at: Instant, here: bool) -> Result<(), Hindrance> {
        let hot = self.trips.thermal_q32() > c.restart.reset_level;
        let taken = match self.restart.stands(&c.restart, at, &self.motor) {
            _ if !here => Err(Hindrance::Remote),
            Ok(()) if hot => Err(Hindrance::Hot),
            Ok(()) if self.trips.latched() == Some(event::Cause::StartsPerHour) => {
                if self.trips.starts_wait(&c.trips, at) > Span::ZERO { Err(Hindrance::Starts) } else { Ok(()) }
            }
            taken => taken,
        };
        if taken.is_ok() {
            self.trips.reset();
            self.start = self.hindrance(c, at);
        }
        // A button that is held down must not fill the queue.
        let told = core::mem::replace(&mut self.refused, taken.err());
        if taken.is_ok() || told != self.refused {
            self.push(Event { at, kind: taken.map_or_else(EventKind::ResetRefused, |()| EventKind::Reset) });
        }
        taken
    }

    /// What is foretold: how long until the thermal image trips if the current stays as it is, and until a start is no longer
    /// refused if the motor rests; `None` where nothing comes by itself.
    pub fn foretold(&mut self, c: &JudgeCoefficients, now: Instant) -> [Option<Span>; 2] {
        if self.motor.flows() {
            return [self.trips.time_to_trip(&c.trips), None];
        }
        let stands = match self.motor {
            Motor::Off { turns_until } | Motor::Fresh { turns_until, .. } => {
                turns_until.map_or(Span::ZERO, |until| until.since(now))
            }
            Motor::Starting { .. } | Motor::Running { .. } => Span::ZERO,
        };
        let waits = [
            self.restart.rest(&c.restart, now),
            self.trips.time_to_cool(&c.trips, self.restart.hot(&c.restart)),
            self.trips.starts_wait(&c.trips, now),
        ];
        let longest = waits.into_iter().fold(stands, Span::max);
        [None, if self.trips.latched().is_none() { Some(longest) } else { None }]
    }

    /// Why a start is refused.
    fn hindrance(&mut self, c: &JudgeCoefficients, now: Instant) -> Option<Hindrance> {
        if self.trips.latched().is_some() {
            return Some(Hindrance::Trip);
        }
        if let Err(hindrance) = self.restart.stands(&c.restart, now, &self.motor) {
            return Some(hindrance);
        }
        if self.trips.thermal_q32() > self.restart.hot(&c.restart) {
            return Some(Hindrance::Hot);
        }
        (self.trips.starts_wait(&c.trips, now) > Span::ZERO).then_some(Hindrance::Starts)
    }

    /// The oldest event that was not taken yet.
    pub fn pop_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    /// The sums so far.
    #[must_use]
    pub const fn totals(&self) -> &Totals {
        &self.totals
    }

    /// What to do now.
    #[must_use]
    pub const fn decision(&self) -> Decision {
        Decision { trip: self.trips.latched(), feed: self.feed.feed(), start: self.start }
    }

    /// Whether the rotor stands, where that is told: by the zero-speed input, but not against a tachometer that turns.
    fn stands(&self, c: &JudgeCoefficients) -> Option<bool> {
        let turns = self
            .tachometer
            .is_some_and(|rpm| rpm.to_bits().unsigned_abs() > c.motor.synchronous_rpm.unsigned_abs() / 100);
        if turns { Some(false) } else { self.stands }
    }

    /// Speed without current: zero at rest, unknown while the rotor may turn.
    const fn standing_speed(&self) -> Option<Rpm> {
        match self.motor {
            Motor::Off { turns_until: None } => Some(Rpm::ZERO),
            _ => None,
        }
    }

    fn push(&mut self, event: Event) {
        push(&mut self.events, &mut self.totals.lost_events, event);
    }

    fn announce(&mut self, c: &JudgeCoefficients, now: Instant, change: Option<Change>, shaft: &Shaft) {
        match change {
            Some(Change::Started { onset, again }) => {
                self.totals.starts = self.totals.starts.saturating_add(1);
                // Of a start that a gap cuts in two the first part counts.
                if !again {
                    self.trips.started(&c.trips, onset);
                    self.restart.started(self.trips.thermal_q32());
                }
                self.push(Event { at: onset, kind: EventKind::Start });
            }
            Some(Change::RanUp { at, onset, peak }) => {
                self.push(Event { at, kind: EventKind::RunUp { onset, peak: peak.root() } });
                self.mill.run_up(shaft);
                self.mill.idle.ran_up(at);
                self.restart.ran_up(self.trips.thermal_q32());
            }
            Some(Change::Stopped { at }) => {
                self.leave_idle(now);
                self.restart.stopped(at);
                self.push(Event { at, kind: EventKind::Stop });
            }
            None if self.state == State::Unknown && matches!(self.motor, Motor::Running { .. }) => {
                self.mill.run_up(shaft);
            }
            None => {}
        }
    }

    /// Finds the state that holds from now on.
    fn enter(&mut self, c: &JudgeCoefficients, now: Instant, shaft: &Shaft) {
        let state = match self.motor {
            Motor::Fresh { .. } => State::Unknown,
            Motor::Off { turns_until: None } => State::Stopped,
            Motor::Off { turns_until: Some(_) } => State::Coasting,
            Motor::Starting { .. } => State::Starting,
            Motor::Running { .. } if self.motor.pauses() => self.state,
            Motor::Running { .. } => self.mill.state(c.settle, now, shaft),
        };
        self.change_state(state, now);
    }

    fn change_state(&mut self, state: State, now: Instant) {
        if state != State::Idle {
            self.leave_idle(now);
        } else if self.state != State::Idle {
            self.push(Event { at: now, kind: EventKind::IdleBegins });
        }
        self.state = state;
    }

    fn leave_idle(&mut self, now: Instant) {
        if self.state == State::Idle {
            self.push(Event { at: now, kind: EventKind::IdleEnds });
            self.state = State::Unknown; // for this half cycle only: the caller enters the next state
        }
    }

    fn add_time(&mut self, length: Span) {
        for (time, state) in self.totals.time.iter_mut().zip(State::ALL) {
            if state == self.state {
                *time = time.plus(length);
            }
        }
    }

    /// Energies, times and peaks.
    fn count(&mut self, c: &JudgeCoefficients, half: &HalfCycle, largest: SquareAmps, shaft: &Shaft) {
        self.add_time(half.length);
        let t = &mut self.totals;
        t.electrical.add(half.energy);
        t.exported.add(Joules::from_bits(half.energy.to_bits().saturating_neg()));
        t.reactive.add(half.length.energy(half.reactive, c.seconds_per_frame));
        for (energy, state) in t.energy.iter_mut().zip(State::ALL) {
            if state == self.state {
                energy.add(half.energy);
            }
        }
        let before = core::mem::replace(&mut self.before, shaft.power);
        let energy = shaft.work(before, half.length, c.seconds_per_frame);
        let taken = Joules::from_bits(half.energy.to_bits().max(0));
        let part = Part { time: half.length, electrical: taken, shaft: energy };
        if self.motor.doubtful() {
            self.doubt.add(part, self.motor.share());
        } else {
            self.doubt.note(part);
        }
        if self.state.running() {
            t.shaft_q20 = t.shaft_q20.saturating_add(i128::from(energy.to_bits()));
        }
        t.peak_current = t.peak_current.max(largest.root());
        t.clipped = t.clipped.saturating_add(u64::from(half.clipped));
    }

    fn trip(&mut self, c: &JudgeCoefficients, half: &HalfCycle, view: &View, shaft: &Shaft) {
        let (events, totals) = (&mut self.events, &mut self.totals);
        let mut figures: Option<Figures> = None;
        self.trips.update(&c.trips, view, |Told { cause, action, turn }, thermal| {
            let mut figures = || {
                *figures.get_or_insert_with(|| Figures {
                    current: half.current.map(SquareAmps::root),
                    voltage: half.voltage.map(SquareVolts::root),
                    shaft: shaft.power,
                    speed: shaft.speed,
                    thermal,
                    unbalance: view.unbalance,
                })
            };
            let feed_stop = action == Action::FeedStop;
            let kind = match turn {
                Turn::Given if action == Action::Trip => {
                    totals.trips = totals.trips.saturating_add(1);
                    EventKind::Trip { cause, figures: figures() }
                }
                Turn::Given => EventKind::Alarm { cause, feed_stop, figures: figures() },
                Turn::Ended => EventKind::AlarmEnds { cause, feed_stop },
            };
            push(events, &mut totals.lost_events, Event { at: view.now, kind });
        });
        let thermal = self.trips.thermal();
        self.totals.max_thermal = self.totals.max_thermal.max(thermal);
    }
}

/// Appends an event; a full queue counts it as lost.
fn push(events: &mut Deque<Event, EVENTS>, lost: &mut u32, event: Event) {
    if events.push_back(event).is_err() {
        *lost = lost.saturating_add(1);
    }
}

/// Negative over positive sequence of the currents; `None` without current.
fn unbalance(half: &HalfCycle) -> Option<Ratio> {
    let positive = half.current_positive.to_bits();
    if positive <= 0 && half.current_negative == Amps::ZERO {
        return None;
    }
    // A positive sequence of nothing saturates the ratio.
    Some(Ratio::from_bits(crate::math::scale::ratio_q(
        half.current_negative.to_bits().into(),
        u64::from(positive.max(1).unsigned_abs()),
        24,
    )))
}
