//! What the reader takes and refuses.

use super::*;
use crate::settings::testing::{faults, good, parsed, with};
use crate::settings::{PulseForm, Pulses};

/// The only fault of a text, as printed.
fn only(text: &str) -> String {
    let all = faults(text);
    assert_eq!(all.len(), 1, "{}", Faults(all));
    all[0].to_string()
}

#[track_caller]
fn says(text: &str, parts: &[&str]) {
    let message = only(text);
    for part in parts {
        assert!(message.contains(part), "no {part:?} in\n{message}");
    }
}

/// Defaults as documented for the settings file.
#[test]
fn what_is_left_out_has_its_default() {
    let (s, _) = parsed(&good());
    assert_eq!((s.supply.voltage_tap, s.sampling.gaps, s.sampling.bits), (VoltageTap::Line, Gaps::Error, 16));
    assert_eq!((s.sampling.full_scale_count(), s.sampling.gain.as_slice()), (32_767, &[1.0; 6][..]));
    assert_eq!((s.sampling.offset_counts.len(), s.sampling.skew_us.len(), s.sampling.phase_deg.len()), (6, 6, 3));
    assert_eq!(s.transmission, Transmission { efficiency_pct: 100.0, speed_ratio: 1.0 });
    assert_eq!(s.mill, Mill { rotor_inertia_kg_m2: None, idle_power_kw: None, coast_down_s: 300.0 });
    assert_eq!((s.mass.source, s.channels.len()), (None, 0));
    assert!(s.given.contains_key("motor.poles") && !s.given.contains_key("sampling.bits"));
    let two = parsed(&good().replace("four-wire", "two-element")).0.sampling;
    assert_eq!((two.gain.len(), two.phase_deg.len()), (4, 2));
}

/// Transformers inside the delta: the words, and what cannot be beside them.
#[test]
fn a_current_tap_wants_three_transformers_and_samples() {
    let tap = |word: &str| good().replace("[sampling]", &format!("current_tap = \"{word}\"\n\n[sampling]"));
    assert_eq!(parsed(&good()).0.supply.current_tap, CurrentTap::Line);
    for (word, tap_is) in
        [("line", CurrentTap::Line), ("delta-ab", CurrentTap::DeltaAb), ("delta-ac", CurrentTap::DeltaAc)]
    {
        assert_eq!(parsed(&tap(word)).0.supply.current_tap, tap_is);
    }
    says(&tap("delta"), &["key supply.current_tap: \"delta\"", "\"line\" or \"delta-ab\" or \"delta-ac\""]);
    let two = tap("delta-ab").replace("four-wire", "two-element");
    says(&two, &["key supply.current_tap", "two-element", "three transformers", "put the transformers into the lines"]);
    let rms = tap("delta-ac")
        .replace("rate_hz = 4000", "values = \"rms\"\nrate_hz = 1")
        .replace("voltage_full_scale_v = 800\ncurrent_full_scale_a = 1600\n", "");
    says(&rms, &["key supply.current_tap", "rms", "two windings", "put the transformers into the lines"]);
    let (inside, _) = parsed(&tap("delta-ab"));
    let words = inside.need_line_currents("calibrate").unwrap_err().to_string();
    assert!(words.contains("line 6, key supply.current_tap") && words.contains("calibrate looks at each"), "{words}");
}

#[test]
fn a_byte_order_mark_and_carriage_returns_do_no_harm() {
    let text = format!("\u{feff}{}", good().replace('\n', "\r\n"));
    assert_eq!(parsed(&text).0, parsed(&good()).0);
}

#[test]
fn values_out_of_range_name_line_key_value_and_range() {
    let text = good().replace("line_voltage_v = 400", "line_voltage_v = 40");
    says(&text, &["mill.toml, line 3, column 18, key supply.line_voltage_v: 40\n", "wanted: 50 to 15000 V"]);
    says(&good().replace("frequency_hz = 50\nline", "frequency_hz = 55\nline"), &["55", "50 or 60 Hz"]);
    says(&with("sampling", "bits = 11"), &["key sampling.bits: 11", "12 to 24 bits"]);
    says(&with("sampling", "bits = 12.5"), &["12.5", "a whole number"]);
    says(&good().replace("poles = 4", "poles = 3"), &["key motor.poles: 3", "an even number", "not pairs"]);
    says(&good().replace("poles = 4", "poles = -4"), &["-4", "2 to 48 poles"]);
    says(&with("motor", "service_factor = 0.9"), &["0.9", "1 to 2"]);
    says(&with("motor", "rated_efficiency_pct = 0"), &["above 0, at most 100 %"]);
    says(&with("mill", "coast_down_s = 36000.5"), &["key mill.coast_down_s", "0 to 36000 s"]);
}

