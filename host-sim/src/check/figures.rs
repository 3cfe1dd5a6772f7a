//! The figures of `check-settings`, table by table.

mod feed;
mod trips;

use serde_json::{Value, json};

use super::Line;
use crate::settings::accuracy::efficiency_points;
use crate::settings::derive::{Derived, Figure, Provenance, derive};
use crate::settings::{CurrentTap, Curve, MassSource, PulseForm, Settings, Starter, VoltageTap, Warning};

/// Everything there is to say about the settings; warnings come last.
pub fn lines(settings: &Settings, warnings: &[Warning]) -> Vec<Line> {
    let derived = derive(settings);
    let mut out = Lines { settings, section: "", made: Vec::new() };
    supply(&mut out);
    sampling(&mut out);
    motor(&mut out, &derived);
    winding(&mut out);
    mill(&mut out);
    accuracy(&mut out, &derived);
    runs(&mut out);
    trips::all(&mut out, &derived);
    feed::all(&mut out);
    out.made.extend(warnings.iter().cloned().map(Line::Warning));
    out.made
}

/// The lines so far.
struct Lines<'a> {
    settings: &'a Settings,
    section: &'static str,
    made: Vec<Line>,
}

impl Lines<'_> {
    fn section(&mut self, name: &'static str) {
        self.section = name;
        self.made.push(Line::Section(name));
    }

    /// A key of the file: given if it stood there, else a default.
    fn key(&mut self, name: &'static str, value: impl Into<Value>, unit: &'static str) {
        let from = self.from(name);
        self.push(name, value, unit, from, String::new());
    }

    /// Whether a key stood in the file.
    fn from(&self, name: &str) -> Provenance {
        let given = self.settings.given.contains_key(&format!("{}.{name}", self.section));
        if given { Provenance::Given } else { Provenance::Default }
    }

    /// What a line's current is where it is measured, if that is another one.
    fn measured(&mut self, name: &'static str, line_a: f64, note: &str) {
        let over = self.settings.supply.line_over_measured();
        if over > 1.0 {
            self.follows(name, line_a / over, "A", format!("in a winding's lead, in delta{note}"));
        }
    }

    /// A key of the file that may be absent; `absent` says what happens then.
    fn option(&mut self, name: &'static str, value: Option<f64>, unit: &'static str, absent: &str) {
        let note = if value.is_none() { absent.to_owned() } else { String::new() };
        let from = if value.is_some() { Provenance::Given } else { Provenance::Default };
        self.push(name, value, unit, from, note);
    }

    /// A figure with its own provenance.
    fn derived(&mut self, name: &'static str, figure: Figure, unit: &'static str) {
        self.push(name, figure.value, unit, figure.from, figure.how.to_owned());
    }

    /// Something that follows from the figures before it.
    fn follows(&mut self, name: &'static str, value: f64, unit: &'static str, note: impl Into<String>) {
        self.push(name, value, unit, Provenance::Inferred, note.into());
    }

    fn push(
        &mut self,
        name: impl Into<String>,
        value: impl Into<Value>,
        unit: &'static str,
        from: Provenance,
        note: String,
    ) {
        self.made.push(Line::Figure { name: name.into(), value: value.into(), unit, from, note });
    }

    fn note(&mut self, text: &str) {
        self.made.push(Line::Note(text.to_owned()));
    }
}

fn supply(out: &mut Lines<'_>) {
    let supply = out.settings.supply;
    out.section("supply");
    out.key("frequency_hz", supply.frequency_hz, "Hz");
    out.key("line_voltage_v", supply.line_voltage_v, "V");
    out.key("wiring", supply.wiring.as_str(), "");
    let tap = match supply.voltage_tap {
        VoltageTap::Line => "line",
        VoltageTap::Motor => "motor",
    };
    out.key("voltage_tap", tap, "");
    let (tap, note) = match supply.current_tap {
        CurrentTap::Line => ("line", ""),
        CurrentTap::DeltaAb => ("delta-ab", "inside the delta: ia is A-B's, ib B-C's, ic C-A's; in star the lines'"),
        CurrentTap::DeltaAc => ("delta-ac", "inside the delta: ia is A-C's, ib B-A's, ic C-B's; in star the lines'"),
    };
    let from = out.from("current_tap");
    out.push("current_tap", tap, "", from, note.to_owned());
}

