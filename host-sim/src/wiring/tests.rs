use super::*;
use crate::synth::story::Story;
use crate::synth::testing::csv;

/// The words over a trace of the plant with a change to its readings, six seconds at 4 kHz.
fn told(like: &str, keys: &str, change: impl Fn(f64, &mut [f64; 6])) -> (Finding, String) {
    let text = format!("about = \"a\"\nlike = \"{like}\"\nduration_s = 4.0\n{keys}");
    let story = Story::parse("a.toml", &text).unwrap();
    let csv = csv(&story, 5, change);
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("a.csv").display().to_string();
    std::fs::write(&trace, csv).unwrap();
    let (settings, _) = settings::parse(&story.settings(), "a.settings.toml").unwrap();
    let (votes, waves) = look(&trace, &settings, false).unwrap();
    let finding = words::tell(&settings, &votes, &waves.told(&settings));
    let result = Result { trace: "a <b>.csv", settings: &settings, votes, finding: finding.clone() };
    let svg = drawing::svg(&result);
    assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n") && svg.contains("Phasors of a &lt;b&gt;.csv"));
    assert!(words::text(&result).lines().skip(1).all(|line| line.chars().count() <= 80), "{}", words::text(&result));
    // A sound answer holds for one load: another one is asked for.
    let asks = words::text(&result).replace('\n', " ").contains("check both at light and at full load");
    assert_eq!(asks, finding.verdict != "too-short");
    (finding, svg)
}

type Change = fn(f64, &mut [f64; 6]);

fn nothing(_: f64, _: &mut [f64; 6]) {}

/// Whole traces of the plant, through the meter: each fault by its name, and nothing beside it.
#[test]
fn whole_traces_are_named() {
    let (sound, svg) = told("idle", "", nothing);
    assert_eq!((sound.verdict, sound.explanations.len()), ("sound", 0), "{sound:?}");
    for letter in ["va", "vb", "vc", "ia", "ib", "ic"] {
        assert!(svg.contains(&format!(">{letter}<title>")), "{letter} has an arrow");
    }
    let cases: [(&str, Change, &str, &[&str]); 9] = [
        ("", |_, r| r[4] = -r[4], "reversed", &["ib"]),
        ("", |_, r| r.swap(3, 5), "swapped", &["ic", "ia"]),
        ("", |_, r| r[..3].rotate_left(1), "rolled", &["ia", "ib", "ic"]),
        ("", |_, r| r[1] = 0.0, "missing", &["vb"]),
        ("", |_, r| r[5] *= 0.5, "ratio", &["ic"]),
        ("", |_, r| r[..3].iter_mut().for_each(|v| *v *= 3.0_f64.sqrt()), "all-ratio", &["va", "vb", "vc"]),
        ("", |_, r| r[..3].iter_mut().for_each(|v| *v *= 1e-3), "all-ratio", &["va", "vb", "vc"]),
        ("supply.capacitors_kvar = 20.0", nothing, "capacitors", &["ia", "ib", "ic"]),
        (
            "",
            |_, r| {
                r.swap(0, 1);
                r.swap(3, 4);
            },
            "supply-reversed",
            &[],
        ),
    ];
    for (keys, change, name, channels) in cases {
        let (found, _) = told("idle", keys, change);
        let named = |told: &[told::Told]| {
            told.len() == 1 && told[0].name == name && (told[0].channels == channels || name == "rolled")
        };
        assert!(found.verdict == "faults" && found.explanations.iter().any(|told| named(told)), "{name}: {found:?}");
    }
}

#[test]
fn waves_that_are_cut_or_stay_are_told() {
    let (cut, _) = told("idle", "", |_, r| r[0] = r[0].clamp(-280.0, 280.0));
    assert!(cut.verdict == "faults" && cut.notes[0].contains("the peaks of va are cut off"), "{cut:?}");
    let stuck = "sensor.faults = [{ channel = 3, kind = \"stuck\", from_s = 0.0 }]";
    let (stuck, _) = told("idle", stuck, nothing);
    assert!(stuck.notes[0].contains("ia stays at"), "{stuck:?}");
    assert_eq!(stuck.explanations[0][0].name, "missing", "{stuck:?}");
}

/// Pulses of an inverter's output: the sign of the wave against a triangle of 1.1 kHz.
#[test]
fn an_inverter_is_refused() {
    let (found, _) = told("idle", "", |t, r| {
        let triangle = 4.0 * ((t * 1_130.0).fract() - 0.5).abs() - 1.0;
        r[..3].iter_mut().for_each(|v| *v = if *v / 340.0 > triangle { 280.0 } else { -280.0 });
    });
    assert_eq!(found.verdict, "inverter", "{found:?}");
}

#[test]
fn a_trace_without_current_says_nothing() {
    let (found, _) = told("idle", "", |_, r| r[3..].fill(0.0));
    assert_eq!(found.verdict, "too-short", "{found:?}");
}

/// Three-wire, lead a open: ab and ca share bc half and half (common practice, no source).
#[test]
fn an_open_voltage_lead_is_named() {
    let story = Story::parse("a.toml", "about = \"a\"\nlike = \"idle\"\nduration_s = 4.0\n").unwrap();
    let csv = csv(&story, 5, |_, r| {
        let whole = r[1] - r[2];
        [r[0], r[1], r[2]] = [-whole / 2.0, whole, -whole / 2.0];
    });
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("a.csv").display().to_string();
    std::fs::write(&trace, csv.replacen("va_v,vb_v,vc_v", "vab_v,vbc_v,vca_v", 1)).unwrap();
    let text = story.settings().replace("wiring = \"four-wire\"", "wiring = \"three-wire\"");
    let (settings, _) = settings::parse(&text, "a.settings.toml").unwrap();
    let (votes, waves) = look(&trace, &settings, false).unwrap();
    let found = words::tell(&settings, &votes, &waves.told(&settings));
    assert_eq!(found.explanations.len(), 1, "{found:?}");
    let [open] = found.explanations[0].as_slice() else { panic!("{found:?}") };
    assert!(open.name == "voltage-lead-open" && open.what.contains("lead of line a is open"), "{found:?}");
}
