//! Steps of the feed, on the command line: from a log whose truth is known by arithmetic, and from the plant model.

use super::*;
use std::fmt::Write as _;

const LOG_SETTINGS: &str = r#"[supply]
frequency_hz = 50
line_voltage_v = 400
wiring = "four-wire"
[sampling]
values = "rms"
rate_hz = 1.0
[motor]
rated_power_kw = 75
rated_voltage_v = 400
rated_current_a = 135
rated_frequency_hz = 50
rated_speed_rpm = 1480
poles = 4
rated_power_factor_pct = 86
rated_efficiency_pct = 94.5
[mill]
[trip.thermal]
heating_time_constant_s = 600
[trip.jam]
pickup_pct = 300
delay_s = 1
[trip.long_start]
delay_s = 20
[trip.phase_loss]
delay_s = 2
[trip.undervoltage]
pickup_pct = 70
delay_s = 3
"#;

/// Rates of the steps, t/h, and the speeds that brought them, %.
const RATES: [(f64, f64); 5] = [(0.0, 0.0), (1.0, 20.0), (2.0, 40.0), (3.0, 60.0), (5.0, 100.0)];
/// How long each is held, s.
const HELD_S: u32 = 120;

/// A log of 14 kW empty and 12 kWh/t, each step of 120 s; the power follows with a lag of 4 s and a delay of 3 s. `choked` adds to
/// the last step what a chamber that fills costs, kW.
fn log(choked: f64) -> String {
    let mut text = "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,active_w,mass_kg,note\n".to_owned();
    let (mut kw, mut kg) = (14.0, 0.0);
    let rate = |t_s: i64| RATES[usize::try_from(t_s.max(0)).unwrap().min(599) / HELD_S as usize].0;
    for t_s in 0..600_i64 {
        let wanted = 14.0 + 12.0 * rate(t_s - 3) + if t_s >= 480 { choked } else { 0.0 };
        // What a row shows is the mean over its second.
        let left = (-0.25_f64).exp();
        let mean_kw = wanted + (kw - wanted) * 4.0 * (1.0 - left);
        kw = wanted + (kw - wanted) * left;
        // Magnetising current beside that of the power.
        let amps = (mean_kw * 1e3 / (3.0 * 230.94)).hypot(45.0);
        let note = if t_s % i64::from(HELD_S) == 0 {
            format!("run: feeder_pct={}", RATES[t_s as usize / HELD_S as usize].1)
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "{t_s},230.94,230.94,230.94,{amps:.4},{amps:.4},{amps:.4},{:.2},{kg:.4},{note}",
            mean_kw * 1e3
        );
        kg += rate(t_s) / 3.6;
    }
    text
}

fn tested(folder: &Path, text: &str, more: &[&str]) -> (serde_json::Value, String) {
    let file = |name: &str| folder.join(name);
    std::fs::write(file("steps.csv"), text).unwrap();
    std::fs::write(file("mill.toml"), LOG_SETTINGS).unwrap();
    let mut command = shaftwork(&["step-test"]);
    command
        .arg(file("steps.csv"))
        .arg("--settings")
        .arg(file("mill.toml"))
        .arg("--json")
        .arg(file("found.json"))
        .args(more);
    let (status, out, err) = run(command);
    assert_eq!(status, Some(0), "{err}");
    (serde_json::from_slice(&std::fs::read(file("found.json")).unwrap()).unwrap(), out)
}

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

/// 14 kW empty and 12 kWh/t make 26, 16.7 and 14.8 kWh/t at 1, 3 and 5 t/h (arithmetic, e + P0 / q); lag and delay are those that the
/// log was made with.
#[test]
fn a_log_tells_its_curve_and_its_answer() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("tuned.toml");
    let svg = folder.path().join("curve.svg");
    let (found, words) =
        tested(folder.path(), &log(0.0), &["--out", out.to_str().unwrap(), "--svg", svg.to_str().unwrap()]);
    let curve = &found["curve"];
    assert!((number(&curve["breaking_kwh_per_t"]) - 12.0).abs() < 0.05, "{curve}");
    assert!((number(&curve["idle_kw"]) - 14.0).abs() < 0.05, "{curve}");
    for (step, kwh_t) in [(1, 26.0), (3, 16.667), (4, 14.8)] {
        assert!(
            (number(&found["steps"][step]["gross_kwh_per_t"]) / kwh_t - 1.0).abs() < 0.005,
            "{}",
            found["steps"][step]
        );
    }
    assert!(number(&curve["to_t_h"]) < 5.01 && found["choke"].is_null(), "nothing beyond what was fed");
    assert_eq!((&found["set_point"]["step"], &found["set_point"]["held_by"]), (&5.into(), &"fed".into()));
    let best = &found["answer"]["best"];
    assert!((number(&best["lag_s"]) - 4.0).abs() < 0.3 && (number(&best["delay_s"]) - 3.0).abs() < 0.3, "{best}");
    // What is written is no worse: the log has no scatter.
    let feeder = &found["feeder"];
    assert!((number(&feeder["lag_s"]) - 4.0).abs() < 0.5 && (number(&feeder["delay_s"]) - 3.0).abs() < 0.5, "{feeder}");
    // Full speed takes 60 kW more from the mains: 0.945 of it at the shaft is 0.756 of 75 kW.
    assert!((number(&found["feeder"]["gain"]) - 0.756).abs() < 0.02, "{}", found["feeder"]);
    // The lines are those of the new file, and it is sound; all else is as it was.
    let tuned = std::fs::read_to_string(&out).unwrap();
    assert!(tuned.starts_with(LOG_SETTINGS) && words.contains("[feeder]\ngain = "), "{words}");
    let lines = words.lines().skip_while(|line| *line != "[feeder]").collect::<Vec<_>>();
    assert!(lines.len() > 3 && lines.iter().all(|line| tuned.contains(line)), "{tuned}");
    // With what it found in the settings it finds the same again: a recorded trace has no governor.
    let mut again = shaftwork(&["step-test", "--json", "-"]);
    again.arg(folder.path().join("steps.csv")).arg("--settings").arg(&out);
    let (_, again, _) = run(again);
    assert_eq!(&serde_json::from_str::<serde_json::Value>(&again).unwrap()["feeder"], feeder);
    let mut check = shaftwork(&["check-settings"]);
    check.arg(&out);
    assert_eq!(run(check).0, Some(0));
    let svg = std::fs::read_to_string(svg).unwrap();
    assert!(
        svg.starts_with("<svg") && svg.matches("<circle").count() == 9,
        "four rates, gross and net, and the set point"
    );
}

