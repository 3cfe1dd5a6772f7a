//! The range of every numeric key, each with its unit and the reason for its bounds.
//!
//! The upper bounds of voltage, current and power keep the fixed-point core inside its widths; where no
//! reason is given a bound only keeps out what cannot be meant.

use std::fmt;

/// A range of values with its unit. NaN and the infinities lie outside every range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    low: f64,
    high: f64,
    kind: Kind,
    unit: &'static str,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    /// Both bounds and all between them.
    From,
    /// The upper bound and all between; the lower bound is outside.
    Above,
    /// The bounds alone.
    Either,
}

impl Limits {
    pub(crate) const fn from(low: f64, high: f64, unit: &'static str) -> Self {
        Self { low, high, kind: Kind::From, unit }
    }

    pub(crate) const fn above(low: f64, high: f64, unit: &'static str) -> Self {
        Self { low, high, kind: Kind::Above, unit }
    }

    pub(crate) const fn either(low: f64, high: f64, unit: &'static str) -> Self {
        Self { low, high, kind: Kind::Either, unit }
    }

    /// The value, or the end that is nearest to it.
    pub fn nearest(&self, value: f64) -> f64 {
        value.clamp(self.low, self.high)
    }

    /// Whether the value is within the range.
    pub fn hold(&self, value: f64) -> bool {
        match self.kind {
            Kind::From => (self.low..=self.high).contains(&value),
            Kind::Above => value > self.low && value <= self.high,
            Kind::Either => [self.low, self.high].contains(&value),
        }
    }
}

impl fmt::Display for Limits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { low, high, kind, unit } = self;
        match kind {
            Kind::From => write!(f, "{low} to {high}")?,
            Kind::Above => write!(f, "above {low}, at most {high}")?,
            Kind::Either => write!(f, "{low} or {high}")?,
        }
        if unit.is_empty() { Ok(()) } else { write!(f, " {unit}") }
    }
}

