//! What a scenario's figures may be: finite, of the right sign, small enough to be run through.

use super::plate::Plate;
use super::story::Story;
use crate::plant::feeder::{Material, Work};
use crate::plant::seed::Span;

/// A figure that makes no sense.
pub(super) struct Slip {
    pub key: String,
    pub found: String,
    pub wanted: String,
}

/// Goes over the figures; the first that makes no sense is a slip.
pub(super) fn check(story: &Story) -> Result<(), Slip> {
    let s = &story.scenario;
    within("duration_s", s.duration_s, 0.01, 1e6)?;
    within("rate_hz", s.rate_hz, 500.0, 100_000.0)?;
    within("lead_s", s.lead_s, 0.0, 3600.0)?;
    within("rated_kw", story.rated_w / 1000.0, 0.01, 100_000.0)?;
    motor(story)?;
    let supply = &s.supply;
    within("supply.line_v", supply.line_v, 1.0, 100_000.0)?;
    within("supply.frequency_hz", supply.frequency_hz, 10.0, 400.0)?;
    for sag in &supply.sags {
        within("supply.sags.ramp_s", sag.ramp_s, 0.0, 1e6)?;
        within("supply.sags.depth", sag.depth, -1.0, 1.0)?;
    }
    for drift in &supply.drifts {
        within("supply.drifts.by_hz", drift.by_hz, -20.0, 20.0)?;
    }
    for harmonic in &supply.harmonics {
        within("supply.harmonics.order", f64::from(harmonic.order), 2.0, 100.0)?;
        within("supply.harmonics.share", harmonic.share, 0.0, 1.0)?;
    }
    if let Some(heating) = &s.heating {
        for (key, body) in [("winding", heating.winding), ("cage", heating.cage)] {
            within(&format!("heating.{key}.kelvin_per_w"), body.kelvin_per_w, 0.0, 1e3)?;
            within(&format!("heating.{key}.time_constant_s"), body.time_constant_s, 1.0, 1e6)?;
        }
        within("heating.ambient_c", heating.ambient_c, -60.0, 200.0)?;
        within("heating.reference_c", heating.reference_c, -60.0, 300.0)?;
        for start_c in heating.start_c {
            within("heating.start_c", start_c, -60.0, 300.0)?;
        }
    }
    if let Some(bounce) = &supply.bounce {
        within("supply.bounce.count", f64::from(bounce.count), 0.0, 16.0)?;
        within("supply.bounce.within_s", bounce.within_s, 0.0, 1.0)?;
    }
    within("supply.capacitors_kvar", supply.capacitors_kvar, 0.0, 1e5)?;
    for transducer in &s.sensor.transducers {
        within("sensor.transducers.ratio_error_pct", transducer.ratio_error_pct, -100.0, 1000.0)?;
        within("sensor.transducers.phase_deg", transducer.phase_deg, -10.0, 10.0)?;
        within("sensor.transducers.skew_us", transducer.skew_us, -1000.0, 1000.0)?;
    }
    for fault in &s.sensor.faults {
        // Small.
        within("sensor.faults.channel", fault.channel as f64, 0.0, 6.0)?;
    }
    mill(story)?;
    for (key, converter) in [("voltage", s.sensor.voltage), ("current", s.sensor.current), ("mass", s.sensor.mass)] {
        within(&format!("sensor.{key}.bits"), f64::from(converter.bits), 2.0, 32.0)?;
        within(&format!("sensor.{key}.full_scale"), converter.full_scale, 1e-6, 1e9)?;
        within(&format!("sensor.{key}.noise_counts"), converter.noise_counts, 0.0, 1e6)?;
    }
    Ok(())
}

