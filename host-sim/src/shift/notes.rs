//! What a reader should know before trusting the figures, a line each.

use std::path::Path;

use super::account::{Account, Accounts};
use super::drift::Drift;
use super::log::NUMBERS;
use super::log::merge::{Bridge, Gap, Merged, Off};
use super::site::Site;
use super::tickets::{Tickets, told};
use crate::report::words::counted;
use crate::settings::place::nearest;

/// A gap of this length has a line of its own in what a reader should know, µs; and how many have, at most.
const LONG_US: i64 = 3_600_000_000;
/// Columns that are named, at most.
const COLUMNS: usize = 12;
/// See [`LONG_US`].
const LONG_GAPS: usize = 20;

/// All of it.
pub fn notes(
    site: &Site,
    logs: &Merged,
    tickets: &Tickets,
    accounts: &Accounts,
    drift: Result<&Drift, &str>,
) -> Vec<String> {
    let mut notes = logs.notes.clone();
    notes.extend(logs.off.iter().filter(|off| accounts.touches(off.span)).map(|off| {
        let Off { register_kwh, rows_kwh, .. } = off;
        format!(
            "{}: the register advanced by {register_kwh:.2} kWh, the rows come to {rows_kwh:.2} kWh: look at meter and logger",
            off.path.display()
        )
    }));
    notes.extend(logs.unknown.iter().map(|(columns, (count, first))| unknown(columns, *count, first)));
    notes.extend(tickets.notes.iter().cloned());
    notes.extend(accounts.notes.iter().cloned());
    notes.extend(drift.iter().flat_map(|drift| drift.notes.iter().cloned()));
    if logs.by_power {
        notes.push("states are told by power alone: below 2 % of rated stopped, up to 1.15 times the empty mill's power idle, else breaking".to_owned());
    }
    if accounts.idle.is_some_and(|idle| idle.learnt) {
        notes.push("idle power learnt from this period; set motor.idle_kw to keep net figures".to_owned());
    }
    notes.extend(long_gaps(site, logs, accounts));
    notes.extend(past_the_logs(site, logs, accounts));
    if logs.row_us > 60_000_000 {
        notes.push(format!(
            "rows are up to {} s long: what changes inside one is not seen; sliding demand and idle spells are coarser for it",
            logs.row_us / 1_000_000
        ));
    }
    notes
}

/// Columns that are not looked at, and which they may have been meant for.
fn unknown(columns: &[String], count: usize, first: &Path) -> String {
    let shown: Vec<&str> = columns.iter().take(COLUMNS).map(String::as_str).collect();
    let more = columns.len().saturating_sub(COLUMNS);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let others = if count > 1 { format!(" and {}", counted(count as u64 - 1, "other log")) } else { String::new() };
    let near = |own: &str| nearest(own, NUMBERS.into_iter().chain(["time", "state"]));
    let meant = columns.iter().find_map(|own| Some((own, near(own)?)));
    let meant = meant.map_or_else(String::new, |(own, near)| format!("; was {own} meant to be {near}?"));
    format!("{}{others}: columns that are not looked at: {}{more}{meant}", first.display(), shown.join(", "))
}

/// A line for each gap of the period that no one can overlook.
fn long_gaps(site: &Site, logs: &Merged, accounts: &Accounts) -> Vec<String> {
    let at = |us: i64| told(us, &site.calendar);
    let long = |gap: &&Gap| gap.span.to_us - gap.span.from_us >= LONG_US && accounts.touches(gap.span);
    let note = |gap: &Gap| {
        let hours = (gap.span.to_us - gap.span.from_us) as f64 / 3.6e9;
        let (from, to) = (at(gap.span.from_us), at(gap.span.to_us));
        let energy = match gap.energy {
            Bridge::Register(kwh) => format!("the register bridges it with {kwh:.1} kWh"),
            Bridge::Missing | Bridge::Jumped(_) => "its energy is missing".to_owned(),
        };
        format!("no rows for {hours:.1} h, {from} to {to}: {energy}")
    };
    let all: Vec<&Gap> = logs.gaps.iter().filter(long).collect();
    let mut notes: Vec<String> = all.iter().take(LONG_GAPS).map(|gap| note(gap)).collect();
    if all.len() > LONG_GAPS {
        notes.push(format!("{} gaps of an hour or more beside these: --json has them", all.len() - LONG_GAPS));
    }
    notes
}

/// Shifts of the period that lie before the logs' first row or after their last.
fn past_the_logs(site: &Site, logs: &Merged, accounts: &Accounts) -> Vec<String> {
    let (first, end) = (logs.bins.first, logs.bins.end());
    let count = |far: &dyn Fn(&Account) -> bool| accounts.shifts.iter().filter(|shift| far(shift)).count() as u64;
    let sides = [
        ("begin", first, "before", count(&|shift| shift.to <= first)),
        ("end", end, "after", count(&|shift| shift.from >= end)),
    ];
    let note = |(what, minute, side, n): (&str, i64, &str, u64)| {
        let has = if n == 1 { "has" } else { "have" };
        let at = site.calendar.stamp(minute);
        (n > 0).then(|| format!("logs {what} on {at}: {} {side} that {has} no rows", counted(n, "shift")))
    };
    sides.into_iter().filter_map(note).collect()
}
