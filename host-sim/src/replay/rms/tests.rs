//! Logs of rms values whose figures are known on paper, and logs that are at fault.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::Value;

use super::super::run;
use super::super::tests::{arguments, folder, json};

/// Currents and voltages, line to neutral, of a mill that takes 8.64 kW at 15.2 A: rated for the settings' 7.5 kW motor.
const RATED: &str = "230.94,230.94,230.94,15.2,15.2,15.2,8635.3";
const REST: &str = "230.94,230.94,230.94,0,0,0,0";
const COLUMNS: &str = "va_v,vb_v,vc_v,ia_a,ib_a,ic_a,active_w";

/// A log at so many rows a second, of rows that hold so many seconds each.
fn log(rate_hz: f64, columns: &str, parts: &[(f64, &str)]) -> String {
    let mut text = format!("t_s,{columns}\n");
    let mut n = 0;
    for (length_s, row) in parts {
        for _ in 0..(length_s * rate_hz).round() as u32 {
            let _ = writeln!(text, "{:.3},{row}", f64::from(n) / rate_hz);
            n += 1;
        }
    }
    text
}

/// The folder of a log with settings for it.
fn prepared(rate_hz: f64, text: &str, change: impl Fn(String) -> String) -> tempfile::TempDir {
    let folder = folder(text);
    let path = folder.path().join("mill.toml");
    let settings = std::fs::read_to_string(&path).unwrap();
    let settings: Vec<String> = settings
        .lines()
        .filter(|line| !line.starts_with("bits") && !line.contains("full_scale"))
        .map(|line| if line.starts_with("rate_hz") { format!("rate_hz = {rate_hz}") } else { line.to_owned() })
        .map(|line| if line == "[sampling]" { "[sampling]\nvalues = \"rms\"".to_owned() } else { line })
        .collect();
    std::fs::write(path, change(settings.join("\n"))).unwrap();
    folder
}

fn replayed(rate_hz: f64, text: &str, change: impl Fn(String) -> String) -> Value {
    let folder = prepared(rate_hz, text, change);
    let args = crate::cli::Replay { out: Some(folder.path().join("out")), ..arguments(folder.path()) };
    run(&args).unwrap_or_else(|fault| panic!("{fault:#}"));
    let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
    let document = json(folder.path());
    assert_eq!(page.contains("estimated"), document["estimated"].as_array().is_some_and(|names| !names.is_empty()));
    document
}

fn fault(rate_hz: f64, text: &str) -> String {
    let folder = prepared(rate_hz, text, |settings| settings);
    run(&arguments(folder.path())).unwrap_err().to_string()
}

fn near(json: &Value, want: f64, within: f64) {
    let got = json.as_f64().unwrap_or_else(|| panic!("{json} is no number"));
    assert!((got - want).abs() <= within, "{got}, {want} wanted");
}

/// IEC 60255-149, 4.4.2 (from memory): from cold at a constant current the level is (I / k Ib)² (1 - exp(-t / tau)); then it
/// falls with exp(-t / tau cooling). 15.2 A held for 300 s, then 300 s at rest, at every rate.
#[test]
fn the_thermal_image_by_its_solution() {
    for rate_hz in [0.1, 1.0, 3.0, 10.0, 20.0] {
        let text = log(rate_hz, COLUMNS, &[(300.0, RATED), (300.0, REST)]);
        let base = "base_current_a = 15.2\nk = 1.05\ncooling_time_constant_s = 2400\n";
        let document = replayed(rate_hz, &text, |settings| {
            let settings = settings
                .lines()
                .filter(|line| !["base_current_a", "k =", "cooling_time"].iter().any(|key| line.starts_with(key)));
            settings.collect::<Vec<_>>().join("\n").replace("[trip.thermal]\n", &format!("[trip.thermal]\n{base}"))
        });
        let warm = 100.0 / (1.05 * 1.05) * (1.0 - (-300.0_f64 / 600.0).exp());
        near(&document["totals"]["max_thermal_pct"], warm, 0.01);
        let cold = warm * (-300.0_f64 / 2_400.0).exp();
        near(&document["intervals"].as_array().unwrap().last().unwrap()["thermal_pct"], cold, 0.01);
        // A row of every interval, or as many as make 0.2 s.
        let length = if rate_hz > 5.0 { 0.2 } else { 1.0 / rate_hz };
        let wanted = 600.0 / length;
        near(&Value::from(document["intervals"].as_array().unwrap().len()), wanted, 1.0);
        near(&document["totals"]["electrical_kwh"], 8.635_3 * 300.0 / 3_600.0, 1e-6);
        near(&document["trace"]["rate_hz"], rate_hz, 1e-9);
        near(&document["trace"]["duration_s"], 600.0, 1e-6);
    }
}

