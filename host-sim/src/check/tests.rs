use super::*;
use crate::settings::testing::{MOTOR_RATED, good, parsed, with};

fn made(text: &str) -> Vec<Line> {
    let (settings, warnings) = parsed(text);
    lines(&settings, &warnings)
}

#[test]
fn the_table_keeps_to_its_width() {
    let lines = made(&with("sampling", "gain = [1.01, 1.02, 1.03, 1.04, 1.05, -1.06]").replace("1600", "160"));
    let text = text("mill.toml", &lines);
    for row in text.lines() {
        assert!(row.chars().count() <= WIDTH, "{row}");
    }
    assert!(text.contains("with 2 warnings\n  * line 10, key sampling.current_full_scale_a"), "{text}");
}

/// Figures by hand: 1.05 x 96.55 A; 600 s x ln(2.25 / (2.25 - 1.1025)), and with 36 in place of 2.25
/// (IEC 60255-149, from memory); 200 % of 96.55 A; 80 % of 400 V / sqrt(3).
#[test]
fn pickups_and_times_are_told() {
    let json = json("mill.toml", &made(&good()));
    let value = |section: &str, name: &str| json["sections"][section][name]["value"].as_f64().unwrap();
    for (section, name, expected) in [
        ("trip.thermal", "pickup_a", 101.3775),
        ("trip.thermal", "cold_trip_at_150_pct_s", 404.003),
        ("trip.thermal", "cold_trip_at_600_pct_s", 18.6619),
        ("trip.jam", "pickup_a", 193.1),
        ("trip.undervoltage", "pickup_v", 184.752),
        ("sampling", "volt_per_count", 800.0 / 32_767.0),
        ("motor", "rated_efficiency_pct", 93.755),
    ] {
        assert!((value(section, name) / expected - 1.0).abs() < 1e-4, "{name}: {}", value(section, name));
    }
    assert_eq!(json["sections"]["motor"]["rated_efficiency_pct"]["from"], "inferred");
    assert_eq!(json["sections"]["motor"]["poles"]["from"], "given");
    assert_eq!(json["sections"]["sampling"]["bits"]["from"], "default");
    assert_eq!(json["warnings"], json!([]));
}

/// Over the square root of three, by hand: 96.55 A, 1.05 x 96.55 A and 200 % of it in a winding's lead; 1600 A peak there is 1131.4 A rms,
/// in a line 1959.6 A.
#[test]
fn pickups_are_told_in_the_winding_s_lead_as_well() {
    let residual = "[trip.residual_current]\npickup_pct = 30\ndelay_s = 0.2\n";
    let inside = good().replace("[sampling]", "current_tap = \"delta-ab\"\n\n[sampling]") + residual;
    let json = json("mill.toml", &made(&inside));
    for (section, name, expected) in [
        ("motor", "rated_winding_a", 55.743),
        ("motor", "locked_rotor_winding_a", 334.459),
        ("trip.thermal", "pickup_a", 101.3775),
        ("trip.thermal", "pickup_winding_a", 58.530),
        ("trip.jam", "pickup_winding_a", 111.486),
        ("sampling", "largest_winding_a", 1131.371),
        ("sampling", "largest_current_a", 1959.592),
    ] {
        let figure = &json["sections"][section][name];
        let value = figure["value"].as_f64().unwrap_or_else(|| panic!("{section} {name}"));
        assert!((value / expected - 1.0).abs() < 1e-4, "{name}: {value}");
    }
    assert_eq!(json["sections"]["motor"]["rated_winding_a"]["from"], "inferred");
    assert_eq!(json["sections"]["supply"]["current_tap"]["from"], "given");
    let told = text("mill.toml", &made(&inside));
    assert!(told.contains("OFF: what the windings have in common is in no line"), "{told}");
    assert!(!text("mill.toml", &made(&good())).contains("winding_a"), "line currents are measured");
}

