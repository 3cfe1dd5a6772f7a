//! What a scenario's figures may be: finite, of the right sign, small enough to be run through.

use super::plate::Plate;
use super::story::Story;
use crate::plant::fault::Kind;
use crate::plant::feeder::{Material, Work};
use crate::plant::motor::LONGEST_STEP_S;
use crate::plant::seed::Span;
use crate::plant::supply::Starter;

/// What happened longer before the first frame cannot matter, s.
const LONGEST_LEAD_S: f64 = 3_600.0;

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
    // As replay takes them.
    within("rate_hz", s.rate_hz, 2_000.0, 16_000.0)?;
    within("lead_s", s.lead_s, 0.0, 3600.0)?;
    within("rated_kw", story.rated_w / 1000.0, 0.01, 100_000.0)?;
    motor(story)?;
    for (key, delay_s) in [
        ("trips.jam_s", story.trips.jam_s),
        ("trips.start_s", story.trips.start_s),
        ("trips.phase_loss_s", story.trips.phase_loss_s),
        ("trips.undervoltage_s", story.trips.undervoltage_s),
    ] {
        within(key, delay_s, 0.0, 36_000.0)?;
    }
    supply(story)?;
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
    sensor(story)?;
    mill(story)
}

fn sensor(story: &Story) -> Result<(), Slip> {
    let s = &story.scenario;
    for transducer in &s.sensor.transducers {
        within("sensor.transducers.ratio_error_pct", transducer.ratio_error_pct, -100.0, 1000.0)?;
        within("sensor.transducers.phase_deg", transducer.phase_deg, -10.0, 10.0)?;
        within("sensor.transducers.skew_us", transducer.skew_us, -500.0, 500.0)?;
    }
    for fault in &s.sensor.faults {
        // Small.
        within("sensor.faults.channel", fault.channel as f64, 0.0, 6.0)?;
        span("sensor.faults", fault.from_s, fault.until_s, f64::NEG_INFINITY)?;
        match fault.kind {
            Kind::Scaled(factor) => within("sensor.faults.kind.scaled", factor, -1e3, 1e3)?,
            Kind::Saturated(flux) => within("sensor.faults.kind.saturated", flux, 1e-6, 1e6)?,
            Kind::Dead | Kind::Stuck | Kind::Reversed => {}
        }
    }
    for (key, converter) in [("voltage", s.sensor.voltage), ("current", s.sensor.current), ("mass", s.sensor.mass)] {
        within(&format!("sensor.{key}.bits"), f64::from(converter.bits), 12.0, 24.0)?;
        within(&format!("sensor.{key}.full_scale"), converter.full_scale, 1e-6, 1e9)?;
        within(&format!("sensor.{key}.noise_counts"), converter.noise_counts, 0.0, 1e6)?;
    }
    one_of("sensor.current.bits", f64::from(s.sensor.current.bits), [f64::from(s.sensor.voltage.bits)])?;
    Ok(())
}

fn supply(story: &Story) -> Result<(), Slip> {
    let supply = &story.scenario.supply;
    within("supply.line_v", supply.line_v, 50.0, 15_000.0)?;
    one_of("supply.frequency_hz", supply.frequency_hz, [50.0, 60.0])?;
    within("supply.phase_rad", supply.phase_rad, -10.0, 10.0)?;
    within("supply.impedance.ohm", supply.impedance.ohm, 0.0, 1e3)?;
    within("supply.impedance.henry", supply.impedance.henry, 0.0, 10.0)?;
    within("supply.capacitors_kvar", supply.capacitors_kvar, 0.0, 1e5)?;
    for closed in &supply.closed {
        span("supply.closed", closed.from_s, closed.until_s, f64::NEG_INFINITY)?;
    }
    for sag in &supply.sags {
        span("supply.sags", sag.from_s, sag.until_s, -LONGEST_LEAD_S)?;
        within("supply.sags.ramp_s", sag.ramp_s, 0.0, 1e6)?;
        within("supply.sags.depth", sag.depth, -1.0, 1.0)?;
    }
    for drift in &supply.drifts {
        span("supply.drifts", drift.from_s, drift.until_s, -LONGEST_LEAD_S)?;
        within("supply.drifts.by_hz", drift.by_hz, -5.0, 5.0)?;
    }
    for loss in &supply.losses {
        span("supply.losses", loss.from_s, loss.until_s, f64::NEG_INFINITY)?;
    }
    for harmonic in &supply.harmonics {
        within("supply.harmonics.order", f64::from(harmonic.order), 2.0, 100.0)?;
        within("supply.harmonics.share", harmonic.share, 0.0, 1.0)?;
        within("supply.harmonics.phase_rad", harmonic.phase_rad, -10.0, 10.0)?;
    }
    if let Some(against) = &supply.unbalance {
        within("supply.unbalance.share", against.share, 0.0, 0.5)?;
        within("supply.unbalance.phase_rad", against.phase_rad, -10.0, 10.0)?;
    }
    if let Some(bounce) = &supply.bounce {
        within("supply.bounce.count", f64::from(bounce.count), 0.0, 16.0)?;
        within("supply.bounce.within_s", bounce.within_s, 0.0, 1.0)?;
    }
    match supply.starter {
        Starter::Direct => Ok(()),
        Starter::StarDelta { star_s, pause_s } => {
            within("supply.starter.star-delta.star_s", star_s, 0.0, LONGEST_LEAD_S)?;
            within("supply.starter.star-delta.pause_s", pause_s, 0.0, 10.0)
        }
        Starter::Soft { from_deg, ramp_s } => {
            within("supply.starter.soft.from_deg", from_deg, 0.0, 119.0)?;
            within("supply.starter.soft.ramp_s", ramp_s, 0.0, LONGEST_LEAD_S)
        }
    }
}

