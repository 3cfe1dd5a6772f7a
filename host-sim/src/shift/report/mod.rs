//! All that is found, as one document: what JSON, table and page are made from.

mod made;
mod parts;

use serde::Serialize;

use super::account::Accounts;
use super::drift::Drift;
use super::figures::{Common, Row};
use super::log::Merged;
use super::log::Span;
use super::pairs::Pair;
use super::site::{Part, Site};
use super::stoppages::Stoppage;
use super::tickets::{Ticket, Tickets, told};
use super::uncertainty::{Known, Term, terms};
use crate::report::number::figure;
use made::{baseline, bend, changes, clocks, days, gaps, idle, months, off_row};
pub use parts::*;

/// The name and version of the format.
pub const FORMAT: &str = "shaftwork-shift/1";

/// The document.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Report {
    pub format: &'static str,
    pub site: String,
    pub site_file: String,
    pub zone: String,
    pub boundary: Vec<&'static str>,
    pub currency: Option<String>,
    pub demand_block_min: i64,
    pub logs: usize,
    pub rows: u64,
    pub longest_row_s: f64,
    pub shifts: Vec<Row>,
    pub outside: Row,
    pub whole: Row,
    pub idle: Option<Idle>,
    pub months: Vec<Month>,
    pub by_material_and_screen: Vec<Pair>,
    pub baseline: Option<Baseline>,
    pub no_baseline: Option<String>,
    pub bends: Vec<Bend>,
    pub days_pct: Vec<(String, f64)>,
    pub fit_pct: Vec<(String, f64)>,
    pub uncertainty: Vec<Term>,
    pub register_off: Vec<OffRow>,
    pub files: Vec<FileRow>,
    pub gaps: Vec<GapRow>,
    pub late_tickets: Vec<TicketRow>,
    pub corrections: Vec<CorrectionRow>,
    pub stoppages: Vec<StoppageRow>,
    pub clock_corrections: Vec<ClockRow>,
    pub changes: Vec<ChangeRow>,
    pub notes: Vec<String>,
}

/// What a report is made from.
#[derive(Debug, Clone)]
pub struct Given<'a> {
    /// The site.
    pub site: &'a Site,
    /// The logs.
    pub logs: &'a Merged,
    /// Weigh tickets.
    pub tickets: &'a Tickets,
    /// Stoppages, and for how long the mill stood in each, µs; `None`: none were given.
    pub stoppages: Option<Vec<(&'a Stoppage, i64)>>,
    /// What was booked.
    pub accounts: &'a Accounts,
    /// The drift, or why there is none.
    pub drift: &'a Result<Drift, String>,
}

impl Report {
    /// Puts everything together.
    pub fn new(given: &Given<'_>, files: Vec<FileRow>) -> Self {
        let Given { site, logs, tickets, accounts, .. } = *given;
        let drift = given.drift.as_ref().map_err(String::as_str);
        let common =
            Common { site, accounts, logs, tickets: tickets.given, stoppages: given.stoppages.is_some(), drift };
        let shifts = accounts.shifts.iter().enumerate().map(|(at, shift)| common.row(shift, Some(at))).collect();
        let tariff = site.tariff.as_ref();
        let at = |us: i64| told(us, &site.calendar);
        let notes = crate::shift::notes::notes(site, logs, tickets, accounts, drift);
        let end_us = |ticket: &Ticket| {
            let shift =
                accounts.shifts.iter().find(|s| (s.from * 60_000_000..s.to * 60_000_000).contains(&ticket.at_us));
            shift.map_or(ticket.at_us, |shift| shift.to * 60_000_000)
        };
        // What was put right in another period belongs there.
        let own = |ticket: &&Ticket| accounts.touches(Span { from_us: ticket.at_us, to_us: ticket.at_us + 1 });
        let late = tickets.all.iter().filter(own).filter(|ticket| ticket.late(end_us(ticket), site.mass.late_after_h));
        let correction = |ticket: &Ticket| {
            let rows = ticket.corrections.iter().map(|c| CorrectionRow {
                ticket: ticket.id.clone(),
                time: at(ticket.at_us),
                from_kg: c.from_kg,
                to_kg: c.to_kg,
                who: c.who.clone(),
                why: c.why.clone(),
                entered: c.entered_us.map(at),
            });
            rows.collect::<Vec<_>>()
        };
        let stoppages = given.stoppages.iter().flatten().filter(|(own, _)| accounts.touches(own.span));
        let stoppage = |(own, stood_us): &(&Stoppage, i64)| StoppageRow {
            from: at(own.span.from_us),
            to: at(own.span.to_us),
            reason: own.reason.clone(),
            who: own.who.clone(),
            stopped_h: figure(*stood_us as f64 / 3.6e9),
        };
        Self {
            format: FORMAT,
            site: site.name.clone(),
            site_file: site.file.clone(),
            zone: site.calendar.zone.iana_name().unwrap_or("UTC").to_owned(),
            boundary: site.boundary.iter().map(|part: &Part| part.word()).collect(),
            currency: tariff.map(|tariff| tariff.currency.clone()),
            demand_block_min: tariff.map_or(15, |tariff| tariff.block_min),
            logs: logs.files.len(),
            rows: logs.rows,
            longest_row_s: logs.row_us as f64 / 1e6,
            shifts,
            outside: common.row(&accounts.outside, None),
            whole: common.row(&accounts.whole, None),
            idle: idle(site, accounts),
            months: months(site, accounts),
            by_material_and_screen: crate::shift::pairs::pairs(site, accounts),
            baseline: drift.ok().map(baseline),
            no_baseline: drift.err().map(str::to_owned),
            bends: drift.map_or_else(|_| Vec::new(), |drift| drift.bends.iter().map(bend).collect()),
            days_pct: drift.map_or_else(|_| Vec::new(), |drift| days(&drift.days)),
            fit_pct: drift.map_or_else(|_| Vec::new(), |drift| days(&drift.fit)),
            uncertainty: terms(&Known::of(&accounts.whole.sums), accounts.idle, site),
            register_off: logs
                .off
                .iter()
                .filter(|off| accounts.touches(off.span))
                .map(|off| off_row(off, site))
                .collect(),
            files,
            gaps: gaps(site, logs, accounts),
            late_tickets: late
                .map(|t| TicketRow {
                    ticket: t.id.clone(),
                    time: at(t.at_us),
                    kg: t.kg,
                    who: t.who.clone(),
                    entered: t.entered_us.map(at).unwrap_or_default(),
                    why: t.why.clone(),
                })
                .collect(),
            corrections: tickets.all.iter().filter(own).flat_map(correction).collect(),
            stoppages: stoppages.map(stoppage).collect(),
            clock_corrections: clocks(site, logs, accounts),
            changes: changes(site),
            notes,
        }
    }
}