fn sampling(out: &mut Lines<'_>) {
    let sampling = &out.settings.sampling;
    out.section("sampling");
    let rms = sampling.values == crate::settings::Values::Rms;
    out.key("values", if rms { "rms" } else { "samples" }, "");
    out.option("rate_hz", sampling.rate_hz, "Hz", "the trace's own; a CSV trace needs it");
    let gaps = match sampling.gaps {
        crate::settings::Gaps::Error => "error",
        crate::settings::Gaps::Split => "split",
    };
    out.key("gaps", gaps, "");
    if rms {
        return channels(out);
    }
    out.key("bits", sampling.bits, "");
    let full = sampling.full_scale_count();
    if !out.settings.supply.wiring.voltages().is_empty() {
        out.key("voltage_full_scale_v", sampling.voltage_full_scale_v, "V peak");
        out.follows("volt_per_count", sampling.volt_per_count(), "V", format!("clips at {full}"));
    }
    out.key("current_full_scale_a", sampling.current_full_scale_a, "A peak");
    out.follows("amp_per_count", sampling.amp_per_count(), "A", format!("clips at {full}"));
    let rms = sampling.current_full_scale_a / std::f64::consts::SQRT_2;
    if out.settings.supply.current_tap == CurrentTap::Line {
        out.follows("largest_current_a", rms, "A", "rms of a full sine");
    } else {
        out.follows("largest_winding_a", rms, "A", "rms of a full sine");
        out.follows("largest_current_a", rms * out.settings.supply.line_over_measured(), "A", "of a line, in delta");
    }
    let columns: Vec<&str> = out.settings.supply.wiring.columns().collect();
    let currents = out.settings.supply.wiring.currents();
    per_channel(out, "gain", &sampling.gain, &columns, "");
    per_channel(out, "offset_counts", &sampling.offset_counts, &columns, "counts");
    per_channel(out, "skew_us", &sampling.skew_us, &columns, "us");
    per_channel(out, "phase_deg", &sampling.phase_deg, currents, "deg");
    channels(out);
}

/// The names that the settings give.
fn channels(out: &mut Lines<'_>) {
    if !out.settings.channels.is_empty() {
        out.section("channels");
        for (quantity, name) in &out.settings.channels {
            out.push(quantity.clone(), name.as_str(), "", Provenance::Given, String::new());
        }
    }
}

/// A list is told only if it was given.
fn per_channel(out: &mut Lines<'_>, name: &'static str, list: &[f64], columns: &[&str], unit: &'static str) {
    if !out.settings.given.contains_key(&format!("sampling.{name}")) {
        return;
    }
    let note = columns.iter().zip(list).map(|(column, x)| format!("{column} {x}")).collect::<Vec<_>>().join(", ");
    out.push(name, json!(list), unit, Provenance::Given, note);
}

fn motor(out: &mut Lines<'_>, derived: &Derived) {
    let motor = &out.settings.motor;
    out.section("motor");
    out.key("rated_power_kw", motor.rated_power_kw, "kW");
    out.key("rated_voltage_v", motor.rated_voltage_v, "V");
    out.key("rated_current_a", motor.rated_current_a, "A");
    out.key("rated_frequency_hz", motor.rated_frequency_hz, "Hz");
    out.key("rated_speed_rpm", motor.rated_speed_rpm, "rpm");
    out.key("poles", motor.poles, "");
    out.key("service_factor", motor.service_factor, "");
    out.derived("rated_efficiency_pct", derived.rated_efficiency_pct, "%");
    out.derived("rated_power_factor_pct", derived.rated_power_factor_pct, "%");
    for (name, curve) in [("efficiency_pct", &motor.efficiency_pct), ("power_factor_pct", &motor.power_factor_pct)] {
        if let Some(curve) = curve {
            out.push(name, points(curve), "", Provenance::Given, in_words(curve));
        }
    }
    out.derived("rated_losses_kw", derived.rated_losses_kw, "kW");
    out.measured("rated_winding_a", motor.rated_current_a, ": 0.58 of the line's");
    out.derived("locked_rotor_current_a", derived.locked_rotor_current_a, "A");
    out.measured(
        "locked_rotor_winding_a",
        derived.locked_rotor_current_a.value,
        "; in star a winding's is the line's, a third",
    );
    let (starter, note) = match motor.starter {
        Starter::Direct => ("direct", "a start without a pause"),
        Starter::Soft => ("soft", "less current for longer, without a pause"),
        Starter::StarDelta => ("star-delta", "a third of current and torque, up to 0.5 s without current, then delta"),
    };
    let from = out.from("starter");
    out.push("starter", starter, "", from, note.to_owned());
    out.option(
        "locked_rotor_torque_pct",
        motor.locked_rotor_torque_pct,
        "%",
        "not known: a held rotor's power is an upper estimate",
    );
    out.derived("stator_resistance_ohm", derived.stator_resistance_ohm, "ohm");
    losses(out);
    out.derived("synchronous_speed_rpm", derived.synchronous_speed_rpm, "rpm");
    out.derived("rated_slip_pct", derived.rated_slip_pct, "%");
    out.derived("rated_torque_nm", derived.rated_torque_nm, "Nm");
}

