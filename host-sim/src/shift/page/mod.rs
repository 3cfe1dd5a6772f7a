//! `shift.html`: a page to hand over, whole in itself, in the report's own look.

mod one;
mod tables;

use askama::Template;

use super::figures::Row;
use super::picture;
use super::report::Report;
use super::words::{self, with_band};
use crate::report::words::short;
use one::one;
use tables::{RULES, known, pair, states, tiles};

const STYLES: [&str; 2] = [include_str!("../../../page/page.css"), include_str!("../../../page/shift.css")];
const SCRIPTS: [&str; 2] = [include_str!("../../../page/theme.js"), include_str!("../../../page/shift.js")];
/// Shifts whose every figure is told, the last ones.
const ONES: usize = 31;
/// Shifts above which their table is folded away.
const FOLDED: usize = 60;

#[derive(Template)]
#[template(path = "shift.html")]
struct Page<'a> {
    report: &'a Report,
    period: String,
    boundary: String,
    currency: String,
    verdict: String,
    tiles: Vec<Figure>,
    bars: String,
    folded: bool,
    rows: Vec<Line>,
    ones: Vec<One>,
    left_out: usize,
    states: Vec<State>,
    known: Vec<State>,
    materials: Vec<(String, String)>,
    reasons: Vec<(String, String)>,
    pairs: Vec<[String; 7]>,
    drift_words: Vec<String>,
    cusum: String,
    deviation: String,
    months: Vec<Month>,
    bands: Vec<(String, String)>,
    money_words: Vec<String>,
    budget: Vec<Term>,
    complete: String,
    longest: String,
    gaps: Vec<Gap>,
    rules: Vec<&'static str>,
    version: &'static str,
    styles: String,
    script: String,
}

struct Figure {
    name: &'static str,
    value: String,
    unit: String,
}

struct Line {
    name: String,
    link: Option<usize>,
    sum: bool,
    cells: Vec<String>,
}

