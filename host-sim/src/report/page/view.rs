//! What the template shows, in words and figures; and the data that the script draws from.

use askama::Template;
use serde::Serialize;
use serde_json::json;

use super::close_up::CloseUp;
use super::lines::{Levels, levels};
use super::reading::{CLOSE_UP, QUANTITIES};
use super::track::{Packed, Track};
use crate::check::{self, Line};
use crate::report::clock::Clock;
use crate::report::event::Detail;
use crate::report::words::{self, short};
use crate::report::{EventRow, Summary, TotalsRow};
use crate::settings::Settings;

/// The code of the pictures: other people's (uPlot 1.6, MIT licence, see the notice in it), then ours.
const LICENCE: &str = include_str!("../../../vendor/uplot/LICENSE");
const SCRIPTS: [&str; 6] = [
    include_str!("../../../vendor/uplot/uPlot.iife.min.js"),
    include_str!("../../../page/data.js"),
    include_str!("../../../page/chart.js"),
    include_str!("../../../page/group.js"),
    include_str!("../../../page/pictures.js"),
    include_str!("../../../page/start.js"),
];
const STYLES: [&str; 2] = [include_str!("../../../vendor/uplot/uPlot.min.css"), include_str!("../../../page/page.css")];

/// What was gathered while the trace passed.
pub(super) struct Gathered<'a> {
    pub settings: &'a Settings,
    pub track: &'a Track,
    pub close_ups: &'a [CloseUp],
    pub events: &'a [EventRow],
}

/// The page.
#[derive(Template)]
#[template(path = "report.html")]
pub(super) struct Report {
    name: String,
    path: String,
    facts: String,
    tripped: bool,
    verdict: String,
    tiles: Vec<Figure>,
    clock: bool,
    happened: Vec<Happened>,
    left_out: u64,
    close_ups: Vec<Around>,
    states: Vec<StateShare>,
    totals: Vec<Figure>,
    quality: Vec<String>,
    settings: Vec<Section>,
    version: &'static str,
    styles: String,
    data: String,
    scripts: String,
}

/// A figure with its name and unit; `-` with a reason where it cannot be had.
struct Figure {
    name: &'static str,
    value: String,
    unit: String,
    why: &'static str,
}

/// A line of the table of events.
struct Happened {
    t_s: f64,
    time: String,
    clock: String,
    what: String,
    trip: bool,
    close_up: Option<usize>,
}

/// A close-up's heading and words.
struct Around {
    title: String,
    span: String,
    led: String,
    trip: bool,
    open: bool,
}

/// Time and energy of a state.
struct StateShare {
    name: &'static str,
    means: &'static str,
    seconds: String,
    time_pct: f64,
    energy: String,
    energy_pct: f64,
}

struct Section {
    name: &'static str,
    rows: Vec<Setting>,
    notes: Vec<String>,
}

struct Setting {
    name: String,
    value: String,
    unit: &'static str,
    from: &'static str,
    note: String,
}

/// What the script draws from.
#[derive(Serialize)]
struct Data {
    duration_s: f64,
    clock: Option<serde_json::Value>,
    levels: Levels,
    voltages: &'static str,
    whole: Packed,
    close_ups: Vec<Packed>,
    marks: Vec<serde_json::Value>,
    after: Vec<serde_json::Value>,
    wiring: &'static str,
}

impl Report {
    pub(super) fn new(gathered: &Gathered<'_>, left_out: u64, end: &Summary) -> Self {
        let Gathered { settings, close_ups, events, .. } = *gathered;
        let clock = end.trace.clock();
        let happened = happened(gathered, end, clock.as_ref());
        let name = std::path::Path::new(&end.trace.path).file_name().map_or_else(
            || end.trace.path.clone(),
            |name| if end.trace.path == "-" { "standard input".into() } else { name.to_string_lossy().into_owned() },
        );
        Self {
            facts: facts(end, clock.as_ref()),
            tripped: end.totals.trips > 0,
            verdict: verdict(events, &end.totals),
            tiles: tiles(&end.totals, settings),
            clock: clock.is_some(),
            close_ups: around(close_ups, &happened),
            states: states(&end.totals, end.trace.duration_s),
            totals: totals(&end.totals, settings),
            quality: quality(end, events),
            settings: sections(settings),
            version: env!("CARGO_PKG_VERSION"),
            styles: STYLES.concat(),
            data: data(gathered, end, clock.as_ref()),
            scripts: format!("/*\n{LICENCE}*/\n{}", SCRIPTS.join("\n")),
            path: end.trace.path.clone(),
            happened,
            left_out,
            name,
        }
    }
}

