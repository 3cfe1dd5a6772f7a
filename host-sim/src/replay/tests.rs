//! From a file of samples to the JSON: a balanced three-phase sine whose figures are known on paper.
//!
//! 400 V line to line, 15.2 A, power factor 0.82 lagging (plain arithmetic): S = 400 x 15.2 x root 3,
//! P = 0.82 S, Q = root(S² - P²).

use std::f64::consts::{SQRT_2, TAU};
use std::fmt::Write as _;
use std::path::Path;

use super::*;
use crate::cli::Expect;
use serde_json::Value;

const RATE: f64 = 4_000.0;
const APPARENT: f64 = 10_530.868_9;
const ACTIVE: f64 = 8_635.312_5;
const REACTIVE: f64 = 6_027.485_2;

/// The trace: `seconds` of it; `extra` is one more column and its value.
pub(super) fn trace(seconds: f64, extra: Option<(&str, f64)>) -> String {
    let mut text = String::from("t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a");
    let _ = writeln!(text, "{}", extra.map(|(name, _)| format!(",{name}")).unwrap_or_default());
    let lag = 0.82_f64.acos();
    for k in 0..(seconds * RATE).round() as u32 {
        let t = f64::from(k) / RATE;
        let _ = write!(text, "{t:.6}");
        for (peak, late) in [(400.0 / 3f64.sqrt() * SQRT_2, 0.0), (15.2 * SQRT_2, lag)] {
            for phase in 0..3 {
                let angle = TAU * (50.0 * t - f64::from(phase) / 3.0) - late;
                let _ = write!(text, ",{:.4}", peak * angle.sin());
            }
        }
        let _ = writeln!(text, "{}", extra.map(|(_, value)| format!(",{value:.6}")).unwrap_or_default());
    }
    text
}

/// A folder with the trace and with settings of a 7.5 kW motor, five trips wanted.
pub(super) fn folder(trace: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("sine.csv"), trace).unwrap();
    let good = crate::settings::testing::good();
    let settings = good
        .replace("rated_power_kw = 55.0", "rated_power_kw = 7.5")
        .replace("rated_current_a = 96.55", "rated_current_a = 15.2")
        .replace("rated_speed_rpm = 1477.3", "rated_speed_rpm = 1450")
        .replace("rated_power_factor_pct = 87.7", "rated_power_factor_pct = 82")
        .replace("current_full_scale_a = 1600", "current_full_scale_a = 250");
    std::fs::write(folder.path().join("mill.toml"), settings).unwrap();
    folder
}

pub(super) fn arguments(folder: &Path) -> cli::Replay {
    cli::Replay {
        traces: vec![folder.join("sine.csv").display().to_string()],
        settings: folder.join("mill.toml"),
        json: Some(folder.join("out.json")),
        out: None,
        mass_kg: None,
        accept_short: false,
        expect: vec![],
        digest: false,
        bits: None,
    }
}

pub(super) fn json(folder: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(folder.join("out.json")).unwrap()).unwrap()
}

fn near(json: &Value, want: f64, relative: f64) {
    let got = json.as_f64().unwrap_or_else(|| panic!("{json} is no number"));
    assert!((got / want - 1.0).abs() < relative, "{got}, {want} wanted");
}

