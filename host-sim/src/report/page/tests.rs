//! Tests of the page as text; what a browser makes of it is tested in a browser.

use super::*;
use crate::report::testing::{RATE_HZ, interval_row, settings, summary};
use crate::report::{Mark, Reason, Why};
use shaftwork_core::judge::event::{Cause, EventKind, Figures};
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, Newtonmetres, Ratio, Rpm, SquareAmps, SquareVolts, Volts, Watts};
use shaftwork_core::{HalfCycle, State};

fn at(s: f64) -> Instant {
    Instant((s * RATE_HZ * 65_536.0) as u64)
}

/// A half cycle of 10 ms that ends at a time, with a load that moves.
fn moment(s: f64) -> Moment {
    let swing = ((s * 7.3).sin() * 1e5) as i32;
    let half_cycle = HalfCycle {
        end: at(s),
        length: Span(40 << 16),
        current: [0, 1, 2].map(|k| SquareAmps::of(Amps::from_bits((90 << 17) + swing * (k + 1)))),
        current_positive: Amps::from_bits(90 << 17),
        current_negative: Amps::from_bits(swing.abs()),
        voltage: [0, 1, 2].map(|k| SquareVolts::of(Volts::from_bits((230 << 16) + swing * (k + 1)))),
        active: Watts::from_bits((33_000 << 16) + i64::from(swing) * 9_500),
        ..HalfCycle::default()
    };
    Moment {
        half_cycle,
        shaft: Watts::from_bits((30_000 << 16) + i64::from(swing) * 9_000),
        torque: Newtonmetres::from_bits(swing),
        speed: Some(Rpm::from_bits((1_480 << 12) + swing / 64)),
        thermal: Some(Ratio::from_bits(swing.abs() * 50)),
        state: State::Breaking,
    }
}

/// Hands an event to the page as the replay does.
fn happens(page: &mut Page, s: f64, kind: EventKind, row: &EventRow) {
    page.happened(&Event { at: at(s), kind }).unwrap();
    page.event(row).unwrap();
}

/// A page of a trace with a trip at the times given.
fn page(seconds: u32, trips: &[u32], end: &Summary) -> String {
    let folder = tempfile::tempdir().unwrap();
    let mut page = Page::create(folder.path(), &settings(), RATE_HZ).unwrap();
    for k in 1..=seconds * 100 {
        let s = f64::from(k) / 100.0;
        page.moment(&moment(s)).unwrap();
        if k % 20 == 0 {
            let row = IntervalRow {
                mass_kg: Some(s),
                frequency_hz: Some(50.0 + s % 0.1),
                power_factor: Some(s % 1.0),
                thd_v_pct: [Some(s % 3.0); 3],
                thd_i_pct: [Some(s % 7.0); 3],
                net_w: Some(1_000.0 * (s % 17.0)),
                ..interval_row(s)
            };
            page.interval(&row).unwrap();
        }
        if k % 100 == 0 && trips.contains(&(k / 100)) {
            let figures = Figures::default();
            let kind = EventKind::Trip { cause: Cause::Jam, figures };
            happens(&mut page, s, kind, &EventRow::trip(s, Cause::Jam, &figures));
        }
        if k % 200_000 == 0 {
            happens(&mut page, s, EventKind::Stop, &EventRow::plain(s, "stop"));
        }
        if k % 200_000 == 20_000 {
            happens(&mut page, s, EventKind::Start, &EventRow::plain(s, "start"));
        }
        for (offset, name) in [(100, "idle_begins"), (300, "idle_ends")] {
            if k % 1_000 == offset {
                page.event(&EventRow::plain(s, name)).unwrap();
            }
        }
    }
    for file in Box::new(page).close(end).unwrap() {
        file.commit().unwrap();
    }
    std::fs::read_to_string(folder.path().join("report.html")).unwrap()
}

fn data(page: &str) -> serde_json::Value {
    let (_, rest) = page.split_once("id=\"data\">").unwrap();
    serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap()
}

#[test]
fn one_file_that_asks_nothing_of_a_network() {
    let page = page(30, &[25], &summary());
    for word in ["src=", "@import", "url(", "<link rel=\"stylesheet", "fetch(", "XMLHttpRequest", "import("] {
        assert!(!page.contains(word), "{word}");
    }
    assert!(page.contains("default-src 'none'"));
    assert!(page.contains("Permission is hereby granted"), "the notice that the library's licence asks for");
}

#[test]
fn trips_have_their_words_and_their_close_up() {
    let mut end = summary();
    end.totals.trips = 1;
    end.trace.duration_s = 30.0;
    let page = page(30, &[25], &end);
    assert!(page.contains("Tripped once: jam at 25.000 s."));
    assert!(page.contains("the current flowed 5 s longer"));
    assert!(page.contains("id=\"close-up-0\" data-close-up=\"0\" open"));
    assert!(page.contains("In the 10 s before: ") && page.contains("; at the trip "));
    let data = data(&page);
    assert_eq!(data["marks"], serde_json::json!([{ "t_s": 25.0, "label": "jam", "trip": true }]));
    assert_eq!(data["close_ups"][0]["from_s"], 5.0);
    assert!(data["whole"]["series"]["shaft_kw"]["high"].as_f64().unwrap() > 40.0);
}

