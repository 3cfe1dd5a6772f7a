//! What happened, as the page tells it: a table, headings of close-ups, marks and shades of the pictures.

use serde_json::{Value, json};

use super::Gathered;
use crate::report::clock::Clock;
use crate::report::page::close_up::{Before, CloseUp};
use crate::report::page::reading::QUANTITIES;
use crate::report::story::Spell;
use crate::report::words::{self, plain, short, span, stamp};
use crate::report::{EventRow, Summary};

/// A line of the table of events.
pub struct Happened {
    pub t_s: f64,
    pub time: String,
    pub clock: String,
    pub what: String,
    pub trip: bool,
    pub idle: bool,
    pub close_up: Option<usize>,
}

/// A close-up's heading and words.
pub struct Around {
    pub title: String,
    pub span: String,
    pub led: String,
    pub trip: bool,
    pub open: bool,
}

/// The table's rows, in order of time; idle comes as spells, a start is told once.
pub fn rows(gathered: &Gathered<'_>, end: &Summary, clock: Option<&Clock>) -> Vec<Happened> {
    let row = |t_s: f64, what: String| Happened {
        t_s,
        time: stamp(t_s),
        clock: clock.map(|c| c.time_at(t_s)).unwrap_or_default(),
        what,
        trip: false,
        idle: false,
        close_up: None,
    };
    let close_up = |e: &EventRow| gathered.close_ups.iter().position(|c| (c.from_s..=c.to_s).contains(&e.t_s));
    let event = |e: &EventRow| {
        let what = words::event(e, gathered.settings);
        Happened { trip: e.cause().is_some(), close_up: close_up(e), ..row(e.t_s, what) }
    };
    let spell = |s: &Spell, more: String| Happened {
        idle: true,
        ..row(s.from_s, format!("idle for {}{more}", span(s.length_s)))
    };
    let story = gathered.story;
    let mut rows: Vec<Happened> = story.events().iter().map(event).collect();
    rows.extend(story.spells().iter().map(|s| spell(s, String::new())));
    rows.extend(story.many_spells().map(|(n, longest)| spell(&longest, format!(", the longest of {n} idle spells"))));
    rows.extend(end.marks.iter().map(|m| row(m.t_s, format!("note: {}", m.note))));
    rows.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    rows
}

/// The close-ups' headings.
pub fn around(gathered: &Gathered<'_>, happened: &[Happened], clock: Option<&Clock>) -> Vec<Around> {
    let close_ups = gathered.close_ups;
    // Trips are what a reader came for; without one, the first of the others.
    let tripped = close_ups.iter().any(|c| c.trip);
    let mut opened = 0;
    let at = |t_s: f64| clock.map_or_else(|| stamp(t_s), |c| c.time_at(t_s));
    let each = |(index, c): (usize, &CloseUp)| {
        let own = |h: &&Happened| h.close_up == Some(index) && (!c.trip || h.trip);
        let nearest = happened.iter().filter(own).min_by(|a, b| {
            let away = |h: &Happened| (h.t_s - c.event_s).abs();
            away(a).total_cmp(&away(b))
        });
        let open = if tripped { opened < 3 && c.trip } else { opened < 1 };
        opened += usize::from(open);
        Around {
            title: nearest.map_or_else(|| "what happened".to_owned(), |h| format!("{}  {}", at(h.t_s), h.what)),
            span: format!("{} to {}", at(c.from_s), at(c.to_s)),
            led: c.before.as_ref().map(|b| led(b, gathered, at)).unwrap_or_default(),
            trip: c.trip,
            open,
        }
    };
    close_ups.iter().enumerate().map(each).collect()
}

/// What led to a trip: how the figures stood before, when the current rose for good, how they stand at the trip.
fn led(before: &Before, gathered: &Gathered<'_>, at: impl Fn(f64) -> String) -> String {
    let place = |name: &str| QUANTITIES.iter().position(|q| *q == name).unwrap_or(0);
    let rated = gathered.settings.motor.rated_current_a;
    let mut sentences = Vec::new();
    if let Some((low, high)) = before.current {
        let share = short(high / rated * 100.0);
        sentences.push(format!(
            "In the {} before: {} to {} A ({share} %)",
            span(before.ago_s),
            short(low),
            short(high)
        ));
    }
    if let (Some(rose_s), Some(jam)) = (before.rose_s, &gathered.settings.trips.jam) {
        let pickup = short(jam.pickup_pct / 100.0 * rated);
        let since = short(before.t_s - rose_s);
        sentences.push(format!("above the jam pick-up of {pickup} A from {}, {since} s before the trip", at(rose_s)));
    }
    let now =
        [("shaft_kw", "kW at the shaft"), ("torque_nm", "N m"), ("speed_rpm", "rpm"), ("thermal_pct", "% thermal")];
    let now = now.iter().filter_map(|(name, unit)| {
        let value = before.now[place(name)];
        value.is_finite().then(|| format!("{} {unit}", short(value)))
    });
    let now: Vec<String> = std::iter::once(format!("{} A", short(before.now_a))).chain(now).collect();
    sentences.push(format!("at the trip {}", now.join(", ")));
    format!("{}.", sentences.join("; "))
}

/// What stands upright in the pictures.
pub fn marks(events: &[EventRow]) -> Vec<Value> {
    let mark = |e: &EventRow| {
        let label = e.cause().map_or_else(|| e.event.replace('_', " "), plain);
        json!({ "t_s": e.t_s, "label": label, "trip": e.cause().is_some() })
    };
    events.iter().filter(|e| !matches!(e.event, "idle_begins" | "idle_ends" | "run_up")).map(mark).collect()
}

/// From each trip to the stop that followed: what would not have happened, s.
pub fn after(events: &[EventRow], end_s: f64) -> Vec<(f64, f64)> {
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for trip in events.iter().filter(|e| e.cause().is_some()) {
        let stop = events.iter().find(|e| e.event == "stop" && e.t_s >= trip.t_s).map_or(end_s, |e| e.t_s);
        if spans.last().is_none_or(|(_, to)| *to < trip.t_s) {
            spans.push((trip.t_s, stop));
        }
    }
    spans
}

/// What a reader must know of trips in a replay; nothing without one.
pub fn consequence(events: &[EventRow], end_s: f64) -> String {
    let Some((from, to)) = after(events, end_s).first().copied() else { return String::new() };
    format!(
        "The recorded motor could not be stopped: the current flowed {} longer. Each element trips once and stays \
         latched, so that what it would have done later is not told; figures and pictures hold what came after (shaded).",
        span(to - from)
    )
}
