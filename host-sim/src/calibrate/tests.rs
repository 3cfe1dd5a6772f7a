use super::*;
use crate::plant::Frame;
use crate::plant::sensor::Converter;
use crate::plant::transducer::Transducer;
use crate::synth::story::Story;
use crate::synth::testing::csv;
use std::convert::Infallible;
use std::fmt::Write as _;

/// Errors of ratio, %, and lead, degrees, of the six transducers.
const ERRORS: [[f64; 2]; 6] = [[0.4, 0.0], [-0.3, 0.0], [0.2, 0.0], [-0.6, 0.9], [0.5, 1.3], [0.9, 0.4]];
/// Of the converter, counts.
const OFFSET: f64 = 12.0;

/// An empty mill, or one at work, seen through the transducers.
fn story(work: bool, spoilt: bool) -> Story {
    let like = if work { "hand-fed" } else { "idle" };
    let mut story = Story::parse("a.toml", &format!("about = \"a\"\nlike = \"{like}\"\nduration_s = 8.0")).unwrap();
    if spoilt {
        story.scenario.sensor.transducers =
            ERRORS.map(|[ratio_error_pct, phase_deg]| Transducer { ratio_error_pct, phase_deg, skew_us: 0.0 });
    } else {
        let ideal = |full_scale| Converter { bits: 32, full_scale, noise_counts: 0.0 };
        (story.scenario.sensor.voltage, story.scenario.sensor.current) = (ideal(1000.0), ideal(2000.0));
    }
    story
}

/// The trace as CSV; the first current with an offset of the converter.
fn trace(story: &Story) -> String {
    let step = story.scenario.sensor.current.step();
    csv(story, 3, |_, reading| reading[3] += OFFSET * step)
}

/// What an ideal meter shows of the lines, straight from the plant in `f64`: rms, and each phase's power, over whole
/// cycles.
fn readings(each_phase: bool) -> String {
    let story = story(false, false);
    let mut sums = [[0.0; 9]; 2];
    let mut count = 0.0;
    let Ok(_) = crate::plant::run(&story.scenario, 3, |frame: &Frame<'_>| -> Result<(), Infallible> {
        let t = frame.truth.t_s;
        for (sums, from) in sums.iter_mut().zip([1.0, 4.0]).filter(|(_, from)| (*from..from + 3.0).contains(&t)) {
            let r = frame.reading;
            for k in 0..6 {
                sums[k] += r[k] * r[k];
            }
            for k in 0..3 {
                sums[6 + k] += r[k] * r[k + 3];
            }
            count += f64::from(u8::from(from < 2.0));
        }
        Ok(())
    });
    let powers = if each_phase { "active_a_w,active_b_w,active_c_w" } else { "active_w" };
    let mut text = format!("from_s,to_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,{powers}\n");
    for (sums, from) in sums.iter().zip([1, 4]) {
        write!(text, "{from},{}", from + 3).unwrap();
        sums[..6].iter().for_each(|square| write!(text, ",{:.6}", (square / count).sqrt()).unwrap());
        let p: Vec<f64> = sums[6..].iter().map(|sum| sum / count).collect();
        if each_phase {
            for p in &p {
                write!(text, ",{p:.4}").unwrap();
            }
        } else {
            write!(text, ",{:.4}", p.iter().sum::<f64>()).unwrap();
        }
        text.push('\n');
    }
    text
}

/// A transducer's ratio error e becomes the gain 1/(1+e), its lead the phase_deg. With the settings found on an empty mill
/// the power of one at work agrees with the same run seen through ideal transducers.
#[test]
fn known_errors_are_found_and_power_is_right_with_them() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let name = |name: &str| path(name).display().to_string();
    std::fs::write(path("idle.csv"), trace(&story(false, true))).unwrap();
    std::fs::write(path("mill.toml"), story(false, true).settings()).unwrap();
    let work = story(true, true);
    std::fs::write(path("work.csv"), trace(&work)).unwrap();
    std::fs::write(path("ideal.csv"), trace(&story(true, false))).unwrap();
    let (settings, _) = settings::load(&path("mill.toml")).unwrap();
    for each_phase in [true, false] {
        std::fs::write(path("meter.csv"), readings(each_phase)).unwrap();
        let rows = reference::read(&path("meter.csv"), Wiring::FourWire).unwrap();
        let found = calibrate(&name("idle.csv"), &settings, &rows, "meter.csv").unwrap();
        for (k, (channel, [ratio, lead])) in found.channels.iter().zip(ERRORS).enumerate() {
            let gain = 1.0 / (1.0 + ratio / 100.0);
            assert!((channel.gain / gain - 1.0).abs() < 2e-4, "{channel:?}, {gain}");
            let offset = if k == 3 { OFFSET } else { 0.0 };
            assert!((channel.offset_counts - offset).abs() < 0.3, "{channel:?}, {offset}");
            if k >= 3 && each_phase {
                assert!((channel.phase_deg.unwrap() - lead).abs() < 0.01, "{channel:?}, {lead}");
            }
            assert!(channel.residual_pct.unwrap() < 0.02, "{channel:?}");
        }
        let (count, left) = found.power.unwrap();
        assert!(count == 2 && left < 0.03, "{left}");
        let changed = apply::apply(&path("mill.toml"), &found).unwrap();
        let (calibrated, _) = settings::parse(&changed, "new.toml").unwrap();
        let all = Row { from_s: 0.0, to_s: 8.0, rms: [None; 6], active_w: None, phase_w: [None; 3] };
        let read = |trace: &str, settings: &Settings| {
            measure(&name(trace), settings, std::slice::from_ref(&all), "all").unwrap()[0].power[0]
        };
        let ideal = read("ideal.csv", &settings);
        let off = |settings: &Settings| 100.0 * (read("work.csv", settings) / ideal - 1.0);
        let (before, after) = (off(&settings), off(&calibrated));
        println!("each phase {each_phase}: {before:.4} % before, {after:.4} % after");
        assert!(before.abs() > 0.5, "the test is worth something: {before}");
        assert!(after.abs() < 0.03, "{after}");
    }
}

#[test]
fn readings_that_cannot_be_are_told_with_their_place() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("meter.csv");
    for (text, part) in [
        ("t_s,vx_v\n1,2\n", "the column 'vx_v' is not known"),
        ("va_v\n230\n", "no time is among the columns"),
        ("t_s,va_v\n1,many\n", "line 2: 'many' under va_v"),
        ("t_s,va_v\n", "holds no readings"),
        ("from_s,to_s,va_v\n5,5,230\n", "line 2: a reading from 5 s to 5 s"),
        ("from_s,to_s,va_v\n5,6\n", "line: 2"),
    ] {
        std::fs::write(&path, text).unwrap();
        let fault = reference::read(&path, Wiring::FourWire).unwrap_err().to_string();
        assert!(fault.contains(part), "{text}: {fault}");
    }
}