/// The last step costs 10 % more than the line through the others tells.
#[test]
fn a_choke_is_told_and_left_out_of_the_line() {
    let folder = tempfile::tempdir().unwrap();
    let (found, words) = tested(folder.path(), &log(7.4), &[]);
    assert_eq!((&found["choke"]["step"], &found["choke"]["sign"]), (&5.into(), &"dearer".into()), "{words}");
    assert!((number(&found["curve"]["breaking_kwh_per_t"]) - 12.0).abs() < 0.05);
    assert!((number(&found["choke"]["above_t_h"]) - 3.0).abs() < 0.05 && words.contains("  choke"), "{words}");
    assert_eq!((&found["set_point"]["step"], &found["set_point"]["held_by"]), (&4.into(), &"choke".into()));
}

/// What must not be taken for a step, and a load that lasts too high in the half of a step that settles.
#[test]
fn what_is_no_step_is_left_out_and_told() {
    let folder = tempfile::tempdir().unwrap();
    let changed = |change: &dyn Fn(usize, &mut Vec<String>)| -> String {
        let rows = log(0.0).lines().map(str::to_owned).collect::<Vec<_>>().into_iter().enumerate();
        rows.map(|(n, row)| {
            let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
            if n > 0 {
                change(n - 1, &mut cells);
            }
            cells.join(",") + "\n"
        })
        .collect()
    };
    // The scale stands from the fourth step on.
    let (found, words) = tested(
        folder.path(),
        &changed(&|t_s, cells| {
            if t_s >= 360 {
                cells[8] = "100.0000".to_owned();
            }
        }),
        &[],
    );
    assert_eq!(found["steps"].as_array().unwrap().len(), 3, "{words}");
    assert!(words.contains("the scale shows nothing") && number(&found["curve"]["to_t_h"]) < 2.01, "{words}");
    // The same without speeds: the load tells that the mill was not empty.
    let (found, words) = tested(
        folder.path(),
        &changed(&|t_s, cells| {
            if t_s >= 360 {
                cells[8] = "100.0000".to_owned();
            }
            let note = cells[9].replace("feeder_pct=", "material=m");
            cells[9] = note;
        }),
        &[],
    );
    assert_eq!(found["steps"].as_array().unwrap().len(), 3, "{words}");
    assert!(words.contains("the scale shows nothing though the mill"), "{words}");
    // 20 s far above the feed stop's level at the beginning of the last step.
    let (found, words) = tested(
        folder.path(),
        &changed(&|t_s, cells| {
            if (490..510).contains(&t_s) {
                cells[7] = "110000".to_owned();
                (4..7).for_each(|at| cells[at] = "170.0".to_owned());
            }
        }),
        &[],
    );
    assert_eq!((&found["choke"]["step"], &found["choke"]["sign"]), (&5.into(), &"above-stop".into()), "{words}");
    assert_eq!(found["set_point"]["step"], 4);
}

