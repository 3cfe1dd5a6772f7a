//! The elements: one file each, each a [`Level`] of a [`View`] once a half cycle; what a [`Timer`] makes of it is the same for all.

#[cfg(test)]
mod edges;
mod jam;
mod long_start;
mod overvoltage;
mod phase_loss;
pub(super) mod phase_reversal;
mod residual_current;
mod sensor_fault;
mod share;
mod starts_per_hour;
mod thermal;
pub(super) mod timer;
mod underload;
mod undervoltage;
mod wedge;

use super::event::{Cause, State};
use crate::record::HalfCycle;
use crate::settings::{Action, ElementCoefficients, TripCoefficients, WatchCoefficients};
use crate::time::{Instant, Span};
use crate::unit::{Ratio, Rpm, SquareAmps, SquareVolts, Watts};
use starts_per_hour::{KEPT, Starts};
use thermal::Image;
use timer::{Level, Timer};
use wedge::Standing;

pub(crate) use timer::Turn;

/// What an element may look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a fact of its own about a half cycle")]
pub(crate) struct View<'a> {
    pub(crate) now: Instant,
    /// Since the view before.
    pub(crate) length: Span,
    pub(crate) half: &'a HalfCycle,
    pub(crate) state: State,
    /// Onset of the start under way.
    pub(crate) onset: Option<Instant>,
    /// Whether current flows.
    pub(crate) flows: bool,
    /// Whether there is a voltage.
    pub(crate) lives: bool,
    /// The voltage channels that the wiring uses, bit by bit.
    pub(crate) voltages: u8,
    /// Largest phase's mean square current.
    pub(crate) largest: SquareAmps,
    /// Lowest phase's mean square voltage.
    pub(crate) lowest: SquareVolts,
    /// Highest phase's.
    pub(crate) highest: SquareVolts,
    /// Negative over positive sequence of the currents.
    pub(crate) unbalance: Option<Ratio>,
    /// Shaft power.
    pub(crate) shaft: Watts,
    /// Speed of the motor's shaft, where it is told.
    pub(crate) speed: Option<Rpm>,
    /// Whether a tachometer shows the rotor gaining speed.
    pub(crate) gaining: bool,
    /// Whether slip is that of a running motor.
    pub(crate) at_speed: bool,
    /// Idle power, once it is sure.
    pub(crate) idle: Option<Watts>,
}

impl Cause {
    /// Its bit among all of them.
    const fn bit(self) -> u16 {
        1 << self as u16
    }
}

/// Elements.
const ELEMENTS: usize = Cause::ALL.len();

/// All elements' memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Trips {
    thermal: Option<Image>,
    starts: Starts,
    standing: Standing,
    /// In the order of [`Cause::ALL`].
    timers: [Timer; ELEMENTS],
    /// What each does.
    actions: [Action; ELEMENTS],
    /// Whether a voltage or a current was missing.
    impaired: bool,
    /// Whether the motor was starting: the two delays of undervoltage do not add up.
    starting: bool,
    /// Whether an element holds the feed.
    feed_stop: bool,
    /// The first that was given and not reset.
    latched: Option<Cause>,
}

/// What an element makes of a view.
#[derive(Clone, Copy)]
struct Wants<'a> {
    level: Level,
    delay: &'a Span,
    action: Action,
}

impl<'a> Wants<'a> {
    const fn of<T>(c: &'a ElementCoefficients<T>, level: Level) -> Self {
        Self { level, delay: &c.delay, action: c.action }
    }

    const fn watch(c: &'a WatchCoefficients, level: Level) -> Self {
        Self { level, delay: &c.delay, action: c.action }
    }

    const fn at_once(level: Level, action: Action) -> Self {
        Self { level, delay: &Span::ZERO, action }
    }
}

/// The elements whose timers turned in a round, [`Cause::bit`] by bit.
#[derive(Clone, Copy, Default)]
struct Turned {
    given: u16,
    ended: u16,
}

/// A round of all elements, one view long.
struct Round<'a> {
    now: Instant,
    timers: &'a mut [Timer; ELEMENTS],
    actions: &'a mut [Action; ELEMENTS],
    feed_stop: bool,
    turned: Turned,
}

