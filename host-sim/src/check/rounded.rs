//! What `check-settings` says of the core: the circuit that is fitted to the nameplate, and the
//! coefficients as the core rounds them.

use super::Line;
use crate::fit::{self, circuit};
use crate::replay::source::clock_hz;
use crate::settings::derive::Provenance;
use crate::settings::{Settings, Values, Wiring};
use shaftwork_core::math::scale::Scale;
use shaftwork_core::settings::Coefficients;
use shaftwork_core::time::Span;

/// The rate that is shown where the settings leave it to the trace, Hz.
const SHOWN_RATE_HZ: f64 = 4000.0;

/// The lines.
///
/// # Errors
///
/// No motor has such a nameplate, or the core refuses a figure.
pub fn lines(settings: &Settings) -> anyhow::Result<Vec<Line>> {
    let values = settings.sampling.values;
    let rate_hz = settings.sampling.rate_hz.map_or(SHOWN_RATE_HZ, |rows_hz| clock_hz(values, rows_hz));
    let circuit = circuit::fit(settings)?;
    let core = fit::core_settings(settings, rate_hz)?;
    let made = core.build()?;
    let mut out = vec![Line::Section("fitted circuit")];
    let mut say = |name: &str, value: f64, unit: &'static str, note: &str| {
        out.push(Line::Figure {
            name: name.to_owned(),
            value: value.into(),
            unit,
            from: Provenance::Inferred,
            note: note.to_owned(),
        });
    };
    say("stator_leakage_ohm", circuit.stator_leakage_ohm, "ohm", "locked-rotor current");
    say("rotor_leakage_ohm", circuit.rotor_leakage_ohm, "ohm", "as much");
    say("magnetising_ohm", circuit.magnetising_ohm, "ohm", "power factors");
    say("rotor_resistance_ohm", circuit.rotor_resistance_ohm, "ohm", "rated speed");
    let motor = &settings.motor;
    let given = |figure: Option<f64>, else_words| if figure.is_some() { "as given" } else { else_words };
    say("core_loss_w", circuit.core_loss_w, "W", given(motor.core_loss_w, "60 % of constant"));
    say("friction_loss_w", circuit.friction_loss_w, "W", given(motor.friction_loss_w, "the rest of it"));
    say("stray_ohm", circuit.stray_ohm, "ohm", "efficiencies");
    say("worst_loss_error_w", circuit.worst_loss_error_w, "W", "against the curve");
    out.push(Line::Section("as the core rounds it"));
    out.extend(rounded(&made, settings));
    Ok(out)
}

fn real(scale: Scale) -> f64 {
    let (mantissa, shift) = scale.parts();
    f64::from(mantissa) / 2f64.powi(i32::from(shift))
}

