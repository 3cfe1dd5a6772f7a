use super::*;
use crate::error::Fault;
use crate::fit::told::{Teller, Terminals};
use crate::synth::story::Story;
use crate::synth::testing::csv;

/// Seconds at each voltage.
const HOLD_S: f64 = 3.6;

/// The plant's motor with nothing on its shaft, at parts of its rated voltage one after the other.
fn steps(parts: &[f64], more: &str) -> Story {
    let sags: Vec<String> = parts
        .iter()
        .enumerate()
        .map(|(n, part)| {
            let [from, to] = [n, n + 1].map(|n| if n == 0 { -100.0 } else { n as f64 * HOLD_S });
            format!("{{ from_s = {from:?}, until_s = {to:?}, ramp_s = 0.2, depth = {:?} }}", 1.0 - part)
        })
        .collect();
    let length = if more.contains("duration_s") {
        String::new()
    } else {
        format!("duration_s = {:?}", parts.len() as f64 * HOLD_S)
    };
    let text = format!(
        "about = \"a\"\n{more}\nmill.inertia_kg_m2 = 0.001\nmill.windage_nm_s2 = 0.0\nsupply.sags = [{}]\n{length}",
        sags.join(", ")
    );
    Story::parse("a.toml", &text).unwrap()
}

/// Records the story, with offsets of the converters, and takes what `then` makes of it.
fn with<T>(story: &Story, then: impl FnOnce(&str, &Settings) -> T) -> T {
    let offsets = [9.0, -6.0, 4.0, 12.0, -8.0, 5.0];
    let [volt, amp] = [story.scenario.sensor.voltage.step(), story.scenario.sensor.current.step()];
    let csv = csv(story, 11, |_, reading| {
        for (k, (x, counts)) in reading.iter_mut().zip(offsets).enumerate() {
            *x += counts * if k < 3 { volt } else { amp };
        }
    });
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("a.csv").display().to_string();
    std::fs::write(&trace, csv).unwrap();
    let (settings, _) = settings::parse(&story.settings(), "a.settings.toml").unwrap();
    then(&trace, &settings)
}

fn refused(story: &Story) -> Fault {
    with(story, |trace, settings| learn(trace, settings, None, false).unwrap_err().downcast().unwrap())
}

/// The plant's own losses, by its steady circuit at rated voltage: friction, core, and what else is not stator copper.
fn truth(story: &Story) -> [f64; 3] {
    let [_, core, rotor, stray, friction] = story.scenario.circuit.settle(|_| 0.0).unwrap().losses_w;
    [friction, core, rotor + stray]
}

