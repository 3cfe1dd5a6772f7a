//! The records: all that passes from [`crate::meter`] to [`crate::judge`].
//!
//! A record can be made without samples (by a study, or by hand in a test): the judge never knows.

use crate::settings::CHANNELS;
use crate::time::{Instant, Span};
use crate::unit::{Amps, Hertz, Joules, Ratio, SquareAmps, SquareVolts, Volts, Watts};

/// What one half cycle of the supply brought.
///
/// `energy` belongs to this half cycle alone, so that sums over records lose nothing. All other
/// figures belong to `cycle`, the whole cycle that ends with it (this half and the one before).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct HalfCycle {
    /// Its end.
    pub end: Instant,
    /// Its length; the first and the last one of a trace may be short.
    pub length: Span,
    /// The length that all figures but `energy` are taken over.
    pub cycle: Span,
    /// Active energy of all phases in this half cycle, exported energy negative.
    pub energy: Joules,
    /// Mean active power of all phases over the cycle.
    pub active: Watts,
    /// Reactive power of the fundamentals over the cycle (var), positive when the current lags.
    pub reactive: Watts,
    /// Mean square voltages: phase to neutral in four-wire, line to line (ab, bc, ca) otherwise.
    pub voltage: [SquareVolts; 3],
    /// Mean square line currents, direct component kept.
    pub current: [SquareAmps; 3],
    /// Positive-sequence voltage to the star point, rms of the fundamental.
    pub voltage_positive: Volts,
    /// Negative-sequence voltage.
    pub voltage_negative: Volts,
    /// Positive-sequence current.
    pub current_positive: Amps,
    /// Negative-sequence current.
    pub current_negative: Amps,
    /// Sum of the three currents, rms of the fundamental: nothing by construction where the third is not measured.
    pub current_sum: Amps,
    /// Bit k: channel k hardly moved over the cycle (its rms about its mean is within a code, or what rounding leaves of that
    /// mean): it measures nothing, or is stuck. Bits of channels that the wiring does not use are not set.
    pub still: u8,
    /// Samples at or beyond the converter's end in this half cycle, all channels.
    pub clipped: u32,
    /// Whether a window ends with this half cycle.
    pub closes_window: bool,
}

/// The figures of a window: 10 cycles at 50 Hz, 12 at 60 Hz (IEC 61000-4-30), cut at fractions of a
/// frame, without gaps.
///
/// rms values are without the direct component. A figure that cannot be had is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Window {
    /// Its end.
    pub end: Instant,
    /// Its length.
    pub length: Span,
    /// From the drift of the voltage's angle since the window before; `None` when the voltage is
    /// gone, or while the frequency is still being acquired.
    pub frequency: Option<Hertz>,
    /// Phase to neutral in four-wire, line to line (ab, bc, ca) otherwise.
    pub voltage: [Volts; 3],
    /// Line currents.
    pub current: [Amps; 3],
    /// Mean of v·i, all phases.
    pub active: Watts,
    /// Sum of the phases' fundamental reactive powers (var), positive when the current lags.
    pub reactive: Watts,
    /// Sum of the phases' V·I (VA): arithmetic apparent power, IEEE 1459.
    pub apparent: Watts,
    /// Active over apparent; `None` below 0.2 % of rated current.
    pub power_factor: Option<Ratio>,
    /// Negative over positive sequence of the fundamentals; `None` without a voltage.
    pub voltage_unbalance: Option<Ratio>,
    /// The same of the currents; `None` below 0.2 % of rated current.
    pub current_unbalance: Option<Ratio>,
    /// Root of (rms² less fundamental²) over the fundamental; `None` without a voltage.
    pub voltage_distortion: [Option<Ratio>; 3],
    /// The same of the currents; `None` below 0.2 % of rated current.
    pub current_distortion: [Option<Ratio>; 3],
    /// Samples at or beyond the converter's end, all channels.
    pub clipped: u32,
}

/// The fundamentals of a window, rms, on one common time axis: real and imaginary part, V Q16 and A Q17.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Phasors(pub [(i32, i32); CHANNELS]);
