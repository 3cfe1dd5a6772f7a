//! The report for people: a short table, what it comes to, and what a reader should know.

use std::fmt::Write as _;

use super::figures::Row;
use super::report::{Baseline, Bend, ClockRow, Idle, Month, OffRow, Report};
use crate::report::words::{counted, short};
use crate::terminal::Screen;

/// Shifts that are shown; of more the last ones.
const SHOWN: usize = 21;

/// A figure with its band.
pub fn with_band(x: Option<f64>, band: Option<f64>) -> String {
    match (x, band) {
        (None, _) => "-".to_owned(),
        (Some(x), None) => short(x),
        (Some(x), Some(band)) => {
            // As many decimals as the band's second digit.
            let places = if band > 0.0 { (1 - band.log10().floor() as i32).clamp(0, 4) as usize } else { 2 };
            format!("{x:.places$} +- {band:.places$}")
        }
    }
}

/// A figure for a column: fewer decimals where there is no room for them.
fn cell(x: Option<f64>, places: usize) -> String {
    let places = |x: f64| {
        if x.abs() >= 999.5 {
            0
        } else if x.abs() >= 99.95 {
            places.min(1)
        } else {
            places
        }
    };
    x.map_or_else(|| "-".to_owned(), |x| format!("{x:.*}", places(x)))
}

/// The text.
pub fn text(report: &Report) -> String {
    let mut out = String::new();
    let whole = &report.whole;
    let _ = writeln!(
        out,
        "{}: {}, {} to {}",
        report.site,
        counted(report.shifts.len() as u64, "shift"),
        whole.from,
        whole.to
    );
    for line in Screen::stdout().lines(0, &sentence(report)) {
        let _ = writeln!(out, "{line}");
    }
    shifts(report, &mut out);
    let _ = writeln!(out, "\nTime, all");
    for (name, hours) in times(whole) {
        let share = 100.0 * hours / whole.elapsed_h.max(1e-9);
        let _ = writeln!(out, "  {name:<18}{hours:>10.3} h{share:>7.1} %");
    }
    let _ = writeln!(out, "  {:<18}{:>10.3} h", "together", whole.elapsed_h);
    let _ = writeln!(out, "\nEnergy, all");
    for (name, kwh) in energies(whole) {
        let _ = writeln!(out, "  {name:<18}{kwh:>10.2} kWh");
    }
    let _ = writeln!(out, "  {:<18}{:>10.2} kWh", "together", whole.kwh);
    let _ = writeln!(out);
    for line in facts(report) {
        for line in Screen::stdout().lines(2, &line) {
            let _ = writeln!(out, "{line}");
        }
    }
    if !report.notes.is_empty() {
        let _ = writeln!(out, "\nTo know");
        for note in &report.notes {
            for line in Screen::stdout().lines(4, &format!("  {note}")) {
                let _ = writeln!(out, "{line}");
            }
        }
    }
    out
}

/// What it comes to.
pub fn sentence(report: &Report) -> String {
    let whole = &report.whole;
    let mut words = format!("{} kWh", with_band(Some(whole.kwh), whole.kwh_band));
    if whole.t.is_some() {
        let _ = write!(words, ", {} t", with_band(whole.t, whole.t_band));
    }
    if whole.gross_kwh_per_t.is_some() {
        let gross = with_band(whole.gross_kwh_per_t, whole.gross_band_kwh_per_t);
        let net = with_band(whole.net_kwh_per_t, whole.net_band_kwh_per_t);
        let _ = write!(words, ": {gross} kWh/t gross, {net} net of the empty mill");
    }
    if !report.register_off.is_empty() {
        let sum = |of: fn(&OffRow) -> f64| report.register_off.iter().map(of).sum::<f64>();
        let (register, rows) = (sum(|off| off.register_kwh), sum(|off| off.rows_kwh));
        let more = 100.0 * (register - rows) / rows.abs().max(1e-9);
        let _ = write!(
            words,
            "; NOT settled: the meter's register advanced by {register:.1} kWh where these rows come to {rows:.1} kWh ({more:+.1} %), more than the meter may err"
        );
    }
    if whole.missing_h > 0.0 {
        let _ = write!(words, "; {:.2} h have no energy figure, so that kWh are a lower limit", whole.missing_h);
    }
    words
}

