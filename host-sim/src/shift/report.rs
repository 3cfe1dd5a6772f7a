//! All that is found, as one document: what JSON, table and page are made from.

use serde::Serialize;

use super::account::Accounts;
use super::drift::Drift;
use super::figures::{Common, Row};
use super::log::Span;
use super::log::merge::{Bridge, Merged};
use super::pairs::Pair;
use super::site::{Changed, Part, Site};
use super::tickets::{Ticket, Tickets, told};
use super::uncertainty::{Known, Term, terms};
use crate::report::number::figure;

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
    pub gaps: Vec<GapRow>,
    pub late_tickets: Vec<TicketRow>,
    pub corrections: Vec<CorrectionRow>,
    pub changes: Vec<ChangeRow>,
    pub notes: Vec<String>,
}

/// The empty mill and when stopping pays.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Idle {
    pub kw: f64,
    pub repeat_kw: Option<f64>,
    pub learnt: bool,
    pub start_kwh: Option<f64>,
    pub starts_per_hour: Option<f64>,
    pub even_after_min: Option<f64>,
    pub stop_after_min: Option<f64>,
    pub spells: u32,
    pub spells_h: f64,
    pub saved_kwh: f64,
    pub saved_cost: Option<f64>,
}

/// A month's demand.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Month {
    pub month: String,
    pub unit: &'static str,
    pub peak: Option<f64>,
    pub at: Option<String>,
    pub shift: Option<String>,
    pub power_factor: Option<f64>,
    pub billed: Option<f64>,
    pub demand_cost: Option<f64>,
    pub reactive_beyond_kvarh: Option<f64>,
    pub reactive_cost: Option<f64>,
    pub unknown_blocks: u32,
    pub days: f64,
    pub days_in_month: f64,
}

impl Month {
    /// How much of it the period has, where that is not all.
    pub fn part(&self) -> Option<String> {
        let few = self.days < self.days_in_month - 1e-6;
        let days = format!("{:.2}", self.days);
        few.then(|| format!("{} of {} days", days.trim_end_matches('0').trim_end_matches('.'), self.days_in_month))
    }
}

/// The baseline.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Baseline {
    pub idle_kw: f64,
    pub idle_u_kw: Option<f64>,
    pub kwh_per_t: Vec<Slope>,
    pub shifts: usize,
    pub r2: Option<f64>,
    pub cv_pct: Option<f64>,
    pub s_kwh: Option<f64>,
    pub accepted: Option<bool>,
    pub rules: Vec<Rule>,
}

/// What a tonne costs.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Slope {
    pub material: Option<String>,
    pub kwh_per_t: f64,
    pub u: Option<f64>,
}

/// A rule of acceptance.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Rule {
    pub rule: String,
    pub kept: bool,
}

/// A bend.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct Bend {
    pub kind: &'static str,
    pub date: String,
    pub from: String,
    pub to: String,
    pub size: f64,
    pub size_u: f64,
    pub unit: &'static str,
    pub words: String,
}

/// A gap in the logs.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct GapRow {
    pub from: String,
    pub to: String,
    pub hours: f64,
    pub kind: &'static str,
    pub kwh: Option<f64>,
}

/// A late ticket.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct TicketRow {
    pub ticket: String,
    pub time: String,
    pub kg: f64,
    pub who: String,
    pub entered: String,
    pub why: Option<String>,
}

/// A correction.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct CorrectionRow {
    pub ticket: String,
    pub time: String,
    pub from_kg: f64,
    pub to_kg: f64,
    pub who: String,
    pub why: String,
    pub entered: Option<String>,
}

/// A known change.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name is explained with the output format")]
pub struct ChangeRow {
    pub at: String,
    pub what: &'static str,
    pub note: Option<String>,
    pub who: String,
    pub why: Option<String>,
}

/// Gaps that are listed, at most.
const GAPS: usize = 200;
/// A gap shorter than this is counted but not listed, µs.
const SHORT_US: i64 = 60_000_000;

impl Report {
    /// Puts everything together.
    pub fn new(
        site: &Site,
        logs: &Merged,
        tickets: &Tickets,
        accounts: &Accounts,
        drift: &Result<Drift, String>,
        files: usize,
    ) -> Self {
        let drift = drift.as_ref().map_err(String::as_str);
        let common = Common { site, accounts, logs, tickets: tickets.given, drift };
        let shifts = accounts.shifts.iter().enumerate().map(|(at, shift)| common.row(shift, Some(at))).collect();
        let tariff = site.tariff.as_ref();
        let at = |us: i64| told(us, &site.calendar);
        let notes = super::notes::notes(site, logs, tickets, accounts, drift);
        let gaps: Vec<GapRow> = logs
            .gaps
            .iter()
            .filter(|gap| gap.span.to_us - gap.span.from_us >= SHORT_US && accounts.touches(gap.span))
            .take(GAPS)
            .map(|gap| {
                let (kind, kwh) = match gap.energy {
                    Bridge::Register(kwh) => ("bridged by the register", Some(figure(kwh))),
                    Bridge::Missing => ("missing", None),
                    Bridge::Jumped(_) => ("missing: the register jumped", None),
                };
                let hours = figure((gap.span.to_us - gap.span.from_us) as f64 / 3.6e9);
                GapRow { from: at(gap.span.from_us), to: at(gap.span.to_us), hours, kind, kwh }
            })
            .collect();
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
        Self {
            format: FORMAT,
            site: site.name.clone(),
            site_file: site.file.clone(),
            zone: site.calendar.zone.iana_name().unwrap_or("UTC").to_owned(),
            boundary: site.boundary.iter().map(|part: &Part| part.word()).collect(),
            currency: tariff.map(|tariff| tariff.currency.clone()),
            demand_block_min: tariff.map_or(15, |tariff| tariff.block_min),
            logs: files,
            rows: logs.rows,
            longest_row_s: logs.row_us as f64 / 1e6,
            shifts,
            outside: common.row(&accounts.outside, None),
            whole: common.row(&accounts.whole, None),
            idle: idle(site, accounts),
            months: months(site, accounts),
            by_material_and_screen: super::pairs::pairs(site, accounts),
            baseline: drift.ok().map(baseline),
            no_baseline: drift.err().map(str::to_owned),
            bends: drift.map_or_else(|_| Vec::new(), |drift| drift.bends.iter().map(bend).collect()),
            days_pct: drift.map_or_else(|_| Vec::new(), |drift| days(&drift.days)),
            fit_pct: drift.map_or_else(|_| Vec::new(), |drift| days(&drift.fit)),
            uncertainty: terms(&Known::of(&accounts.whole.sums), accounts.idle, site),
            gaps,
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
            changes: site
                .changes
                .iter()
                .map(|change| ChangeRow {
                    at: at(change.at_us),
                    what: Changed::word(change.what),
                    note: change.note.clone(),
                    who: change.who.clone(),
                    why: change.why.clone(),
                })
                .collect(),
            notes,
        }
    }
}