/// A round trip. The bounds were set before the first run: the meter promises power within 0.03 % of apparent power, which is
/// 21.9 kVA at 400 V and goes with V². At the low levels (60 % and less, up to 7.9 kVA) that is up to 2.4 W, half as much
/// again where the line meets 0 V; the rotor's slip, its copper and offsets of the converters leave less than a watt. So 4.5 W of
/// friction. Core with the stray loss at no-load current: 6.6 W at 400 V and what friction errs by, 11 W. Core alone: within its band, in which
/// the stray loss is a term; and nearer to the plant's than with the stray loss in it.
#[test]
fn the_plants_losses_come_back() {
    let story =
        steps(&[1.0, 0.8, 0.6, 0.5, 0.4, 0.3], "sensor.current.noise_counts = 2.0\nsensor.voltage.noise_counts = 2.0");
    let [friction_w, core_w, rest_w] = truth(&story);
    with(&story, |trace, settings| {
        let learnt = learn(trace, settings, None, false).unwrap();
        assert_eq!(learnt.levels.len(), 6, "{:?}", learnt.levels);
        let Separation { friction, core, stray_w, used, .. } = &learnt.separation;
        println!(
            "friction {friction:?}, {friction_w:.2} W; core {core:?}, {core_w:.2} W; stray {stray_w:.2}, {rest_w:.2} W"
        );
        assert_eq!(used[..], [false, false, true, true, true, true]);
        assert!((friction.value - friction_w).abs() < 4.5, "{friction:?}, {friction_w}");
        assert!((core.value + stray_w - core_w - rest_w).abs() < 11.0, "{core:?}, {stray_w}, {core_w} {rest_w}");
        let off = (core.value - core_w).abs();
        assert!(off < core.band && off < rest_w, "{core:?}, {core_w}, {rest_w}");
        let alone = story.scenario.circuit.settle(|_| 0.0).unwrap();
        let rated = learnt.rated_level().unwrap();
        assert!((rated.current_a() / alone.current_a - 1.0).abs() < 1e-3, "{rated:?}");
        // 0.03 % of apparent power.
        assert!((rated.power_factor() - alone.power_factor).abs() < 3e-4, "{rated:?}, {}", alone.power_factor);
        let shown = words::text(&learnt);
        assert!(shown.lines().skip(1).all(|line| line.chars().count() <= 80), "{shown}");
        assert!(shown.contains("[motor]\ncore_loss_w = ") && shown.contains("\nfriction_loss_w = "), "{shown}");
        let json = words::document(&learnt);
        assert_eq!((json["split"].as_str(), json["levels"].as_array().map(Vec::len)), (Some("line"), Some(6)));
        let svg = drawing::svg(&learnt);
        assert!(svg.matches("<circle").count() == 6 && svg.matches("fill=\"#000\" stroke").count() == 4, "{svg}");
    });
}

/// What it is for: with resistance and the losses learnt, the core tells the plant's shaft power within 0.5 % of rated at 10 to
/// 130 % of load, curves or none (the project's promise for nameplate, resistance and no-load figures).
#[test]
fn shaft_power_is_right_with_what_was_learnt() {
    let story = steps(&[1.0, 0.6, 0.45, 0.3], "");
    with(&story, |trace, settings| {
        let mut told = settings.clone();
        let [(_, core_w), (_, friction_w)] = learn(trace, settings, None, false).unwrap().keys();
        (told.motor.core_loss_w, told.motor.friction_loss_w) = (Some(core_w), Some(friction_w));
        let mut plate = told.clone();
        (plate.motor.efficiency_pct, plate.motor.power_factor_pct) = (None, None);
        for settings in [told, plate] {
            let teller = Teller::new(&settings).unwrap();
            for load in 1..=13 {
                let shaft_w = 5_500.0 * f64::from(load);
                let point = story.scenario.circuit.at_shaft_w(shaft_w).unwrap();
                let reactive_var = point.input_w * (1.0 / point.power_factor.powi(2) - 1.0).sqrt();
                let terminals =
                    Terminals { line_v: 400.0, current_a: point.current_a, power_w: point.input_w, reactive_var };
                let off_pct = (teller.shaft_w(&terminals) - shaft_w) / 550.0;
                println!("{load}0 %: {off_pct:+.3} %");
                assert!(off_pct.abs() < 0.5, "at {load}0 %: {off_pct:.3} % of rated");
            }
        }
    });
}

/// The start is no level; with a single voltage the sum stands (its bound: 6.6 W at 400 V, and a watt, as above), and the words
/// say that its split is assumed.
#[test]
fn a_start_is_skipped_and_one_voltage_gives_the_sum() {
    let story = steps(&[1.0, 1.0], "supply.closed = [{ from_s = 0.5 }]\nlead_s = 0.5");
    let [friction_w, core_w, rest_w] = truth(&story);
    with(&story, |trace, settings| {
        let learnt = learn(trace, settings, None, false).unwrap();
        assert_eq!(learnt.levels.len(), 1, "{:?}", learnt.levels);
        let Separation { sum, split, stray_w, .. } = learnt.separation;
        assert_eq!(split, separate::Split::Assumed);
        assert!(
            (sum.value + stray_w - friction_w - core_w - rest_w).abs() < 7.6,
            "{sum:?} {stray_w}, {friction_w} {core_w} {rest_w}"
        );
        assert!((sum.value - friction_w - core_w).abs() < sum.band, "{sum:?}, {friction_w} {core_w}");
        assert!(learnt.notes.iter().any(|note| note.contains("common practice")), "{:?}", learnt.notes);
        assert!(words::document(&learnt)["slope_w_per_v2"].is_null());
    });
}