/// Times that add up to the elapsed one.
pub fn times(row: &Row) -> [(&'static str, f64); 6] {
    [
        ("breaking", row.breaking_h),
        ("idle", row.idle_h),
        ("starting", row.starting_h),
        ("coasting", row.coasting_h),
        ("stopped", row.stopped_h),
        ("not known", row.unknown_h),
    ]
}

/// Energies that add up to all of it.
pub fn energies(row: &Row) -> Vec<(&'static str, f64)> {
    let mut all = vec![
        ("breaking", row.breaking_kwh),
        ("idle", row.idle_kwh),
        ("starting", row.starting_kwh),
        ("other states", row.other_kwh),
    ];
    if row.bridged_kwh > 0.0 {
        all.push(("bridged", row.bridged_kwh));
    }
    if row.estimated_kwh > 0.0 {
        all.push(("estimated", row.estimated_kwh));
    }
    all
}

fn shifts(report: &Report, out: &mut String) {
    let head = ["h", "run h", "idle h", "unkn.", "kWh", "t", "kWh/t", "net", "peak kW"];
    let _ = write!(out, "\n{:<19}", "Shift");
    let widths = [6, 6, 7, 6, 8, 7, 7, 6, 8];
    for (name, width) in head.iter().zip(widths) {
        let _ = write!(out, "{name:>width$}");
    }
    let _ = writeln!(out);
    let before = report.shifts.len().saturating_sub(SHOWN);
    if before > 0 {
        let _ = writeln!(out, "  {before} shifts before these: --csv has them");
    }
    let outside = (report.outside.elapsed_h > 0.0).then_some(&report.outside);
    for row in report.shifts[before..].iter().chain(outside).chain([&report.whole]) {
        let name = row.date.as_ref().map_or_else(|| row.shift.clone(), |date| format!("{date} {}", row.shift));
        let name: String = name.chars().take(18).collect();
        let cells = [
            cell(Some(row.elapsed_h), 1),
            cell(Some(row.breaking_h), 2),
            cell(Some(row.idle_h), 2),
            cell(Some(row.unknown_h), 2),
            cell(Some(row.kwh), 1),
            cell(row.t, 2),
            cell(row.gross_kwh_per_t, 2),
            cell(row.net_kwh_per_t, 2),
            cell(row.demand_block_kw, 1),
        ];
        let _ = write!(out, "{name:<19}");
        for (cell, width) in cells.iter().zip(widths) {
            let _ = write!(out, "{cell:>width$}");
        }
        let _ = writeln!(out);
    }
}

/// Facts of the period, a sentence each.
pub fn facts(report: &Report) -> Vec<String> {
    let whole = &report.whole;
    let mut all = vec![format!("Measured: {}. Electrical energy from the mains.", report.boundary.join(", "))];
    all.extend(report.idle.as_ref().map(|idle| idle_words(idle, report)));
    let money = report.currency.as_deref().unwrap_or("");
    if let Some(cost) = whole.energy_cost {
        let idle = whole.idle_cost.unwrap_or(0.0);
        all.push(format!("Energy costs {cost:.2} {money}, {idle:.2} of it while idle; demand is billed by the month."));
    }
    all.extend(report.months.iter().map(|month| month_words(month, report)));
    if let Some(factor) = whole.power_factor {
        all.push(format!("Power factor {factor:.3}, from energies."));
    }
    all.extend(load_words(whole));
    all.extend(stopped_words(whole));
    all.extend(hammer_words(whole));
    all.extend(report.clock_corrections.iter().map(clock_words));
    let count = |n: Option<u32>| n.map_or_else(|| "not known".to_owned(), |n| n.to_string());
    let trips = whole.trips.as_ref().map_or_else(
        || "not known".to_owned(),
        |trips| match trips.len() {
            0 => "0".to_owned(),
            _ => trips.iter().map(|(cause, n)| format!("{n} {cause}")).collect::<Vec<_>>().join(", "),
        },
    );
    all.push(format!("Starts: {}; feed stops: {}; trips: {trips}.", count(whole.starts), count(whole.feed_stops)));
    if report.by_material_and_screen.len() > 1 {
        all.extend(report.by_material_and_screen.iter().map(pair_words));
    }
    match (&report.baseline, &report.no_baseline) {
        (Some(line), _) => {
            all.push(baseline_words(line));
            let last = report.shifts.iter().rev().find_map(|row| row.cusum_kwh);
            let sum = last.map_or_else(String::new, |kwh| format!(" The cumulative sum stands at {kwh:+.1} kWh."));
            // Lines are drawn where bends were looked for.
            let none = match report.fit_pct.len() {
                0 => "No bend was looked for: too few days that can be judged.",
                looked if looked < report.days_pct.len() => {
                    "No bend stands out on the days on which one was looked for."
                }
                _ => "No bend stands out.",
            };
            let none = format!("{none}{sum}");
            all.extend(report.bends.iter().map(bend_words));
            all.push(if report.bends.is_empty() { none } else { sum.trim().to_owned() });
        }
        (None, Some(why)) => all.push(format!("No baseline: {why}.")),
        (None, None) => {}
    }
    all.retain(|line| !line.is_empty());
    all
}

/// Load and feed of the period.
fn load_words(whole: &Row) -> Vec<String> {
    let pct = |x: Option<f64>| x.map_or_else(|| "not known".to_owned(), |x| format!("{x:.1} %"));
    let mut all = Vec::new();
    if whole.load_mean_pct.is_some() {
        let [mean, p95, peak] = [whole.load_mean_pct, whole.load_p95_pct, whole.load_peak_1s_pct].map(pct);
        all.push(format!("Load while running: mean {mean}, 95 % of the time below {p95}, highest second {peak}."));
    }
    if let (Some(mean), Some(full)) = (whole.feed_mean_pct, whole.feed_at_100_min) {
        all.push(format!("Feeder's set point while running: mean {mean:.1} %, {full:.1} min at 100 %."));
    }
    all
}

/// Stopped time by reason, the longest first.
fn stopped_words(whole: &Row) -> Option<String> {
    let mut reasons: Vec<_> = whole.stopped_by_reason_h.as_ref()?.iter().collect();
    reasons.sort_by(|a, b| b.1.total_cmp(a.1));
    let each: Vec<String> = reasons.iter().map(|(reason, hours)| format!("{hours:.2} h {reason}")).collect();
    (!each.is_empty()).then(|| format!("Stopped for {:.2} h: {}.", whole.stopped_h, each.join(", ")))
}

/// A logger's clock that was put right.
fn clock_words(clock: &ClockRow) -> String {
    format!(
        "Clock of {} from {} to {}: fast by {} s, {} put right ({}: {}).",
        clock.log.as_deref().unwrap_or("all logs"),
        clock.from,
        clock.to,
        clock.fast_s,
        counted(clock.rows, "row"),
        clock.who,
        clock.why
    )
}

/// How old the hammers are.
pub fn hammer_words(row: &Row) -> Option<String> {
    let since = row.hammers_since.as_ref()?;
    let note = row.hammers.as_ref().map_or_else(String::new, |note| format!(" ({note})"));
    let known =
        |x: Option<f64>, unit: &str| x.map_or_else(|| format!("{unit} not known"), |x| format!("{x:.1} {unit}"));
    let age = [known(row.hammers_run_h, "h"), known(row.hammers_t, "t")].join(", ");
    Some(format!("Hammers{note} since {since}: {age} at the end."))
}

fn idle_words(idle: &Idle, report: &Report) -> String {
    let how = if idle.learnt { "as measured" } else { "as set" };
    let mut words = format!(
        "The empty mill takes {} kW ({how}); idle {:.2} h were {:.1} kWh.",
        short(idle.kw),
        report.whole.idle_h,
        report.whole.idle_kwh
    );
    if let (Some(start), Some(after)) = (idle.start_kwh, idle.stop_after_min) {
        let bound = idle.starts_per_hour.map_or_else(String::new, |n| format!(" and {n} starts an hour"));
        let _ = write!(
            words,
            " A start takes {} kWh, so that stopping beats idling after {} min; with that{bound} a timer of {} min would have stopped it {} and saved {:.1} kWh",
            short(start),
            short(idle.even_after_min.unwrap_or(0.0)),
            short(after),
            counted(u64::from(idle.spells), "time"),
            idle.saved_kwh
        );
        if let (Some(cost), Some(money)) = (idle.saved_cost, &report.currency) {
            let _ = write!(words, ", {cost:.2} {money}");
        }
        words.push('.');
    }
    words
}

fn pair_words(pair: &super::pairs::Pair) -> String {
    format!(
        "{} through {}: {} t/h, {} kWh/t gross, {} net, from {} of it alone.",
        pair.material,
        pair.screen,
        short(pair.t_per_h),
        with_band(Some(pair.gross_kwh_per_t), pair.gross_band_kwh_per_t),
        with_band(pair.net_kwh_per_t, pair.net_band_kwh_per_t),
        counted(pair.shifts as u64, "shift")
    )
}

fn month_words(month: &Month, report: &Report) -> String {
    let money = report.currency.as_deref().unwrap_or("");
    let mut words = match (month.peak, &month.at, &month.shift) {
        (Some(peak), Some(at), Some(shift)) => format!(
            "{}: highest {} min {peak:.1} {} at {at} ({shift})",
            month.month, report.demand_block_min, month.unit
        ),
        _ => format!("{}: highest {} min not known", month.month, report.demand_block_min),
    };
    if let Some(days) = month.part() {
        let _ = write!(words, ", of {days} alone");
    }
    match (month.billed, month.demand_cost) {
        (Some(billed), Some(cost)) if cost > 0.0 => {
            let _ = write!(words, ", billed as {billed:.1}: {cost:.2} {money}");
        }
        (None, _) if month.peak.is_some() => words.push_str(", what is billed for it is not known"),
        _ => {}
    }
    match (month.reactive_beyond_kvarh, month.reactive_cost) {
        (Some(kvarh), Some(cost)) if cost > 0.0 => {
            let _ = write!(words, "; {kvarh:.1} kvarh too many: {cost:.2} {money}");
        }
        (None, _) => words.push_str("; what reactive energy costs is not known"),
        _ => {}
    }
    if month.unknown_blocks > 0 {
        let _ = write!(words, "; {} blocks are not known", month.unknown_blocks);
    }
    words + "."
}

/// The baseline in words.
pub fn baseline_words(line: &Baseline) -> String {
    let of = |slope: &super::report::Slope| {
        let name = slope.material.as_ref().map_or_else(String::new, |name| format!(" of {name}"));
        format!("{} kWh a tonne{name}", with_band(Some(slope.kwh_per_t), slope.u.map(|u| 2.0 * u)))
    };
    let tonnes: Vec<String> = line.kwh_per_t.iter().map(of).collect();
    let mut words = format!(
        "Baseline: {} kW empty, and {}",
        with_band(Some(line.idle_kw), line.idle_u_kw.map(|u| 2.0 * u)),
        tonnes.join(", ")
    );
    match (line.accepted, line.r2, line.cv_pct) {
        (Some(accepted), Some(r2), Some(cv)) => {
            let verdict =
                if accepted { "it keeps the rules of acceptance" } else { "it does NOT keep the rules of acceptance" };
            let _ =
                write!(words, "; from {} shifts, R2 {r2:.3}, standard deviation {cv:.1} %: {verdict}.", line.shifts);
        }
        _ => words.push_str(", as given."),
    }
    words
}

/// A bend in words.
pub fn bend_words(bend: &Bend) -> String {
    format!(
        "Bend on {} (90 %: {} to {}): {:+.3} {} +- {:.3}; {}.",
        bend.date,
        bend.from,
        bend.to,
        bend.size,
        bend.unit,
        2.0 * bend.size_u,
        bend.words
    )
}
