//! The table and the file of several traces, against sums by hand.

use super::*;
use crate::report::EventRow;
use crate::report::testing::summary;
use crate::report::text::TOLD;
use shaftwork_core::judge::event::{Cause, Figures};

/// A quiet trace of 10 kWh and 500 kg, one of 20 kWh and 1 t that tripped twice, and one that is no trace.
fn three(screen: Screen) -> (Several, String) {
    let mut several = Several::new(screen);
    let mut out = Vec::new();
    several.head(&mut out).unwrap();
    let mut story = Story::new(TOLD);
    for (name, kwh, mass_t) in [("monday", 10.0, 0.5), ("a-very-long-name-of-a-trace-on-tuesday", 20.0, 1.0)] {
        let mut end = summary();
        end.trace.duration_s = 3_600.0;
        let trips = story.trips().len() as u32;
        let known = Some(0.0);
        end.totals = TotalsRow { electrical_kwh: kwh, mass_t: Some(mass_t), trips, shaft_kwh: known, ..end.totals };
        end.totals.gross_kwh_per_t = Some(kwh / mass_t);
        end.warnings = vec!["settings, line 3: a word".to_owned()];
        several.done(name, &end, &story, &mut out).unwrap();
        story.event(&EventRow::trip(25.9, Cause::ThermalOverload, &Figures::default()));
        story.event(&EventRow::trip(3_000.0, Cause::PhaseLoss, &Figures::default()));
    }
    several.fault("friday", "x/friday.csv", "is empty", &mut out).unwrap();
    several.end(Path::new("week"), &mut out).unwrap();
    (several, String::from_utf8(out).unwrap())
}

/// By hand: 30 kWh over 1.5 t are 20 kWh/t.
#[test]
fn a_line_each_and_the_sums() {
    let (_, shown) = three(Screen::plain());
    for part in
        ["quiet", "thermal overload at", "phase loss", "not replayed", "all: settings, line 3", "week/summary.json"]
    {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let sums = shown.lines().find(|line| line.starts_with("2 traces")).unwrap();
    let cells: Vec<&str> = sums.split_whitespace().collect();
    assert_eq!(cells, ["2", "traces", "2", "trips", "2:00:00.000", "30.00", "kWh", "20.00"]);
}

#[test]
fn a_numbered_folder_tells_its_trace() {
    for (name, path, want) in [
        ("trace", "a/jam/trace.cfg", "trace"),
        ("trace-2", "a/jam/trace.cfg", "trace-2: jam/trace.cfg"),
        ("trace-2", "trace.cfg", "trace-2: trace.cfg"),
    ] {
        assert_eq!(label(name, path), want);
    }
}

#[test]
fn never_wider_than_the_screen() {
    for width in [56, 60, 80] {
        let (_, shown) = three(Screen { width, ..Screen::plain() });
        assert!(shown.lines().all(|line| line.chars().count() <= width), "{width}:\n{shown}");
    }
}

/// As long as a year, and as little energy as six decimals can tell.
#[test]
fn figures_never_touch() {
    for (duration_s, kwh) in [(0.6, 0.008_117), (359_999.0, 0.008_117), (31_536_000.0, 12_345_678.0)] {
        let (mut several, mut out) = (Several::new(Screen::plain()), Vec::new());
        let mut end = summary();
        end.trace.duration_s = duration_s;
        end.totals = TotalsRow { electrical_kwh: kwh, gross_kwh_per_t: Some(kwh), ..end.totals };
        several.done("monday", &end, &Story::new(TOLD), &mut out).unwrap();
        let line = String::from_utf8(out).unwrap();
        let mut cells = line.lines().next().unwrap().split_whitespace().rev();
        assert_eq!(cells.next(), Some(&*short(kwh)), "{line}");
        assert_eq!((cells.next(), cells.next()), (Some("kWh"), Some(&*short(kwh))), "{line}");
        let length = if duration_s < 1.0 { "s".to_owned() } else { stamp(duration_s) };
        assert_eq!(cells.next(), Some(&*length), "{line}");
        assert!(line.lines().all(|line| line.len() <= 80), "{line}");
    }
}

#[test]
fn the_file_says_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let file = Whole::create(&folder.path().join(FILE)).unwrap();
    three(Screen::plain()).0.write(file).unwrap().commit().unwrap();
    let json: serde_json::Value = serde_json::from_slice(&std::fs::read(folder.path().join(FILE)).unwrap()).unwrap();
    assert_eq!(json["format"], FORMAT);
    assert_eq!(json["traces"][1]["trips"][0], serde_json::json!({ "t_s": 25.9, "cause": "thermal-overload" }));
    assert_eq!((&json["traces"][2]["error"], &json["totals"]["gross_kwh_per_t"]), (&"is empty".into(), &20.0.into()));
}

#[test]
fn a_mass_that_is_not_known_is_not_summed_up() {
    let mut several = three(Screen::plain()).0;
    several.done("thursday", &summary(), &Story::new(TOLD), &mut Vec::new()).unwrap();
    let json = serde_json::to_value(several.sums()).unwrap();
    assert!(json["gross_kwh_per_t"].is_null() && json["mass_t"].is_null());
    assert_eq!(json["why"]["gross_kwh_per_t"], "the mass of a trace is not known");
}
