use super::*;
use crate::report::Mark;
use crate::report::testing::{settings, summary};
use shaftwork_core::judge::event::{Cause, Figures, State};
use shaftwork_core::record::Window;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::Ratio;

fn table(text: &Text, end: &Summary, screen: Screen) -> String {
    let mut out = Vec::new();
    text.write(end, &settings(), screen, &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

/// 20 s at half load; too many events, a trip, and names of any length.
fn filled() -> (Text, Summary) {
    let mut text = Text::default();
    for i in 1..=100_u64 {
        let window = Window { end: Instant((800 * i) << 16), length: Span(800 << 16), ..Window::default() };
        let load = Ratio::from_bits(1 << 23);
        text.interval(&Interval { window, load, state: State::Breaking, ..Interval::default() }, 4_000.0);
        text.event(&EventRow::plain(1.0, "stop"));
    }
    text.event(&EventRow::trip(2.0, Cause::PhaseLoss, &Figures::default()));
    let mut end = summary();
    end.trace.path = "a/long/path/".repeat(12);
    end.trace.duration_s = 20.0;
    end.totals.trips = 1;
    end.warnings = vec!["word ".repeat(60), "x".repeat(200)];
    end.marks = vec![Mark { t_s: 0.5, note: "lump\x1b[2J of cast iron".into() }];
    (text, end)
}

#[test]
fn never_wider_than_the_screen() {
    let (text, end) = filled();
    for width in [56, 60, 80] {
        for line in table(&text, &end, Screen { width, ..Screen::plain() }).lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
    }
}

#[test]
fn tells_events_trips_notes_and_what_is_missing() {
    let (text, end) = filled();
    let shown = table(&text, &end, Screen::plain());
    assert!(shown.starts_with("tripped once: phase loss at 2.000 s\n"), "{shown}");
    for part in [
        "trip: phase loss",
        "and 40 more",
        "note: lump [2J of cast iron",
        "- no mass was given",
        "- the trace is too short to know",
        "\nWarnings\n",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    assert!(!shown.contains("NaN") && !shown.contains('\x1b'));
}

/// Half load of a full block of 80 % is five eighths; a column is a third of a second.
#[test]
fn the_picture_shows_load_and_trip() {
    let (text, end) = filled();
    let shown = table(&text, &end, Screen { blocks: true, ..Screen::plain() });
    assert!(shown.contains(&format!("  mean     {}\n           {}T\n", "▅".repeat(60), " ".repeat(6))), "{shown}");
    assert!(shown.contains("a column 0.3 s, █ 80 % or more, T trip"), "{shown}");
    assert!(table(&text, &end, Screen::plain()).is_ascii());
}

#[test]
fn colour_only_when_asked_for() {
    let (text, end) = filled();
    assert!(table(&text, &end, Screen { colour: true, ..Screen::plain() }).contains("\x1b[31m"));
}