fn motor(story: &Story) -> Result<(), Slip> {
    let c = &story.scenario.circuit;
    let figures = [
        ("line_v", c.line_v),
        ("frequency_hz", c.frequency_hz),
        ("pole_pairs", c.pole_pairs),
        ("stator_ohm", c.stator_ohm),
        ("stator_leakage_ohm", c.stator_leakage_ohm),
        ("magnetising_ohm", c.magnetising_ohm),
        ("rotor_leakage_ohm", c.rotor_leakage_ohm),
        ("rotor_ohm", c.rotor_ohm),
        ("inertia_kg_m2", c.inertia_kg_m2),
    ];
    for (key, value) in figures {
        within(&format!("motor.{key}"), value, 1e-9, 1e9)?;
    }
    let losses = [
        ("deep_bar", c.deep_bar),
        ("core_siemens", c.core_siemens),
        ("stray_ohm", c.stray_ohm),
        ("friction_w", c.friction_w),
    ];
    for (key, value) in losses {
        within(&format!("motor.{key}"), value, 0.0, 1e9)?;
    }
    if Plate::bears(c, story.rated_w) {
        return Ok(());
    }
    Err(Slip {
        key: "rated_kw".to_owned(),
        found: format!("{} kW, which the motor's circuit does not bear", story.rated_w / 1000.0),
        wanted: "a rated power of which the motor bears 125 %".to_owned(),
    })
}

fn mill(story: &Story) -> Result<(), Slip> {
    let mill = &story.scenario.mill;
    within("mill.inertia_kg_m2", mill.inertia_kg_m2, 0.0, 1e6)?;
    within("mill.windage_nm_s2", mill.windage_nm_s2, 0.0, 1e6)?;
    within("mill.working_rad_s", mill.working_rad_s, 1.0, 10_000.0)?;
    if let Some(chamber) = &mill.chamber {
        within("mill.chamber.full_kg", chamber.full_kg, 1e-3, 1e6)?;
        within("mill.chamber.opening_mm", chamber.opening_mm, 0.1, 10_000.0)?;
        within("mill.chamber.passing_s", chamber.passing_s, 0.02, 1e4)?;
        within("mill.chamber.capacity_kg_s", chamber.capacity_kg_s, 0.0, 1e6)?;
        within("mill.chamber.drag_nm", chamber.drag_nm, 0.0, 1e6)?;
    }
    if let Some(hand) = &mill.hand {
        // Less than a tick between pieces would be a belt.
        spread("mill.hand.interval_s", hand.interval_s, 0.01, 1e6)?;
        material("mill.hand.material", &hand.material)?;
    }
    if let Some(belt) = &mill.belt {
        within("mill.belt.speed_m_s", belt.speed_m_s, 0.0, 10.0)?;
        within("mill.belt.lag_s", belt.lag_s, 0.0, 1e3)?;
        within("mill.belt.length_m", belt.length_m, 0.0, 1e3)?;
        within("mill.belt.scale_m", belt.scale_m, 0.0, belt.length_m)?;
        within("mill.belt.scale_error", belt.scale_error, -0.5, 0.5)?;
        within("mill.belt.width_m", belt.width_m, 0.0, 100.0)?;
        spread("mill.belt.depth_m", belt.depth_m, 0.0, 10.0)?;
        within("mill.belt.bulk_kg_m3", belt.bulk_kg_m3, 0.0, 20_000.0)?;
        for drive in &belt.drive {
            within("mill.belt.drive.share", drive.share, 0.0, 1.0)?;
        }
        material("mill.belt.material", &belt.material)?;
    }
    if let Some(wedge) = &mill.wedge {
        within("mill.wedge.rise_s", wedge.rise_s, 1e-3, 1e3)?;
        within("mill.wedge.torque_nm", wedge.torque_nm, 0.0, 1e9)?;
    }
    Ok(())
}

fn material(key: &str, material: &Material) -> Result<(), Slip> {
    spread(&format!("{key}.mass_kg"), material.mass_kg, 1e-3, 1e4)?;
    spread(&format!("{key}.burst_s"), material.burst_s, 0.02, 100.0)?;
    match material.work {
        Work::PerTonne(span) => spread(&format!("{key}.work.per-tonne"), span, 0.0, 1e5),
        Work::Kick { toughness_kj_kg, size_mm } => {
            spread(&format!("{key}.work.kick.toughness_kj_kg"), toughness_kj_kg, 0.0, 1e6)?;
            spread(&format!("{key}.work.kick.size_mm"), size_mm, 0.1, 10_000.0)
        }
    }
}

/// Both ends within bounds, the first no larger.
fn spread(key: &str, span: Span, low: f64, high: f64) -> Result<(), Slip> {
    within(key, span.0, low, high)?;
    within(key, span.1, span.0, high)
}

fn within(key: &str, value: f64, low: f64, high: f64) -> Result<(), Slip> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(Slip { key: key.to_owned(), found: format!("{value}"), wanted: format!("{low} to {high}") })
}