/// Without a resistance the nameplate's share serves, and the band is wider for it; with the winding's temperature it is
/// narrower, and copper less by 275 over 310 (copper's rule, 235 K).
#[test]
fn the_resistance_is_said_to_matter() {
    let story = steps(&[1.0, 0.5], "");
    with(&story, |trace, settings| {
        let warm = learn(trace, settings, None, false).unwrap();
        let cold = learn(trace, settings, Some(40.0), false).unwrap();
        assert!((cold.stator_ohm / warm.stator_ohm - 275.0 / 310.0).abs() < 1e-12);
        let mut unknown = settings.clone();
        unknown.motor.stator_resistance_ohm = None;
        let inferred = learn(trace, &unknown, Some(40.0), false).unwrap();
        assert_eq!(inferred.resistance, Resistance::Inferred);
        assert!(inferred.notes[0].contains("not given") && inferred.notes[0].contains("stator_resistance_line_ohm"));
        let band = |learnt: &Learnt<'_>| learnt.separation.core.band;
        assert!(band(&inferred) > band(&warm) && band(&warm) > band(&cold));
    });
}

#[test]
fn what_is_no_test_is_refused() {
    let idle = Story::parse("a.toml", "about = \"a\"\nlike = \"idle\"\nduration_s = 4.0").unwrap();
    let fed = Story::parse("a.toml", "about = \"a\"\nlike = \"hand-fed\"\nduration_s = 6.0").unwrap();
    let cases = [
        (idle, "the motor drives something", "take the belt off"),
        (fed, "the motor drives something", "cut the trace"),
        (steps(&[1.0], "supply.closed = []\nsupply.tap = \"motor\""), "no voltage", "shaftwork info"),
        (steps(&[1.0], "supply.closed = []"), "no current", "check-wiring"),
        (steps(&[1.0], "duration_s = 1.6"), "nothing is steady for longer than", "hold each voltage"),
        (steps(&[0.7], ""), "steady at 280 V only", "record at rated voltage"),
    ];
    for (story, found, mend) in cases {
        let fault = refused(&story);
        println!("{fault}\n");
        assert!(fault.found.contains(found) && fault.mend.contains(mend) && !fault.wanted.is_empty(), "{fault}");
    }
}

/// Voltages between lines tell the same as those to neutral.
#[test]
fn line_voltages_tell_the_same() {
    let story = steps(&[1.0], "");
    let four = with(&story, |trace, settings| learn(trace, settings, None, false).unwrap().levels[0]);
    let text = csv(&story, 11, |_, r| {
        let [a, b, c] = [r[0], r[1], r[2]];
        (r[0], r[1], r[2]) = (a - b, b - c, c - a);
    });
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("a.csv").display().to_string();
    std::fs::write(&trace, text.replace("va_v,vb_v,vc_v", "vab_v,vbc_v,vca_v")).unwrap();
    let three = story.settings().replace("four-wire", "three-wire");
    let (settings, _) = settings::parse(&three, "a.settings.toml").unwrap();
    let three = learn(&trace, &settings, None, false).unwrap().levels[0];
    // The offsets of `with` apart: 0.02 % of reading and 0.03 % of 21.9 kVA are promised.
    assert!((three.line_v / four.line_v - 1.0).abs() < 2e-4, "{three:?} {four:?}");
    assert!((three.squares / four.squares - 1.0).abs() < 4e-4, "{three:?} {four:?}");
    assert!((three.power_w - four.power_w).abs() < 6.6, "{three:?} {four:?}");
}

