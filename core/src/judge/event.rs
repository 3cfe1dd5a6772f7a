//! What happened, and what a trip saw.

use super::notice::Notice;
use super::restart::Hindrance;
use crate::time::{Instant, Span};
use crate::unit::{Amps, Joules, Ratio, Rpm, Volts, Watts};

/// What the mill is doing: a closed list, every moment belongs to one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum State {
    /// No current, rotor at rest.
    Stopped,
    /// From the onset of current to 95 % of synchronous speed.
    Starting,
    /// Running within 15 % of idle power.
    Idle,
    /// Running otherwise.
    Breaking,
    /// Current gone, rotor may still turn.
    Coasting,
    /// Nothing is known: before the first cycle, and in gaps.
    #[default]
    Unknown,
}

impl State {
    /// All states, in the order in which totals list them: `state as usize` is its place.
    pub const ALL: [Self; 6] =
        [Self::Stopped, Self::Starting, Self::Idle, Self::Breaking, Self::Coasting, Self::Unknown];

    /// Whether the motor runs at speed under current.
    #[must_use]
    pub const fn running(self) -> bool {
        matches!(self, Self::Idle | Self::Breaking)
    }
}

/// The elements, by what they look for: why a trip was given, or a feed stop or a warning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Cause {
    /// The thermal image reached its trip level.
    ThermalOverload,
    /// Too much current for too long while running.
    Jam,
    /// The start took too long.
    LongStart,
    /// A line is missing.
    PhaseLoss,
    /// The voltage was too low for too long.
    Undervoltage,
    /// ... or too high.
    Overvoltage,
    /// The phases come in reverse order.
    PhaseReversal,
    /// The currents are too unlike for too long.
    CurrentUnbalance,
    /// The currents' sum is not nothing.
    ResidualCurrent,
    /// Far less power than the empty mill takes: belt or coupling gone.
    Underload,
    /// A channel tells nothing, or what cannot be.
    SensorFault,
    /// A start more within an hour than the motor bears.
    StartsPerHour,
    /// The load takes more than the motor may give.
    Wedge,
}

impl Cause {
    /// Whether it is about the load, which what came before may explain; not about the supply, the sensors or a count.
    #[must_use]
    pub const fn of_load(self) -> bool {
        matches!(self, Self::ThermalOverload | Self::Jam | Self::LongStart | Self::Underload | Self::Wedge)
    }

    /// All causes.
    pub const ALL: [Self; 13] = [
        Self::ThermalOverload,
        Self::Jam,
        Self::LongStart,
        Self::PhaseLoss,
        Self::Undervoltage,
        Self::Overvoltage,
        Self::PhaseReversal,
        Self::CurrentUnbalance,
        Self::ResidualCurrent,
        Self::Underload,
        Self::SensorFault,
        Self::StartsPerHour,
        Self::Wedge,
    ];
}

/// What holds true for a while and is worth telling, though nothing trips on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Warning {
    /// Samples lay at the converter's end while the motor was running: currents are "at least".
    Clipped,
    /// The phases come in reverse order: a wiring fault, or the motor turns the wrong way.
    PhaseOrder,
    /// All voltage is gone: powers read zero and the frequency is carried on.
    VoltageGone,
}

/// Why a feed stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum FeedCause {
    /// The mill does not run.
    Mill,
    /// A trip is latched.
    Trip,
    /// An element holds the feed.
    Element,
    /// A voltage or a current is missing: nobody knows the load.
    Input,
    /// The permit is not there: a guard is open, or the input tells nothing.
    Permit,
    /// The mode was changed while nothing was fed, or the speed was set to nothing.
    Mode,
    /// The load was too high for too long.
    Load,
    /// The load was far too high.
    Surge,
}

/// The figures of the moment at which a trip was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Figures {
    /// One-cycle rms currents, direct component kept.
    pub current: [Amps; 3],
    /// One-cycle rms voltages: to neutral in four-wire, line to line otherwise.
    pub voltage: [Volts; 3],
    /// Shaft power.
    pub shaft: Watts,
    /// Speed, where it can be had.
    pub speed: Option<Rpm>,
    /// Thermal level, 1 is the trip level; where the image is wanted.
    pub thermal: Option<Ratio>,
    /// Negative over positive sequence of the currents.
    pub unbalance: Option<Ratio>,
}

/// What an event is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum EventKind {
    /// Current came.
    Start,
    /// 95 % of synchronous speed is reached: the start of `onset` is over.
    RunUp {
        /// When the current came.
        onset: Instant,
        /// Highest one-cycle rms of any phase since.
        peak: Amps,
        /// Heat that it left in the rotor's bars.
        rotor_heat: Joules,
    },
    /// Current gone.
    Stop,
    /// Shaft power came within 15 % of idle power.
    IdleBegins,
    /// ... and left it.
    IdleEnds,
    /// Worth telling.
    Warning(Warning),
    /// A trip: latched until a person resets it.
    Trip {
        /// Why.
        cause: Cause,
        /// What was measured at that moment.
        figures: Figures,
    },
    /// An element that does not trip holds the feed, or warns, until it drops out.
    Alarm {
        /// Why.
        cause: Cause,
        /// Whether it holds the feed.
        feed_stop: bool,
        /// What was measured at that moment.
        figures: Figures,
    },
    /// ... and has dropped out.
    AlarmEnds {
        /// Which.
        cause: Cause,
        /// Whether it held the feed.
        feed_stop: bool,
    },
    /// A person reset the latched trips.
    Reset,
    /// ... in vain.
    ResetRefused(Hindrance),
    /// A governed feeder begins to feed.
    FeedBegins,
    /// ... and stops.
    FeedStops {
        /// Why.
        cause: FeedCause,
        /// Whether a person at the mill has to release it.
        locked: bool,
    },
    /// It runs backwards against a jam.
    FeedReverses {
        /// So many jams in a row.
        jams: u8,
    },
    /// A jam is there still: a person is called.
    FeedCalls,
    /// Samples are missing; metering starts anew.
    Gap {
        /// How long.
        length: Span,
    },
    /// The board tells of itself.
    Board(Notice),
}

/// Something that happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Event {
    /// When.
    pub at: Instant,
    /// What.
    pub kind: EventKind,
}
