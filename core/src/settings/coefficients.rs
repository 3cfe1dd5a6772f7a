//! What the sample path works with: rounded factors, thresholds as squares, spans in frames.
//!
//! Every factor carries the Q-formats of both sides in its comment. They are made by
//! [`super::Settings::build`] only.

mod feed;
mod trips;

pub use feed::{FeedCoefficients, FeederCoefficients, SearchCoefficients};
pub(crate) use trips::STANDING_HALVES;
pub use trips::{
    ElementCoefficients, LongStartCoefficients, RestartCoefficients, RotorCoefficients, StartsCoefficients,
    ThermalCoefficients, TripCoefficients, UndervoltageCoefficients, WatchCoefficients, WedgeCoefficients,
};

use super::{CHANNELS, CURVE_POINTS, Wiring};
use crate::math::scale::Scale;
use crate::meter::Range;
use crate::time::Span;
use crate::unit::{SquareAmps, SquareVolts, Volts, Watts};

/// Everything made from settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Coefficients {
    /// For the meter.
    pub meter: MeterCoefficients,
    /// For the judge.
    pub judge: JudgeCoefficients,
}

/// The most products that a wiring needs, see [`MeterCoefficients::pairs`].
pub(crate) const MAX_PAIRS: usize = 15;
/// Of these products of two channels each.
pub(crate) const MAX_CROSS: usize = 9;

/// For the meter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MeterCoefficients {
    /// What is measured.
    pub wiring: Wiring,
    /// The converter's end: 2^(bits-1) - 1.
    pub full_code: i32,
    /// The same, for a quick look whether codes are short of it.
    pub(crate) range: Range,
    /// Frames a second, mHz.
    pub rate_mhz: u32,
    /// Half cycles in a window.
    pub half_cycles: u8,
    /// The nominal frequency as phase a frame (2^32 is a turn).
    pub nominal_step: u32,
    /// The lowest that is followed: 40 Hz.
    pub lowest_step: u32,
    /// The highest that is followed: 72 Hz.
    pub highest_step: u32,
    /// Phase step -> hertz, Q22.
    pub hertz: Scale,
    /// Closing steps a block, so that a half cycle is closed before the next one ends.
    pub steps_per_block: u8,
    /// Offsets, 1/256 code.
    pub offset_q8: [i32; CHANNELS],
    /// Code Q16 -> rms of a phasor's component: volts Q16, amps Q17 (peak to rms and gain folded in).
    pub phasor: [Scale; CHANNELS],
    /// By how many halvings the mean of a code times the basis, Q32, is brought to 31 bits: the bits of a code, 16 at least.
    pub(crate) phasor_halvings: [u8; CHANNELS],
    /// Mean product of codes, Q16 -> square volts Q32, square amps Q34, or watts Q16.
    pub product: [Scale; MAX_PAIRS],
    /// Sum of v·i, code² frames -> joules Q20, with the wiring's factor.
    pub energy: [Scale; MAX_PAIRS],
    /// One over the rate, s.
    pub seconds_per_frame: Scale,
    /// Rotation that undoes a channel's skew, in frames Q24; multiplied by the phase step.
    pub skew_frames_q24: [i32; CHANNELS],
    /// Rotation that undoes a transformer's lead, binary angle.
    pub lead: [i32; CHANNELS],
    /// How line currents follow from those of a delta's windings; `None`: they are measured.
    pub delta: Option<DeltaCoefficients>,
    /// Whether any rotation is not zero.
    pub rotates: bool,
    /// Below this voltage (positive or negative sequence) the supply counts as gone: 5 % of nominal.
    pub voltage_gone: SquareVolts,
    /// Square of the phasor that is followed (V² Q32, or A² Q34 without voltages) below which it is gone.
    pub followed_gone: u64,
    /// By how many halvings a window's correction of the frequency is weakened: nothing by voltages; a current's angle
    /// turns with the load as well.
    pub follow_halvings: u8,
    /// Below this rms current, power factor, distortion and unbalance are not given: 0.2 % of rated.
    pub current_floor: SquareAmps,
}

/// Codes of a delta's windings -> codes of its lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DeltaCoefficients {
    /// Winding's code -> line's code, Q20: at most 2^30.
    pub weight: [i32; 3],
    /// What the winding's offset makes of it, Q20: below 2^40.
    pub zero: [i64; 3],
    /// Whether the windings go from A, B and C to B, C and A; to C, A and B otherwise.
    pub forward: bool,
}