/// Two elements tell the same: power by two wattmeters is that of three where no neutral carries current, whatever the load
/// (Blondel); the bound is that of the three line voltages above, and the losses agree within the bands they have.
#[test]
fn two_elements_tell_the_same() {
    let story = steps(&[1.0, 0.6, 0.5, 0.4], "");
    let [friction_w, core_w, rest_w] = truth(&story);
    let text = csv(&story, 11, |_, r| {
        let [a, b, c] = [r[0], r[1], r[2]];
        (r[0], r[1]) = (a - b, c - b);
    });
    // Kept are time, both voltages, and the currents of the first and the third line.
    let kept = text.lines().skip(1).map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        [0, 1, 2, 4, 6].map(|k| cells[k]).join(",")
    });
    let two: Vec<String> = std::iter::once("t_s,vab_v,vcb_v,ia_a,ic_a".to_owned()).chain(kept).collect();
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("a.csv").display().to_string();
    std::fs::write(&trace, two.join("\n")).unwrap();
    let (settings, _) =
        settings::parse(&story.settings().replace("four-wire", "two-element"), "a.settings.toml").unwrap();
    let learnt = learn(&trace, &settings, None, false).unwrap();
    let four = with(&story, |trace, settings| learn(trace, settings, None, false).unwrap().levels);
    assert_eq!(learnt.levels.len(), 4, "{:?}", learnt.levels);
    for (two, four) in learnt.levels.iter().zip(&four) {
        assert!((two.line_v / four.line_v - 1.0).abs() < 4e-4, "{two:?} {four:?}");
        assert!((two.squares / four.squares - 1.0).abs() < 1e-3, "{two:?} {four:?}");
        assert!((two.power_w - four.power_w).abs() < 6.6, "{two:?} {four:?}");
    }
    let Separation { friction, core, stray_w, .. } = learnt.separation;
    assert!((friction.value - friction_w).abs() < 4.5, "{friction:?}, {friction_w}");
    assert!((core.value + stray_w - core_w - rest_w).abs() < 11.0, "{core:?}, {stray_w}, {core_w} {rest_w}");
    assert!(learnt.notes.iter().any(|note| note.contains("two elements")), "{:?}", learnt.notes);
}

/// The scenario of the catalogue, with the settings that go with it, is a no-load test: the plant's losses come back within
/// the bounds above.
#[test]
fn the_catalogues_no_load_test_can_be_learnt_from() {
    let story = crate::synth::catalogue::find("no-load").unwrap();
    let [friction_w, core_w, rest_w] = truth(&story);
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("a.csv").display().to_string();
    std::fs::write(&trace, csv(&story, 1, |_, _| {})).unwrap();
    let (settings, _) = settings::parse(&story.settings(), "a.settings.toml").unwrap();
    let learnt = learn(&trace, &settings, None, false).unwrap();
    let Separation { friction, core, stray_w, split, used, .. } = &learnt.separation;
    assert_eq!((learnt.levels.len(), *split), (6, separate::Split::Line), "{:?}", learnt.levels);
    assert_eq!(used[..], [false, false, false, true, true, true]);
    assert!((friction.value - friction_w).abs() < 4.5, "{friction:?}, {friction_w}");
    assert!((core.value + stray_w - core_w - rest_w).abs() < 11.0, "{core:?}, {stray_w}, {core_w} {rest_w}");
}