/// Nominal frequency.
pub const FREQUENCY_HZ: Limits = Limits::either(50.0, 60.0, "Hz");
/// Line-to-line voltage, supply and nameplate.
pub const LINE_VOLTAGE_V: Limits = Limits::from(50.0, 15_000.0, "V");
/// Sampling rate: 33 samples a cycle at the least, and the widths of the core's sums at the most.
pub const RATE_HZ: Limits = Limits::from(2_000.0, 16_000.0, "Hz");
/// Rows of rms values a second: from a logger's ten seconds to two and a half cycles of 50 Hz.
pub const ROW_RATE_HZ: Limits = Limits::from(0.1, 20.0, "Hz");
/// Converter width.
pub const BITS: Limits = Limits::from(12.0, 24.0, "bits");
/// Peak voltage at full-scale count.
pub const VOLTAGE_FULL_SCALE_V: Limits = Limits::from(1.0, 32_000.0, "V peak");
/// Peak current at full-scale count.
pub const CURRENT_FULL_SCALE_A: Limits = Limits::from(0.1, 16_000.0, "A peak");
/// Size of a channel's gain; a correction, not a ratio. The sign is free (a channel wired the other way round).
pub const GAIN: Limits = Limits::from(0.5, 2.0, "");
/// The largest offset is this part of the full-scale count.
pub const OFFSET_PART: i32 = 4;
/// Sampling skew: one sample interval at the lowest rate, either way.
pub const SKEW_US: Limits = Limits::from(-500.0, 500.0, "us");
/// Phase displacement of a current transformer.
pub const PHASE_DEG: Limits = Limits::from(-10.0, 10.0, "degrees");
/// Rated shaft power.
pub const RATED_POWER_KW: Limits = Limits::from(0.05, 15_000.0, "kW");
/// Rated and base current.
pub const RATED_CURRENT_A: Limits = Limits::from(0.1, 8_000.0, "A");
/// Rated frequency, within what the core follows; a motor for another frequency than the supply's is a warning.
pub const RATED_FREQUENCY_HZ: Limits = Limits::from(40.0, 72.0, "Hz");
/// Rated speed, up to two poles at 72 Hz; the bound below synchronous speed is checked apart.
pub const RATED_SPEED_RPM: Limits = Limits::above(0.0, 4_320.0, "rpm");
/// Number of poles (not pairs); that it is even is checked apart.
pub const POLES: Limits = Limits::from(2.0, 48.0, "poles");
/// Efficiency or power factor.
pub const SHARE_PCT: Limits = Limits::above(0.0, 100.0, "%");
/// Load of a point of a curve, of rated power.
pub const LOAD_PCT: Limits = Limits::above(0.0, 400.0, "% load");
/// The most pairs that a curve may have.
pub const CURVE_PAIRS: usize = 32;
/// Service factor.
pub const SERVICE_FACTOR: Limits = Limits::from(1.0, 2.0, "");
/// Locked-rotor current: more than rated (checked apart), up to 12 times the largest rated current.
pub const LOCKED_ROTOR_CURRENT_A: Limits = Limits::from(0.1, 96_000.0, "A");
/// Stator resistance, per phase or between terminals.
pub const RESISTANCE_OHM: Limits = Limits::above(0.0, 1_000.0, "ohm");
/// Temperature of a winding when its resistance was measured.
pub const WINDING_C: Limits = Limits::from(-40.0, 150.0, "degrees Celsius");
/// Locked-rotor torque: 65 to 275 % is what standards allow of cage motors (NEMA MG 1, IEC 60034-12, from memory).
pub const LOCKED_ROTOR_TORQUE_PCT: Limits = Limits::from(10.0, 500.0, "% of rated torque");
/// A part of the losses that does not change with load.
pub const LOSS_W: Limits = Limits::from(0.0, 1_000_000.0, "W");
/// Rise of a winding at rated current: thermal class 180 allows 125 K.
pub const WINDING_RISE_K: Limits = Limits::from(1.0, 300.0, "K");
/// Temperature of the motor's surroundings.
pub const AMBIENT_C: Limits = Limits::from(-50.0, 100.0, "degrees Celsius");
/// Temperature of the windings when the trace begins.
pub const WINDING_START_C: Limits = Limits::from(-50.0, 300.0, "degrees Celsius");
/// Rotor speed over motor speed.
pub const SPEED_RATIO: Limits = Limits::from(0.01, 100.0, "");
/// Inertia of all that turns.
pub const INERTIA_KG_M2: Limits = Limits::above(0.0, 1_000_000.0, "kg m2");
/// Power with an empty mill.
pub const IDLE_POWER_KW: Limits = Limits::above(0.0, 15_000.0, "kW");
/// The longest time of any key.
pub const LONGEST_S: f64 = 36_000.0;
/// Any delay.
pub const TIME_S: Limits = Limits::from(0.0, LONGEST_S, "s");
/// A time constant: zero would leave no image to integrate.
pub const TIME_CONSTANT_S: Limits = Limits::from(0.1, LONGEST_S, "s");
/// Thermal k: the current that may flow for ever, over the base current.
pub const THERMAL_K: Limits = Limits::from(0.5, 2.0, "");
/// Thermal image when the trace begins.
pub const INITIAL_PCT: Limits = Limits::from(0.0, 100.0, "% of the trip level");
/// Weight of the negative sequence in the thermal current.
pub const NEGATIVE_SEQUENCE_FACTOR: Limits = Limits::from(0.0, 10.0, "");
/// How long a motor may stand under full voltage.
pub const STALL_S: Limits = Limits::from(0.5, 600.0, "s");
/// Jam pick-up.
pub const JAM_PICKUP_PCT: Limits = Limits::from(10.0, 2_000.0, "% of rated current");
/// Phase-loss pick-up: an open phase gives 100 %.
pub const PHASE_LOSS_PICKUP_PCT: Limits = Limits::from(1.0, 100.0, "% negative over positive sequence");
/// Undervoltage pick-up.
pub const UNDERVOLTAGE_PICKUP_PCT: Limits = Limits::from(1.0, 100.0, "% of line_voltage_v");
/// Overvoltage pick-up.
pub const OVERVOLTAGE_PICKUP_PCT: Limits = Limits::from(100.0, 200.0, "% of line_voltage_v");
/// Residual-current pick-up: it is no residual-current device.
pub const RESIDUAL_PICKUP_PCT: Limits =
    Limits::from(20.0, 500.0, "% of rated current (it protects nobody from a live part)");
