//! The demand of calendar months, as it is billed.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::super::calendar::Shift;
use super::super::demand;
use super::super::site::{PowerFactor, Unit};
use super::Books;
use crate::minutes::{Bin, MINUTE_US};

/// The demand of a calendar month as it is billed.
#[derive(Debug, Clone, PartialEq)]
pub struct Month {
    /// `2026-03`.
    pub name: String,
    /// The highest block, kW or kVA as the tariff has it, and where.
    pub peak: demand::Peak,
    /// The shift in which it began.
    pub shift: String,
    /// Power factor of the month, from its energies.
    pub power_factor: Option<f64>,
    /// What is billed, kW or kVA.
    pub billed: f64,
    /// What that costs.
    pub cost: f64,
    /// Reactive energy beyond the target, kvarh, and what it costs.
    pub reactive: (f64, f64),
    /// Blocks that have no mean.
    pub unknown: u32,
    /// How many of its days lie in the period, and how many it has.
    pub days: [f64; 2],
}

impl Books<'_> {
    /// How many days of the month with this minute lie in the period, and how many it has.
    fn days_of_month(&self, minute: i64, [from, to]: [i64; 2]) -> [f64; 2] {
        let calendar = &self.site.calendar;
        let date = calendar.local(minute).date();
        let midnight = |date: Date| calendar.planned(date.at(0, 0, 0, 0)).div_euclid(MINUTE_US);
        let (first, last) = (date.first_of_month(), date.last_of_month());
        let (begin, end) = (midnight(first), midnight(last.tomorrow().unwrap_or(last)));
        let inside = (to.min(end) - from.max(begin)) as f64 / (end - begin).max(1) as f64;
        let all = f64::from(date.days_in_month());
        [inside * all, all]
    }

    /// The highest block of each month, and what it costs.
    pub(super) fn months(&self, shifts: &[Shift], [from, to]: [i64; 2]) -> Vec<Month> {
        let Some(tariff) = &self.site.tariff else { return Vec::new() };
        let mut all: BTreeMap<String, (Option<demand::Peak>, u32, Bin)> = BTreeMap::new();
        let name = |minute| self.site.calendar.local(minute).strftime("%Y-%m").to_string();
        for block in demand::blocks(&self.logs.bins, &self.site.calendar, from, to, tariff.block_min) {
            let month = all.entry(name(block.at)).or_default();
            let power = block.power.and_then(|(kw, kva)| if tariff.demand == Unit::Kva { kva } else { Some(kw) });
            match power {
                Some(value) if month.0.is_none_or(|peak| value > peak.value) => {
                    month.0 = Some(demand::Peak { value, at: block.at });
                }
                Some(_) => {}
                None => month.1 += 1,
            }
            for minute in block.at..block.at + tariff.block_min {
                if let Some(bin) = self.logs.bins.get(minute) {
                    month.2.join(bin);
                }
            }
        }
        let month = |(name, (peak, unknown, rows)): (String, (Option<demand::Peak>, u32, Bin))| {
            let peak = peak?;
            let shift = shifts.iter().find(|shift| (shift.from..shift.to).contains(&peak.at));
            let shift =
                shift.map_or_else(|| "outside of shifts".to_owned(), |shift| format!("{} {}", shift.date, shift.name));
            let power_factor = rows.power_factor();
            let billed = billed(peak.value, power_factor, tariff.power_factor);
            let reactive = match tariff.power_factor {
                PowerFactor::Reactive { target, per_kvarh } => {
                    let beyond =
                        (rows.kvarh - rows.total_kwh() * (1.0 / (target * target) - 1.0).max(0.0).sqrt()).max(0.0);
                    (beyond, beyond * per_kvarh)
                }
                _ => (0.0, 0.0),
            };
            let days = self.days_of_month(peak.at, [from, to]);
            Some(Month {
                name,
                days,
                peak,
                shift,
                power_factor,
                billed,
                cost: billed * tariff.per_demand,
                reactive,
                unknown,
            })
        };
        all.into_iter().filter_map(month).collect()
    }
}

/// Demand as it is billed under a rule for poor power factors.
pub(super) fn billed(demand: f64, power_factor: Option<f64>, rule: PowerFactor) -> f64 {
    match (rule, power_factor) {
        (PowerFactor::Adjust { target }, Some(factor)) if factor < target => demand * target / factor,
        _ => demand,
    }
}