#[test]
fn a_sine_is_metered_as_on_paper() {
    let folder = folder(&trace(2.001, None));
    let args =
        cli::Replay { expect: vec![Expect::Quiet], out: Some(folder.path().join("out")), ..arguments(folder.path()) };
    assert_eq!(run(&args).unwrap(), ExitCode::SUCCESS);
    let json = json(folder.path());

    let intervals = json["intervals"].as_array().unwrap();
    assert!((8..=10).contains(&intervals.len()));
    let last = intervals.last().unwrap();
    near(&last["frequency_hz"], 50.0, 1e-5);
    for phase in 0..3 {
        near(&last["voltage_v"][phase], 400.0 / 3f64.sqrt(), 1e-4);
        near(&last["current_a"][phase], 15.2, 2e-4);
    }
    near(&last["apparent_va"], APPARENT, 3e-4);
    near(&last["active_w"], ACTIVE, 3e-4);
    near(&last["reactive_var"], REACTIVE, 5e-4);
    near(&last["power_factor"], 0.82, 3e-4);

    // 2.001 s are 8 004 frames: the last four belong to no block of eight, and they count.
    let totals = &json["totals"];
    near(&json["trace"]["frames"], 8_004.0, 1e-9);
    let times: f64 =
        totals.as_object().unwrap().iter().filter(|(k, _)| k.ends_with("_s")).map(|(_, v)| v.as_f64().unwrap()).sum();
    assert!((times - 2.001).abs() < 1e-5, "{times}");
    near(&totals["electrical_kwh"], ACTIVE * 2.001 / 3.6e6, 5e-3);
    assert_eq!(totals["starts"], 0, "under current from the first frame: running");
    assert_eq!(totals["why"]["mass_t"], "no mass is in the trace, nor --mass-kg given");

    for (file, lines) in
        [("intervals.csv", intervals.len() + 1), ("events.csv", json["events"].as_array().unwrap().len() + 1)]
    {
        let text = std::fs::read_to_string(folder.path().join("out").join(file)).unwrap();
        assert_eq!(text.lines().count(), lines, "{file}");
    }
}

/// 2 kg/s for 2 s, or a batch in its stead.
#[test]
fn mass_comes_from_the_trace_or_from_the_scale() {
    let folder = folder(&trace(2.0, Some(("feed_kg_s", 2.0))));
    run(&arguments(folder.path())).unwrap();
    near(&json(folder.path())["totals"]["mass_t"], 0.004, 1e-6);
    run(&cli::Replay { mass_kg: Some(500.0), ..arguments(folder.path()) }).unwrap();
    let json = json(folder.path());
    near(&json["totals"]["mass_t"], 0.5, 1e-9);
    assert!(json["intervals"][0]["mass_kg"].is_null());
}

/// Pulses of 2.5 kg, as a count of a weigher that goes from 65 530 over its end of 16 bits, and as a level. 8000 frames hold
/// thirteen after the first, which is high already and counts in neither; the half second of the run holds three (by hand).
#[test]
fn mass_comes_from_pulses_of_a_belt_weigher() {
    let sine = trace(2.0, None);
    let column = |value: &dyn Fn(u32) -> u32| -> String {
        let cell = |(number, line): (usize, &str)| match number {
            0 => format!("{line},mass_pulse,note\n"),
            2_001 => format!("{line},{},run: material=iron\n", value(2_000)),
            4_001 => format!("{line},{},run end\n", value(4_000)),
            n => format!("{line},{},\n", value(n as u32 - 1)),
        };
        sine.lines().enumerate().map(cell).collect()
    };
    // One each 600 frames of 0.25 ms, 200 of them high, from frame 600 on; in 2000 to 4000 at 2400, 3000 and 3600.
    let count = column(&|k| (65_530 + k / 600) % 65_536);
    let level = column(&|k| u32::from(k % 600 < 200));
    for (text, form) in [(count, "count\"\ncounter_bits = 16"), (level, "edge\"")] {
        let folder = folder(&text);
        let args = arguments(folder.path());
        let settings = std::fs::read_to_string(&args.settings).unwrap();
        let mass = format!("[mass]\nsource = \"pulse\"\nkg_per_pulse = 2.5\npulses = \"{form}\n");
        std::fs::write(&args.settings, settings.clone() + &mass).unwrap();
        run(&args).unwrap();
        let told = json(folder.path());
        near(&told["totals"]["mass_t"], 13.0 * 2.5e-3, 1e-9);
        near(&told["runs"][0]["mass_t"], 3.0 * 2.5e-3, 1e-9);
        std::fs::write(&args.settings, settings).unwrap();
        run(&args).unwrap();
        let told = json(folder.path());
        assert!(told["totals"]["why"]["mass_t"].as_str().unwrap().contains("source = \"pulse\""));
    }
}

/// A jam at 200 % cannot come from rated current.
#[test]
fn an_expectation_that_fails_is_status_3_with_whole_files() {
    let folder = folder(&trace(1.0, None));
    let args = cli::Replay { expect: vec!["trip:jam".parse().unwrap()], ..arguments(folder.path()) };
    assert_eq!(run(&args).unwrap(), ExitCode::from(EXPECTATION));
    assert_eq!(json(folder.path())["totals"]["trips"], 0);
}

