//! What the judge hands out: intervals, totals, the decision.

use super::event::{Cause, State};
use super::restart::Hindrance;
use crate::record::{HalfCycle, Window};
use crate::time::Span;
use crate::unit::{Amps, Joules, Newtonmetres, Ratio, Rpm, Watts};

/// A half cycle's record together with what it means for the motor and the mill.
///
/// Shaft power, torque and speed belong to the whole cycle that ends with it, as the record's figures do;
/// thermal level and state hold at its end. Limits and errors are those of the shaft model, see [`crate::judge`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Moment {
    /// What was measured.
    pub half_cycle: HalfCycle,
    /// Power at the motor's shaft; zero without current.
    pub shaft: Watts,
    /// Torque at the motor's shaft.
    pub torque: Newtonmetres,
    /// Speed of the motor's shaft; `None` while coasting, and above 10 % of slip, without a tachometer.
    pub speed: Option<Rpm>,
    /// Thermal level, 1 is the trip level; `None` without a thermal image.
    pub thermal: Option<Ratio>,
    /// The state that holds.
    pub state: State,
}

/// A [`Moment`] without its record.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Meaning {
    pub(crate) shaft: Watts,
    pub(crate) torque: Newtonmetres,
    pub(crate) speed: Option<Rpm>,
    pub(crate) thermal: Option<Ratio>,
    pub(crate) state: State,
}

impl Moment {
    pub(crate) const fn of(half_cycle: HalfCycle, meaning: Meaning) -> Self {
        let Meaning { shaft, torque, speed, thermal, state } = meaning;
        Self { half_cycle, shaft, torque, speed, thermal, state }
    }
}

/// A window's figures together with what they mean for the motor and the mill.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Interval {
    /// What was measured.
    pub window: Window,
    /// Mean power at the motor's shaft; zero without current.
    pub shaft: Watts,
    /// Mean torque at the motor's shaft.
    pub torque: Newtonmetres,
    /// Mean speed of the motor's shaft; `None` while coasting, and above 10 % of slip, without a tachometer.
    pub speed: Option<Rpm>,
    /// Mean torque of what the motor drives: the shaft's less what speeds up all that turns; `None` without a known inertia
    /// or speed.
    pub load_torque: Option<Newtonmetres>,
    /// Mean power that breaks: the shaft's less that of the empty mill and what speeds up all that turns; `None` where one of them
    /// is not known, or the mill does not run. For the eye; energies are not its sum.
    pub net: Option<Watts>,
    /// Kinetic energy of all that turns at the end; `None` without a known inertia or speed.
    pub kinetic: Option<Joules>,
    /// Shaft power over rated power.
    pub load: Ratio,
    /// Thermal level at the end, 1 is the trip level; `None` without a thermal image.
    pub thermal: Option<Ratio>,
    /// Total fed so far, mg; `None` without a mass input.
    pub mass_mg: Option<u64>,
    /// What the feeder is told at the end; `None` where none is governed.
    pub feeder: Option<Feeder>,
    /// The state that held longest.
    pub state: State,
}

/// Energy that never falls: whole joules and a fraction of 2^-20 J that is carried on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Register {
    /// Whole joules; 1.8e19 J are 5e12 kWh.
    pub joules: u64,
    /// 2^-20 J, below 2^20.
    pub fraction: u32,
}

/// Sums since the first frame. Every frame counts, those outside whole windows too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Totals {
    /// Time in each state, in the order of [`State::ALL`].
    pub time: [Span; 6],
    /// Active energy taken in.
    pub electrical: Register,
    /// Active energy given back.
    pub exported: Register,
    /// Reactive energy, lagging (var·s).
    pub reactive: Register,
    /// Active energy taken in while in each state, in the order of [`State::ALL`]; their sum is `electrical`.
    pub energy: [Register; 6],
    /// Shaft energy while idle or breaking; signed, 2^-20 J, because a motor may be driven.
    pub shaft_q20: i128,
    /// Idle power as set or as learnt, the mean over idle and breaking time where it changed: net energy is shaft energy
    /// less it times that time. `None` before it is known.
    pub idle: Option<Watts>,
    /// How well idle power repeats: standard deviation of 2 s means, from five on.
    pub idle_spread: Option<Watts>,
    /// Total fed, mg; `None` without a mass input.
    pub mass_mg: Option<u64>,
    /// Starts seen.
    pub starts: u32,
    /// Trips given.
    pub trips: u32,
    /// Highest shaft power of an interval.
    pub peak_shaft: Option<Watts>,
    /// Highest one-cycle rms current of any phase.
    pub peak_current: Amps,
    /// Highest thermal level; `None` without a thermal image.
    pub max_thermal: Option<Ratio>,
    /// Samples at or beyond the converter's end.
    pub clipped: u64,
    /// Events that were lost because nobody took them in time.
    pub lost_events: u32,
}

impl Totals {
    /// Time and energy of a state.
    pub(super) fn of(&mut self, state: State) -> Option<(&mut Span, &mut Register)> {
        self.time.get_mut(state as usize).zip(self.energy.get_mut(state as usize))
    }

    /// Idle and breaking time.
    ///
    /// ```
    /// use shaftwork_core::{judge::report::Totals, time::Span};
    /// let time = [1, 2, 4, 8, 16, 32].map(Span);
    /// assert_eq!(Totals { time, ..Totals::default() }.running(), Span(4 + 8));
    /// ```
    #[must_use]
    pub fn running(&self) -> Span {
        let running = self.time.into_iter().zip(State::ALL).filter(|(_, state)| state.running());
        running.fold(Span::ZERO, |sum, (time, _)| sum.plus(time))
    }
}

/// What the board should do now. It can stop, never start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Decision {
    /// The first latched trip, if any: the contactor must be open.
    pub trip: Option<Cause>,
    /// The feed.
    pub feed: Feed,
    /// The feeder, where one is governed.
    pub feeder: Feeder,
    /// Why a start is refused; `None` where it is not, which commands nothing and permits nobody to open the mill.
    pub start: Option<Hindrance>,
}

/// What the feed should do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Feed {
    /// The mill does not run, or a trip is latched: no feed.
    #[default]
    Stop,
    /// The mill runs, but is loaded too much: wait.
    Wait,
    /// The mill runs and can take more.
    Feed,
}

/// What a feeder's drive should do. By default nothing moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Feeder {
    /// Speed forwards, thousandths of full speed, 0 to 1 000.
    pub permille: u16,
    /// Run backwards, at the speed that the drive is set to for it.
    pub reverse: bool,
    /// Sound: it is about to move by itself, or runs backwards.
    pub sounder: bool,
    /// Call a person: it is jammed.
    pub call: bool,
    /// What holds the speed.
    pub limit: Limit,
}

/// What holds a feeder's speed down beside the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Limit {
    /// Nothing: the load is the target's.
    #[default]
    None,
    /// The largest current.
    Current,
    /// The thermal image.
    Thermal,
    /// Charge in the mill.
    Charge,
    /// The load's scatter: lumpy material.
    Scatter,
}