fn winding(out: &mut Lines<'_>) {
    let Some(winding) = out.settings.winding else { return };
    out.section("winding");
    out.key("time_constant_s", winding.time_constant_s, "s");
    out.key("rise_k", winding.rise_k, "K");
    out.key("ambient_c", winding.ambient_c, "degrees Celsius");
    out.key("start_c", winding.start_c, "degrees Celsius");
}

/// What `fit` makes of the losses, at rated load.
fn losses(out: &mut Lines<'_>) {
    // A nameplate that no motor has is told elsewhere.
    let Ok(c) = crate::fit::circuit::fit(out.settings) else { return };
    let motor = &out.settings.motor;
    let given = |value: Option<f64>| if value.is_some() { Provenance::Given } else { Provenance::Inferred };
    let (core, friction) = (given(motor.core_loss_w), given(motor.friction_loss_w));
    let how = |from: Provenance, how: &str| if from == Provenance::Given { String::new() } else { how.to_owned() };
    out.push("core_loss_w", c.core_loss_w, "W", core, how(core, "60 % of the losses that do not change with load"));
    out.push("friction_loss_w", c.friction_loss_w, "W", friction, how(friction, "the rest of those losses"));
    let stray_w = c.stray_ohm * 3.0 * motor.rated_current_a.powi(2);
    let measured = motor.efficiency_pct.is_some() || (motor.core_loss_w.is_some() && motor.friction_loss_w.is_some());
    let standard = match motor.stray_load_loss {
        Some(crate::settings::StrayLoadLoss::Ieee) => "IEEE 112",
        _ => "IEC 60034-2-1",
    };
    let words = if measured {
        "what the other losses leave".to_owned()
    } else if c.least_constant {
        let assigned_w = crate::fit::circuit::assigned_stray_ohm(out.settings) * 3.0 * motor.rated_current_a.powi(2);
        format!(
            "what they leave: the {assigned_w:.0} W that {standard} assigns at rated load would leave them less than a fifth of the rated \
             losses, the least that is taken (common practice, no source)"
        )
    } else {
        format!("assigned by {standard}, at rated load")
    };
    out.follows("stray_load_loss_w", stray_w, "W", words);
}

fn points(curve: &Curve) -> Value {
    curve.points().iter().map(|point| json!([point.load_pct, point.value_pct])).collect()
}

fn in_words(curve: &Curve) -> String {
    let words = |point: &crate::settings::Point| format!("{} % at {} % load", point.value_pct, point.load_pct);
    curve.points().iter().map(words).collect::<Vec<_>>().join(", ")
}