impl Round<'_> {
    /// Shows an element what it makes of the view.
    #[inline]
    fn show(&mut self, cause: Cause, wants: Wants<'_>) {
        let place = cause as usize;
        let (Some(timer), Some(does)) = (self.timers.get(place), self.actions.get_mut(place)) else { return };
        *does = wants.action;
        // As nearly always there is nothing to do.
        if !matches!((timer, wants.level), (Timer::Quiet, Level::Short)) {
            self.time(cause, wants);
        }
    }

    #[inline(never)] // one for all elements
    fn time(&mut self, cause: Cause, Wants { level, delay, action }: Wants<'_>) {
        let Some(timer) = self.timers.get_mut(cause as usize) else { return };
        match timer.update(self.now, level, *delay, action) {
            Some(Turn::Given) => self.turned.given |= cause.bit(),
            Some(Turn::Ended) => self.turned.ended |= cause.bit(),
            None => {}
        }
        self.feed_stop |= *timer == Timer::Given && action == Action::FeedStop;
    }

    /// What an element had picked up counts no more.
    fn forget(&mut self, cause: Cause) {
        if let Some(timer) = self.timers.get_mut(cause as usize) {
            timer.forget();
        }
    }
}

/// What an element tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Told {
    pub(crate) cause: Cause,
    pub(crate) action: Action,
    pub(crate) turn: Turn,
}

impl Trips {
    pub(crate) fn new(c: &TripCoefficients) -> Self {
        Self {
            thermal: c.thermal.as_ref().map(Image::new),
            starts: Starts::default(),
            standing: Standing::default(),
            timers: [Timer::Quiet; ELEMENTS],
            actions: [Action::Trip; ELEMENTS],
            impaired: false,
            starting: false,
            feed_stop: false,
            latched: None,
        }
    }

    /// Other settings than those that this was remembered under: an image that is wanted keeps its level, the share of the trip level that it
    /// was, or begins afresh; one that is not is dropped.
    pub(crate) fn fit(&mut self, c: &TripCoefficients) {
        self.thermal = c.thermal.as_ref().map(|c| self.thermal.unwrap_or_else(|| Image::new(c)));
        if let Some(c) = &c.wedge {
            self.standing.fit(c);
        }
    }

    /// Shows the view to every element; `tell` is called with what changes and the thermal level.
    pub(crate) fn update(&mut self, c: &TripCoefficients, view: &View, mut tell: impl FnMut(Told, Option<Ratio>)) {
        let turned = self.show(c, view);
        if turned.given | turned.ended == 0 {
            return; // as nearly always
        }
        let level = self.thermal();
        for (cause, action) in Cause::ALL.into_iter().zip(self.actions) {
            let turn = match cause.bit() {
                bit if turned.given & bit != 0 => Turn::Given,
                bit if turned.ended & bit != 0 => Turn::Ended,
                _ => continue,
            };
            if turn == Turn::Given && action == Action::Trip {
                self.latched.get_or_insert(cause);
            }
            tell(Told { cause, action, turn }, level);
        }
    }

    /// Shows the view to every element that is wanted.
    #[inline(never)]
    fn show(&mut self, c: &TripCoefficients, view: &View) -> Turned {
        let overload = match (&c.thermal, &mut self.thermal) {
            (Some(c), Some(image)) => Some(image.update(c, view)),
            _ => None,
        };
        let starting = view.state == State::Starting;
        let (missing, blind) = (sensor_fault::missing(c, view), sensor_fault::blind(c, view));
        self.impaired = missing || blind;
        let mut round = Round {
            now: view.now,
            timers: &mut self.timers,
            actions: &mut self.actions,
            feed_stop: false,
            turned: Turned::default(),
        };
        if core::mem::replace(&mut self.starting, starting) != starting {
            round.forget(Cause::Undervoltage);
        }
        if let Some(level) = overload {
            round.show(Cause::ThermalOverload, Wants::at_once(level, Action::Trip));
        }
        if let Some(c) = &c.jam {
            round.show(Cause::Jam, Wants::of(c, jam::level(c, view)));
        }
        if let Some(c) = &c.long_start {
            round.show(Cause::LongStart, Wants::at_once(long_start::level(c, view), Action::Trip));
        }
        if let Some(e) = &c.phase_loss {
            round.show(Cause::PhaseLoss, Wants::of(e, phase_loss::level(e, c.floor, view)));
        }
        if let Some(c) = &c.undervoltage {
            let delay = if starting { &c.start_delay } else { &c.element.delay };
            round.show(Cause::Undervoltage, Wants { delay, ..Wants::of(&c.element, undervoltage::level(c, view)) });
        }
        if let Some(c) = &c.overvoltage {
            round.show(Cause::Overvoltage, Wants::of(c, overvoltage::level(c, view)));
        }
        if let Some(c) = &c.phase_reversal {
            round.show(Cause::PhaseReversal, Wants::watch(c, phase_reversal::level(view)));
        }
        if let Some(e) = &c.current_unbalance {
            let level = if missing { Level::Short } else { phase_loss::level(e, c.floor, view) };
            round.show(Cause::CurrentUnbalance, Wants::of(e, level));
        }
        if let Some(c) = &c.residual_current {
            let level = if missing { Level::Short } else { residual_current::level(c, view) };
            round.show(Cause::ResidualCurrent, Wants::of(c, level));
        }
        if let Some(c) = &c.underload {
            let level = if missing || blind { Level::Short } else { underload::level(c, view) };
            round.show(Cause::Underload, Wants::of(c, level));
        }
        if let Some(w) = &c.sensor_fault {
            round.show(Cause::SensorFault, Wants::watch(w, sensor_fault::level(c, view, missing || blind)));
        }
        if let Some(c) = &c.starts_per_hour {
            let level = starts_per_hour::level(c, &mut self.starts, view);
            round.show(Cause::StartsPerHour, Wants::at_once(level, c.action));
        }
        if let Some(c) = &c.wedge {
            let standing = &mut self.standing;
            let level = if missing || blind { standing.forget() } else { standing.update(c, view) };
            round.show(Cause::Wedge, Wants::at_once(level, c.action));
        }
        self.feed_stop = round.feed_stop;
        round.turned
    }