/// S = 3 V I and Q = root(S² - P²) on paper; what rms values cannot tell is null and says why.
#[test]
fn figures_of_a_row() {
    let document = replayed(1.0, &log(1.0, COLUMNS, &[(5.0, RATED)]), |settings| settings);
    let row = &document["intervals"][2];
    near(&row["t_s"], 3.0, 1e-9);
    near(&row["active_w"], 8_635.3, 0.01);
    near(&row["apparent_va"], 10_530.9, 1.0);
    near(&row["reactive_var"], 6_027.5, 1.0);
    near(&row["power_factor"], 0.82, 1e-4);
    near(&row["current_unbalance_pct"], 0.0, 0.01);
    near(&row["shaft_w"], 7_500.0, 75.0);
    near(&row["speed_rpm"], 1_450.0, 3.0);
    assert_eq!(row["state"], "breaking");
    for (key, reason) in [
        ("thd_v_pct", "rms values tell nothing of harmonics"),
        ("thd_i_pct", "rms values tell nothing of harmonics"),
        ("frequency_hz", "the log has no column frequency_hz"),
        ("voltage_unbalance_pct", "three rms voltages to neutral do not tell their angles"),
    ] {
        assert!(row[key].is_null() || row[key][0].is_null(), "{key}");
        assert_eq!(row["why"][key], reason);
    }
    assert_eq!(document["estimated"], serde_json::json!([]));
}

/// NEMA MG 1-like voltages; a frequency column is told, and torque goes with it.
#[test]
fn columns_that_tell_more() {
    let row = "460,467,450,15.2,15.2,15.2,8.6353,5,50.5";
    let columns = "vab_v,vbc_v,vca_v,ia_a,ib_a,ic_a,active_kw,reactive_kvar,frequency_hz";
    let document =
        replayed(1.0, &log(1.0, columns, &[(3.0, row)]), |settings| settings.replace("four-wire", "three-wire"));
    let row = &document["intervals"][1];
    near(&row["voltage_unbalance_pct"], 2.14, 0.05);
    near(&row["reactive_var"], 5_000.0, 0.1);
    near(&row["frequency_hz"], 50.5, 1e-5);
    let turned = row["shaft_w"].as_f64().unwrap() / (row["speed_rpm"].as_f64().unwrap() / 60.0 * std::f64::consts::TAU);
    near(&row["torque_nm"], turned, turned * 1e-3);
}

/// A line open at the motor: 1 : 1 : 0 (textbook). Trip after the delay of 1 s, within a row.
#[test]
fn a_lost_line_trips() {
    let lost = "230.94,230.94,230.94,26,26,0,8000";
    let document = replayed(1.0, &log(1.0, COLUMNS, &[(5.0, RATED), (5.0, lost)]), |settings| settings);
    let trip = document["events"].as_array().unwrap().iter().find(|event| event["event"] == "trip").unwrap();
    assert_eq!(trip["cause"], "phase-loss");
    near(&trip["t_s"], 6.0, 0.011);
    near(&trip["unbalance_pct"], 100.0, 0.01);
}

