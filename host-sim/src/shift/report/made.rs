//! Parts of the document from what was booked.

use super::parts::{Baseline, Bend, ChangeRow, ClockRow, GapRow, Idle, Month, OffRow, Rule, Slope};
use crate::report::number::figure;
use crate::shift::account::Accounts;
use crate::shift::drift::Drift;
use crate::shift::log::merge::{Bridge, Gap, Off};
use crate::shift::log::{Merged, Span};
use crate::shift::site::{Change, Changed, Site};
use crate::shift::tickets::told;

/// Gaps that are listed, at most.
const GAPS: usize = 200;
/// A gap shorter than this is counted but not listed, µs.
const SHORT_US: i64 = 60_000_000;

pub(super) fn idle(site: &Site, accounts: &Accounts) -> Option<Idle> {
    let idle = accounts.idle?;
    let spells = accounts.whole.sums.spells;
    let sums = &accounts.whole.sums;
    // At the mean price of idle energy.
    let price = (sums.rows.kwh[2] > 0.0).then(|| sums.idle_cost / sums.rows.kwh[2]).filter(|_| site.tariff.is_some());
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

pub(super) fn months(site: &Site, accounts: &Accounts) -> Vec<Month> {
    let unit = |site: &Site| match site.tariff.as_ref().map(|tariff| tariff.demand) {
        Some(crate::shift::site::Unit::Kva) => "kVA",
        _ => "kW",
    };
    let row = |month: &crate::shift::account::Month| Month {
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

pub(super) fn baseline(drift: &Drift) -> Baseline {
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

pub(super) fn bend(dated: &crate::shift::drift::Dated) -> Bend {
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

pub(super) fn days(days: &[[f64; 2]]) -> Vec<(String, f64)> {
    days.iter().map(|[day, pct]| (crate::shift::drift::date(*day).to_string(), figure(*pct))).collect()
}

/// Clocks that were wrong in the period, whether they had a row to put right or not.
pub(super) fn clocks(site: &Site, logs: &Merged, accounts: &Accounts) -> Vec<ClockRow> {
    let at = |us: i64| told(us, &site.calendar);
    let row = |(place, change): (usize, &Change)| {
        let clock = change.clock.as_ref()?;
        let span = Span { from_us: change.at_us, to_us: clock.to_us };
        accounts.touches(span).then(|| ClockRow {
            from: at(span.from_us),
            to: at(span.to_us),
            fast_s: figure(clock.fast_us as f64 / 1e6),
            log: clock.log.clone(),
            rows: logs.corrected.get(&place).map_or(0, |own| own.0),
            who: change.who.clone(),
            why: change.why.clone().unwrap_or_default(),
        })
    };
    site.changes.iter().enumerate().filter_map(row).collect()
}

/// A register that went another way than the rows.
pub(super) fn off_row(off: &Off, site: &Site) -> OffRow {
    OffRow {
        log: off.path.display().to_string(),
        from: told(off.span.from_us, &site.calendar),
        to: told(off.span.to_us, &site.calendar),
        register_kwh: figure(off.register_kwh),
        rows_kwh: figure(off.rows_kwh),
    }
}

/// Gaps of the period, but for the shortest.
pub(super) fn gaps(site: &Site, logs: &Merged, accounts: &Accounts) -> Vec<GapRow> {
    let row = |gap: &Gap| {
        let (kind, kwh) = match gap.energy {
            Bridge::Register(kwh) => ("bridged by the register", Some(figure(kwh))),
            Bridge::Missing => ("missing", None),
            Bridge::Jumped(_) => ("missing: the register jumped", None),
        };
        let [from, to] = [gap.span.from_us, gap.span.to_us].map(|us| told(us, &site.calendar));
        GapRow { from, to, hours: figure((gap.span.to_us - gap.span.from_us) as f64 / 3.6e9), kind, kwh }
    };
    let listed = |gap: &&Gap| gap.span.to_us - gap.span.from_us >= SHORT_US && accounts.touches(gap.span);
    logs.gaps.iter().filter(listed).take(GAPS).map(row).collect()
}

/// Known changes but for clocks, which have a list of their own.
pub(super) fn changes(site: &Site) -> Vec<ChangeRow> {
    let row = |change: &Change| ChangeRow {
        at: told(change.at_us, &site.calendar),
        what: Changed::word(change.what),
        note: change.note.clone(),
        who: change.who.clone(),
        why: change.why.clone(),
    };
    site.changes.iter().filter(|change| change.what != Changed::Clock).map(row).collect()
}