fn idle(site: &Site, accounts: &Accounts) -> Option<Idle> {
    let idle = accounts.idle?;
    let spells = accounts.whole.sums.spells;
    let sums = &accounts.whole.sums;
    // At the mean price of idle energy.
    let price = (sums.kwh[2] > 0.0).then(|| sums.idle_cost / sums.kwh[2]).filter(|_| site.tariff.is_some());
    Some(Idle {
        kw: figure(idle.kw),
        repeat_kw: idle.repeat_kw.map(figure),
        learnt: idle.learnt,
        start_kwh: accounts.start_kwh.map(figure),
        starts_per_hour: site.motor.starts_per_hour,
        even_after_min: accounts.start_kwh.map(|kwh| figure(kwh / idle.kw * 60.0)),
        stop_after_min: accounts.stop_after_min(site).map(figure),
        spells: spells.0,
        spells_h: figure(spells.1),
        saved_kwh: figure(spells.2),
        saved_cost: price.map(|price| figure(price * spells.2)),
    })
}

fn months(site: &Site, accounts: &Accounts) -> Vec<Month> {
    let unit = |site: &Site| match site.tariff.as_ref().map(|tariff| tariff.demand) {
        Some(super::site::Unit::Kva) => "kVA",
        _ => "kW",
    };
    let row = |month: &super::account::Month| Month {
        month: month.name.clone(),
        unit: unit(site),
        peak: month.peak.map(|peak| figure(peak.value)),
        at: month.peak.map(|peak| site.calendar.stamp(peak.at)),
        shift: month.shift.clone(),
        power_factor: month.power_factor.map(figure),
        billed: month.billed.map(figure),
        demand_cost: month.cost.map(figure),
        reactive_beyond_kvarh: month.reactive.map(|(kvarh, _)| figure(kvarh)),
        reactive_cost: month.reactive.map(|(_, cost)| figure(cost)),
        unknown_blocks: month.unknown,
        days: figure(month.days[0]),
        days_in_month: month.days[1],
    };
    accounts.months.iter().map(row).collect()
}

fn baseline(drift: &Drift) -> Baseline {
    let line = &drift.line;
    let slope = |(material, kwh, u): &(Option<String>, f64, Option<f64>)| Slope {
        material: material.clone(),
        kwh_per_t: figure(*kwh),
        u: u.map(figure),
    };
    Baseline {
        idle_kw: figure(line.idle_kw),
        idle_u_kw: line.idle_u_kw.map(figure),
        kwh_per_t: line.materials.iter().map(slope).collect(),
        shifts: line.shifts,
        r2: line.r2.map(figure),
        cv_pct: line.cv_pct.map(figure),
        s_kwh: line.s_kwh.map(figure),
        accepted: (!line.rules.is_empty()).then(|| line.rules.iter().all(|rule| rule.kept)),
        rules: line.rules.iter().map(|rule| Rule { rule: rule.words.clone(), kept: rule.kept }).collect(),
    }
}

fn bend(dated: &super::drift::Dated) -> Bend {
    let (size, size_u) = (dated.bend.size, dated.bend.size_u);
    let (kind, unit, words) = match dated.bend.kind {
        crate::audit::bend::Kind::Kink => {
            let words = if size > 0.0 {
                "from then on a tonne costs more every day: hammers that wear look so"
            } else {
                "from then on a tonne costs less every day"
            };
            ("kink", "% a day", words)
        }
        crate::audit::bend::Kind::Step => {
            let words = if size > 0.0 {
                "from then on a tonne costs more: another material or a finer screen looks so"
            } else {
                "from then on a tonne costs less: new hammers, another material or a coarser screen look so"
            };
            ("step", "%", words)
        }
    };
    let open = match dated.bend.open {
        [false, false] => "",
        [true, false] => "; it may have been earlier still: no bend is looked for before",
        [false, true] => "; it may have been later still: no bend is looked for after that",
        [true, true] => "; it may have been at any time: no bend is looked for at the ends",
    };
    Bend {
        kind,
        date: dated.on.to_string(),
        from: dated.from.to_string(),
        to: dated.to.to_string(),
        size: figure(size),
        size_u: figure(size_u),
        unit,
        words: format!("{words}{open}"),
    }
}

fn days(days: &[[f64; 2]]) -> Vec<(String, f64)> {
    days.iter().map(|[day, pct]| (super::drift::date(*day).to_string(), figure(*pct))).collect()
}