/// Rated current is rated power, on the nameplate; a voltage that is measured counts, one that is not is nominal.
#[test]
fn power_from_the_current() {
    let columns = COLUMNS.trim_end_matches(",active_w");
    let row = RATED.rsplit_once(',').unwrap().0;
    let measured = replayed(1.0, &log(1.0, columns, &[(3.0, row)]), |settings| settings);
    let alone = replayed(1.0, &log(1.0, "ia_a,ib_a,ic_a", &[(3.0, "15.2,15.2,15.2")]), |settings| {
        settings.replace("four-wire", "currents-only")
    });
    for document in [&measured, &alone] {
        let row = &document["intervals"][1];
        near(&row["active_w"], 8_635.3, 100.0);
        near(&row["shaft_w"], 7_500.0, 150.0);
        near(&row["power_factor"], 0.82, 0.01);
        near(&document["totals"]["electrical_kwh"], 8.635 * 3.0 / 3_600.0, 1e-4);
        let names = document["estimated"].as_array().unwrap();
        for name in ["active_w", "shaft_w", "electrical_kwh", "net_kwh", "torque_nm", "speed_rpm"] {
            assert!(names.contains(&Value::from(name)), "{name}");
        }
        assert!(document["warnings"][0].as_str().unwrap().contains("estimated from the current"));
    }
    assert!(measured["intervals"][1]["voltage_v"][0].is_number());
    let row = &alone["intervals"][1];
    assert!(row["voltage_v"][0].is_null() && row["why"]["voltage_v"] == "voltage is not measured");
    assert!(alone["warnings"][1].as_str().unwrap().contains("undervoltage trip is blocked"));
    assert_eq!(alone["totals"]["trips"], 0);
}

/// Three currents and the power: power is what was logged, and shaft power is the nameplate's at nominal voltage; reactive
/// power alone is estimated, as root(S² - P²).
#[test]
fn power_that_is_measured_beside_currents_alone() {
    let text = log(1.0, "ia_a,ib_a,ic_a,active_w", &[(3.0, "15.2,15.2,15.2,8635.3")]);
    let document = replayed(1.0, &text, |settings| settings.replace("four-wire", "currents-only"));
    let row = &document["intervals"][1];
    near(&row["active_w"], 8_635.3, 0.01);
    near(&row["shaft_w"], 7_500.0, 75.0);
    near(&row["reactive_var"], 6_027.5, 1.0);
    near(&row["apparent_va"], 10_530.9, 1.0);
    near(&document["totals"]["electrical_kwh"], 8.635_3 * 3.0 / 3_600.0, 1e-6);
    assert!(row["voltage_v"][0].is_null() && row["why"]["voltage_v"] == "voltage is not measured");
    assert_eq!(
        document["estimated"],
        serde_json::json!(["reactive_var", "reactive_kvarh", "apparent_va", "power_factor"])
    );
    let words = document["warnings"][0].as_str().unwrap();
    assert!(words.contains("voltage is not measured") && words.contains("at 400 V"), "{words}");
    // Idling at the same current: no curve stands before the figure that was logged.
    let text = log(1.0, "ia_a,ib_a,ic_a,active_w", &[(3.0, "15.2,15.2,15.2,3000")]);
    let document = replayed(1.0, &text, |settings| settings.replace("four-wire", "currents-only"));
    near(&document["intervals"][1]["active_w"], 3_000.0, 0.01);
}

/// Power of a motor goes with the square of the voltage at equal slip, its current with the voltage: 0.9 times both.
#[test]
fn a_measured_voltage_scales_the_curve() {
    let columns = COLUMNS.trim_end_matches(",active_w");
    let power = |row: &str| {
        replayed(1.0, &log(1.0, columns, &[(2.0, row)]), |s| s)["intervals"][1]["active_w"].as_f64().unwrap()
    };
    let (full, low) = (power("230.94,230.94,230.94,12,12,12"), power("207.846,207.846,207.846,10.8,10.8,10.8"));
    assert!((low / full - 0.81).abs() < 1e-4, "{full} {low}");
}

#[test]
fn a_gap_is_unknown_and_runs_are_cut_within_rows() {
    let mut text = log(1.0, COLUMNS, &[(10.0, RATED)]);
    for line in log(1.0, COLUMNS, &[(25.0, RATED)]).lines().skip(16) {
        let _ = writeln!(text, "{line}");
    }
    let document = replayed(1.0, &text, |settings| {
        settings.replace("[sampling]", "[sampling]\ngaps = \"split\"") + "\n[[run]]\nfrom_s = 2.5\nto_s = 8.25\n"
    });
    near(&document["totals"]["unknown_s"], 5.0, 1e-6);
    near(&document["trace"]["duration_s"], 25.0, 1e-6);
    near(&document["runs"][0]["time_s"], 5.75, 0.011);
    near(&document["runs"][0]["electrical_kwh"], 8.635_3 * 5.75 / 3_600.0, 3e-5);
}

