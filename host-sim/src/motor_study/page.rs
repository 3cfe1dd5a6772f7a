//! `motors.html`: the study as one file that opens without a network, in the report's own look.

use std::fmt::Write as _;

use askama::Template;

use super::figures::Figures;
use super::{Found, words};
use crate::report::words::{counted, span};
use crate::svg::{Axes, capital, escaped, tenth, ticks};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 312.0;
/// Left, top, right, bottom of a plot.
const PLOT: [f64; 4] = [48.0, 26.0, 546.0, 266.0];
/// Lines of a picture that can be told apart.
const LINES: usize = 5;
/// Nothing beyond is drawn, %.
const MOST_PCT: f64 = 300.0;

#[derive(Template)]
#[template(path = "motors.html")]
struct Page {
    logs: String,
    facts: String,
    verdict: String,
    none: bool,
    recorded: String,
    tiles: Vec<Tile>,
    rows: Vec<Row>,
    legend: Vec<(usize, String)>,
    left_out: usize,
    loads: String,
    thermal: String,
    notes: Vec<String>,
    version: &'static str,
    styles: String,
    script: &'static str,
}

struct Tile {
    name: &'static str,
    value: String,
    note: String,
}

struct Row {
    name: String,
    smallest: bool,
    no: bool,
    does: String,
    cells: Vec<String>,
    why: String,
}

/// The page.
///
/// # Errors
/// Never in memory.
pub fn html(found: &Found) -> anyhow::Result<String> {
    let drawn: Vec<usize> = (0..found.motors.len().min(LINES)).collect();
    let page = Page {
        logs: found.logs.iter().map(|log| log.display().to_string()).collect::<Vec<_>>().join(", "),
        facts: format!(
            "{}, {} at work of {}; settings {}",
            counted(found.logs.len() as u64, "log"),
            span(found.recorded.running_s),
            span(found.recorded.length_s),
            found.motors[0].settings.file
        ),
        verdict: words::verdict(found),
        none: found.smallest().is_none(),
        recorded: capital(&words::recorded(found)),
        tiles: tiles(found),
        rows: (0..found.motors.len()).map(|n| row(found, n)).collect(),
        legend: drawn.iter().map(|n| (n + 1, found.motors[*n].name.clone())).collect(),
        left_out: found.motors.len() - drawn.len(),
        loads: loads(found, &drawn),
        thermal: thermal(found, &drawn),
        notes: found.notes.iter().map(|note| capital(note)).collect(),
        version: env!("CARGO_PKG_VERSION"),
        styles: [include_str!("../../page/page.css"), include_str!("../../page/motors.css")].concat(),
        script: include_str!("../../page/theme.js"),
    };
    Ok(page.render()?)
}

fn tiles(found: &Found) -> Vec<Tile> {
    let kw = |w: Option<f64>| w.map_or("–".to_owned(), |w| format!("{:.1} kW", w / 1e3));
    let own = &found.figures[0];
    let rated = found.motors[0].rated_w();
    let mean = own.mean().map(|share| share * rated);
    let [short, long] = own.peaks.map(|peak| peak.map(|share| share * rated));
    vec![
        Tile { name: "load at the shaft, rms", value: kw(found.recorded.rms_w()), note: "as recorded".to_owned() },
        Tile { name: "mean", value: kw(mean), note: "of the recorded motor, reckoned".to_owned() },
        Tile { name: "highest over 10 s", value: kw(long), note: "reckoned; a motor must give it".to_owned() },
        Tile { name: "highest over 1 s", value: kw(short), note: "reckoned; the rotor carries a part".to_owned() },
        Tile {
            name: "the study's own check",
            value: found.off().map_or("–".to_owned(), |off| format!("{:+.1} %", 100.0 * off)),
            note: "energy of the recorded motor, reckoned over recorded".to_owned(),
        },
    ]
}

fn row(found: &Found, n: usize) -> Row {
    let motor = &found.motors[n];
    let figures = &found.figures[n];
    let dash = |x: Option<String>| x.unwrap_or_else(|| "–".to_owned());
    let mut cells: Vec<String> = words::cells(found, n).into();
    cells.iter_mut().filter(|cell| *cell == "-").for_each(|cell| "–".clone_into(cell));
    cells.push(dash(figures.power_factor().map(|x| format!("{x:.2}"))));
    cells.push(dash((figures.idle_s > 0.0).then(|| format!("{:.1}", figures.idle_j / figures.idle_s / 1e3))));
    Row {
        name: motor.name.clone(),
        smallest: found.smallest() == Some(n),
        no: words::does(found, n) == "no",
        does: words::does(found, n).replace('-', "–"),
        cells,
        why: words::reasons(found, n).join("; "),
    }
}