fn rounded(c: &Coefficients, settings: &Settings) -> Vec<Line> {
    // Rows of rms values pass by the meter, and are counted by a clock of their own.
    let samples = settings.sampling.values == Values::Samples;
    let counts = if samples { "frames" } else { "ticks" };
    let rate_hz = f64::from(c.meter.rate_mhz) / 1e3;
    let mut out = Vec::new();
    let mut say = |name: &str, value: f64, unit: &'static str, note: String| {
        out.push(Line::Figure { name: name.to_owned(), value: value.into(), unit, from: Provenance::Inferred, note });
    };
    let seconds = |span: Span| span.0 as f64 / 65_536.0 / rate_hz;
    let frames = |span: Span| format!("{} {counts}", span.0 as f64 / 65_536.0);
    let note = if settings.sampling.rate_hz.is_none() { "the trace's own applies" } else { "" };
    say(if samples { "rate_hz" } else { "clock_hz" }, rate_hz, "Hz", note.to_owned());
    // Code at Q16 -> rms bits at Q16 or Q17: a code's peak is sqrt2 of its rms.
    let per_count = |scale: Scale, q: i32| real(scale) * 2f64.sqrt() * 65_536.0 / 2f64.powi(q);
    if samples && settings.supply.wiring != Wiring::CurrentsOnly {
        say("volt_per_count", per_count(c.meter.phasor[0], 16), "V", "with gain".to_owned());
    }
    if samples {
        say("amp_per_count", per_count(c.meter.phasor[3], 17), "A", "with gain".to_owned());
        say("nominal_frequency_hz", f64::from(c.meter.nominal_step) / 2f64.powi(32) * rate_hz, "Hz", String::new());
        say("steps_per_block", f64::from(c.meter.steps_per_block), "", "closing work".to_owned());
    }
    let m = &c.judge.motor;
    for (name, q24) in [
        ("stator_resistance_pu", m.stator_resistance),
        ("stator_leakage_pu", m.stator_leakage),
        ("magnetising_admittance_pu", m.magnetising_admittance),
        ("rotor_resistance_pu", m.rotor_resistance),
        ("core_loss_pu", m.core_loss),
        ("friction_loss_pu", m.friction_loss),
        ("stray_pu", m.stray),
    ] {
        say(name, f64::from(q24) / 2f64.powi(24), "pu", format!("{q24} / 2^24"));
    }
    let amps = |square: shaftwork_core::unit::SquareAmps| f64::from(square.root().to_bits()) / 131_072.0;
    let t = &c.judge.trips;
    if let Some(x) = &t.thermal {
        say("thermal_k_base_a", (1.0 / (real(x.level) * 4.0)).sqrt(), "A", String::new());
        say("thermal_heating_s", 1.0 / real(x.heating) / rate_hz, "s", String::new());
        say("thermal_cooling_s", 1.0 / real(x.cooling) / rate_hz, "s", String::new());
    }
    if let Some(x) = &t.jam {
        say("jam_pickup_a", amps(x.pickup), "A", String::new());
        say("jam_delay_s", seconds(x.delay), "s", frames(x.delay));
    }
    if let Some(x) = &t.long_start {
        say("long_start_delay_s", seconds(x.delay), "s", frames(x.delay));
    }
    if let Some(x) = &t.phase_loss {
        say("phase_loss_pickup_pct", f64::from(x.pickup.to_bits()) / 2f64.powi(24) * 100.0, "%", String::new());
        say("phase_loss_delay_s", seconds(x.delay), "s", frames(x.delay));
    }
    if let Some(x) = &t.undervoltage {
        let volts = f64::from(x.element.pickup.root().to_bits()) / 65_536.0;
        say("undervoltage_pickup_v", volts, "V", String::new());
        say("undervoltage_delay_s", seconds(x.element.delay), "s", frames(x.element.delay));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::testing::{good, parsed};

    fn figure(lines: &[Line], wanted: &str) -> f64 {
        lines
            .iter()
            .find_map(|line| match line {
                Line::Figure { name, value, .. } if name == wanted => value.as_f64(),
                _ => None,
            })
            .unwrap_or(f64::NAN)
    }

    fn near(lines: &[Line], name: &str, want: f64) {
        let got = figure(lines, name);
        assert!((got / want - 1.0).abs() < 1e-5, "{name} {got}");
    }

    /// What is shown is what the file says, within the core's rounding: no figure is lost on the way.
    #[test]
    fn rounded_figures_are_those_of_the_file() {
        let settings = parsed(&good()).0;
        let lines = lines(&settings).unwrap();
        let near = |name: &str, want: f64| near(&lines, name, want);
        near("volt_per_count", settings.sampling.volt_per_count());
        near("amp_per_count", settings.sampling.amp_per_count());
        near("nominal_frequency_hz", settings.supply.frequency_hz);
        let thermal = settings.trips.thermal.unwrap();
        near("thermal_k_base_a", thermal.k * thermal.base_current_a);
        near("thermal_heating_s", thermal.heating_time_constant_s);
        let jam = settings.trips.jam.unwrap();
        near("jam_pickup_a", jam.pickup_pct / 100.0 * settings.motor.rated_current_a);
        near("jam_delay_s", jam.delay_s);
    }

    /// Times stay those of the file for a log of rms values, at any rate; what tells of a converter is not shown.
    #[test]
    fn a_log_has_a_clock_of_its_own() {
        for (rate_hz, clock_hz) in [("0.1", 8_000.0), ("1", 8_000.0), ("20", 8_000.0), ("3", 8_001.0)] {
            let log = good()
                .replace("rate_hz = 4000", &format!("values = \"rms\"\nrate_hz = {rate_hz}"))
                .lines()
                .filter(|line| !line.contains("full_scale") && !line.starts_with("bits"))
                .collect::<Vec<_>>()
                .join("\n");
            for text in [log.replace("four-wire", "currents-only"), log] {
                let settings = parsed(&text).0;
                let lines = lines(&settings).unwrap();
                near(&lines, "clock_hz", clock_hz);
                near(&lines, "thermal_heating_s", settings.trips.thermal.unwrap().heating_time_constant_s);
                near(&lines, "jam_delay_s", settings.trips.jam.unwrap().delay_s);
                assert!(figure(&lines, "volt_per_count").is_nan() && figure(&lines, "amp_per_count").is_nan());
            }
        }
    }
}
