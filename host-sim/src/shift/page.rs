//! `shift.html`: a page to hand over, whole in itself, in the report's own look.

use askama::Template;

use super::figures::Row;
use super::picture;
use super::report::Report;
use super::words::{self, with_band};
use crate::report::words::short;

const STYLES: [&str; 2] = [include_str!("../../page/page.css"), include_str!("../../page/shift.css")];
const SCRIPTS: [&str; 2] = [include_str!("../../page/theme.js"), include_str!("../../page/shift.js")];
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

/// What is done with what.
const RULES: [&str; 9] = [
    "A shift belongs to the date on which it begins; it lasts from wall clock to wall clock, so that a night is an hour shorter or longer when the clocks change. A planned time that the clocks skip is read with the offset before (02:30 becomes 03:30), one that comes twice is the first (RFC 5545).",
    "A row that straddles a minute's end is shared out by time; minutes are booked whole. Time is counted in microseconds: states add up to the elapsed time, shifts and what is outside of them to the period.",
    "Measured: rows tell it. Bridged: the meter's register tells the energy of a gap inside one shift. Estimated: the share of a shift in a gap that reaches over its end, by time. Missing: nothing tells it, and it counts as nothing; energy a tonne is not given where more than 0.5 % of the time is missing. Tonnes and states of a gap are not known.",
    "Of one time that two logs tell the first counts, and only where they agree.",
    "Net energy is the electrical energy while idle and breaking less what the empty mill takes in that time. It is taken from the mains, not at the shaft.",
    "Demand: blocks begin with the clock; a block belongs to a shift if it lies wholly inside it, one that reaches over the change of shifts belongs to the month alone. The sliding span begins at any minute. A block with a minute that was not measured has no mean.",
    "The power factor is that of energies, kWh over the root of kWh² and kvarh², never a mean of factors.",
    "Energy is priced by the tariff's times in legal time, minute by minute. Demand and reactive energy are priced by the month.",
    "A ticket counts in the shift in which it was weighed, however late it was entered; corrections keep what was there before, who changed it and why.",
];

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

/// Every figure of a shift, with why it cannot be had where it cannot.
fn one(at: usize, row: &Row, report: &Report) -> One {
    let money = report.currency.clone().unwrap_or_default();
    let figure = |name: &'static str, key: &str, value: String, unit: &str| {
        let missing = value.starts_with('–');
        let why = row.why.get(key).cloned().unwrap_or_default();
        let unit = if missing && !why.is_empty() { why } else { unit.to_owned() };
        Figure { name, value, unit }
    };
    let h = |name, hours: f64| figure(name, "", format!("{hours:.3}"), "h");
    let kwh = |name, kwh: f64| figure(name, "", format!("{kwh:.2}"), "kWh");
    let text = |x: &Option<String>| x.clone().unwrap_or_default();
    let materials = row.materials.iter().map(|(name, t)| format!("{name} {t:.2}")).collect::<Vec<_>>().join(", ");
    let causes = row.trips.as_ref().map_or_else(String::new, |trips| {
        trips.iter().map(|(cause, n)| format!("{n} {cause}")).collect::<Vec<_>>().join(", ")
    });
    let mut time = vec![
        figure("from", "", row.from.clone(), &row.from_utc),
        figure("to", "", row.to.clone(), &row.to_utc),
        h("elapsed", row.elapsed_h),
    ];
    time.extend(words::times(row).map(|(name, hours)| h(name, hours)));
    time.push(figure("feed stopped, in these", "feed_stopped_h", dash(row.feed_stopped_h, 3), "h"));
    let mut energy = vec![figure("taken in", "kwh", band(Some(row.kwh), row.kwh_band), "kWh")];
    energy.extend(words::energies(row).into_iter().map(|(name, x)| kwh(name, x)));
    energy.extend([
        kwh("given back", row.exported_kwh),
        figure("net of the empty mill", "net_kwh", band(row.net_kwh, row.net_kwh_band), "kWh"),
        figure("reactive", "power_factor", dash(row.kvarh, 2), "kvarh"),
        figure("power factor", "power_factor", dash(row.power_factor, 3), "from energies"),
    ]);
    let mass = vec![
        figure("fed", "t", band(row.t, row.t_band), &format!("t {materials}")),
        figure(
            "tickets",
            "",
            row.tickets.to_string(),
            &format!("{} late, {} corrections", row.late_tickets, row.corrections),
        ),
        figure("rate while running", "t", dash(row.t_per_h, 2), "t/h"),
        figure("gross", "gross_kwh_per_t", band(row.gross_kwh_per_t, row.gross_band_kwh_per_t), "kWh/t"),
        figure("net", "net_kwh", band(row.net_kwh_per_t, row.net_band_kwh_per_t), "kWh/t"),
    ];
    let load = vec![
        figure("load, mean", "load_mean_pct", dash(row.load_mean_pct, 1), "% of rated, while running"),
        figure("95 % of minutes below", "load_mean_pct", dash(row.load_p95_pct, 1), "% of rated"),
        figure("highest row", "load_mean_pct", dash(row.load_highest_pct, 1), "% of rated"),
        figure("above 100 %", "", dash(Some(row.above_100_min), 1), "min"),
        figure(
            "highest block",
            "demand_block_kw",
            dash(row.demand_block_kw, 1),
            &format!("kW from {}", text(&row.demand_block_at)),
        ),
        figure(
            "highest span",
            "demand_block_kw",
            dash(row.demand_sliding_kw, 1),
            &format!("kW from {}", text(&row.demand_sliding_at)),
        ),
        figure("highest block", "power_factor", dash(row.demand_block_kva, 1), "kVA"),
        figure("load factor", "demand_block_kw", dash(row.load_factor, 3), "mean power over highest block"),
        figure("starts", "starts", count(row.starts), ""),
        figure("trips", "trips", trips(row), &causes),
        figure("feed stops", "feed_stops", count(row.feed_stops), ""),
        figure("reversals", "feed_stops", count(row.reversals), ""),
    ];
    let drift = vec![
        figure("expected", "expected_kwh", dash(row.expected_kwh, 1), "kWh"),
        figure(
            "deviation",
            "expected_kwh",
            row.deviation_kwh.map_or_else(|| "–".to_owned(), |x| format!("{x:+.1}")),
            "kWh",
        ),
        figure(
            "cumulative sum",
            "expected_kwh",
            row.cusum_kwh.map_or_else(|| "–".to_owned(), |x| format!("{x:+.1}")),
            "kWh",
        ),
        figure("energy costs", "energy_cost", dash(row.energy_cost, 2), &money),
        figure("of it idle", "energy_cost", dash(row.idle_cost, 2), &money),
    ];
    let mut groups = vec![("Time", time), ("Energy", energy), ("Mass", mass), ("Load and events", load)];
    groups.push(("Drift and money", drift));
    One { at, title: title(row), groups }
}