/// How much of the time the load lies above a share of each motor's rating.
fn loads(found: &Found, drawn: &[usize]) -> String {
    let most = drawn.iter().filter_map(|n| found.figures[*n].peaks[0]).fold(1.2, f64::max).min(MOST_PCT / 100.0);
    let axes = Axes { place: PLOT, x: [0.0, (most * 10.0).ceil() * 10.0], y: [0.0, 100.0] };
    let mut out = begin("Share of the time at speed for which the load lies above a share of each motor's rating");
    grid(&mut out, &axes, "load, % of the motor's rating", "% of the time above");
    rating(&mut out, axes.x(100.0), false);
    for (line, n) in drawn.iter().enumerate() {
        let above = found.figures[*n].above();
        let points = above
            .iter()
            .take_while(|(share, _)| share * 100.0 <= axes.x[1])
            .map(|(share, time)| (share * 100.0, time * 100.0));
        polyline(&mut out, line, &axes, points);
    }
    out + "</svg>"
}

/// The thermal image over time.
fn thermal(found: &Found, drawn: &[usize]) -> String {
    let all = || drawn.iter().map(|n| &found.figures[*n]).filter(|figures| figures.hottest.is_some());
    let most = all().filter_map(|figures| figures.hottest).map(|(level, _)| level * 100.0).fold(110.0, f64::max);
    let unit = if found.recorded.length_s > 7_200.0 {
        ("h", 3_600.0)
    } else if found.recorded.length_s > 300.0 {
        ("min", 60.0)
    } else {
        ("s", 1.0)
    };
    let axes =
        Axes { place: PLOT, x: [0.0, (found.recorded.length_s / unit.1).max(0.1)], y: [0.0, most.min(MOST_PCT)] };
    let mut out = begin("Thermal image of each motor over time");
    grid(&mut out, &axes, &format!("time, {}", unit.0), "thermal image, %");
    rating(&mut out, axes.y(100.0), true);
    for (line, n) in drawn.iter().enumerate() {
        let figures: &Figures = &found.figures[*n];
        let at = |n: usize| (n as f64 + 0.5) * figures.every_s / unit.1;
        let seen = figures.course.iter().enumerate().filter_map(|(n, level)| Some((at(n), level.as_ref()? * 100.0)));
        polyline(&mut out, line, &axes, seen.filter(|(x, _)| *x <= axes.x[1]).map(|(x, y)| (x, y.min(axes.y[1]))));
    }
    out + "</svg>"
}

fn begin(label: &str) -> String {
    format!("<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"{}\">\n", escaped(label))
}

fn grid(out: &mut String, axes: &Axes, x_name: &str, y_name: &str) {
    let [left, top, right, bottom] = axes.place;
    for y in ticks(axes.y) {
        out.push_str(&axes.across(y, y));
    }
    for x in ticks(axes.x) {
        out.push_str(&axes.upright(x, x));
    }
    let _ = writeln!(
        out,
        "<text x=\"{right}\" y=\"{}\" text-anchor=\"end\">{}</text><text x=\"{left}\" y=\"{}\">{}</text>",
        bottom + 36.0,
        escaped(x_name),
        top - 9.0,
        escaped(y_name)
    );
}

/// The line of 100 %: upright, or lying.
fn rating(out: &mut String, at: f64, lying: bool) {
    let [left, top, right, bottom] = PLOT;
    let at = tenth(at);
    let path = if lying { format!("M{left} {at}H{right}") } else { format!("M{at} {top}V{bottom}") };
    let _ = writeln!(out, "<path class=\"rating\" d=\"{path}\"/>");
}

fn polyline(out: &mut String, line: usize, axes: &Axes, points: impl Iterator<Item = (f64, f64)>) {
    let points: Vec<String> = points.map(|(x, y)| format!("{},{}", tenth(axes.x(x)), tenth(axes.y(y)))).collect();
    let _ = writeln!(out, "<polyline class=\"line-{}\" points=\"{}\"/>", line + 1, points.join(" "));
}
