//! What the template shows, in words and figures; and the data that the script draws from.

mod figures;
mod happened;
mod runs;

use askama::Template;
use serde::Serialize;
use serde_json::{Value, json};

use super::close_up::CloseUp;
use super::lines::{Levels, levels};
use super::reading::{CLOSE_UP, QUANTITIES};
use super::track::{Packed, Track};
use crate::check::{self, Line};
use crate::report::clock::Clock;
use crate::report::story::Story;
use crate::report::verdict::verdict;
use crate::report::words;
use crate::report::{EventRow, Summary};
use crate::settings::Settings;
use figures::{Figure, Part, StateShare};
use happened::{Around, Happened};

/// The code of the pictures: other people's (uPlot 1.6, MIT licence, see the notice in it), then ours.
const LICENCE: &str = include_str!("../../../../vendor/uplot/LICENSE");
const SCRIPTS: [&str; 7] = [
    include_str!("../../../../vendor/uplot/uPlot.iife.min.js"),
    include_str!("../../../../page/data.js"),
    include_str!("../../../../page/chart.js"),
    include_str!("../../../../page/group.js"),
    include_str!("../../../../page/pictures.js"),
    include_str!("../../../../page/start.js"),
    include_str!("../../../../page/theme.js"),
];
const STYLES: [&str; 2] =
    [include_str!("../../../../vendor/uplot/uPlot.min.css"), include_str!("../../../../page/page.css")];

/// Idle spells that are shown at once; more are folded away.
const SPELLS: usize = 8;

/// What was gathered while the trace passed.
pub(super) struct Gathered<'a> {
    pub settings: &'a Settings,
    pub track: &'a Track,
    pub close_ups: &'a [CloseUp],
    pub story: &'a Story,
}

