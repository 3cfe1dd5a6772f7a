//! From what a settings file says to the integers that a board is sent.
//!
//! The equivalent circuit and the losses are fitted here, in `f64`, from the nameplate and the
//! curves ([`circuit`]); the core only checks and rounds them. Nothing in this module looks at a trace.

pub mod circuit;
mod curve;
pub mod told;

use shaftwork_core::settings as core;

use crate::error::Fault;
use crate::settings::{Action, Element, Settings, Watch, Wiring};
use circuit::Circuit;

/// The integer settings for a sampling rate in hertz. Currents alone have power by the motor's curve: the core has no other.
///
/// # Errors
///
/// A nameplate from which no equivalent circuit follows, or a figure beyond the core's ranges.
pub fn core_settings(settings: &Settings, rate_hz: f64) -> anyhow::Result<core::Settings> {
    of_circuit(settings, &circuit::fit(settings)?, rate_hz, false)
}

/// The same where power is to be estimated from the current.
///
/// # Errors
///
/// As [`core_settings`].
pub fn estimating_settings(settings: &Settings, rate_hz: f64) -> anyhow::Result<core::Settings> {
    of_circuit(settings, &circuit::fit(settings)?, rate_hz, true)
}

/// Those of a circuit that has been fitted; with the motor's curve where power is estimated, as it must be without voltages.
///
/// # Errors
///
/// A figure beyond the core's ranges.
pub fn of_circuit(
    settings: &Settings,
    circuit: &Circuit,
    rate_hz: f64,
    estimates: bool,
) -> anyhow::Result<core::Settings> {
    let estimates = estimates || settings.supply.wiring == Wiring::CurrentsOnly;
    let curve = estimates.then(|| curve::curve(settings, circuit));
    let made = core::Settings { curve, ..assemble(settings, circuit, rate_hz) };
    made.build().map_err(|fault| {
        Fault::new(&*settings.file, fault.to_string())
            .wanted("figures inside the ranges that the core can compute with")
            .mend("compare the nameplate and the converter's figures with the file")
    })?;
    Ok(made)
}

/// A figure in thousandths, millionths, …, rounded and held to the integer's range.
fn whole(value: f64, factor: f64) -> i64 {
    (value * factor).round() as i64 // saturating by the language's rule
}

fn unsigned(value: f64, factor: f64) -> u32 {
    u32::try_from(whole(value, factor).max(0)).unwrap_or(u32::MAX)
}

fn signed(value: f64, factor: f64) -> i32 {
    whole(value, factor).clamp(i64::from(i32::MIN), i64::from(i32::MAX)) as i32
}

/// A list in column order, laid into the six slots of a frame.
fn slots(wiring: Wiring, values: &[f64], default: i32, factor: f64) -> [i32; core::CHANNELS] {
    let places: &[usize] = match wiring {
        Wiring::FourWire | Wiring::ThreeWire => &[0, 1, 2, 3, 4, 5],
        Wiring::TwoElement => &[0, 1, 3, 5],
        Wiring::CurrentsOnly => &[3, 4, 5],
    };
    let mut out = [default; core::CHANNELS];
    for (place, value) in places.iter().zip(values) {
        out[*place] = signed(*value, factor);
    }
    out
}

/// The same for the currents' phase errors.
fn leads(wiring: Wiring, degrees: &[f64]) -> [i32; 3] {
    let places: &[usize] = if wiring == Wiring::TwoElement { &[0, 2] } else { &[0, 1, 2] };
    let mut out = [0; 3];
    for (place, value) in places.iter().zip(degrees) {
        out[*place] = signed(value.to_radians(), 1e6);
    }
    out
}

