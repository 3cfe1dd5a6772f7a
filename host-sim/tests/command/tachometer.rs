//! A tachometer beside the slip: the plant model knows how fast its motor turns.

use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

use super::{run, shaftwork};

/// Times and speeds of the truth, ten a second.
fn speeds(truth: &Value) -> Vec<(f64, f64)> {
    let figure = |moment: &Value, key: &str| moment[key].as_f64().unwrap();
    truth["moments"].as_array().unwrap().iter().map(|m| (figure(m, "t_s"), figure(m, "speed_rpm"))).collect()
}

/// Replays a minute of hand feed with a column of the true speed, straight between the truth's moments, as `make` shows it.
fn replayed(folder: &Path, make: impl Fn(f64) -> f64) -> Value {
    let file = |name: &str| folder.join(name);
    let samples = std::fs::read_to_string(file("mill.csv")).unwrap();
    let truth = serde_json::from_slice(&std::fs::read(file("mill.truth.json")).unwrap()).unwrap();
    let speeds = speeds(&truth);
    let at = |t_s: f64| {
        let next = speeds.partition_point(|(then, _)| *then <= t_s).clamp(1, speeds.len() - 1);
        let ((from_s, from), (to_s, to)) = (speeds[next - 1], speeds[next]);
        from + (to - from) * ((t_s - from_s) / (to_s - from_s))
    };
    let text = samples.lines().fold(String::new(), |mut text, line| {
        let _ = match line.split(',').next().unwrap().parse() {
            Ok(t_s) => writeln!(text, "{line},{:.3}", make(at(t_s))),
            Err(_) if line.starts_with("t_s") => writeln!(text, "{line},speed_rpm"),
            Err(_) => writeln!(text, "{line}"),
        };
        text
    });
    std::fs::write(file("with.csv"), text).unwrap();
    let mut command = shaftwork(&["replay"]);
    command.arg(file("with.csv")).arg("--settings").arg(file("mill.settings.toml")).arg("--json").arg(file("out.json"));
    let (status, table, told) = run(command);
    assert_eq!(status, Some(0), "{told}");
    assert!(table.contains("  tachometer  ") && table.contains("rpm against the speed by slip"), "{table}");
    serde_json::from_slice(&std::fs::read(file("out.json")).unwrap()).unwrap()
}

fn warned(document: &Value) -> Vec<&str> {
    let all = document["warnings"].as_array().unwrap().iter().map(|w| w.as_str().unwrap());
    all.filter(|words| words.contains("tachometer")).collect()
}

/// The speed by slip is right within 0.25 % of synchronous speed, which the acceptance tests hold against the plant: 3.75 rpm.
#[test]
fn an_exact_one_agrees_and_a_wrong_one_is_told_why() {
    let folder = tempfile::tempdir().unwrap();
    let mut synth = shaftwork(&["synth", "hand-fed", "--seed", "1", "--duration-s", "20", "--out"]);
    synth.arg(folder.path().join("mill.csv"));
    assert_eq!(run(synth).0, Some(0));

    let exact = replayed(folder.path(), |rpm| rpm);
    let row = &exact["tachometer"];
    let difference = row["mean_difference_rpm"].as_f64().unwrap();
    assert!(difference.abs() < 0.0025 * 1500.0 && row["intervals"].as_u64().unwrap() > 40, "{row}");
    assert_eq!(warned(&exact), [""; 0]);

    let double = replayed(folder.path(), |rpm| 2.0 * rpm);
    assert!(double["tachometer"]["mean_difference_rpm"].as_f64().unwrap() > 1_400.0);
    let told = warned(&double);
    assert!(told.len() == 1 && told[0].contains("pulses per turn are set 2 times too few"), "{told:?}");

    let still = replayed(folder.path(), |_| 0.0);
    let told = warned(&still);
    assert!(told.len() == 1 && told[0].contains("stands still while the motor runs"), "{told:?}");
}