#[test]
fn what_is_no_finite_number_is_out_of_range() {
    for odd in ["nan", "inf", "-inf", "1e999", "99999999999999999999999999999999999999999999"] {
        says(&good().replace("= 96.55", &format!("= {odd}")), &["key motor.rated_current_a", "0.1 to 8000 A"]);
    }
}

#[test]
fn wrong_types_say_what_was_wanted() {
    let text = good().replace("line_voltage_v = 400", "line_voltage_v = \"400 V\"");
    says(&text, &["\"400 V\" (a text)", "wanted: a number, 50 to 15000 V", "without quotation marks or unit"]);
    says(&with("motor", "efficiency_pct = 93"), &["a list of pairs", "rated_efficiency_pct takes a single figure"]);
    says(&with("sampling", "gain = 1.0"), &["a list of 6 numbers, for va_v, vb_v, vc_v, ia_a, ib_a, ic_a"]);
    says(&with("sampling", "gain = [1, 1]"), &["[1, 1] (a list)", "a list of 6 numbers"]);
    says(&with("sampling", "phase_deg = [1, 1, 99]"), &["99", "a list of 3 numbers, for ia_a, ib_a, ic_a"]);
    says(&good().replace("wiring = \"four-wire\"", "wiring = 4"), &["4", "\"four-wire\" or \"three-wire\""]);
}

#[test]
fn unknown_keys_suggest_the_nearest() {
    says(
        &with("mill", "idle_power_kW = 7"),
        &["line 12, column 1, key mill.idle_power_kW", "did you mean idle_power_kw?"],
    );
    says(
        &good().replace("line_voltage_v", "line_volts_v"),
        &["key supply.line_volts_v", "did you mean line_voltage_v?"],
    );
    says(&with("supply", "bits = 16"), &["key supply.bits", "bits belongs under [sampling]"]);
    says(&with("mill", "colour = \"red\""), &["key mill.colour", "rotor_inertia_kg_m2, idle_power_kw, coast_down_s"]);
    says(&format!("{}\n[trip.shear_pin]\ndelay_s = 1\n", good()), &["key trip.shear_pin: this table is not known"]);
    says(&format!("{}\n[motr]\npoles = 4\n", good()), &["did you mean motor?"]);
}

#[test]
fn missing_tables_show_the_lines_to_write() {
    for table in ["supply", "sampling", "motor"] {
        let text = good();
        let start = text.find(&format!("[{table}]")).unwrap();
        let end = text[start + 1..].find("\n[").map_or(text.len(), |at| start + 2 + at);
        let without = format!("{}{}", &text[..start], &text[end..]);
        says(&without, &[&format!("key {table}: the table [{table}] is missing"), &format!("    [{table}]\n")]);
    }
    assert_eq!(faults("").len(), 4);
}

#[test]
fn missing_keys_and_several_faults_are_told_at_once() {
    says(&good().replace("poles = 4\n", ""), &["line 12", "key motor.poles: the key is missing", "2 to 48 poles"]);
    let text = good().replace("poles = 4\n", "").replace("frequency_hz = 50\nline", "frequency_hz = 16.7\nline");
    let all = faults(&text.replace("delay_s = 0.5", "delay_s = -1"));
    assert_eq!(all.len(), 3, "{}", Faults(all));
    assert!(all[0].place.starts_with("line 2,") && all[2].place.contains("trip.jam.delay_s"));
}

#[test]
fn curves_must_rise_and_hold_pairs() {
    says(&with("motor", "efficiency_pct = [[50, 92], [50, 93]]"), &["loads rising"]);
    says(&with("motor", "efficiency_pct = []"), &["at least one"]);
    says(&with("motor", "efficiency_pct = [[50, 92, 1]]"), &["a list of pairs"]);
    says(&with("motor", "power_factor_pct = [[50, 101]]"), &["101", "above 0, at most 100 %"]);
    says(&with("motor", "power_factor_pct = [[50, nan]]"), &["nan"]);
    let many: Vec<String> = (1..40).map(|load| format!("[{load}, 90]")).collect();
    says(&with("motor", &format!("power_factor_pct = [{}]", many.join(","))), &["at most 32 pairs"]);
}

#[test]
fn channels_fit_the_wiring_and_are_named_once() {
    let named = |lines: &str| format!("{}\n[channels]\n{lines}\n", good());
    assert_eq!(parsed(&named("ia = \"ILA\"\nmass = \"M\"")).0.channels["ia"], "ILA");
    says(&named("vab = \"U12\""), &["key channels.vab", "va, vb, vc, ia, ib, ic"]);
    says(&named("ia = \"I1\"\nib = \"I1\""), &["key channels.ib", "ia has this one"]);
    assert_eq!(parsed(&named("ia_a = \"ILA\"")).0.channels["ia"], "ILA");
    says(&named("ia = \"I1\"\nia_a = \"I2\""), &["key channels.ia_a", "ia or ia_a, not both"]);
    says(&named("ia = 1"), &["a name between quotation marks"]);
    says(&named("ia = \" \""), &["a name between quotation marks"]);
}

