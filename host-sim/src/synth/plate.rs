//! A settings file for a motor of the model: its nameplate, worked out from its circuit, and the five trips.

use serde::{Deserialize, Serialize};

use crate::plant::circuit::Circuit;
use crate::plant::sensor::CurrentTap;
use crate::plant::steady::{Nameplate, Point};
use crate::plant::supply::Tap;
use std::fmt::Write as _;

/// What a settings file says besides the motor's nameplate.
pub struct Plate<'a> {
    /// First lines, as comments.
    pub about: &'a [&'a str],
    /// The motor.
    pub circuit: &'a Circuit,
    /// Its rated shaft power, W.
    pub rated_w: f64,
    /// Kind of measurement.
    pub wiring: &'a str,
    /// Where voltage is taken.
    pub tap: Tap,
    /// Where current is taken.
    pub current_tap: CurrentTap,
    /// Samples a second.
    pub rate_hz: f64,
    /// Converter bits.
    pub bits: u32,
    /// Peak voltage at full-scale count, V.
    pub volts: f64,
    /// Peak current at full-scale count, A.
    pub amps: f64,
    /// All that turns, kg m², if known.
    pub inertia_kg_m2: Option<f64>,
    /// Shaft power of the empty mill, W, if known.
    pub idle_w: Option<f64>,
    /// How it is started, in the settings' words.
    pub starter: &'a str,
    /// Whether the trace has a column of mass.
    pub mass: bool,
    /// The trips; none switches all five off.
    pub trips: Option<Trips>,
}

/// Times of the trips, s; the pick-ups are the same everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trips {
    /// How long a jam is borne.
    pub jam_s: f64,
    /// How long a start may take.
    pub start_s: f64,
    /// How long an open phase is borne.
    pub phase_loss_s: f64,
    /// How long low voltage is borne.
    pub undervoltage_s: f64,
}

impl Default for Trips {
    fn default() -> Self {
        Self { jam_s: 0.5, start_s: 15.0, phase_loss_s: 1.0, undervoltage_s: 2.0 }
    }
}