#[test]
fn what_no_rms_value_can_be_names_its_row() {
    for (row, found, wanted) in [
        ("230,-230,230,15,15,15,8000", "a voltage of -230 V", "rms values of 0 to 32000 V"),
        ("230,230,230,15,-15,15,8000", "a current of -15 A", "rms values of 0 to 16000 A"),
        ("230,230,230,15,20000,15,8000", "a current of 20000 A", "rms values of 0 to 16000 A"),
        ("230,230,230,15,15,15,1e14", "a power of 1", "a power in W or var"),
    ] {
        let words = fault(1.0, &log(1.0, COLUMNS, &[(3.0, RATED), (1.0, row)]));
        assert!(words.contains("row 4, 3.000 s") && words.contains(found) && words.contains(wanted), "{words}");
    }
    let words =
        fault(1.0, &log(1.0, &COLUMNS.replace("active_w", "frequency_hz"), &[(1.0, &RATED.replace("8635.3", "73"))]));
    assert!(words.contains("a frequency of 73 Hz") && words.contains("40 to 72 Hz"), "{words}");
    // What the reader of any CSV trace finds.
    let words = fault(1.0, &log(1.0, COLUMNS, &[(2.0, RATED), (1.0, "230,230,,15,15,15,8000")]));
    assert!(words.contains("line 4") && words.contains("vc_v is an empty cell"), "{words}");
    let words = fault(1.0, &log(1.0, "va_v,vb_v,ia_a,ib_a,ic_a", &[(2.0, "230,230,15,15,15")]));
    assert!(words.contains("no channel was found for vc"), "{words}");
}

/// Active power is at most the sum of V·I (Cauchy and Schwarz): 230.94 V x 15.2 A x 3 are 10 530.9 VA, 2 % more pass, and 105 VA, one per
/// cent of the rated 7.5 kW motor's 10 531 VA. At rest a meter may show noise. Without voltages there is nothing to hold it against.
#[test]
fn more_power_than_there_can_be_is_refused() {
    let row = |watts: &str| RATED.replace("8635.3", watts);
    for watts in ["10700", "-10700", "10830"] {
        replayed(1.0, &log(1.0, COLUMNS, &[(2.0, &row(watts))]), |settings| settings);
    }
    replayed(1.0, &log(1.0, COLUMNS, &[(2.0, "230.94,230.94,230.94,0,0,0,50")]), |settings| settings);
    for watts in ["10860", "-10860", "8635300"] {
        let words = fault(1.0, &log(1.0, COLUMNS, &[(3.0, RATED), (1.0, &row(watts))]));
        let found = format!("{watts} W of active power, 10531 VA by voltages and currents");
        for part in
            ["row 4, 3.000 s", &found, "no more active power than apparent, within 2 %", "to mend it: check the units"]
        {
            assert!(words.contains(part), "{part}: {words}");
        }
    }
    // Line to line: 400 V are 230.94 V to the star point.
    let columns = COLUMNS.replace("va_v,vb_v,vc_v", "vab_v,vbc_v,vca_v");
    let text = log(1.0, &columns, &[(2.0, "400,400,400,15.2,15.2,15.2,10700")]);
    replayed(1.0, &text, |settings| settings.replace("four-wire", "three-wire"));
    let text = log(1.0, "ia_a,ib_a,ic_a,active_w", &[(2.0, "15.2,15.2,15.2,10900")]);
    replayed(1.0, &text, |settings| settings.replace("four-wire", "currents-only"));
}

/// Power in kW under a heading in W: said when most rows of a motor that turns are so, rows at rest not counted.
#[test]
fn power_in_the_wrong_unit_is_told() {
    let told = |parts: &[(f64, &str)]| {
        let document = replayed(1.0, &log(1.0, COLUMNS, parts), |settings| settings);
        let words = document["warnings"].as_array().unwrap().iter().filter_map(Value::as_str);
        words.filter(|words| words.contains("active_kw")).map(str::to_owned).collect::<Vec<_>>()
    };
    let small = RATED.replace("8635.3", "8.6353");
    let words = told(&[(9.0, REST), (3.0, &small), (2.0, RATED)]);
    assert!(words.len() == 1 && words[0].contains("at 3 of 5 rows with current"), "{words:?}");
    assert!(told(&[(9.0, REST), (2.0, &small), (2.0, RATED)]).is_empty());
    // Idle, at a power factor of 0.06.
    assert!(told(&[(5.0, "230.94,230.94,230.94,6,6,6,250")]).is_empty());
}