fn states(row: &Row) -> Vec<State> {
    let energies = [row.breaking_kwh, row.idle_kwh, row.starting_kwh];
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole * 100.0 } else { 0.0 };
    let classes = ["breaking", "idle", "starting", "coasting", "stopped", "unknown"];
    let beyond = row.other_kwh + row.bridged_kwh + row.estimated_kwh;
    let one = |(at, (name, hours)): (usize, (&'static str, f64))| {
        let kwh = energies.get(at).copied().or((at == 5).then_some(beyond));
        State {
            name,
            class: classes[at],
            means: "",
            time: format!("{hours:.3}"),
            time_pct: share(hours, row.elapsed_h),
            energy: kwh.map_or_else(|| "–".to_owned(), |kwh| format!("{kwh:.2}")),
            energy_pct: share(kwh.unwrap_or(0.0), row.kwh),
        }
    };
    let mut all: Vec<State> = words::times(row).into_iter().enumerate().map(one).collect();
    // What coasts or stands takes next to nothing: it is told with what no state is known of.
    all[5].name = "not known, and other energy";
    all
}

fn known(row: &Row) -> Vec<State> {
    let all = [
        ("measured", row.measured_h, Some(row.measured_kwh), "rows tell it"),
        ("bridged", row.bridged_h, Some(row.bridged_kwh), "the register tells its energy"),
        ("estimated", row.estimated_h, Some(row.estimated_kwh), "a share, by time, of what the register tells"),
        ("missing", row.missing_h, None, "nothing tells it"),
    ];
    let one = |(name, hours, kwh, means): (&'static str, f64, Option<f64>, &'static str)| State {
        name,
        class: "",
        means,
        time: format!("{hours:.3}"),
        time_pct: 0.0,
        energy: dash(kwh, 2),
        energy_pct: 0.0,
    };
    all.into_iter().map(one).collect()
}

fn pair(pair: &super::pairs::Pair) -> [String; 7] {
    [
        pair.material.clone(),
        pair.screen.clone(),
        pair.shifts.to_string(),
        format!("{:.1}", pair.t),
        format!("{:.2}", pair.t_per_h),
        band(Some(pair.gross_kwh_per_t), pair.gross_band_kwh_per_t),
        band(pair.net_kwh_per_t, pair.net_band_kwh_per_t),
    ]
}

fn tiles(report: &Report) -> Vec<Figure> {
    let whole = &report.whole;
    let money = report.currency.clone().unwrap_or_default();
    let tile = |name, value: String, unit: String| Figure { name, value, unit };
    let mut all = vec![
        tile("energy", band(Some(whole.kwh), whole.kwh_band), "kWh".to_owned()),
        tile("fed", band(whole.t, whole.t_band), "t".to_owned()),
        tile("gross", band(whole.gross_kwh_per_t, whole.gross_band_kwh_per_t), "kWh/t".to_owned()),
        tile("net of the empty mill", band(whole.net_kwh_per_t, whole.net_band_kwh_per_t), "kWh/t".to_owned()),
        tile("idle", format!("{:.2}", whole.idle_h), format!("h, {:.0} kWh", whole.idle_kwh)),
    ];
    if let (Some(cost), Some(idle)) = (whole.energy_cost, whole.idle_cost) {
        all.push(tile("energy costs", format!("{cost:.2}"), format!("{money}, {idle:.2} of it idle")));
    }
    let known = report.months.iter().filter_map(|month| Some((month.peak?, month.at.as_ref()?, month.unit)));
    if let Some((peak, at, unit)) = known.max_by(|a, b| a.0.total_cmp(&b.0)) {
        all.push(tile("highest demand", format!("{peak:.1}"), format!("{unit}, {at}")));
    }
    all.push(tile("power factor", dash(whole.power_factor, 3), "from energies".to_owned()));
    all.push(tile("starts, trips", format!("{}, {}", count(whole.starts), trips(whole)), String::new()));
    if let Some(sum) = report.shifts.iter().rev().find_map(|row| row.cusum_kwh) {
        all.push(tile("against the baseline", format!("{sum:+.0}"), "kWh in all".to_owned()));
    }
    all
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
