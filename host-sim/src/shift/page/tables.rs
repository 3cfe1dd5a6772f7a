//! Tables of the page, its figures in short, and its rules.

use super::super::figures::Row;
use super::super::pairs::Pair;
use super::super::report::Report;
use super::super::words;
use super::{Figure, State, band, count, dash, trips};

/// What is done with what.
pub(super) const RULES: [&str; 9] = [
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

pub(super) fn states(row: &Row) -> Vec<State> {
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

pub(super) fn known(row: &Row) -> Vec<State> {
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

pub(super) fn pair(pair: &Pair) -> [String; 7] {
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

pub(super) fn tiles(report: &Report) -> Vec<Figure> {
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
