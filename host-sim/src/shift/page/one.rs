//! Every figure of one shift.

use super::super::figures::Row;
use super::super::report::Report;
use super::super::stoppages::NO_REASON;
use super::super::words;
use super::{Figure, One, band, count, dash, title, trips};

/// A figure, or why it cannot be had.
fn figure(row: &Row, name: &'static str, key: &str, value: String, unit: &str) -> Figure {
    let missing = value.starts_with('–');
    let why = row.why.get(key).cloned().unwrap_or_default();
    let unit = if missing && !why.is_empty() { why } else { unit.to_owned() };
    Figure { name, value, unit }
}

/// Its time, and the clocks that told it.
fn time(row: &Row) -> Vec<Figure> {
    let figure = |name, key: &str, value, unit: &str| figure(row, name, key, value, unit);
    let h = |name, hours: f64| figure(name, "", format!("{hours:.3}"), "h");
    let mut time = vec![
        figure("from", "", row.from.clone(), &row.from_utc),
        figure("to", "", row.to.clone(), &row.to_utc),
        h("elapsed", row.elapsed_h),
    ];
    time.extend(words::times(row).map(|(name, hours)| h(name, hours)));
    let told = row.stopped_by_reason_h.as_ref();
    let each = |(reason, hours): (&String, &f64)| format!("{reason} {hours:.2} h");
    let reasons = told.map_or_else(String::new, |all| all.iter().map(each).collect::<Vec<_>>().join(", "));
    let without = told.map(|all| all.get(NO_REASON).copied().unwrap_or(0.0));
    time.push(figure("stopped without a reason", "stopped_by_reason_h", dash(without, 3), &format!("h; {reasons}")));
    time.push(figure("feed stopped, in these", "feed_stopped_h", dash(row.feed_stopped_h, 3), "h"));
    time.extend([
        figure("register began anew", "register_rollovers", count(row.register_rollovers), "times"),
        figure("clocks put right", "", row.clock_corrections.to_string(), "corrections, told below"),
    ]);
    time
}

/// Every figure of a shift, with why it cannot be had where it cannot.
pub(super) fn one(at: usize, row: &Row, report: &Report) -> One {
    let money = report.currency.clone().unwrap_or_default();
    let figure = |name, key: &str, value, unit: &str| figure(row, name, key, value, unit);
    let kwh = |name, kwh: f64| figure(name, "", format!("{kwh:.2}"), "kWh");
    let text = |x: &Option<String>| x.clone().unwrap_or_default();
    let materials = row.materials.iter().map(|(name, t)| format!("{name} {t:.2}")).collect::<Vec<_>>().join(", ");
    let causes = row.trips.as_ref().map_or_else(String::new, |trips| {
        trips.iter().map(|(cause, n)| format!("{n} {cause}")).collect::<Vec<_>>().join(", ")
    });
    let mut energy = vec![figure("taken in", "kwh", band(Some(row.kwh), row.kwh_band), "kWh")];
    energy.extend(words::energies(row).into_iter().map(|(name, x)| kwh(name, x)));
    energy.extend([
        kwh("given back", row.exported_kwh),
        figure("net of the empty mill", "net_kwh", band(row.net_kwh, row.net_kwh_band), "kWh"),
        figure("reactive", "power_factor", dash(row.kvarh, 2), "kvarh"),
        figure("power factor", "power_factor", dash(row.power_factor, 3), "from energies"),
    ]);
    let set = |unit: &str| {
        let note = row.hammers.as_ref().map_or_else(String::new, |note| format!(" ({note})"));
        format!("{unit} at its end, since {}{note}", text(&row.hammers_since))
    };
    let mass = vec![
        figure("fed", "t", band(row.t, row.t_band), &format!("t {materials}")),
        figure(
            "tickets",
            "",
            row.tickets.to_string(),
            &format!("{} late, {} corrections", row.late_tickets, row.corrections),
        ),
        figure("rate while running", "t", dash(row.t_per_h, 2), "t/h"),
        figure("hammers run", "hammers_run_h", dash(row.hammers_run_h, 1), &set("h")),
        figure("hammers broke", "hammers_t", dash(row.hammers_t, 1), &set("t")),
        figure("gross", "gross_kwh_per_t", band(row.gross_kwh_per_t, row.gross_band_kwh_per_t), "kWh/t"),
        figure("net", "net_kwh", band(row.net_kwh_per_t, row.net_band_kwh_per_t), "kWh/t"),
    ];
    let load = vec![
        figure("load, mean", "load_mean_pct", dash(row.load_mean_pct, 1), "% of rated, while running"),
        figure("95 % of the time below", "load_mean_pct", dash(row.load_p95_pct, 1), "% of rated"),
        figure("highest second", "load_peak_1s_pct", dash(row.load_peak_1s_pct, 1), "% of rated, mean over 1 s"),
        figure("above 100 %", "", dash(Some(row.above_100_min), 1), "min"),
        figure("feeder's set point, mean", "feed_mean_pct", dash(row.feed_mean_pct, 1), "%, while running"),
        figure("feeder at 100 %", "feed_mean_pct", dash(row.feed_at_100_min, 1), "min"),
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
    let mut groups = vec![("Time", time(row)), ("Energy", energy), ("Mass", mass), ("Load and events", load)];
    groups.push(("Drift and money", drift));
    One { at, title: title(row), groups }
}