fn mill(out: &mut Lines<'_>) {
    let Settings { transmission, mill, mass, .. } = out.settings;
    out.section("transmission");
    out.key("efficiency_pct", transmission.efficiency_pct, "%");
    out.key("speed_ratio", transmission.speed_ratio, "");
    out.section("mill");
    out.option("rotor_inertia_kg_m2", mill.rotor_inertia_kg_m2, "kg m2", "not known");
    out.option("idle_power_kw", mill.idle_power_kw, "kW", "learnt");
    out.key("coast_down_s", mill.coast_down_s, "s");
    out.section("mass");
    let source = mass.source.map(|source| match source {
        MassSource::Trace => "trace",
        MassSource::Pulse => "pulse",
        MassSource::Batch => "batch",
        MassSource::Nothing => "none",
    });
    let from = if source.is_some() { Provenance::Given } else { Provenance::Default };
    let note = if source.is_some() { "" } else { "trace if it has a mass column, else none" };
    out.push("source", source, "", from, note.to_owned());
    out.key("delay_s", mass.delay_s, "s");
    if let Some(pulses) = mass.pulses {
        out.key("kg_per_pulse", pulses.kg, "kg");
        let given = |out: &mut Lines<'_>, word: &str, note: &str| {
            out.push("pulses", word, "", Provenance::Given, note.to_owned());
        };
        match pulses.form {
            PulseForm::Count { bits } => {
                given(out, "count", "a running count");
                out.option("counter_bits", bits.map(f64::from), "bits", "not known: a count that falls starts anew");
            }
            PulseForm::Edge { level, least_s } => {
                given(out, "edge", "high from three quarters of the level, low from a quarter");
                out.key("pulse_level", level, "");
                out.key("pulse_least_s", least_s, "s");
            }
        }
    }
}

/// How good the instruments are, and what is assumed of those of which nothing is said.
fn accuracy(out: &mut Lines<'_>, derived: &Derived) {
    out.section("accuracy");
    let Some(accuracy) = out.settings.accuracy else {
        return out.note("not given: energies per tonne have no bands by instruments and nameplate");
    };
    let kinds =
        [("current_transformer", accuracy.current, "not known"), ("voltage_transformer", accuracy.voltage, "none")];
    for (kind, transformer, absent) in kinds {
        let Some(transformer) = transformer else {
            out.push(kind, absent, "", Provenance::Default, String::new());
            continue;
        };
        let class = out.settings.given.contains_key(&format!("accuracy.{kind}_class"));
        let from = if class { Provenance::Inferred } else { Provenance::Given };
        let note = if class { "by its class" } else { "" };
        let limit = transformer.at(1.0);
        out.push(format!("{kind}_ratio_pct"), limit.ratio_pct, "%", from, note.to_owned());
        out.push(format!("{kind}_phase_min"), limit.phase_min, "min", from, note.to_owned());
    }
    out.option("current_transformer_rated_a", accuracy.current_rated_a, "A", "its class as at rated current");
    out.key("converter_gain_pct", accuracy.converter_gain_pct, "%");
    let class = out.settings.given.contains_key("accuracy.scale_class");
    if let Some(pct) = accuracy.scale_error_pct.filter(|_| class) {
        out.follows("scale_error_pct", pct, "%", "by its class, in service");
    } else {
        out.option("scale_error_pct", accuracy.scale_error_pct, "%", "not known");
    }
    if let Some(points) = accuracy.efficiency_points {
        out.push("efficiency_tolerance_points", points, "points", Provenance::Given, String::new());
    } else {
        let points = efficiency_points(out.settings.motor.rated_power_kw, derived.rated_efficiency_pct.value);
        out.follows("efficiency_tolerance_points", points, "points", "IEC 60034-1");
    }
    out.option("idle_repeatability_kw", accuracy.idle_repeatability_kw, "kW", "its spread in the trace");
}

/// The runs, one a line.
fn runs(out: &mut Lines<'_>) {
    if out.settings.runs.is_empty() {
        return;
    }
    out.section("run");
    for (at, run) in out.settings.runs.iter().enumerate() {
        let about = &run.about;
        let said = [("material", &about.material), ("screen", &about.screen), ("batch", &about.batch)];
        let mut words: Vec<String> =
            said.into_iter().filter_map(|(name, text)| text.as_ref().map(|text| format!("{name} {text}"))).collect();
        words.extend(about.mass_kg.map(|kg| format!("{kg} kg")));
        words.extend(about.sizes.map(|s| format!("{} to {} mm", s.f80_mm, s.p80_mm)));
        words.push(run.to_s.map_or("to the end".to_owned(), |to_s| format!("to {to_s} s")));
        out.push(format!("run[{}].from_s", at + 1), run.from_s, "s", Provenance::Given, words.join(", "));
    }
}
