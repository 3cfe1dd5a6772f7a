//! The elements' coefficients: thresholds as squares where they are compared with squares, delays in frames.

use crate::math::scale::Scale;
use crate::settings::Action;
use crate::time::Span;
use crate::unit::{Amps, Joules, Ratio, SquareAmps, SquareVolts, Watts};

/// An element that compares a figure with its pick-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ElementCoefficients<T> {
    /// Pick-up.
    pub pickup: T,
    /// Drop-out: 97 % of pick-up, or pick-up over 0.97 where less is worse.
    pub dropout: T,
    /// Delay.
    pub delay: Span,
    /// What it does.
    pub action: Action,
}

/// An element that looks for something that is so, or is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WatchCoefficients {
    /// Delay.
    pub delay: Span,
    /// What it does.
    pub action: Action,
}

/// The elements.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TripCoefficients {
    /// Below this current no sequence is judged: 15 % of rated.
    pub floor: SquareAmps,
    /// Thermal image.
    pub thermal: Option<ThermalCoefficients>,
    /// Jam.
    pub jam: Option<ElementCoefficients<SquareAmps>>,
    /// Long start.
    pub long_start: Option<LongStartCoefficients>,
    /// Phase loss: negative over positive sequence.
    pub phase_loss: Option<ElementCoefficients<Ratio>>,
    /// Undervoltage.
    pub undervoltage: Option<UndervoltageCoefficients>,
    /// Overvoltage.
    pub overvoltage: Option<ElementCoefficients<SquareVolts>>,
    /// Reverse order of phases.
    pub phase_reversal: Option<WatchCoefficients>,
    /// Unbalance of the currents.
    pub current_unbalance: Option<ElementCoefficients<Ratio>>,
    /// Sum of the currents.
    pub residual_current: Option<ElementCoefficients<Amps>>,
    /// Shaft power over idle power.
    pub underload: Option<ElementCoefficients<Ratio>>,
    /// A sensor tells nothing, or what cannot be.
    pub sensor_fault: Option<WatchCoefficients>,
    /// Too many starts.
    pub starts_per_hour: Option<StartsCoefficients>,
    /// A load that stands.
    pub wedge: Option<WedgeCoefficients>,
    /// 150 % of nominal voltage: no supply gives that for long.
    pub voltage_most: SquareVolts,
    /// A tenth of rated power, backwards: no mill drives its motor so for long.
    pub backwards: Watts,
}

/// Thermal image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ThermalCoefficients {
    /// Square amps Q34 -> level Q32: 1 / (k base)².
    pub level: Scale,
    /// One over the heating time constant, a frame.
    pub heating: Scale,
    /// One over the cooling time constant, a frame.
    pub cooling: Scale,
    /// Both time constants.
    pub times: [Span; 2],
    /// Share of the level that a current below the trip's leads to.
    pub running: Scale,
    /// Level at the first frame, Q32.
    pub initial: i64,
    /// Factor on the square of the negative-sequence current.
    pub negative_sequence: Scale,
}

/// Long start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LongStartCoefficients {
    /// Allowed from onset to run-up.
    pub delay: Span,
    /// ... while a tachometer shows the rotor gaining speed; no shorter.
    pub gaining: Span,
}

/// Undervoltage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UndervoltageCoefficients {
    /// While running.
    pub element: ElementCoefficients<SquareVolts>,
    /// Delay while starting.
    pub start_delay: Span,
}

/// Too many starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StartsCoefficients {
    /// So many are allowed ...
    pub most: u8,
    /// ... within so long: an hour.
    pub hour: Span,
    /// What it does at the next one.
    pub action: Action,
}

/// Half cycles of the longest window of a wedge: 220 ms of 72 Hz.
pub(crate) const STANDING_HALVES: usize = 32;

/// A load that stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WedgeCoefficients {
    /// So much standing work decides: pick-up times window.
    pub work: Joules,
    /// No more than this is the load's work in a half cycle.
    pub most: Joules,
    /// The window, half cycles; 32 at most.
    pub halves: u8,
    /// Square of a speed (Rpm, Q12, squared) -> kinetic energy, where the inertia is known.
    pub kinetic: Option<Scale>,
    /// One over the rate.
    pub seconds_per_frame: Scale,
    /// What it does.
    pub action: Action,
}

/// When a start and a reset are refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RestartCoefficients {
    /// Rest after a stop.
    pub rest: Span,
    /// Thermal level above which both are refused, Q32.
    pub reset_level: i64,
    /// The rotor's bars.
    pub rotor: Option<RotorCoefficients>,
}

/// What the rotor's bars bear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RotorCoefficients {
    /// The heat that they bear.
    pub bears: Joules,
    /// One over the time constant, in frames.
    pub cooling: Scale,
    /// The time constant.
    pub constant: Span,
    /// Kinetic energy of all that turns at synchronous speed.
    pub kinetic: Joules,
}