impl Plate<'_> {
    /// Whether a motor is one of that rating.
    pub fn bears(circuit: &Circuit, rated_w: f64) -> bool {
        circuit.nameplate(rated_w).is_some()
    }

    /// The nameplate of the motor.
    ///
    /// # Panics
    /// The circuit does not bear 125 % of its rating: it is no motor of that rating.
    pub fn nameplate(&self) -> Nameplate {
        self.circuit.nameplate(self.rated_w).expect("the motor bears 125 % of its rating")
    }

    /// The settings file.
    pub fn text(&self) -> String {
        let mut text = String::new();
        for line in self.about {
            line_of(&mut text, format_args!("# {line}"));
        }
        let Circuit { frequency_hz, line_v, pole_pairs, stator_ohm, .. } = self.circuit;
        let Plate { wiring, rate_hz, bits, volts, amps, .. } = self;
        let tap = if self.tap == Tap::Line { "line" } else { "motor" };
        line_of(&mut text, format_args!("\n[supply]\nfrequency_hz = {frequency_hz}\nline_voltage_v = {line_v}"));
        line_of(&mut text, format_args!("wiring = \"{wiring}\"\nvoltage_tap = \"{tap}\""));
        if self.current_tap == CurrentTap::DeltaAb {
            line_of(&mut text, format_args!("current_tap = \"delta-ab\""));
        }
        text.push('\n');
        line_of(&mut text, format_args!("[sampling]\nrate_hz = {rate_hz}\nbits = {bits}"));
        line_of(&mut text, format_args!("voltage_full_scale_v = {volts:?}\ncurrent_full_scale_a = {amps:?}\n"));
        let plate = self.nameplate();
        let rated = &plate.rated;
        let current_a = rated.current_a;
        line_of(&mut text, format_args!("[motor]\nrated_power_kw = {:?}", round(self.rated_w / 1000.0, 3)));
        line_of(&mut text, format_args!("rated_voltage_v = {line_v}\nrated_current_a = {current_a:.2}"));
        line_of(&mut text, format_args!("rated_frequency_hz = {frequency_hz}"));
        line_of(&mut text, format_args!("rated_speed_rpm = {:.1}\npoles = {}", rated.speed_rpm, 2.0 * pole_pairs));
        line_of(&mut text, format_args!("service_factor = 1.15"));
        line_of(&mut text, format_args!("rated_power_factor_pct = {:.2}", rated.power_factor * 100.0));
        line_of(&mut text, format_args!("rated_efficiency_pct = {:.2}", rated.efficiency() * 100.0));
        line_of(&mut text, format_args!("efficiency_pct = {}", curve(&plate, Point::efficiency)));
        line_of(&mut text, format_args!("power_factor_pct = {}", curve(&plate, |point| point.power_factor)));
        line_of(&mut text, format_args!("locked_rotor_current_a = {:.1}", plate.locked.current_a));
        let torque = plate.locked.shaft_nm / rated.shaft_nm * 100.0;
        line_of(&mut text, format_args!("locked_rotor_torque_pct = {torque:.1}"));
        line_of(&mut text, format_args!("stator_resistance_ohm = {stator_ohm}"));
        if self.starter != "direct" {
            line_of(&mut text, format_args!("starter = \"{}\"", self.starter));
        }
        text.push('\n');
        line_of(&mut text, format_args!("[transmission]\nefficiency_pct = 100.0\nspeed_ratio = 1.0\n"));
        if self.inertia_kg_m2.is_some() || self.idle_w.is_some() {
            line_of(&mut text, format_args!("[mill]"));
        }
        if let Some(inertia) = self.inertia_kg_m2 {
            line_of(&mut text, format_args!("rotor_inertia_kg_m2 = {inertia:.2}"));
        }
        if let Some(idle) = self.idle_w {
            line_of(&mut text, format_args!("idle_power_kw = {:.3}", idle / 1000.0));
        }
        line_of(&mut text, format_args!("\n[mass]\nsource = \"{}\"", if self.mass { "trace" } else { "none" }));
        match self.trips {
            Some(trips) => trips.text(&mut text, current_a),
            None => {
                for name in ["thermal", "jam", "long_start", "phase_loss", "undervoltage"] {
                    line_of(&mut text, format_args!("\n[trip.{name}]\nenabled = false"));
                }
            }
        }
        text
    }
}

impl Trips {
    fn text(self, text: &mut String, current_a: f64) {
        let Self { jam_s, start_s, phase_loss_s, undervoltage_s } = self;
        line_of(text, format_args!("\n[trip.thermal]\nbase_current_a = {current_a:.2}\nk = 1.05"));
        line_of(text, format_args!("heating_time_constant_s = 600.0\ncooling_time_constant_s = 2400.0"));
        line_of(text, format_args!("initial_pct = 0.0\nnegative_sequence_factor = 0.0"));
        line_of(text, format_args!("\n[trip.jam]\npickup_pct = 200.0\ndelay_s = {jam_s:?}"));
        line_of(text, format_args!("\n[trip.long_start]\ndelay_s = {start_s:?}"));
        line_of(text, format_args!("\n[trip.phase_loss]\npickup_pct = 60.0\ndelay_s = {phase_loss_s:?}"));
        line_of(text, format_args!("\n[trip.undervoltage]\npickup_pct = 80.0\ndelay_s = {undervoltage_s:?}"));
        line_of(text, format_args!("start_delay_s = {start_s:?}"));
    }
}

fn line_of(text: &mut String, line: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{line}");
}

/// Pairs of load and value, both in per cent.
fn curve(plate: &Nameplate, value: impl Fn(&Point) -> f64) -> String {
    let pairs: Vec<String> =
        plate.curve.iter().map(|(load, point)| format!("[{load}, {:.2}]", value(point) * 100.0)).collect();
    format!("[{}]", pairs.join(", "))
}

fn round(value: f64, digits: i32) -> f64 {
    let scale = 10_f64.powi(digits);
    (value * scale).round() / scale
}