#[test]
fn what_is_no_toml_names_line_and_column() {
    says("[supply]\nfrequency_hz = = 50\n", &["line 2, column 16"]);
    says("[supply]\nfrequency_hz = 50\nfrequency_hz = 60\n", &["line 3, column 1", "duplicate key"]);
    says("supply = 4\n[supply.x]\n", &["line 2"]);
    says(&"[".repeat(100_000), &["line 1"]);
    says(&format!("a = {}", "[".repeat(100_000)), &["line 1"]);
    says(&with("mill", "x = \""), &["line 12"]);
}

#[test]
fn a_table_may_not_be_something_else() {
    let text = format!("mill = 3\n{}", good().replace("[mill]\n", ""));
    says(&text, &["key mill: 3", "a table", "write [mill] on a line of its own"]);
    says(&good().replace("[supply]", "[[supply]]"), &["key supply", "(a list)", "a table"]);
}

proptest::proptest! {
    /// Any text at all, and any sound text with one piece cut out, is accepted or refused, never more.
    #[test]
    fn no_text_makes_it_panic(text in "(?s).{0,200}", from in 0usize..800, length in 0usize..60) {
        let _ = crate::settings::parse(&text, "any");
        let good = good();
        let cut = format!("{}{text}{}", &good[..from.min(good.len())], &good[(from + length).min(good.len())..]);
        let _ = crate::settings::parse(&cut, "cut");
    }
}

/// Keys of pulses stand together; those of the other form, or of another source, are out of place.
#[test]
fn pulses_say_what_they_stand_for_and_how_they_are_shown() {
    let mass = |lines: &str| format!("{}\n[mass]\n{lines}\n", good());
    let pulses =
        |lines: &str| parsed(&mass(&format!("source = \"pulse\"\nkg_per_pulse = 2.5\n{lines}"))).0.mass.pulses.unwrap();
    let count = pulses("pulses = \"count\"\ncounter_bits = 16");
    assert_eq!(count, Pulses { kg: 2.5, form: PulseForm::Count { bits: Some(16) } });
    let edge = pulses("pulses = \"edge\"\npulse_level = 24");
    assert_eq!(edge.form, PulseForm::Edge { level: 24.0, least_s: 0.001 });
    assert_eq!(parsed(&mass("source = \"trace\"")).0.mass.pulses, None);
    for (lines, parts) in [
        ("source = \"pulse\"\npulses = \"count\"", ["key mass.kg_per_pulse: the key is missing", "above 0"]),
        ("source = \"pulse\"\nkg_per_pulse = 1", ["key mass.pulses: the key is missing", "\"count\" or \"edge\""]),
        ("kg_per_pulse = 1", ["key mass.kg_per_pulse", "unless source = \"pulse\""]),
        ("source = \"pulse\"\nkg_per_pulse = 0\npulses = \"edge\"", ["kg_per_pulse: 0", "above 0, at most 1000000 kg"]),
        ("source = \"pulse\"\nkg_per_pulse = 1\npulses = \"edge\"\ncounter_bits = 16", ["counter_bits", "\"edge\""]),
        ("source = \"pulse\"\nkg_per_pulse = 1\npulses = \"count\"\npulse_level = 5", ["pulse_level", "\"count\""]),
    ] {
        says(&mass(lines), &parts);
    }
    let log = mass("source = \"pulse\"\nkg_per_pulse = 1\npulses = \"edge\"").replace(
        "rate_hz = 4000\nvoltage_full_scale_v = 800\ncurrent_full_scale_a = 1600",
        "values = \"rms\"\nrate_hz = 1",
    );
    says(&log, &["key mass.pulses", "a pulse is shorter than a row"]);
}

/// Of each kind of table; a table is no key, and what a file gives is known.
#[test]
fn the_keys_that_a_file_may_have_are_known() {
    let keys = keys();
    for key in [
        "trip.jam.pickup_pct",
        "trip.wedge.window_s",
        "trip.thermal.hot_stall_s",
        "motor.rated_speed_rpm",
        "winding.rise_k",
    ] {
        assert!(keys.contains(key), "{key}");
    }
    assert!(!keys.contains("trip.jam") && !keys.contains("trip"));
    for key in parsed(&good()).0.given.keys().filter(|key| key.starts_with("trip.") || key.starts_with("motor.")) {
        assert!(keys.contains(key) || keys.iter().any(|known| known.starts_with(&format!("{key}."))), "{key}");
    }
}
