//! The judge's memory, and what a half cycle does to it. What is told meanwhile goes to the [`Queue`].

use super::doubt::Doubt;
use super::estimate;
use super::event::{Cause, EventKind, FeedCause, Figures, State};
use super::feed::{Feeding, Reading};
use super::flywheel::Flywheel;
use super::gain::Gain;
use super::mean::Means;
use super::mill::Mill;
use super::queue::Queue;
use super::report::{Decision, Interval, Meaning, Totals};
use super::restart::{Hindrance, Restart};
use super::rotor::Rotor;
use super::running::{Change, Motor};
use super::shaft::{Now, Shaft, current};
use super::slip::Slip;
use super::trip::{Told, Trips, Turn, View};
use super::warned::Warned;
use super::winding::Winding;
use crate::math::divide::part;
use crate::math::scale::narrow;
use crate::record::{HalfCycle, Window};
use crate::settings::{Action, JudgeCoefficients};
use crate::time::{Instant, Span};
use crate::unit::{Amps, Ratio, Rpm, SquareAmps, SquareVolts, Watts};

/// All that is remembered from one half cycle to the next. Configuration is passed in.
#[derive(Debug, Clone, Copy, PartialEq)] // its copy is that of bytes
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Memory {
    pub(super) motor: Motor,
    pub(super) doubt: Doubt,
    pub(super) winding: Winding,
    pub(super) slip: Slip,
    /// Shaft power half a cycle ago.
    pub(super) before: Watts,
    pub(super) mill: Mill,
    pub(super) flywheel: Flywheel,
    pub(super) trips: Trips,
    pub(super) feed: Feeding,
    pub(super) restart: Restart,
    pub(super) rotor: Rotor,
    pub(super) start: Option<Hindrance>,
    /// The last refusal of a reset, told once.
    pub(super) refused: Option<Hindrance>,
    /// What a zero-speed input tells: whether the rotor stands.
    pub(super) stands: Option<bool>,
    /// Whether a channel was missing within the window under way.
    pub(super) impaired: bool,
    /// The half cycle that is still to be decided on, and the end of a window that is still to be closed.
    pub(super) seen: Option<Seen>,
    pub(super) ended: Option<Ended>,
    pub(super) state: State,
    pub(super) means: Means,
    /// The means of the window whose record is still to come.
    pub(super) closed: Option<Interval>,
    /// Its active and reactive power where they are estimated.
    pub(super) estimated: Option<(Watts, Watts)>,
    pub(super) tachometer: Option<Rpm>,
    pub(super) gain: Gain,
    pub(super) warned: Warned,
    pub(super) totals: Totals,
}

/// What was seen of a half cycle, for what is decided on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Seen {
    shaft: Shaft,
    /// Its largest mean square current.
    largest: SquareAmps,
    /// Whether its figures are those of a whole cycle.
    whole: bool,
    /// Whether a tachometer shows the rotor gaining speed.
    gaining: bool,
}

/// What a window's last half cycle leaves for its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Ended {
    at: Instant,
    largest: SquareAmps,
    speed: Option<Rpm>,
    mass_mg: Option<u64>,
}