#[test]
fn a_bad_trace_leaves_no_file_and_no_folder() {
    let text = trace(1.0, None);
    let cut = text.replacen("\n0.500000,", "\n0.500000,x", 1);
    assert_ne!(text, cut);
    let folder = folder(&cut);
    let args = cli::Replay { out: Some(folder.path().join("out")), ..arguments(folder.path()) };
    let error = run(&args).unwrap_err();
    assert!(error.to_string().contains("line 2002"), "{error}");
    assert!(!folder.path().join("out.json").exists());
    assert!(!folder.path().join("out").exists());
}

#[test]
fn several_traces_have_a_folder_each_and_one_fault_stops_no_other() {
    let folder = folder(&trace(1.0, None));
    let good = folder.path().join("sine.csv").display().to_string();
    let out = folder.path().join("out");
    let args = cli::Replay {
        traces: vec![good.clone(), good.clone()],
        json: None,
        out: Some(out.clone()),
        ..arguments(folder.path())
    };
    run(&args).unwrap();
    assert!(out.join("sine").join("events.csv").exists() && out.join("sine-2").join("intervals.csv").exists());

    let bad = folder.path().join("none.csv").display().to_string();
    let out = folder.path().join("more");
    let error = run(&cli::Replay { traces: vec![bad, good], out: Some(out.clone()), ..args }).unwrap_err();
    assert!(error.to_string().contains("none.csv"));
    assert!(out.join("sine").join("events.csv").exists());
}

/// Half a second is missing after one second: its time is unknown, all times add up, and energy is not invented.
#[test]
fn a_gap_is_split_where_the_settings_want_it() {
    let late = |(number, line): (usize, &str)| match line.split_once(',') {
        Some((t, rest)) if number > 4_000 => format!("{:.6},{rest}\n", t.parse::<f64>().unwrap() + 0.5),
        _ => format!("{line}\n"),
    };
    let folder = folder(&trace(2.0, None).lines().enumerate().map(late).collect::<String>());
    let args = arguments(folder.path());
    assert!(run(&args).is_err(), "a fault by default");
    let settings = std::fs::read_to_string(&args.settings).unwrap();
    std::fs::write(&args.settings, settings.replace("[sampling]\n", "[sampling]\ngaps = \"split\"\n")).unwrap();
    run(&args).unwrap();
    let json = json(folder.path());
    near(&json["trace"]["duration_s"], 2.5, 1e-9);
    near(&json["totals"]["electrical_kwh"], ACTIVE * 2.0 / 3.6e6, 5e-3);
    assert!(json["totals"]["unknown_s"].as_f64().unwrap() >= 0.5);
    let gap = json["events"].as_array().unwrap().iter().find(|e| e["event"] == "gap").unwrap();
    near(&gap["t_s"], 1.0, 1e-9);
    near(&gap["length_s"], 0.5, 1e-3);
}

/// The same frames give the same bits, and the files are what a board reads.
#[test]
fn bits_are_written_for_a_board() {
    use shaftwork_report_bits::{Header, Stream, frames};
    let folder = folder(&trace(0.5005, None));
    let bits = folder.path().join("bits");
    run(&cli::Replay { bits: Some(bits.clone()), json: None, ..arguments(folder.path()) }).unwrap();
    let bytes = std::fs::read(bits.join("frames.bin")).unwrap();
    let header = Header::decode(&bytes).unwrap();
    assert_eq!((header.frames, header.mass, header.speed), (2_002, false, false));
    let mut rest = &bytes[frames::HEADER_BYTES..];
    let mut count = 0;
    while !rest.is_empty() {
        let (block, used) = shaftwork_report_bits::Block::decode(rest).unwrap();
        count += block.frames().len();
        rest = &rest[used..];
        assert_eq!(block.last(), rest.is_empty());
    }
    assert_eq!(count, 2_002);
    let reports = std::fs::read(bits.join("reports-host.bin")).unwrap();
    assert!(Stream::new(&reports).all(|report| report.is_ok()));
    let settings = std::fs::read(bits.join("settings.bin")).unwrap();
    assert!(shaftwork_report_bits::settings::decode(&settings).unwrap().build().is_ok());
}