fn motor(story: &Story) -> Result<(), Slip> {
    let c = &story.scenario.circuit;
    let figures = [
        ("line_v", c.line_v),
        ("frequency_hz", c.frequency_hz),
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
    one_of("motor.pole_pairs", c.pole_pairs, [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])?;
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
    within("mill.inertia_kg_m2", mill.inertia_kg_m2, 1e-3, 1e6)?;
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
        span("mill.hand", hand.from_s, hand.until_s, -LONGEST_LEAD_S)?;
        // Less than a tick between pieces would be a belt.
        spread("mill.hand.interval_s", hand.interval_s, 0.01, 1e6)?;
        within("mill.hand.lamp.reaction_s", hand.lamp.reaction_s, 0.0, 1e3)?;
        within("mill.hand.lamp.missed", hand.lamp.missed, 0.0, 1.0)?;
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
        let mut last_s = f64::NEG_INFINITY;
        for drive in &belt.drive {
            within("mill.belt.drive.at_s", drive.at_s, last_s, 1e9)?;
            within("mill.belt.drive.share", drive.share, 0.0, 1.0)?;
            last_s = drive.at_s;
        }
        within("mill.belt.hopper_until_s", belt.hopper_until_s, -LONGEST_LEAD_S, f64::INFINITY)?;
        material("mill.belt.material", &belt.material)?;
    }
    // Beyond that a step of the model would turn a stopped rotor back: torque fades over 2 rad/s, and half of what
    // the method bears (T h / (2 J) < 2.8) is left to the other torques.
    let most_nm = 2.8 * (mill.inertia_kg_m2 + story.scenario.circuit.inertia_kg_m2) / LONGEST_STEP_S;
    if let Some(wedge) = &mill.wedge {
        within("mill.wedge.rise_s", wedge.rise_s, 1e-3, 1e3)?;
        span("mill.wedge", wedge.at_s, wedge.until_s, -LONGEST_LEAD_S)?;
        within("mill.wedge.torque_nm", wedge.torque_nm, 0.0, most_nm)?;
    }
    for lump in &mill.lumps {
        within("mill.lumps.at_s", lump.at_s, -LONGEST_LEAD_S, 1e9)?;
        within("mill.lumps.length_s", lump.length_s, 2e-3, 1e3)?;
        within("mill.lumps.edge_s", lump.edge_s, 1e-3, lump.length_s / 2.0)?;
        within("mill.lumps.torque_nm", lump.torque_nm, 0.0, most_nm)?;
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

/// A time from which on and one until which.
fn span(key: &str, from_s: f64, until_s: f64, earliest_s: f64) -> Result<(), Slip> {
    within(&format!("{key}.from_s"), from_s, earliest_s, 1e9)?;
    within(&format!("{key}.until_s"), until_s, from_s, f64::INFINITY)
}

fn one_of<const N: usize>(key: &str, value: f64, wanted: [f64; N]) -> Result<(), Slip> {
    if wanted.iter().any(|each| each.to_bits() == value.to_bits()) {
        return Ok(());
    }
    let words: Vec<String> = wanted.iter().map(f64::to_string).collect();
    Err(Slip { key: key.to_owned(), found: format!("{value}"), wanted: words.join(", ") })
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
