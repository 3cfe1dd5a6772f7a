//! A sound settings file for tests, and short ways to vary it.

use super::{Settings, Warning, parse};
use crate::error::Fault;

/// The line of the sample that says how good the motor is.
pub(crate) const MOTOR_RATED: &str = "rated_power_factor_pct = 87.7";

/// A file without faults or warnings; its motor is of the size and goodness of common 55 kW motors.
const GOOD: &str = r#"[supply]
frequency_hz = 50
line_voltage_v = 400
wiring = "four-wire"

[sampling]
rate_hz = 4000
voltage_full_scale_v = 800
current_full_scale_a = 1600

[mill]
[motor]
rated_power_kw = 55.0
rated_voltage_v = 400
rated_current_a = 96.55
rated_frequency_hz = 50
rated_speed_rpm = 1477.3
poles = 4
rated_power_factor_pct = 87.7

[trip.thermal]
heating_time_constant_s = 600.0

[trip.jam]
pickup_pct = 200
delay_s = 0.5

[trip.long_start]
delay_s = 15

[trip.phase_loss]
delay_s = 1.0

[trip.undervoltage]
pickup_pct = 80
delay_s = 2
"#;

/// The sound file.
pub(crate) fn good() -> String {
    GOOD.to_owned()
}

/// The sound file with lines added to one of its tables.
pub(crate) fn with(table: &str, lines: &str) -> String {
    let head = format!("[{table}]\n");
    assert!(GOOD.contains(&head), "the sample has no table [{table}]");
    GOOD.replace(&head, &format!("{head}{lines}\n"))
}

/// The settings and warnings of a text that must be sound.
pub(crate) fn parsed(text: &str) -> (Settings, Vec<Warning>) {
    match parse(text, "mill.toml") {
        Ok(parsed) => parsed,
        Err(faults) => panic!("{faults}"),
    }
}

/// The faults of a text that must not be sound.
pub(crate) fn faults(text: &str) -> Vec<Fault> {
    match parse(text, "mill.toml") {
        Ok(_) => panic!("accepted:\n{text}"),
        Err(faults) => faults.0,
    }
}