/// A wide band is put down to what makes it wide: 60 minutes of 21.9 kvar are 382 W, 30 % of gain more than 300 W, where
/// the core has 600 W.
#[test]
fn a_wide_band_names_its_largest_part() {
    let story = steps(&[1.0, 0.6, 0.5, 0.4], "");
    let with_table = |table: &str| {
        let text = format!("{}\n[accuracy]\n{table}\n", story.settings());
        settings::parse(&text, "a.settings.toml").unwrap().0
    };
    let phase = with_table("current_transformer_ratio_pct = 0.1\ncurrent_transformer_phase_min = 60");
    let mut gain = phase.clone();
    gain.accuracy =
        gain.accuracy.map(|accuracy| crate::settings::Accuracy { converter_gain_pct: 30.0, current: None, ..accuracy });
    with(&story, |trace, settings| {
        let notes = |settings: &Settings| learn(trace, settings, None, false).unwrap().notes.join("\n");
        let told = notes(&phase);
        assert!(told.contains("Most of it is by the current transformers, phase: ±"), "{told}");
        assert!(told.contains("current_transformer_phase_min"), "{told}");
        let told = notes(&gain);
        assert!(
            told.contains("Most of it is by the converter, gain: ±") && !told.contains("phase error counts most"),
            "{told}"
        );
        assert!(!notes(settings).contains("Most of it"), "{}", notes(settings));
    });
}

/// A nameplate alone: what its losses leave for stray load loss is believed between nothing and twice the standard's; beyond
/// that the words say so. By hand: 55 kW at 97 % lose 1701 W, less than copper (0.039 ohm, 94.8 A: 1052 W), slip (1.4 % of 56 kW: 784 W)
/// and what was learnt; at 91 % they lose 5440 W, 2700 W more than these, where the standard assigns 980 W.
#[test]
fn a_stray_load_loss_that_no_motor_has_is_told() {
    let story = steps(&[1.0, 0.6, 0.5, 0.4], "");
    with(&story, |trace, settings| {
        for (efficiency_pct, left, words) in [
            (94.57, Left::Within, ""),
            (97.0, Left::Nothing, "leave nothing for a stray load loss: none is taken off"),
            (91.0, Left::Much, "more than twice the stray load loss that a standard assigns"),
        ] {
            let mut plate = settings.clone();
            (plate.motor.efficiency_pct, plate.motor.power_factor_pct) = (None, None);
            plate.motor.rated_efficiency_pct = Some(efficiency_pct);
            let learnt = learn(trace, &plate, None, false).unwrap();
            assert_eq!(learnt.left, left, "{efficiency_pct} %: {:?}", learnt.separation);
            let notes = learnt.notes.join("\n");
            assert_eq!(notes.contains("losses at rated load"), !words.is_empty(), "{notes}");
            assert!(notes.contains(words), "{notes}");
            let assigned_w = circuit::assigned_stray_ohm(&plate) * learnt.rated_level().unwrap().squares;
            match left {
                Left::Within => assert!(learnt.separation.stray_w > 0.0),
                Left::Nothing => assert!(learnt.separation.stray_w.abs() < 1e-9),
                Left::Much => assert!((learnt.separation.stray_w / (2.0 * assigned_w) - 1.0).abs() < 1e-3),
            }
        }
    });
}

