//! Shaft power against a motor that was measured: 18.5 kW, 400 V, 50 Hz, four poles, in fourteen points.
//!
//! Source: Modelica Standard Library, `Electrical/Machines/Examples/InductionMachines/IMC_withLosses.mo`, which
//! documents Haumer, Kral, Kapeller, Baeuml, Gragger, "The AdvancedMachines Library: Loss Models for Electric
//! Machines", Modelica 2009 (a measured standard motor; table, losses and winding data read there). The table is
//! rounded (power factor to three digits, speed to 1 rpm): its own columns disagree by up to 0.4 %.

use shaftwork_core::judge::Judge;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, SquareAmps, SquareVolts, Volts, Watts};
use shaftwork_sim::{fit, settings};

const RATE_HZ: f64 = 4000.0;
const LINE_V: f64 = 400.0;
const RATED_W: f64 = 18_500.0;

/// Shaft power (W), current (A), speed (rpm), power factor.
const TABLE: [[f64; 4]; 14] = [
    [0.0, 11.00, 1500.0, 0.085],
    [1845.0, 11.20, 1496.0, 0.327],
    [3549.0, 12.27, 1493.0, 0.506],
    [5325.0, 13.87, 1490.0, 0.636],
    [7521.0, 16.41, 1486.0, 0.741],
    [9372.0, 18.78, 1482.0, 0.797],
    [11010.0, 21.07, 1479.0, 0.831],
    [12930.0, 23.92, 1475.0, 0.857],
    [14950.0, 27.05, 1471.0, 0.875],
    [16360.0, 29.40, 1467.0, 0.887],
    [18500.0, 32.85, 1462.0, 0.896],
    [18560.0, 32.95, 1462.0, 0.896],
    [20180.0, 35.92, 1458.0, 0.902],
    [22170.0, 39.35, 1453.0, 0.906],
];

/// The nameplate, with more of the motor beside it.
fn file(more: &str) -> String {
    let trips: String = ["thermal", "jam", "long_start", "phase_loss", "undervoltage"]
        .map(|name| format!("[trip.{name}]\nenabled = false\n"))
        .concat();
    format!(
        "[supply]\nfrequency_hz = 50\nline_voltage_v = 400\nwiring = \"four-wire\"\n\
         [sampling]\nrate_hz = 4000\nvoltage_full_scale_v = 800\ncurrent_full_scale_a = 600\n\
         [motor]\nrated_power_kw = 18.5\nrated_voltage_v = 400\nrated_current_a = 32.85\nrated_frequency_hz = 50\n\
         rated_speed_rpm = 1462.5\npoles = 4\nrated_power_factor_pct = 89.8\nrated_efficiency_pct = 90.49\n{more}\n{trips}"
    )
}

/// Shaft power (W) and speed (rpm) that the judge tells of a steady point.
fn told(file: &str, [_, amps, _, power_factor]: [f64; 4]) -> [f64; 2] {
    let (parsed, _) = settings::parse(file, "measured.toml").unwrap_or_else(|faults| panic!("{faults}"));
    let c = fit::core_settings(&parsed, RATE_HZ).unwrap().build().unwrap().judge;
    let apparent = 3f64.sqrt() * LINE_V * amps;
    let active = apparent * power_factor;
    let volts = Volts::from_bits((LINE_V / 3f64.sqrt() * 65_536.0).round() as i32);
    let current = Amps::from_bits((amps * 131_072.0).round() as i32);
    let watts = |w: f64| Watts::from_bits((w * 65_536.0).round() as i64);
    let mut half = HalfCycle {
        length: Span(40 << 16),
        cycle: Span(80 << 16),
        active: watts(active),
        reactive: watts((apparent * apparent - active * active).sqrt()),
        voltage: [SquareVolts::of(volts); 3],
        current: [SquareAmps::of(current); 3],
        voltage_positive: volts,
        current_positive: current,
        ..HalfCycle::default()
    };
    let mut judge = Judge::new(&c);
    let mut moment = None;
    for n in 1..=4u64 {
        half.end = Instant(n * half.length.0);
        moment = Some(judge.half_cycle(&c, &half));
    }
    let moment = moment.unwrap();
    [moment.shaft.0.to_num(), moment.speed.unwrap().0.to_num()]
}

/// Largest error of shaft power over the table, % of rated.
fn worst(what: &str, more: &str) -> f64 {
    let file = file(more);
    let error = |row: [f64; 4]| {
        let [shaft, speed] = told(&file, row);
        let error = (shaft - row[0]) / RATED_W * 100.0;
        println!("{what:24} {:7.0} W: {shaft:8.0} W {error:+.2} %  {speed:7.1} rpm, {:.0}", row[0], row[2]);
        error.abs()
    };
    TABLE.into_iter().map(error).fold(0.0, f64::max)
}

/// What a data sheet's buyer has.
#[test]
fn nameplate_alone() {
    let worst = worst("nameplate", "");
    assert!(worst < 1.5, "{worst:.2} % of rated");
}

/// Resistance of the source's data (0.56 ohm a delta phase at 20 degrees, two thirds of it between terminals; copper's
/// coefficient there 0.00392 per kelvin, at 90 degrees 0.7137 ohm a delta phase, 0.2379 ohm a star phase), core and
/// friction losses of its balance, and the power factors of the table.
#[test]
fn with_resistance_and_no_load_figures() {
    let measured = "stator_resistance_ohm = 0.23789\ncore_loss_w = 410\nfriction_loss_w = 180";
    let worst = worst("with no-load figures", measured);
    assert!(worst < 0.5, "{worst:.2} % of rated");
}

/// The balance of losses at 18.5 kW that the source prints: stator 770.13 W, core 410 W, rotor 481.60 W, stray 102.22 W,
/// friction and windage 180 W, 90.49 %.
#[test]
fn the_balance_recomputes() {
    let file = file("stator_resistance_ohm = 0.23789\ncore_loss_w = 410\nfriction_loss_w = 180");
    let (parsed, _) = settings::parse(&file, "measured.toml").unwrap_or_else(|faults| panic!("{faults}"));
    let c = fit::circuit::fit(&parsed).unwrap();
    let near = |what: &str, found: f64, wanted: f64, bound: f64| {
        assert!((found - wanted).abs() < bound, "{what}: {found:.2} W, the source has {wanted} W");
    };
    let squares = 3.0 * 32.85_f64.powi(2);
    near("stator", c.stator_resistance_ohm * squares, 770.13, 0.5);
    // sqrt3 V I pf of the rounded nameplate is 6 W below the input that the source prints.
    near("stray", c.stray_ohm * squares, 102.22, 7.0);
    let air_gap = 20_437.6 - 770.13 - 410.0;
    near("rotor", air_gap * 0.025, 481.60, 0.5);
}