fn facts(end: &Summary, clock: Option<&Clock>) -> String {
    let t = &end.trace;
    let from = clock.map_or(String::new(), |c| format!("{} {}{}, ", c.date(), c.time_at(0.0), c.zone));
    format!("{from}{} long, {} frames at {} Hz", words::span(t.duration_s), t.frames, t.rate_hz)
}

/// What came of it, in a sentence.
fn verdict(events: &[EventRow], totals: &TotalsRow) -> String {
    let trips: Vec<String> = events
        .iter()
        .filter_map(|e| e.cause().map(|cause| format!("{} at {}", cause.replace('-', " "), words::stamp(e.t_s))))
        .collect();
    match trips.as_slice() {
        [] => "No trip.".to_owned(),
        [one] => format!("Would have tripped: {one}."),
        [first, ..] => format!("Would have tripped {} times, first: {first}.", totals.trips),
    }
}

fn figure(name: &'static str, value: Option<f64>, unit: &str, why: &'static str) -> Figure {
    let unit = if value.is_some() { unit.to_owned() } else { String::new() };
    Figure { name, value: value.map_or_else(|| "–".to_owned(), short), unit, why }
}

/// The mass in a unit that suits it.
fn mass(t: &TotalsRow) -> Figure {
    let why = t.why.get("mass_t").copied().unwrap_or_default();
    match t.mass_t {
        Some(tonnes) if tonnes < 1.0 => figure("mass fed", Some(tonnes * 1e3), "kg", why),
        tonnes => figure("mass fed", tonnes, "t", why),
    }
}

fn tiles(t: &TotalsRow, settings: &Settings) -> Vec<Figure> {
    let why = |key: &str| t.why.get(key).copied().unwrap_or_default();
    let running_s = t.idle_s + t.breaking_s;
    let idle_pct = (running_s > 0.0).then(|| t.idle_s / running_s * 100.0);
    let load = t.peak_shaft_kw.map(|kw| kw / settings.motor.rated_power_kw * 100.0);
    vec![
        figure("energy taken in", Some(t.electrical_kwh), "kWh", ""),
        mass(t),
        figure("gross", t.gross_kwh_per_t, "kWh/t", why("gross_kwh_per_t")),
        figure("net of idle", t.net_kwh_per_t, "kWh/t", why("net_kwh_per_t")),
        figure("idle, of the running time", idle_pct, "%", "the motor did not run"),
        figure("highest load, 200 ms", load, "% of rated", why("peak_shaft_kw")),
        figure("highest current, one cycle", t.peak_current_a, "A", why("peak_current_a")),
        figure("thermal image, highest", t.max_thermal_pct, "% of trip", why("max_thermal_pct")),
    ]
}

fn totals(t: &TotalsRow, settings: &Settings) -> Vec<Figure> {
    let why = |key: &str| t.why.get(key).copied().unwrap_or_default();
    let idle = if settings.mill.idle_power_kw.is_some() { "kW, as set" } else { "kW, learnt" };
    vec![
        figure("electrical energy taken in", Some(t.electrical_kwh), "kWh", ""),
        figure("electrical energy given back", Some(t.exported_kwh), "kWh", ""),
        figure("reactive energy", Some(t.reactive_kvarh), "kvarh", ""),
        figure("energy of starts", Some(t.start_kwh), "kWh", ""),
        figure("shaft energy, idle and breaking", t.shaft_kwh, "kWh", why("shaft_kwh")),
        figure("idle power at the shaft", t.idle_power_kw, idle, why("idle_power_kw")),
        figure("net of idle", t.net_kwh, "kWh", why("net_kwh")),
        mass(t),
        figure("gross energy per tonne", t.gross_kwh_per_t, "kWh/t", why("gross_kwh_per_t")),
        figure("net energy per tonne", t.net_kwh_per_t, "kWh/t", why("net_kwh_per_t")),
        Figure { name: "starts", value: t.starts.to_string(), unit: String::new(), why: "" },
        Figure { name: "trips", value: t.trips.to_string(), unit: String::new(), why: "" },
        figure("highest shaft power of an interval", t.peak_shaft_kw, "kW", why("peak_shaft_kw")),
        figure("highest current of a cycle", t.peak_current_a, "A", why("peak_current_a")),
        figure("highest thermal image", t.max_thermal_pct, "% of the trip level", why("max_thermal_pct")),
    ]
}

