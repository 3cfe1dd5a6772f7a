//! The lines to write where a required table is missing.

/// `[supply]`.
pub(super) const SUPPLY: &str = "write, with your own figures,
    [supply]
    frequency_hz = 50
    line_voltage_v = 400
    wiring = \"four-wire\"";

/// `[sampling]`.
pub(super) const SAMPLING: &str = "write, with your own figures,
    [sampling]
    rate_hz = 4000
    voltage_full_scale_v = 800
    current_full_scale_a = 1600";

/// `[motor]`.
pub(super) const MOTOR: &str = "write, from the nameplate,
    [motor]
    rated_power_kw = 55
    rated_voltage_v = 400
    rated_current_a = 97
    rated_frequency_hz = 50
    rated_speed_rpm = 1477
    poles = 4
    rated_power_factor_pct = 88";

/// `[trip]`.
pub(super) const TRIP: &str = "write the tables [trip.thermal], [trip.jam], [trip.long_start], [trip.phase_loss]
    and [trip.undervoltage], each with its keys or with
    enabled = false";

/// `[trip.thermal]`.
pub(super) const THERMAL: &str = "write, with your own figures,
    [trip.thermal]
    heating_time_constant_s = 600
  or, to say that it is not wanted,
    [trip.thermal]
    enabled = false";

/// `[trip.jam]`.
pub(super) const JAM: &str = "write, with your own figures,
    [trip.jam]
    pickup_pct = 200
    delay_s = 0.5
  or, to say that it is not wanted,
    [trip.jam]
    enabled = false";

/// `[trip.long_start]`.
pub(super) const LONG_START: &str = "write, with your own figures,
    [trip.long_start]
    delay_s = 15
  or, to say that it is not wanted,
    [trip.long_start]
    enabled = false";

/// `[trip.phase_loss]`.
pub(super) const PHASE_LOSS: &str = "write, with your own figures,
    [trip.phase_loss]
    delay_s = 1
  or, to say that it is not wanted,
    [trip.phase_loss]
    enabled = false";

/// `[trip.undervoltage]`.
pub(super) const UNDERVOLTAGE: &str = "write, with your own figures,
    [trip.undervoltage]
    pickup_pct = 80
    delay_s = 2
  or, to say that it is not wanted,
    [trip.undervoltage]
    enabled = false";