/// Load that stands.
pub const WEDGE_PICKUP_PCT: Limits = Limits::from(50.0, 1_000.0, "% of rated power");
/// Over which it stands: a board keeps so many half cycles.
pub const WEDGE_WINDOW_S: Limits = Limits::from(0.02, 0.22, "s");
/// Underload pick-up: at 85 % the mill still counts as idle.
pub const UNDERLOAD_PICKUP_PCT: Limits = Limits::from(1.0, 85.0, "% of idle power");
/// Loads at which the feed stops and goes on, and the current that a feeder is held below.
pub const FEED_PCT: Limits = Limits::from(1.0, 1_000.0, "%");
/// Load that a feeder holds.
pub const TARGET_PCT: Limits = Limits::from(1.0, 200.0, "% of rated power");
/// Load that a feeder's 95th percentile stays below.
pub const PEAK_PCT: Limits = Limits::from(1.0, 1_000.0, "% of rated power");
/// Around it.
pub const DEADBAND_PCT: Limits = Limits::from(0.0, 50.0, "% of rated power");
/// Share of load for a share of speed: with the others the core's proportional gain stays below 16.
pub const FEEDER_GAIN: Limits = Limits::from(0.05, 20.0, "");
/// Lag from feeder to load.
pub const FEEDER_LAG_S: Limits = Limits::from(0.2, 600.0, "s");
/// Delay from feeder to load.
pub const FEEDER_DELAY_S: Limits = Limits::from(0.0, 120.0, "s");
/// Smoothing of the load.
pub const FEEDER_FILTER_S: Limits = Limits::from(0.0, 60.0, "s");
/// How fast the closed loop shall be.
pub const FEEDER_RESPONSE_S: Limits = Limits::from(0.2, 3_600.0, "s");
/// Ramps of a feeder.
pub const RAMP_PCT_S: Limits = Limits::from(0.1, 1_000.0, "% of full speed a second");
/// Speeds of a feeder that may be nothing.
pub const SPEED_PCT: Limits = Limits::from(0.0, 100.0, "% of full speed");
/// Slowest and fastest: one that stands must not set off by itself.
pub const MOVING_PCT: Limits = Limits::from(1.0, 100.0, "% of full speed");
/// A sounder that people have time to hear.
pub const SOUNDER_S: Limits = Limits::from(1.0, 600.0, "s");
/// Thermal level from which on a feeder's target falls.
pub const DERATE_PCT: Limits = Limits::from(1.0, 99.0, "% of the trip level");
/// Load that the feed does not account for.
pub const CHARGE_PCT: Limits = Limits::from(0.0, 1_000.0, "% of the load that it does, 0: not looked at");
/// A feeder that runs backwards.
pub const REVERSE_S: Limits = Limits::from(0.0, 60.0, "s");
/// Jams before a person is called.
pub const JAM_TRIES: Limits = Limits::from(1.0, 20.0, "tries");
/// A step of the search.
pub const SEARCH_STEP_PCT: Limits = Limits::from(0.1, 10.0, "% of rated power");
/// How long each target of the search is held.
pub const DWELL_S: Limits = Limits::from(10.0, LONGEST_S, "s");
/// Starts that are kept.
pub const STARTS_PER_HOUR: Limits = Limits::from(1.0, 15.0, "starts");
/// Starts one after another that a rotor bears.
pub const ROTOR_STARTS: Limits = Limits::from(1.1, 10.0, "starts");
/// Thermal level of a reset.
pub const RESET_LEVEL_PCT: Limits = Limits::from(1.0, 100.0, "% of the trip level");
/// Ratio error or gain, either way.
pub const RATIO_ERROR_PCT: Limits = Limits::from(0.0, 10.0, "%");
/// Phase displacement, either way.
pub const PHASE_MIN: Limits = Limits::from(0.0, 600.0, "minutes of arc");
/// Error of a scale, either way.
pub const SCALE_ERROR_PCT: Limits = Limits::from(0.0, 50.0, "%");
/// Tolerance of the efficiency at rated load.
pub const EFFICIENCY_POINTS: Limits = Limits::from(0.0, 20.0, "points");
/// Standard deviation of idle power.
pub const REPEATABILITY_KW: Limits = Limits::from(0.0, 15_000.0, "kW");
/// A time in a trace: a hundred days.
pub const TRACE_S: Limits = Limits::from(0.0, 8_640_000.0, "s");
/// Mass of a run.
pub const MASS_KG: Limits = Limits::above(0.0, 1e9, "kg");
/// Size of pieces.
pub const SIZE_MM: Limits = Limits::above(0.0, 10_000.0, "mm");
/// Way of the material from the scale to the mill: memory is kept for so long.
pub const TRANSPORT_S: Limits = Limits::from(0.0, 600.0, "s");
/// What a pulse of a belt weigher stands for.
pub const KG_PER_PULSE: Limits = Limits::above(0.0, 1e6, "kg");
/// Width of a counter of pulses; whole numbers of 48 bits are exact in a trace.
pub const COUNTER_BITS: Limits = Limits::from(8.0, 48.0, "bits");
/// Level during a pulse, in the unit of its column.
pub const PULSE_LEVEL: Limits = Limits::above(0.0, 1e6, "");
/// The least that a pulse lasts.
pub const PULSE_LEAST_S: Limits = Limits::from(0.0, 1.0, "s");

#[cfg(test)]
mod tests {
    use super::*;

    /// The bounds themselves are inside, or outside where the range says "above".
    #[test]
    fn bounds_and_odd_values() {
        assert!(TIME_S.hold(0.0) && TIME_S.hold(36_000.0));
        assert!(!TIME_S.hold(-0.001) && !TIME_S.hold(36_000.001));
        assert!(!SHARE_PCT.hold(0.0) && SHARE_PCT.hold(100.0));
        for odd in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(!TIME_S.hold(odd));
        }
    }

    #[test]
    fn reads_as_a_sentence() {
        assert_eq!(TIME_S.to_string(), "0 to 36000 s");
        assert_eq!(SHARE_PCT.to_string(), "above 0, at most 100 %");
        assert_eq!(THERMAL_K.to_string(), "0.5 to 2");
        assert_eq!(FREQUENCY_HZ.to_string(), "50 or 60 Hz");
        assert!(FREQUENCY_HZ.hold(60.0) && !FREQUENCY_HZ.hold(55.0));
    }
}