/// The page.
#[derive(Template)]
#[template(path = "report.html")]
pub(super) struct Report {
    name: String,
    path: String,
    settings_path: String,
    motor: String,
    facts: String,
    tripped: bool,
    verdict: String,
    consequence: String,
    tiles: Vec<Figure>,
    clock: bool,
    happened: Vec<Happened>,
    /// Idle spells, where they are so many that they are folded away.
    folded: Option<usize>,
    left_out: u64,
    close_ups: Vec<Around>,
    states: Vec<StateShare>,
    parts: Vec<Part>,
    runs: Vec<runs::Table>,
    bands: String,
    trend: &'static str,
    budget: Vec<runs::Line>,
    assumed: Vec<String>,
    totals: Vec<(&'static str, Vec<Figure>)>,
    warnings: Vec<String>,
    quality: Vec<String>,
    settings: Vec<Section>,
    version: &'static str,
    styles: String,
    data: String,
    scripts: String,
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
    /// Seconds from midnight to the first frame.
    clock_s: Option<f64>,
    levels: Levels,
    voltages: &'static str,
    whole: Packed,
    close_ups: Vec<Packed>,
    marks: Vec<Value>,
    after: Vec<Value>,
}

impl Report {
    pub(super) fn new(gathered: &Gathered<'_>, end: &Summary) -> Self {
        let Gathered { settings, story, .. } = *gathered;
        let events = story.events();
        let clock = end.trace.clock();
        let rows = happened::rows(gathered, end, clock.as_ref());
        let spells = rows.iter().filter(|h| h.idle).count();
        Self {
            name: name(end),
            path: end.trace.path.clone(),
            settings_path: end.settings_path.clone(),
            motor: motor(settings),
            facts: facts(end, clock.as_ref()),
            tripped: end.totals.trips > 0,
            verdict: sentence(&verdict(&story.trips(), &story.feed_stops(), &end.totals, settings, clock.as_ref())),
            consequence: happened::consequence(events, end.trace.duration_s),
            tiles: figures::tiles(end, settings),
            clock: clock.is_some(),
            close_ups: happened::around(gathered, &rows, clock.as_ref()),
            states: figures::states(&end.totals, end.trace.duration_s),
            parts: figures::parts(&end.totals),
            runs: runs::tables(&end.runs),
            bands: sentence(&end.runs.about_bands()),
            trend: crate::report::runs::TREND,
            budget: runs::budget(&end.runs),
            assumed: end.runs.uncertainty.assumed.iter().map(|a| sentence(a)).collect(),
            totals: figures::totals(end, settings),
            warnings: end.warnings.iter().map(|w| sentence(w)).collect(),
            quality: quality(end, events),
            settings: sections(settings, end.totals.idle_power_kw),
            version: env!("CARGO_PKG_VERSION"),
            styles: STYLES.concat(),
            data: data(gathered, end, clock.as_ref()),
            scripts: format!("/*\n{LICENCE}*/\n{}", SCRIPTS.join("\n")),
            happened: rows,
            folded: (spells > SPELLS).then_some(spells),
            left_out: story.others(),
        }
    }
}

/// The mill as the trace names it, else the file.
fn name(end: &Summary) -> String {
    let file = || std::path::Path::new(&end.trace.path).file_name().map(|name| name.to_string_lossy().into_owned());
    match &end.trace.station {
        Some(station) => station.clone(),
        None if end.trace.path == "-" => "standard input".to_owned(),
        None => file().unwrap_or_else(|| end.trace.path.clone()),
    }
}

fn motor(settings: &Settings) -> String {
    let m = &settings.motor;
    format!(
        "{} kW, {} V, {} A, {} Hz, {} rpm motor",
        m.rated_power_kw, m.rated_voltage_v, m.rated_current_a, m.rated_frequency_hz, m.rated_speed_rpm
    )
}

fn facts(end: &Summary, clock: Option<&Clock>) -> String {
    let t = &end.trace;
    let from = clock.map_or(String::new(), |c| format!("{} {}{}, ", c.date(), c.time_at(0.0), c.zone));
    format!("{from}{} long, {} frames at {} Hz", words::span(t.duration_s), t.frames, t.rate_hz)
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    let stop = if text.ends_with('.') { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}

/// What is well with the data; what is not is among the warnings.
fn quality(end: &Summary, events: &[EventRow]) -> Vec<String> {
    let t = &end.totals;
    let mut lines = Vec::new();
    if t.clipped_samples == 0 {
        lines.push("No sample was clipped by the converter.".to_owned());
    }
    if t.bridged_samples == 0 {
        lines.push("No sample was missing.".to_owned());
    }
    lines.push(match events.iter().filter(|e| e.event == "gap").count() {
        0 => "No gap.".to_owned(),
        n => format!("{}; unknown time {} in all.", words::counted(n as u64, "gap"), words::span(t.unknown_s)),
    });
    lines
}

/// The settings, trips first.
fn sections(settings: &Settings, idle_kw: Option<f64>) -> Vec<Section> {
    let mut sections: Vec<Section> = Vec::new();
    for line in check::lines(settings, &[]) {
        match (line, sections.last_mut()) {
            (Line::Section(name), _) => sections.push(Section { name, rows: vec![], notes: vec![] }),
            (Line::Figure { name, value, unit, from, note }, Some(section)) => {
                let learnt = idle_kw.filter(|_| name == "idle_power_kw" && value.is_null());
                let (value, from) = match learnt {
                    Some(kw) => (words::short(kw), "learnt"),
                    None => (check::shown(&value), from.name()),
                };
                section.rows.push(Setting { name, value, unit, from, note });
            }
            (Line::Note(note), Some(section)) => section.notes.push(note),
            _ => {}
        }
    }
    sections.sort_by_key(|section| !section.name.starts_with("trip"));
    sections
}

/// The data as JSON that may stand in a page: no `<` in it.
fn data(gathered: &Gathered<'_>, end: &Summary, clock: Option<&Clock>) -> String {
    let settings = gathered.settings;
    let after = happened::after(gathered.story.events(), end.trace.duration_s);
    let data = Data {
        clock_s: clock.map(Clock::second_of_day),
        levels: levels(settings, end.totals.idle_power_kw),
        voltages: if settings.supply.wiring.is_phase_to_neutral() { "neutral" } else { "line" },
        whole: gathered.track.pack(QUANTITIES.len()),
        close_ups: gathered.close_ups.iter().map(|c| c.track.pack(CLOSE_UP)).collect(),
        marks: happened::marks(gathered.story.events()),
        after: after.into_iter().map(|(from_s, to_s)| json!({ "from_s": from_s, "to_s": to_s })).collect(),
    };
    serde_json::to_string(&data).unwrap_or_else(|_| "null".to_owned()).replace('<', "\\u003c")
}