/// Rates beyond either end, in the settings and in the log.
#[test]
fn rates_out_of_range() {
    for rate_hz in [0.09, 21.0, 4_000.0] {
        let words = fault(rate_hz, &log(1.0, COLUMNS, &[(3.0, RATED)]));
        assert!(words.contains("rate_hz") && words.contains("0.1 to 20 Hz"), "{words}");
    }
    let words = fault(2.0, &log(1.0, COLUMNS, &[(70.0, RATED)]));
    assert!(words.contains("2 Hz within 0.1 %"), "{words}");
}

/// A new user's log of a row a second under settings for samples: every message on the way says what to write.
#[test]
fn a_log_under_settings_for_samples_is_told_of_rms() {
    let folder = prepared(1.0, &log(1.0, COLUMNS, &[(70.0, RATED)]), |settings| settings);
    let path = folder.path().join("mill.toml");
    let rms = std::fs::read_to_string(&path).unwrap();
    let samples = rms.replace("values = \"rms\"", "voltage_full_scale_v = 800\ncurrent_full_scale_a = 250");
    for (rate, at) in [
        ("rate_hz = 1", "key sampling.rate_hz"),
        ("", "no sampling rate is known"),
        ("rate_hz = 4000", "give 1.000 Hz"),
    ] {
        std::fs::write(&path, samples.replace("rate_hz = 1", rate)).unwrap();
        let words = run(&arguments(folder.path())).unwrap_err().to_string();
        let (_, mend) = words.split_once("to mend it: ").unwrap_or_else(|| panic!("{words}"));
        assert!(words.contains(at) && mend.contains("values = \"rms\""), "{words}");
    }
    // No rate of either: nothing to guess.
    std::fs::write(&path, samples.replace("rate_hz = 1", "rate_hz = 500")).unwrap();
    let words = run(&arguments(folder.path())).unwrap_err().to_string();
    assert!(words.contains("2000 to 16000 Hz") && !words.contains("rms"), "{words}");
    std::fs::write(&path, rms.replace("rate_hz = 1", "rate_hz = 4000")).unwrap();
    let words = run(&arguments(folder.path())).unwrap_err().to_string();
    assert!(words.contains("take values = \"rms\" out"), "{words}");
}

/// What wants samples says so, and what the settings tell of a converter is out of place.
#[test]
fn what_needs_samples_is_refused_in_words() {
    let folder = prepared(1.0, &log(1.0, COLUMNS, &[(3.0, RATED)]), |settings| settings);
    let refused = |args: &crate::cli::Replay| run(args).unwrap_err().to_string();
    let words = refused(&crate::cli::Replay { digest: true, ..arguments(folder.path()) });
    assert!(words.contains("key sampling.values") && words.contains("samples of the waves"), "{words}");
    let settings = std::fs::read_to_string(folder.path().join("mill.toml")).unwrap();
    let (parsed, _) = crate::settings::parse(&settings, "a.toml").unwrap();
    assert!(parsed.need_all_waves("check-wiring").unwrap_err().to_string().contains("which check-wiring needs"));
    let alone = settings
        .replace("four-wire", "currents-only")
        .replace("values = \"rms\"\nrate_hz = 1", "rate_hz = 4000\ncurrent_full_scale_a = 250");
    let (parsed, _) = crate::settings::parse(&alone, "a.toml").unwrap();
    assert!(parsed.need_samples("--digest").is_ok());
    assert!(parsed.need_all_waves("calibrate").unwrap_err().to_string().contains("voltages as well"));
    let told = |text: &str| crate::settings::parse(text, "a.toml").unwrap_err().to_string();
    let words = told(&settings.replace("[sampling]", "[sampling]\nbits = 16\ngain = [1, 1, 1, 1, 1, 1]"));
    assert!(
        words.contains("sampling.bits") && words.contains("sampling.gain") && words.contains("no such key"),
        "{words}"
    );
    let words = told(&settings.replace("four-wire", "two-element"));
    assert!(words.contains("supply.wiring") && words.contains("a third does not follow"), "{words}");
    assert!(words.contains("to mend it: log all three"), "{words}");
    assert!(!Path::new("out.json").exists());
}