/// A note and a path may hold anything: it stays text.
#[test]
fn what_a_trace_says_is_text_and_no_markup() {
    let evil = "</script><script>alert(1)</script><img onerror=x>";
    let mut end = summary();
    end.trace.path = format!("{evil}.csv");
    end.marks = vec![Mark { t_s: 1.0, note: evil.into() }];
    end.warnings = vec![evil.into()];
    let page = page(3, &[], &end);
    assert!(!page.contains("alert(1)</script>") && !page.contains("<img"));
    assert_eq!(page.matches("</script>").count(), 2);
    assert!(page.contains("no trip, and nothing is known"));
}

#[test]
fn missing_figures_have_their_reason() {
    let page = page(3, &[], &summary());
    let why: Reason = "no mass was given";
    assert!(page.contains(&format!("<em>{why}</em>")));
}

/// The most that a page can hold: a day with every quantity, all the close-ups, events, spells and notes that are kept.
#[test]
fn a_day_is_at_most_three_megabytes() {
    let trips: Vec<u32> = (1..=1_500).map(|k| k * 57).collect();
    let mut end = summary();
    end.trace.duration_s = 86_400.0;
    end.marks = (0..1_000).map(|k| Mark { t_s: f64::from(k) * 80.0, note: "lump ".repeat(40) }).collect();
    let page = page(86_400, &trips, &end);
    assert!(page.len() < 3_000_000, "{} bytes", page.len());
    // 1 500 trips, 43 stops and 44 starts, of which 1 000 are kept.
    assert!(page.contains("And 587 more"));
    assert!(page.contains("idle for 2 s, the longest of 8640 idle spells"), "spells beyond those kept are counted");
    let data = data(&page);
    assert_eq!(data["whole"]["series"].as_object().unwrap().len(), 18);
    let kept = data["close_ups"].as_array().unwrap().len();
    assert!((16..=18).contains(&kept), "{kept} close-ups: 10 trips, starts and stops beside them");
}

#[test]
fn a_trace_of_nothing_makes_a_page() {
    let page = page(0, &[], &summary());
    assert!(page.contains("Nothing: no start, no stop, no trip."));
    assert_eq!(data(&page)["whole"]["slots"], 0);
}

/// Net power is of the interval that ends, and is drawn over its half cycles: by hand 20 of 10 ms, 3 kW, and none after a gap.
#[test]
fn net_power_is_drawn_where_its_interval_was() {
    let folder = tempfile::tempdir().unwrap();
    let mut page = Page::create(folder.path(), &settings(), RATE_HZ).unwrap();
    let row = |s: f64, net_w| IntervalRow { net_w, ..interval_row(s) };
    for k in 1..=60 {
        let s = f64::from(k) / 100.0;
        page.moment(&moment(s)).unwrap();
        match k {
            20 => page.interval(&row(s, None)).unwrap(),
            40 => page.interval(&row(s, Some(3_000.0))).unwrap(),
            50 => page.happened(&Event { at: at(s), kind: EventKind::Gap { length: Span(1 << 16) } }).unwrap(),
            60 => page.interval(&row(s, Some(5_000.0))).unwrap(),
            _ => {}
        }
    }
    let known = page.track.known("net_kw");
    // Slots are 24 ms wide; the first half cycle of the interval has its middle at 0.205 s, the last at 0.395 s.
    assert_eq!(known.first().map(|(slot, _)| *slot), Some(8));
    assert!(known.iter().filter(|(_, kw)| (kw - 3.0).abs() < 1e-6).map(|(slot, _)| *slot).eq(8..=16), "{known:?}");
    assert_eq!(known.iter().filter(|(_, kw)| (kw - 5.0).abs() < 1e-6).map(|(slot, _)| *slot).min(), Some(21));
}

/// By hand: 1470 rpm told where the slip tells 1476 rpm.
#[test]
fn a_tachometer_stands_beside_the_slip() {
    assert!(!page(3, &[], &summary()).contains("<caption>Tachometer"));
    let mut end = summary();
    end.tachometer.mean_rpm = Some(1_470.0);
    end.tachometer.mean_by_slip_rpm = Some(1_476.0);
    end.tachometer.mean_difference_rpm = Some(-6.0);
    end.tachometer.slip_ratio = Some(1.25);
    (end.tachometer.intervals, end.tachometer.why) = (40, Why::new());
    let page = page(3, &[], &end);
    for cells in [
        r#"measured, mean</th><td class="number">1470</td><td>rpm"#,
        r#"told by the slip, mean</th><td class="number">1476</td><td>rpm"#,
        r#"difference</th><td class="number">-6"#,
        r#"slip measured</th><td class="number">1.25"#,
        r#"compared</th><td class="number">40</td><td>intervals of steady running"#,
    ] {
        assert!(page.contains(cells), "{cells}");
    }
}