struct One {
    at: usize,
    title: String,
    groups: Vec<(&'static str, Vec<Figure>)>,
}

struct State {
    name: &'static str,
    class: &'static str,
    means: &'static str,
    time: String,
    time_pct: f64,
    energy: String,
    energy_pct: f64,
}

struct Month {
    name: String,
    peak: String,
    at: String,
    shift: String,
    power_factor: String,
    billed: String,
    demand_cost: String,
    reactive_cost: String,
}

struct Term {
    source: &'static str,
    limit: String,
    kwh: String,
    net: String,
    t: String,
}

struct Gap {
    from: String,
    to: String,
    hours: String,
    kind: &'static str,
    kwh: String,
}

fn dash(x: Option<f64>, places: usize) -> String {
    x.map_or_else(|| "–".to_owned(), |x| format!("{x:.places$}"))
}

fn band(x: Option<f64>, half: Option<f64>) -> String {
    with_band(x, half).replace("+-", "±").replacen('-', "–", usize::from(x.is_none()))
}

fn title(row: &Row) -> String {
    let crew = row.crew.as_ref().map_or_else(String::new, |crew| format!(", crew {crew}"));
    match &row.date {
        Some(date) => format!("{date} {}{crew}", row.shift),
        None => row.shift.clone(),
    }
}

fn trips(row: &Row) -> String {
    row.trips.as_ref().map_or_else(|| "–".to_owned(), |trips| trips.values().sum::<u32>().to_string())
}

fn count(n: Option<u32>) -> String {
    n.map_or_else(|| "–".to_owned(), |n| n.to_string())
}

fn line(row: &Row, link: Option<usize>, sum: bool) -> Line {
    let deviation = row.deviation_pct.map_or_else(|| "–".to_owned(), |pct| format!("{pct:+.1} %"));
    let cells = vec![
        dash(Some(row.elapsed_h), 2),
        dash(Some(row.breaking_h), 2),
        dash(Some(row.idle_h), 2),
        dash(Some(row.stopped_h + row.coasting_h + row.starting_h), 2),
        dash(Some(row.unknown_h), 2),
        band(Some(row.kwh), row.kwh_band),
        band(row.t, row.t_band),
        band(row.gross_kwh_per_t, row.gross_band_kwh_per_t),
        band(row.net_kwh_per_t, row.net_band_kwh_per_t),
        dash(row.demand_block_kw, 1),
        dash(row.power_factor, 3),
        count(row.starts),
        trips(row),
        deviation,
    ];
    let name = row.date.as_ref().map_or_else(|| row.shift.clone(), |date| format!("{date} {}", row.shift));
    Line { name, link, sum, cells }
}

/// The page.
///
/// # Errors
/// It cannot be made.
pub fn page(report: &Report) -> anyhow::Result<String> {
    let whole = &report.whole;
    let first = report.shifts.len().saturating_sub(ONES);
    let mut rows: Vec<Line> =
        report.shifts.iter().enumerate().map(|(at, row)| line(row, (at >= first).then_some(at), false)).collect();
    if report.outside.elapsed_h > 0.0 {
        rows.push(line(&report.outside, None, false));
    }
    rows.push(line(whole, None, true));
    let facts = words::facts(report);
    let about_drift =
        |line: &&String| ["Baseline", "Bend", "No bend", "The cumulative"].iter().any(|begin| line.starts_with(begin));
    let about_money = |line: &&String| ["The empty mill", "Energy costs"].iter().any(|begin| line.starts_with(begin));
    let words = |line: &String| line.replace("+-", "±");
    let period = match (
        report.shifts.first().and_then(|row| row.date.clone()),
        report.shifts.last().and_then(|row| row.date.clone()),
    ) {
        (Some(a), Some(b)) if a == b => a,
        (Some(a), Some(b)) => format!("{a} to {b}"),
        _ => String::new(),
    };
    let known_pct = 100.0 * (whole.elapsed_h - whole.missing_h) / whole.elapsed_h.max(1e-9);
    let page = Page {
        report,
        period,
        boundary: report.boundary.join(", "),
        currency: report.currency.clone().unwrap_or_default(),
        verdict: words::sentence(report).replace("+-", "±"),
        tiles: tiles(report),
        bars: picture::bars(report),
        folded: report.shifts.len() > FOLDED,
        rows,
        ones: report.shifts.iter().enumerate().skip(first).map(|(at, row)| one(at, row, report)).collect(),
        left_out: first,
        states: states(whole),
        known: known(whole),
        materials: whole.materials.iter().map(|(name, t)| (name.clone(), format!("{t:.2}"))).collect(),
        reasons: whole
            .stopped_by_reason_h
            .iter()
            .flatten()
            .map(|(name, h)| (name.clone(), format!("{h:.2}")))
            .collect(),
        pairs: report.by_material_and_screen.iter().map(pair).collect(),
        drift_words: facts.iter().filter(about_drift).map(words).collect(),
        cusum: picture::cusum(report),
        deviation: picture::deviation(report),
        months: report
            .months
            .iter()
            .map(|m| Month {
                name: m.part().map_or_else(|| m.month.clone(), |part| format!("{}, {part}", m.month)),
                peak: m.peak.map_or_else(|| dash(None, 1), |peak| format!("{peak:.1} {}", m.unit)),
                at: m.at.clone().unwrap_or_else(|| dash(None, 0)),
                shift: m.shift.clone().unwrap_or_else(|| dash(None, 0)),
                power_factor: dash(m.power_factor, 3),
                billed: m.billed.map_or_else(|| dash(None, 1), |billed| format!("{billed:.1} {}", m.unit)),
                demand_cost: dash(m.demand_cost, 2),
                reactive_cost: dash(m.reactive_cost, 2),
            })
            .collect(),
        bands: whole.by_band_kwh.iter().map(|(name, kwh)| (name.clone(), format!("{kwh:.2}"))).collect(),
        money_words: facts.iter().filter(about_money).map(words).collect(),
        budget: report
            .uncertainty
            .iter()
            .map(|term| Term {
                source: term.source,
                limit: term.limit.clone(),
                kwh: short(term.kwh),
                net: short(term.net_kwh),
                t: short(term.t),
            })
            .collect(),
        complete: format!("{known_pct:.2} % of the time has an energy figure; {:.3} h are missing.", whole.missing_h),
        longest: short(report.longest_row_s),
        gaps: report
            .gaps
            .iter()
            .map(|gap| Gap {
                from: gap.from.clone(),
                to: gap.to.clone(),
                hours: format!("{:.2}", gap.hours),
                kind: gap.kind,
                kwh: dash(gap.kwh, 2),
            })
            .collect(),
        rules: RULES.to_vec(),
        version: env!("CARGO_PKG_VERSION"),
        styles: STYLES.concat(),
        script: SCRIPTS.join("\n"),
    };
    Ok(page.render()?)
}