/// For the judge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct JudgeCoefficients {
    /// One over the rate, s.
    pub seconds_per_frame: Scale,
    /// The motor.
    pub motor: MotorCoefficients,
    /// How power follows from the current; `None`: it is measured.
    pub curve: Option<CurveCoefficients>,
    /// Idle power as set, if it was.
    pub idle: Option<Watts>,
    /// How long the rotor may turn after the current has gone.
    pub coast_down: Span,
    /// Square of a speed (Rpm's bits) -> joules Q20, where the inertia is known.
    pub kinetic: Option<Scale>,
    /// How long a star-delta starter may pause; none where there is no such starter.
    pub change_over: Span,
    /// How long shaft power must have been near idle, or away from it, before the state changes: 0.5 s.
    pub settle: Span,
    /// How long after a run-up idle power may be learnt anew: a minute.
    pub fresh: Span,
    /// After which idle power is forgotten that did not show again: 24 h.
    pub day: Span,
    /// Below this positive-sequence voltage the supply counts as gone: 5 % of nominal.
    pub voltage_gone: Volts,
    /// The voltage channels that the wiring uses, bit by bit.
    pub voltages: u8,
    /// The elements.
    pub trips: TripCoefficients,
    /// When a start and a reset are refused.
    pub restart: RestartCoefficients,
    /// The feed decision.
    pub feed: FeedCoefficients,
}

/// How power follows from the current.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CurveCoefficients {
    /// Squared current over the square of rated current, rising, Q24 below 256; squared power over base, Q24 below 64.
    pub points: [(i64, i64); CURVE_POINTS],
    /// Positive-sequence voltage where none is measured: the nominal one.
    pub voltage: Option<Volts>,
}

/// The motor, per unit: powers over `base = sqrt3 Vr Ir`, resistances over `Vr / (sqrt3 Ir)`, all Q24.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MotorCoefficients {
    /// Watts Q16 -> per unit Q24.
    pub power_to_unit: Scale,
    /// Per unit Q24 -> watts Q16.
    pub unit_to_power: Scale,
    /// Sum of three square amps, Q34 -> per unit Q24.
    pub square_to_unit: Scale,
    /// Square volts (positive sequence, to the star point), Q32 -> per unit Q24.
    pub voltage_to_unit: Scale,
    /// Stator resistance.
    pub stator_resistance: i32,
    /// Stator leakage reactance at rated frequency.
    pub stator_leakage: i32,
    /// One over the magnetising reactance.
    pub magnetising_admittance: i32,
    /// Rotor resistance while running.
    pub rotor_resistance: i32,
    /// Stator leakage over pi: times the change of the squared rotor current over half a cycle it is the power that goes
    /// into the field of both leakages, taken to be alike.
    pub leakage: i32,
    /// Air-gap power Q24 -> change of slip in half a cycle, Q24, where the inertia is known.
    pub momentum: Option<Scale>,
    /// By how much it has risen at standstill, Q24: below 16.
    pub deep_bar: i32,
    /// How the windings warm up.
    pub winding: Option<WindingCoefficients>,
    /// Core loss at rated voltage.
    pub core_loss: i32,
    /// Friction and windage at synchronous speed.
    pub friction_loss: i32,
    /// Stray load loss over squared current.
    pub stray: i32,
    /// Synchronous speed at rated frequency, 1/4096 rpm (the bits of [`crate::unit::Rpm`]).
    pub synchronous_rpm: i32,
    /// Power in watts Q16 over synchronous speed -> newton metres, Q8.
    pub power_to_torque: Scale,
    /// Watts Q16 -> share of rated power, Q24.
    pub load: Scale,
    /// Amps Q17 -> share of rated current, Q24.
    pub current_share: Scale,
    /// One cycle of rated frequency, frames Q16.
    pub rated_cycle: u32,
    /// 20 % of rated current: the onset of a start.
    pub onset: SquareAmps,
    /// 10 % of rated current: below it the current is gone.
    pub gone: SquareAmps,
    /// More than a motor in star takes: 350 % of rated current, 300 % where windings' currents are measured.
    pub star_most: SquareAmps,
    /// A leap out of star: three times the mean square of the half cycle before, over this.
    pub star_leap: u32,
    /// How long a motor may run on in star after its run-up.
    pub star_longest: Span,
    /// 250 % of rated current: a trace that begins below it begins running.
    pub run_level: SquareAmps,
    /// Rated shaft power.
    pub rated_power: Watts,
}

/// How the windings warm up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WindingCoefficients {
    /// One over the time constant, a frame.
    pub warming: Scale,
    /// Rise at the first frame over that at rated current, Q32.
    pub start: i64,
    /// Share of the stator's resistance that the whole rise makes, Q24: below 1.
    pub stator: i32,
    /// The same of the rotor's.
    pub rotor: i32,
}