/// Batches weighed apart do instead of a scale, and rates instead of speeds; then the rate at full speed tells the gain.
#[test]
fn weighed_steps_and_rates() {
    let folder = tempfile::tempdir().unwrap();
    let mut no_scale = String::new();
    for line in log(0.0).lines() {
        let mut cells: Vec<&str> = line.split(',').collect();
        cells.remove(8);
        let speed = cells[8].strip_prefix("run: feeder_pct=");
        let note = match speed.map(|pct| RATES.iter().find(|(_, speed)| *pct == speed.to_string()).unwrap()) {
            None => cells[8].to_owned(),
            Some((0.0, _)) => "run: feeder_pct=0".to_owned(),
            Some((t_h, _)) => format!("run: mass_kg={}", t_h * 1e3 / 30.0),
        };
        let _ = writeln!(no_scale, "{},{note}", cells[..8].join(","));
    }
    let (found, words) = tested(folder.path(), &no_scale, &[]);
    // The transition of each step is in it: 7 s of 120 at the power of the step before.
    assert!((number(&found["curve"]["breaking_kwh_per_t"]) - 12.0).abs() < 1.0, "{}", found["curve"]);
    assert!(found["feeder"].get("gain").is_none() && words.contains("--full-t-h"), "{words}");
    // What was found is told all the same where it does not do for settings.
    let mut command = shaftwork(&["step-test", "--json"]);
    let file = |name: &str| folder.path().join(name);
    command.arg(file("again.json")).arg(file("steps.csv")).arg("--settings").arg(file("mill.toml"));
    let (status, out, err) = run({
        command.arg("--out").arg(file("new.toml"));
        command
    });
    assert_eq!(status, Some(1));
    assert!(out.contains("choke") && file("again.json").exists() && !file("new.toml").exists(), "{out}");
    assert!(err.contains("new.toml: not written") && err.contains("--full-t-h"), "{err}");
    let (found, _) = tested(folder.path(), &no_scale, &["--full-t-h", "5"]);
    assert!((number(&found["feeder"]["gain"]) - 0.756).abs() < 0.02, "{}", found["feeder"]);
}

/// The feed stops by itself on the way up, and no more is fed than that; the same seed gives the same test.
#[test]
fn the_plant_goes_up_until_the_feed_stops() {
    let found = |seed: &str| {
        let mut command = shaftwork(&[
            "step-test",
            "belt-fed",
            "--hold-s",
            "40",
            "--speeds",
            "40,100",
            "--json",
            "-",
            "--seed",
            seed,
        ]);
        command.arg("--settings").arg(at("tests/closed/governed.settings.toml"));
        let (status, out, err) = run(command);
        assert_eq!(status, Some(0), "{err}");
        out
    };
    let text = found("1");
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let steps = document["steps"].as_array().unwrap();
    let speeds: Vec<f64> = steps.iter().map(|step| number(&step["feeder_pct"])).collect();
    assert_eq!(speeds, [0.0, 40.0, 100.0]);
    assert_eq!((&document["choke"]["step"], &document["choke"]["sign"]), (&3.into(), &"stopped".into()));
    assert!(number(&steps[2]["to_s"]) - number(&steps[2]["from_s"]) < 39.0, "it ends where the feed stops");
    assert_eq!(text, found("1"));
    assert_ne!(text, found("2"));
}

/// What a fast step leaves in the mill is no choke of the slow one after it.
#[test]
fn a_slow_step_after_a_fast_one_does_not_choke() {
    let mut command = shaftwork(&["step-test", "belt-fed", "--seed", "1", "--json", "-"]);
    command.args(["--speeds", "20,60,20,60,20,60,70,80,90,100", "--settings"]);
    command.arg(at("tests/closed/governed.settings.toml"));
    let (status, out, err) = run(command);
    assert_eq!(status, Some(0), "{err}");
    let document: serde_json::Value = serde_json::from_str(&out).unwrap();
    let choke = usize::try_from(document["choke"]["step"].as_u64().unwrap()).unwrap();
    assert!(number(&document["steps"][choke - 1]["feeder_pct"]) > 60.0, "{}", document["choke"]);
    assert!(number(&document["set_point"]["load_pct"]) > 60.0, "{}", document["set_point"]);
}

#[test]
fn what_is_wrong_is_told_with_its_cure() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("mill.toml"), LOG_SETTINGS).unwrap();
    let told = |source: &str, settings: &std::path::Path, more: &[&str]| {
        let mut command = shaftwork(&["step-test", source]);
        command.arg("--settings").arg(settings).args(more);
        let (status, _, err) = run(command);
        (status, err)
    };
    let log_file = folder.path().join("plain.csv");
    let plain: String = log(0.0).lines().map(|line| line.replace("run: feeder_pct", "speed") + "\n").collect();
    std::fs::write(&log_file, plain).unwrap();
    let (log_file, mill) = (log_file.to_str().unwrap(), folder.path().join("mill.toml"));
    let (status, words) = told(log_file, &mill, &[]);
    assert!(status == Some(1) && words.contains("fewer than two") && words.contains("run: feeder_pct=40"), "{words}");
    let (status, words) = told(log_file, &mill, &["--speeds", "20,40"]);
    assert!(status == Some(2) && words.contains("--speeds belongs to a scenario"), "{words}");
    let (status, words) = told("hand-fed", &at("tests/closed/governed.settings.toml"), &[]);
    assert!(status == Some(1) && words.contains("[mill.belt]"), "{words}");
    let (status, words) = told("belt-fed", &mill, &["--speeds", "0"]);
    assert!(status == Some(2) && words.contains("1 to 100"), "{words}");
}