fn happened(gathered: &Gathered<'_>, end: &Summary, clock: Option<&Clock>) -> Vec<Happened> {
    let row = |t_s: f64, what: String, trip: bool, close_up: Option<usize>| Happened {
        t_s,
        time: words::stamp(t_s),
        clock: clock.map(|c| c.time_at(t_s)).unwrap_or_default(),
        what,
        trip,
        close_up,
    };
    let shown = |e: &EventRow| {
        gathered.close_ups.iter().position(|c| {
            matches!(e.event, "trip" | "start" | "stop" | "warning" | "gap" | "run_up")
                && (c.from_s..=c.to_s).contains(&e.t_s)
        })
    };
    // A start that tells its duration has told when it was at speed.
    let told = |e: &&EventRow| {
        let started = |s: &EventRow| matches!(s.detail, Detail::Start { duration_s: Some(d), .. } if (s.t_s + d - e.t_s).abs() < 0.1);
        e.event != "run_up" || !gathered.events.iter().any(started)
    };
    let mut rows: Vec<Happened> = gathered
        .events
        .iter()
        .filter(told)
        .map(|e| row(e.t_s, words::event(e, gathered.settings), e.cause().is_some(), shown(e)))
        .collect();
    rows.extend(end.marks.iter().map(|m| row(m.t_s, format!("note: {}", m.note), false, None)));
    rows.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    rows
}

fn around(close_ups: &[CloseUp], happened: &[Happened]) -> Vec<Around> {
    // Trips are what a reader came for; without one, the first of the others.
    let tripped = close_ups.iter().any(|c| c.trip);
    let mut opened = 0;
    let each = |(index, c): (usize, &CloseUp)| {
        let own = |h: &&Happened| h.close_up == Some(index) && (!c.trip || h.trip);
        let nearest = happened.iter().filter(own).min_by(|a, b| {
            let away = |h: &Happened| (h.t_s - c.event_s).abs();
            away(a).total_cmp(&away(b))
        });
        let open = if tripped { opened < 3 && c.trip } else { opened < 1 };
        opened += usize::from(open);
        Around {
            title: nearest.map_or_else(|| "what happened".to_owned(), |h| format!("{}: {}", h.time, h.what)),
            span: format!("{} to {}", words::stamp(c.from_s), words::stamp(c.to_s)),
            led: c.before.as_ref().map(led).unwrap_or_default(),
            trip: c.trip,
            open,
        }
    };
    close_ups.iter().enumerate().map(each).collect()
}

/// What led to a trip: how the figures moved.
fn led(before: &super::close_up::Before) -> String {
    let at = |name: &str| QUANTITIES.iter().position(|q| *q == name).unwrap_or(0);
    let highest = |values: &[f64; QUANTITIES.len()]| {
        ["current_a_1", "current_a_2", "current_a_3"].iter().map(|n| values[at(n)]).fold(0.0, f64::max)
    };
    let mut parts = Vec::new();
    for (what, then, now, unit) in [
        ("current", highest(&before.then), highest(&before.now), "A"),
        ("shaft power", before.then[at("shaft_kw")], before.now[at("shaft_kw")], "kW"),
        ("torque", before.then[at("torque_nm")], before.now[at("torque_nm")], "N m"),
        ("speed", before.then[at("speed_rpm")], before.now[at("speed_rpm")], "rpm"),
        ("thermal image", before.then[at("thermal_pct")], before.now[at("thermal_pct")], "%"),
    ] {
        if then.is_finite() && now.is_finite() {
            parts.push(format!("{what} {} to {} {unit}", short(then), short(now)));
        } else if then.is_finite() {
            parts.push(format!("{what} from {} {unit} to where it cannot be told", short(then)));
        }
    }
    format!("From {} before to the trip: {}.", words::span((before.ago_s * 10.0).round() / 10.0), parts.join(", "))
}