fn assemble(settings: &Settings, circuit: &Circuit, rate_hz: f64) -> core::Settings {
    let (supply, sampling, motor) = (&settings.supply, &settings.sampling, &settings.motor);
    let wiring = supply.wiring;
    core::Settings {
        supply: core::Supply {
            nominal: if supply.frequency_hz < 55.0 { core::Nominal::Hz50 } else { core::Nominal::Hz60 },
            line_voltage_mv: unsigned(supply.line_voltage_v, 1e3),
            wiring: match wiring {
                Wiring::FourWire => core::Wiring::FourWire,
                Wiring::ThreeWire => core::Wiring::ThreeWire,
                Wiring::TwoElement => core::Wiring::TwoElement,
                Wiring::CurrentsOnly => core::Wiring::CurrentsOnly,
            },
        },
        sampling: core::Sampling {
            rate_mhz: unsigned(rate_hz, 1e3),
            bits: u8::try_from(sampling.bits).unwrap_or(0),
            voltage_full_scale_mv: unsigned(sampling.voltage_full_scale_v, 1e3),
            current_full_scale_ma: unsigned(sampling.current_full_scale_a, 1e3),
            current_tap: supply.current_tap,
            gain_ppm: slots(wiring, &sampling.gain, 1_000_000, 1e6),
            offset_q8: slots(wiring, &sampling.offset_counts, 0, 256.0),
            skew_ns: slots(wiring, &sampling.skew_us, 0, 1e3),
            lead_urad: leads(wiring, &sampling.phase_deg),
        },
        motor: core::Motor {
            rated_power_mw: whole(motor.rated_power_kw, 1e6).unsigned_abs(),
            rated_voltage_mv: unsigned(motor.rated_voltage_v, 1e3),
            rated_current_ma: unsigned(motor.rated_current_a, 1e3),
            synchronous_mrpm: unsigned(motor.synchronous_speed_rpm(), 1e3),
            rated_frequency_mhz: unsigned(motor.rated_frequency_hz, 1e3),
            stator_resistance_uohm: unsigned(circuit.stator_resistance_ohm, 1e6),
            stator_leakage_uohm: unsigned(circuit.stator_leakage_ohm, 1e6),
            magnetising_uohm: unsigned(circuit.magnetising_ohm, 1e6),
            rotor_resistance_uohm: unsigned(circuit.rotor_resistance_ohm, 1e6),
            deep_bar_ppm: unsigned(circuit.deep_bar, 1e6),
            winding: settings.winding.map(|w| core::Winding {
                time_constant_ms: unsigned(w.time_constant_s, 1e3),
                rise_mk: unsigned(w.rise_k, 1e3),
                ambient_mc: signed(w.ambient_c, 1e3),
                start_mc: signed(w.start_c, 1e3),
            }),
            core_loss_mw: unsigned(circuit.core_loss_w, 1e3),
            friction_loss_mw: unsigned(circuit.friction_loss_w, 1e3),
            stray_uohm: signed(circuit.stray_ohm, 1e6),
            starter: motor.starter,
        },
        curve: None,
        mill: core::Mill {
            idle_power_mw: settings.mill.idle_power_kw.map(|kw| whole(kw, 1e6).unsigned_abs()),
            coast_down_ms: unsigned(settings.mill.coast_down_s, 1e3),
            inertia_gm2: settings.mill.rotor_inertia_kg_m2.map(|inertia| unsigned(inertia, 1e3).max(1)),
        },
        trips: trips(settings),
        restart: core::Restart {
            rest_ms: unsigned(settings.restart.rest_s, 1e3),
            reset_level_ppm: unsigned(settings.restart.reset_level_pct, 1e4),
            rotor: settings.restart.rotor.map(|rotor| core::RotorHeat {
                starts_ppm: unsigned(rotor.starts, 1e6),
                cooling_ms: unsigned(rotor.cooling_s, 1e3),
            }),
        },
        feed: feed(settings),
    }
}