/// A power meter's log of one row a second: the figures are the test's own arithmetic, those of the measured motor of `separate`'s tests
/// (friction 180 W, core 410 W at 400 V, which go with V²; 11 A at 400 V, 0.2379 ohm). Figures are written with four decimals.
#[test]
fn a_log_of_rms_values_serves_as_well() {
    let mut log = "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,active_w\n".to_owned();
    for (n, line_v) in [400.0, 240.0, 180.0, 120.0_f64].iter().flat_map(|v| [v; 15]).enumerate() {
        let (volts, amps) = (line_v / 3f64.sqrt(), 11.0 * line_v / 400.0);
        let watts = 180.0 + 410.0 * (line_v / 400.0).powi(2) + 3.0 * 0.2379 * amps * amps;
        let row = [volts, volts, volts, amps, amps, amps, watts].map(|x| format!("{x:.4}"));
        log.extend([&*n.to_string(), ",", &row.join(","), "\n"]);
    }
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("log.csv").display().to_string();
    let text = "[supply]\nfrequency_hz = 50\nline_voltage_v = 400\nwiring = \"four-wire\"\n[sampling]\nvalues = \"rms\"\nrate_hz = 1\n\
        [motor]\nrated_power_kw = 18.5\nrated_voltage_v = 400\nrated_current_a = 32.85\nrated_frequency_hz = 50\n\
        rated_speed_rpm = 1465\npoles = 4\nrated_power_factor_pct = 90\nstator_resistance_ohm = 0.2379\n[trip]\n\
        thermal.enabled = false\njam.enabled = false\nlong_start.enabled = false\nphase_loss.enabled = false\n\
        undervoltage.enabled = false\n";
    let (settings, _) = settings::parse(text, "a.toml").unwrap();
    std::fs::write(&trace, &log).unwrap();
    let learnt = learn(&trace, &settings, None, false).unwrap();
    assert_eq!(learnt.levels.len(), 4, "{:?}", learnt.levels);
    let Separation { friction, core, stray_w, .. } = &learnt.separation;
    assert!((friction.value - 180.0).abs() < 0.2, "{friction:?}");
    assert!((core.value + stray_w - 410.0).abs() < 0.3, "{core:?} {stray_w}");

    // Too short a log, in its own seconds; no power; no voltages.
    let refused = |text: &str, log: String| {
        let (settings, _) = settings::parse(text, "a.toml").unwrap();
        std::fs::write(&trace, log).unwrap();
        learn(&trace, &settings, None, false).unwrap_err().to_string()
    };
    for (rows, found) in
        [(2, "it has 1 window of 1 s, and the first and"), (4, "1.0 to 2.0 s: nothing is steady for longer than 1.0 s")]
    {
        let words = refused(text, log.lines().take(rows).collect::<Vec<_>>().join("\n"));
        assert!(words.contains(found) && words.contains("for 12 s and longer"), "{words}");
    }
    let words = refused(
        &text.replace("rate_hz = 1\n", "rate_hz = 2\n"),
        "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,active_w\n0,231,231,231,11,11,11,676\n".to_owned(),
    );
    assert!(words.contains("of 0.5 s") && words.contains("for 6 s and longer"), "{words}");
    let words = refused(text, log.lines().take(9).collect::<Vec<_>>().join("\n"));
    assert!(words.contains("each held for 10 s and longer"), "{words}");
    let cut: Vec<&str> = log.lines().map(|line| line.rsplit_once(',').unwrap().0).collect();
    let words = refused(text, cut.join("\n"));
    assert!(words.contains("active power is not in it") && words.contains("to mend it: log active power"), "{words}");
    let words = refused(&text.replace("four-wire", "currents-only"), log);
    assert!(
        words.contains("key supply.wiring") && words.contains("voltages as well, which learn-no-load needs"),
        "{words}"
    );
}

/// A tachometer tells a load that power does not: 20 % of rated slip at rated voltage, and 0.2 % of speed for its own error.
#[test]
fn a_slip_is_refused() {
    let (settings, _) = settings::parse(&crate::settings::testing::good(), "mill.toml").unwrap();
    let at = |slip, line_v| {
        let level = Level { line_v, squares: 3.0 * 900.0, power_w: 1000.0, slip, ..Level::default() };
        refuse::load("a.csv", &settings, &[level], 0.04)
    };
    // Rated slip is 1.5133 %: limits of 0.503 % at 400 V and 1.411 % at 200 V.
    for (slip, line_v, fine) in [
        (None, 400.0, true),
        (Some(0.0050), 400.0, true),
        (Some(0.0051), 400.0, false),
        (Some(0.0140), 200.0, true),
        (Some(0.0142), 200.0, false),
    ] {
        let told = at(slip, line_v);
        assert_eq!(told.is_ok(), fine, "{slip:?} at {line_v} V: {told:?}");
    }
    assert!(at(Some(0.01), 400.0).unwrap_err().found.contains("a slip of 1.00 %"));
}