impl Memory {
    /// Nothing seen yet.
    #[inline(never)]
    pub(super) fn new(c: &JudgeCoefficients) -> Self {
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
            rotor: Rotor::default(),
            refused: None,
            impaired: false,
            start: Some(Hindrance::MayTurn),
            stands: None,
            state: State::Unknown,
            means: Means::default(),
            seen: None,
            ended: None,
            closed: None,
            estimated: None,
            tachometer: None,
            gain: Gain::default(),
            warned: Warned::default(),
            totals: Totals { idle: c.idle, max_thermal, ..Totals::default() },
        }
    }

    /// Takes a half cycle, first part: what the motor and the mill do, and the sums.
    #[inline(never)]
    pub(super) fn see(&mut self, c: &JudgeCoefficients, half: &HalfCycle, events: &mut Queue) -> Seen {
        let began = half.end.before(half.length);
        let largest = half.current.into_iter().max().unwrap_or_default();
        let current = current(&c.motor, half);
        self.winding.update(&c.motor, current, half.length);
        let warm = self.winding.warm(&c.motor);
        let known = Now { current, warm, star: self.motor.in_star(), begun: self.motor.begun() };
        let mut shaft = Shaft::of(&c.motor, half, known, &mut self.slip);
        // The first half cycle of a trace is no whole cycle: it counts as energy and time, no more.
        let whole = half.cycle.0.saturating_mul(4) >= u64::from(c.motor.rated_cycle) * 3;
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
        self.rotor.update(c, half.length, &shaft, self.motor.flows() && !shaft.at_speed());
        self.announce(c, half.end, change, &shaft, events);
        self.enter(c, half.end, &shaft, events);
        if matches!(change, Some(Change::RanUp { .. })) {
            self.doubt.settle(&mut self.totals, self.state);
        }
        self.count(c, half, if whole { largest } else { SquareAmps::default() }, &shaft);
        if half.closes_window {
            self.ended = Some(Ended { at: half.end, largest, speed: shaft.speed, mass_mg: self.totals.mass_mg });
        }
        Seen { shaft, largest, whole, gaining: self.gain.update(c, half.end, self.tachometer) }
    }

    /// Second part: what is decided on it; gives what it means.
    #[inline(never)]
    pub(super) fn decide(
        &mut self,
        c: &JudgeCoefficients,
        half: &HalfCycle,
        seen: &Seen,
        events: &mut Queue,
    ) -> Meaning {
        let Seen { shaft, largest, whole, gaining } = seen;
        let [first, second, third] = half.voltage;
        let view = View {
            now: half.end,
            length: half.length,
            half,
            state: self.state,
            onset: self.motor.onset(),
            flows: self.motor.flows(),
            lives: half.voltage_positive >= c.voltage_gone || half.voltage_negative >= c.voltage_gone,
            voltages: c.voltages,
            largest: *largest,
            lowest: first.min(second).min(third),
            highest: first.max(second).max(third),
            unbalance: unbalance(half),
            shaft: shaft.power,
            speed: shaft.speed,
            gaining: *gaining,
            at_speed: shaft.at_speed(),
            idle: self.mill.idle.sure(),
        };
        let lost = &mut self.totals.lost_events;
        self.warned.update(&view, |warning| events.push(lost, half.end, EventKind::Warning(warning)));
        if *whole {
            self.trip(c, &view, shaft, events);
        }
        self.impaired |= self.trips.impaired();
        let load = shaft.load(&c.motor);
        if let Some(kind) = self.feed.update(&c.feed, half.end, self.may_feed(), load) {
            events.push(&mut self.totals.lost_events, half.end, kind);
        }
        self.start = self.hindrance(c, half.end);

        self.means.add(shaft, self.state, half);
        Meaning {
            shaft: shaft.power,
            torque: shaft.torque,
            speed: shaft.speed,
            thermal: self.trips.thermal(),
            state: self.state,
        }
    }

    /// Closes the window that has ended, if one has.
    #[inline(never)]
    pub(super) fn close_window(&mut self, c: &JudgeCoefficients) {
        let Some(ended) = self.ended.take() else { return };
        let at_speed = self.means.at_speed();
        self.estimated = c.curve.as_ref().map(|_| self.means.powers());
        let length = self.means.length();
        let interval = self.closed.insert(self.means.close(c, self.trips.thermal(), ended.mass_mg));
        self.flywheel.close(c, ended.speed, length, self.mill.idle.power(), interval);
        // What is far below idle may be no mill at all, and what is measured in part is no power.
        let impaired = core::mem::replace(&mut self.impaired, false);
        let learns = !impaired && !self.trips.picked(Cause::Underload);
        let (steady, running) = (at_speed && interval.state.running() && learns, self.totals.running());
        self.mill.idle.window(c, ended.at, interval.shaft, steady, running);
        self.totals.idle = self.mill.idle.mean(running);
        self.totals.idle_spread = self.mill.idle.spread();
        self.totals.peak_shaft = Some(self.totals.peak_shaft.map_or(interval.shaft, |peak| peak.max(interval.shaft)));
        self.feed.step(&c.feed, &reading(c, ended.largest, interval, self.mill.idle.power()));
        interval.feeder = c.feed.feeder.map(|_| self.feed.drive());
    }

    /// Takes a window whose half cycles have all been given; its interval comes to where it is wanted, without copies on the way.
    pub(super) fn window(&mut self, window: &Window, to: &mut Option<Interval>) {
        *to = self.closed.take();
        let interval = to.get_or_insert_default();
        interval.window = *window;
        if let Some(powers) = self.estimated.take() {
            estimate::window(&mut interval.window, powers);
        }
    }

    /// Samples are missing from `at` on. The motor's state is found anew; trips stay latched and the
    /// thermal image keeps its level.
    pub(super) fn gap(&mut self, c: &JudgeCoefficients, at: Instant, length: Span, events: &mut Queue) {
        self.motor.gap(c, at.after(length));
        self.slip.forget();
        self.flywheel.forget();
        self.trips.gap();
        self.feed.gap();
        self.change_state(State::Unknown, at, events);
        self.add_time(length);
        self.means = Means::default();
        self.start = self.hindrance(c, at.after(length));
        events.push(&mut self.totals.lost_events, at, EventKind::Gap { length });
    }

    /// What to do now.
    pub(super) const fn decision(&self) -> Decision {
        Decision { trip: self.trips.latched(), feed: self.feed.feed(), feeder: self.feed.drive(), start: self.start }
    }

    /// Why nothing may be fed.
    const fn may_feed(&self) -> Result<(), FeedCause> {
        if self.trips.latched().is_some() {
            Err(FeedCause::Trip)
        } else if !self.state.running() {
            Err(FeedCause::Mill)
        } else if self.trips.feed_stop() {
            Err(FeedCause::Element)
        } else if self.trips.impaired() {
            Err(FeedCause::Input)
        } else {
            Ok(())
        }
    }

    /// Whether the rotor stands, where that is told: by the zero-speed input, but not against a tachometer that turns.
    pub(super) fn stands(&self, c: &JudgeCoefficients) -> Option<bool> {
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

    fn announce(
        &mut self,
        c: &JudgeCoefficients,
        now: Instant,
        change: Option<Change>,
        shaft: &Shaft,
        events: &mut Queue,
    ) {
        match change {
            Some(Change::Started { onset, again }) => {
                self.totals.starts = self.totals.starts.saturating_add(1);
                // Of a start that a gap cuts in two the first part counts.
                if !again {
                    self.trips.started(&c.trips, onset);
                    self.restart.started(self.trips.thermal_q32());
                    self.rotor.started();
                }
                events.push(&mut self.totals.lost_events, onset, EventKind::Start);
            }
            Some(Change::RanUp { at, onset, peak }) => {
                let rotor_heat = self.rotor.ran_up();
                events.push(
                    &mut self.totals.lost_events,
                    at,
                    EventKind::RunUp { onset, peak: peak.root(), rotor_heat },
                );
                self.mill.run_up(shaft);
                self.mill.idle.ran_up(at);
                self.restart.ran_up(self.trips.thermal_q32());
            }
            Some(Change::Stopped { at }) => {
                self.leave_idle(now, events);
                self.restart.stopped(at);
                events.push(&mut self.totals.lost_events, at, EventKind::Stop);
            }
            None if self.state == State::Unknown && matches!(self.motor, Motor::Running { .. }) => {
                self.mill.run_up(shaft);
            }
            None => {}
        }
    }

    /// Finds the state that holds from now on.
    fn enter(&mut self, c: &JudgeCoefficients, now: Instant, shaft: &Shaft, events: &mut Queue) {
        let state = match self.motor {
            Motor::Fresh { .. } => State::Unknown,
            Motor::Off { turns_until: None } => State::Stopped,
            Motor::Off { turns_until: Some(_) } => State::Coasting,
            Motor::Starting { .. } => State::Starting,
            Motor::Running { .. } if self.motor.pauses() => self.state,
            Motor::Running { .. } => self.mill.state(c.settle, now, shaft),
        };
        self.change_state(state, now, events);
    }

    fn change_state(&mut self, state: State, now: Instant, events: &mut Queue) {
        if state != State::Idle {
            self.leave_idle(now, events);
        } else if self.state != State::Idle {
            events.push(&mut self.totals.lost_events, now, EventKind::IdleBegins);
        }
        self.state = state;
    }

    #[inline(never)] // in three places
    fn leave_idle(&mut self, now: Instant, events: &mut Queue) {
        if self.state == State::Idle {
            events.push(&mut self.totals.lost_events, now, EventKind::IdleEnds);
            self.state = State::Unknown; // for this half cycle only: the caller enters the next state
        }
    }

    fn trip(&mut self, c: &JudgeCoefficients, view: &View, shaft: &Shaft, events: &mut Queue) {
        let totals = &mut self.totals;
        let mut figures: Option<Figures> = None;
        self.trips.update(&c.trips, view, |Told { cause, action, turn }, thermal| {
            let mut figures = || {
                *figures.get_or_insert_with(|| Figures {
                    current: view.half.current.map(SquareAmps::root),
                    voltage: view.half.voltage.map(SquareVolts::root),
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
            events.push(&mut totals.lost_events, view.now, kind);
        });
        let thermal = self.trips.thermal();
        self.totals.max_thermal = self.totals.max_thermal.max(thermal);
    }
}

/// What the governor is given of a window.
fn reading(c: &JudgeCoefficients, largest: SquareAmps, interval: &Interval, idle: Option<Watts>) -> Reading {
    let load = |watts: Watts| Ratio::from_bits(narrow(c.motor.load.apply(watts.to_bits())));
    Reading {
        load: interval.load,
        current: Ratio::from_bits(narrow(c.motor.current_share.apply(largest.root().to_bits().into()))),
        thermal: interval.thermal,
        idle: idle.map(load),
        mass_mg: interval.mass_mg,
    }
}

/// Negative over positive sequence of the currents; `None` without current, and where what flows hardly alternates, as of a converter that
/// is stuck: less than a tenth of the rms in the middle is a sine, and two remnants tell no ratio. One current that is stuck still does.
pub(super) fn unbalance(half: &HalfCycle) -> Option<Ratio> {
    let positive = half.current_positive.to_bits();
    if positive <= 0 && half.current_negative == Amps::ZERO {
        return None;
    }
    let [a, b, c] = half.current;
    let middle = a.min(b).max(a.max(b).min(c));
    if SquareAmps::of(half.current_positive.max(half.current_negative)).0 < part(middle.0, 100) {
        return None;
    }
    // A positive sequence of nothing saturates the ratio.
    Some(Ratio::from_bits(crate::math::scale::ratio_q(
        half.current_negative.to_bits().into(),
        u64::from(positive.max(1).unsigned_abs()),
        24,
    )))
}