fn feed(settings: &Settings) -> core::Feed {
    let part = |percent: f64| unsigned(percent, 1e4);
    let ms = |seconds: f64| unsigned(seconds, 1e3);
    let f = &settings.feed;
    core::Feed {
        stop_ppm: part(f.stop_pct),
        stop_delay_ms: ms(f.stop_delay_s),
        surge_ppm: part(f.surge_pct),
        resume_ppm: part(f.resume_pct),
        resume_delay_ms: ms(f.resume_delay_s),
        feeder: settings.feeder.map(|f| core::Feeder {
            target_ppm: part(f.target_pct),
            peak_ppm: f.peak_pct.map(part),
            deadband_ppm: part(f.deadband_pct),
            gain_ppm: unsigned(f.proportional(), 1e6),
            integral_ms: ms(f.integral_s()),
            filter_ms: ms(f.filter_s),
            delay_ms: ms(f.delay_s),
            up_ppm_s: part(f.up_pct_s),
            down_ppm_s: part(f.down_pct_s),
            least_ppm: part(f.least_pct),
            most_ppm: part(f.most_pct),
            restart_ppm: part(f.restart_pct),
            sounder_ms: ms(f.sounder_s),
            current_ppm: part(f.current_pct),
            thermal_ppm: part(f.thermal_pct),
            charge_ppm: f.charge_pct.map(part),
            jam: core::FeedJam {
                delay_ms: ms(f.jam.delay_s),
                reverse_ms: ms(f.jam.reverse_s),
                tries: f.jam.tries as u8,
                within_ms: ms(f.jam.within_s),
            },
            search: f.search.map(|s| core::Search {
                lowest_ppm: part(s.lowest_pct),
                highest_ppm: part(s.highest_pct),
                step_ppm: part(s.step_pct),
                dwell_ms: ms(s.dwell_s),
            }),
        }),
    }
}

fn trips(settings: &Settings) -> core::Trips {
    let t = &settings.trips;
    let part = |percent: f64| unsigned(percent, 1e4);
    let ms = |seconds: f64| unsigned(seconds, 1e3);
    let further = &t.further;
    let element = |x: Element| core::Element {
        pickup_ppm: part(x.pickup_pct),
        delay_ms: ms(x.delay_s),
        action: action(x.action),
    };
    let watch = |x: Watch| core::Watch { delay_ms: ms(x.delay_s), action: action(x.action) };
    core::Trips {
        thermal: t.thermal.map(|x| core::Thermal {
            base_current_ma: unsigned(x.base_current_a, 1e3),
            k_ppm: unsigned(x.k, 1e6),
            heating_ms: ms(x.heating_time_constant_s),
            cooling_ms: ms(x.cooling_time_constant_s),
            initial_ppm: part(x.initial_pct),
            negative_sequence_ppm: unsigned(x.negative_sequence_factor, 1e6),
            running_ppm: unsigned(x.running_share(), 1e6),
        }),
        jam: t.jam.map(|x| core::Jam { pickup_ppm: part(x.pickup_pct), delay_ms: ms(x.delay_s) }),
        long_start: t
            .long_start
            .map(|x| core::LongStart { delay_ms: ms(x.delay_s), gaining_ms: x.gaining_delay_s.map(ms) }),
        phase_loss: t.phase_loss.map(|x| core::PhaseLoss { pickup_ppm: part(x.pickup_pct), delay_ms: ms(x.delay_s) }),
        undervoltage: t.undervoltage.map(|x| core::Undervoltage {
            pickup_ppm: part(x.pickup_pct),
            delay_ms: ms(x.delay_s),
            start_delay_ms: ms(x.start_delay_s),
        }),
        overvoltage: further.overvoltage.map(element),
        phase_reversal: further.phase_reversal.map(watch),
        current_unbalance: further.current_unbalance.map(element),
        residual_current: further.residual_current.map(element),
        underload: further.underload.map(element),
        sensor_fault: further.sensor_fault.map(watch),
        starts_per_hour: further
            .starts_per_hour
            .map(|x| core::StartsPerHour { most: x.most as u8, action: action(x.action) }),
        wedge: further.wedge.map(|x| core::Wedge {
            pickup_ppm: part(x.pickup_pct),
            window_ms: ms(x.window_s),
            action: action(x.action),
        }),
    }
}

fn action(action: Action) -> core::Action {
    match action {
        Action::Trip => core::Action::Trip,
        Action::FeedStop => core::Action::FeedStop,
        Action::Warning => core::Action::Warning,
    }
}