fn states(t: &TotalsRow, duration_s: f64) -> Vec<StateShare> {
    const MEANS: [&str; 6] = [
        "no current, rotor at rest",
        "from the onset of current to speed",
        "running empty: shaft power near idle power",
        "running otherwise",
        "no current, rotor may still turn",
        "not known: gaps, and the first cycle",
    ];
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole * 100.0 } else { 0.0 };
    t.times()
        .into_iter()
        .zip(t.energies())
        .zip(MEANS)
        .map(|(((name, time_s), kwh), means)| StateShare {
            name,
            means,
            seconds: words::span(time_s),
            time_pct: share(time_s, duration_s),
            energy: short(kwh),
            energy_pct: share(kwh, t.electrical_kwh),
        })
        .collect()
}

/// What a reader should know of the data.
fn quality(end: &Summary, events: &[EventRow]) -> Vec<String> {
    let t = &end.totals;
    let gaps = events.iter().filter(|e| e.event == "gap").count();
    // What is amiss is among the warnings, with its cure.
    let clipped = (t.clipped_samples == 0).then(|| "No sample was clipped by the converter.".to_owned());
    let bridged = (t.bridged_samples == 0).then(|| "No sample was missing.".to_owned());
    let gaps = match gaps {
        0 => "No gap.".to_owned(),
        n => format!("Gaps: {n}; their time counts as unknown, {} in all.", words::span(t.unknown_s)),
    };
    let mut lines: Vec<String> = clipped.into_iter().chain(bridged).chain([gaps]).collect();
    lines.extend(end.warnings.iter().cloned());
    lines
}

fn sections(settings: &Settings) -> Vec<Section> {
    let mut sections: Vec<Section> = Vec::new();
    for line in check::lines(settings, &[]) {
        match (line, sections.last_mut()) {
            (Line::Section(name), _) => sections.push(Section { name, rows: vec![], notes: vec![] }),
            (Line::Figure { name, value, unit, from, note }, Some(section)) => {
                let value = check::shown(&value);
                section.rows.push(Setting { name, value, unit, from: from.name(), note });
            }
            (Line::Note(note), Some(section)) => section.notes.push(note),
            _ => {}
        }
    }
    sections
}

/// From each trip to the stop that followed: what would not have happened.
fn after(events: &[EventRow], end_s: f64) -> Vec<serde_json::Value> {
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for trip in events.iter().filter(|e| e.cause().is_some()) {
        let stop = events.iter().find(|e| e.event == "stop" && e.t_s >= trip.t_s).map_or(end_s, |e| e.t_s);
        if spans.last().is_none_or(|(_, to)| *to < trip.t_s) {
            spans.push((trip.t_s, stop));
        }
    }
    spans.into_iter().map(|(from_s, to_s)| json!({ "from_s": from_s, "to_s": to_s })).collect()
}

/// The data as JSON that may stand in a page: no `<` in it.
fn data(gathered: &Gathered<'_>, end: &Summary, clock: Option<&Clock>) -> String {
    let settings = gathered.settings;
    let clock = clock.map(|c| json!({ "date": c.date(), "second_of_day": c.second_of_day(), "zone": c.zone }));
    let mark = |e: &EventRow| {
        let label = e.cause().map_or_else(|| e.event.replace('_', " "), |cause| cause.replace('-', " "));
        json!({ "t_s": e.t_s, "label": label, "trip": e.cause().is_some() })
    };
    let marks = gathered.events.iter().filter(|e| !matches!(e.event, "idle_begins" | "idle_ends" | "run_up"));
    let data = Data {
        duration_s: end.trace.duration_s,
        clock,
        levels: levels(settings, end.totals.idle_power_kw),
        voltages: if settings.supply.wiring.is_phase_to_neutral() { "neutral" } else { "line" },
        whole: gathered.track.pack(QUANTITIES.len()),
        close_ups: gathered.close_ups.iter().map(|c| c.track.pack(CLOSE_UP)).collect(),
        marks: marks.map(mark).collect(),
        after: after(gathered.events, end.trace.duration_s),
        wiring: settings.supply.wiring.as_str(),
    };
    serde_json::to_string(&data).unwrap_or_else(|_| "null".to_owned()).replace('<', "\\u003c")
}