    /// A start began.
    pub(crate) fn started(&mut self, c: &TripCoefficients, onset: Instant) {
        if let Some(c) = &c.starts_per_hour {
            self.starts.begin(c, onset);
        }
    }

    /// What must outlast a power cut: the thermal level (Q32), the latch, how long each start still counts.
    pub(crate) fn save(&self, now: Instant) -> (i64, Option<Cause>, [Span; KEPT]) {
        (self.thermal_q32(), self.latched, self.starts.left(now))
    }

    /// What did: no time has passed.
    pub(crate) fn resume(&mut self, now: Instant, (level, latched, starts): (i64, Option<Cause>, &[Span; KEPT])) {
        if let Some(image) = &mut self.thermal {
            image.resume(level);
        }
        self.latched = latched;
        for (cause, timer) in Cause::ALL.into_iter().zip(&mut self.timers) {
            if latched == Some(cause) {
                *timer = Timer::Given;
            }
        }
        self.starts.resume(now, starts);
    }

    /// Whether an element has picked up, or more.
    pub(crate) fn picked(&self, cause: Cause) -> bool {
        self.timers.get(cause as usize).is_some_and(|timer| *timer != Timer::Quiet)
    }

    /// Thermal level at Q32; nothing where no image is wanted.
    pub(crate) fn thermal_q32(&self) -> i64 {
        self.thermal.as_ref().map_or(0, Image::q32)
    }

    /// How long until the image trips if the current stays as it is; `None` if it does not.
    pub(crate) fn time_to_trip(&self, c: &TripCoefficients) -> Option<Span> {
        self.thermal.as_ref()?.time_to_trip(c.thermal.as_ref()?)
    }

    /// How long the image takes to cool to a level (Q32) at rest.
    pub(crate) fn time_to_cool(&self, c: &TripCoefficients, level: i64) -> Span {
        match (&self.thermal, &c.thermal) {
            (Some(image), Some(c)) => image.time_to_cool(c, level),
            _ => Span::ZERO,
        }
    }

    /// How long until another start is allowed by their number.
    pub(crate) fn starts_wait(&mut self, c: &TripCoefficients, now: Instant) -> Span {
        c.starts_per_hour.as_ref().map_or(Span::ZERO, |c| self.starts.wait(c, now))
    }

    /// Thermal level, where the image is wanted.
    #[inline(never)] // in five places
    pub(crate) fn thermal(&self) -> Option<Ratio> {
        self.thermal.as_ref().map(Image::level)
    }

    pub(crate) const fn latched(&self) -> Option<Cause> {
        self.latched
    }

    /// Whether an element holds the feed.
    pub(crate) const fn feed_stop(&self) -> bool {
        self.feed_stop
    }

    /// Samples are missing: what was picked up but not given is forgotten.
    pub(crate) fn gap(&mut self) {
        self.timers.iter_mut().for_each(Timer::forget);
        self.standing.forget();
    }

    /// Whether a voltage or a current was missing in the last view.
    pub(crate) const fn impaired(&self) -> bool {
        self.impaired
    }

    /// Lets go of all latches; what does not trip ends by itself. The thermal image keeps its level: it trips again while that is
    /// high.
    pub(crate) fn reset(&mut self) {
        for (timer, _) in self.timers.iter_mut().zip(self.actions).filter(|(_, action)| *action == Action::Trip) {
            *timer = Timer::Quiet;
        }
        self.latched = None;
    }
}