#[test]
fn the_error_to_expect_is_a_table_and_a_document() {
    let (settings, _) = parsed(&good());
    let line = Line::Expected(expected::expected(&settings).unwrap(), model::model(&settings));
    let told = text("x", std::slice::from_ref(&line));
    assert!(told.lines().all(|row| row.chars().count() <= WIDTH), "{told}");
    for part in ["[expected error]", "rated_efficiency_pct", "±20 % of it", "model: all figures right", "4.5 rpm"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let json = json("x", &[line]);
    let error = &json["expected_error"];
    assert_eq!(error["model"]["told"], "nameplate");
    assert_eq!(error["field"]["figures"].as_array().map(Vec::len), Some(6));
    assert!(error["field"]["field_full_load_pct"].as_f64().unwrap() > 1.0, "{error}");
}

/// By hand, losses at 93.755 %: 3663 W, of which copper 37 % and slip some 870 W leave 1440 W; the 956 W that are assigned (1.63 % of
/// 58.7 kW; IEC 60034-2-1, from memory) would leave 480 W, less than a fifth, 733 W. At 90 %: 6111 W, 2940 W are left, 996 W
/// assigned, and 1940 W are more than 1222 W.
#[test]
fn a_stray_load_loss_that_is_too_large_is_told() {
    let losses = |text: &str| {
        let json = json("mill.toml", &made(text));
        let of = |name: &str| json["sections"]["motor"][name]["value"].as_f64().unwrap();
        let note = json["sections"]["motor"]["stray_load_loss_w"]["note"].as_str().unwrap().to_owned();
        (of("core_loss_w") + of("friction_loss_w"), of("stray_load_loss_w"), note)
    };
    let (constant_w, stray_w, note) = losses(&good());
    assert!((constant_w - 732.7).abs() < 0.5 && stray_w < 800.0, "{constant_w} {stray_w}");
    assert!(note.contains("the 956 W that IEC 60034-2-1 assigns"), "{note}");
    let (constant_w, stray_w, note) = losses(&good().replace(MOTOR_RATED, "rated_efficiency_pct = 90"));
    assert!(constant_w > 1_300.0 && (stray_w - 996.0).abs() < 60.0, "{constant_w} {stray_w}");
    assert_eq!(note, "assigned by IEC 60034-2-1, at rated load");
}

#[test]
fn an_element_that_is_not_wanted_says_so() {
    let lines = made(&with("trip.jam", "enabled = false"));
    assert!(text("x", &lines).contains("[trip.jam]\n  not wanted (enabled = false)\n"));
}

/// Limits of class 1 at rated current (IEC 61869-2, from memory); a tolerance of 15 % of 6.2459 (IEC 60034-1, from
/// memory).
#[test]
fn what_is_assumed_of_instruments_is_told() {
    let none = json("mill.toml", &made(&good()));
    assert!(none["sections"]["accuracy"]["note"].as_str().unwrap().contains("not given"));
    let text = format!(
        "{}\n[accuracy]\ncurrent_transformer_class = \"1\"\nscale_class = \"0.5\"\n[[run]]\nto_s = 9\nscreen = \"25\"\n",
        good()
    );
    let json = json("mill.toml", &made(&text));
    let figures = &json["sections"]["accuracy"];
    for (name, value, from) in [
        ("current_transformer_ratio_pct", 1.0, "inferred"),
        ("current_transformer_phase_min", 60.0, "inferred"),
        ("converter_gain_pct", 0.2, "default"),
        ("scale_error_pct", 0.5, "inferred"),
        ("efficiency_tolerance_points", 0.93689, "inferred"),
    ] {
        assert!((figures[name]["value"].as_f64().unwrap() - value).abs() < 1e-4, "{name}: {figures}");
        assert_eq!(figures[name]["from"], from, "{name}");
    }
    assert_eq!(figures["voltage_transformer"]["value"], "none");
    assert_eq!(json["sections"]["run"]["run[1].from_s"]["note"], "screen 25, to 9 s");
}

#[test]
fn short_keeps_six_digits() {
    for (x, text) in
        [(0.0, "0"), (50.0, "50"), (0.024_414_8, "0.0244148"), (1_234_567.0, "1234567"), (1e-9, "0.000000001")]
    {
        assert_eq!(short(x), text);
    }
}
