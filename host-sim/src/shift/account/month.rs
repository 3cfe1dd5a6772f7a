//! The demand of calendar months, as it is billed.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::super::calendar::Shift;
use super::super::demand;
use super::super::site::{PowerFactor, Tariff, Unit};
use super::Books;
use crate::minutes::{Bin, MINUTE_US};

/// The demand of a calendar month as it is billed. What the logs do not tell throughout is not told, and not billed for.
#[derive(Debug, Clone, PartialEq)]
pub struct Month {
    /// `2026-03`.
    pub name: String,
    /// The highest block, kW or kVA as the tariff has it, and where; `None`: no block has a mean.
    pub peak: Option<demand::Peak>,
    /// The shift in which it began.
    pub shift: Option<String>,
    /// Power factor of the month, from its energies.
    pub power_factor: Option<f64>,
    /// What is billed, kW or kVA.
    pub billed: Option<f64>,
    /// What that costs.
    pub cost: Option<f64>,
    /// Reactive energy beyond the target, kvarh, and what it costs.
    pub reactive: Option<(f64, f64)>,
    /// Blocks that have no mean.
    pub unknown: u32,
    /// How many of its days lie in the period, and how many it has.
    pub days: [f64; 2],
}

/// What the blocks of a month add up to.
#[derive(Default)]
struct Blocks {
    /// The first minute of the first.
    at: i64,
    peak: Option<demand::Peak>,
    count: u32,
    unknown: u32,
    rows: Bin,
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

    /// The highest block of each month, and what it costs; a note where something that is billed is not told.
    pub(super) fn months(&self, shifts: &[Shift], [from, to]: [i64; 2], notes: &mut Vec<String>) -> Vec<Month> {
        let Some(tariff) = &self.site.tariff else { return Vec::new() };
        let mut all: BTreeMap<String, Blocks> = BTreeMap::new();
        let name = |minute| self.site.calendar.local(minute).strftime("%Y-%m").to_string();
        for block in demand::blocks(&self.logs.bins, &self.site.calendar, from, to, tariff.block_min) {
            let month = all.entry(name(block.at)).or_insert_with(|| Blocks { at: block.at, ..Blocks::default() });
            month.count += 1;
            let power = block.power.and_then(|(kw, kva)| if tariff.demand == Unit::Kva { kva } else { Some(kw) });
            match power {
                Some(value) if month.peak.is_none_or(|peak| value > peak.value) => {
                    month.peak = Some(demand::Peak { value, at: block.at });
                }
                Some(_) => {}
                None => month.unknown += 1,
            }
            for bin in (block.at..block.at + tariff.block_min).filter_map(|minute| self.logs.bins.get(minute)) {
                month.rows.join(bin);
            }
        }
        all.into_iter().map(|(name, blocks)| self.month(tariff, name, &blocks, shifts, [from, to], notes)).collect()
    }

    fn month(
        &self,
        tariff: &Tariff,
        name: String,
        blocks: &Blocks,
        shifts: &[Shift],
        period: [i64; 2],
        notes: &mut Vec<String>,
    ) -> Month {
        let shift = |peak: demand::Peak| {
            let shift = shifts.iter().find(|shift| (shift.from..shift.to).contains(&peak.at));
            shift.map_or_else(|| "outside of shifts".to_owned(), |shift| format!("{} {}", shift.date, shift.name))
        };
        let (rows, told) = (&blocks.rows, blocks.rows.reactive_told());
        let power_factor = rows.power_factor();
        if blocks.peak.is_none() {
            let reactive = if tariff.demand == Unit::Kva { ", and reactive power," } else { "" };
            notes.push(format!(
                "{name}: its highest demand is not known: of {} blocks none has power{reactive} told throughout",
                blocks.count
            ));
        }
        if !told && tariff.power_factor != PowerFactor::Nothing {
            notes.push(format!(
                "{name}: reactive energy is told for {:.1} % of the measured time, 99.5 % are wanted: what the tariff bills by it is not told",
                100.0 * rows.kvar_us as f64 / rows.us.max(1) as f64
            ));
        }
        let adjusts = matches!(tariff.power_factor, PowerFactor::Adjust { .. });
        let billed =
            blocks.peak.filter(|_| told || !adjusts).map(|peak| billed(peak.value, power_factor, tariff.power_factor));
        let reactive = match tariff.power_factor {
            PowerFactor::Reactive { target, per_kvarh } => told.then(|| {
                let beyond = (rows.kvarh - rows.total_kwh() * (1.0 / (target * target) - 1.0).max(0.0).sqrt()).max(0.0);
                (beyond, beyond * per_kvarh)
            }),
            _ => Some((0.0, 0.0)),
        };
        Month {
            name,
            days: self.days_of_month(blocks.at, period),
            peak: blocks.peak,
            shift: blocks.peak.map(shift),
            power_factor,
            billed,
            cost: billed.map(|billed| billed * tariff.per_demand),
            reactive,
            unknown: blocks.unknown,
        }
    }
}

/// Demand as it is billed under a rule for poor power factors.
pub(super) fn billed(demand: f64, power_factor: Option<f64>, rule: PowerFactor) -> f64 {
    match (rule, power_factor) {
        (PowerFactor::Adjust { target }, Some(factor)) if factor < target => demand * target / factor,
        _ => demand,
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::log::merge::Merged;
    use super::super::super::site::tests::good;
    use super::super::super::tickets::Tickets;
    use super::super::Accounts;
    use super::*;
    use crate::minutes::tests::row;
    use crate::minutes::{BREAKING, Row};

    /// An early shift of 8 h with rows of so many minutes, kW and kvar from its begin on, under a tariff's demand and rule.
    fn month(demand: Unit, power_factor: PowerFactor, rows: &[(i64, f64, Option<f64>)]) -> (Month, Vec<String>) {
        let mut site = good();
        let own = site.tariff.take().unwrap();
        site.tariff = Some(Tariff { demand, power_factor, block_min: 15, per_demand: 10.0, ..own });
        let shift = site.calendar.shifts("2026-06-01".parse().unwrap(), "2026-06-01".parse().unwrap()).remove(0);
        let mut logs = Merged { counts: [true; 3], ..Merged::default() };
        let mut at = shift.from * MINUTE_US;
        for (minutes, kw, kvar) in rows {
            let to_us = at + minutes * MINUTE_US;
            logs.bins.add(&Row { from_us: at, to_us, kvar: *kvar, ..row(0.0, 60.0, *kw, BREAKING) });
            at = to_us;
        }
        let period = [shift.from, shift.to];
        let mut all = Accounts::new(&site, &logs, &Tickets::default(), &[shift], period);
        assert_eq!(all.months.len(), 1, "a month is told, whatever is known of it");
        // There are no tickets, which is told as well.
        let notes = all.notes.into_iter().filter(|note| note.starts_with("2026-06")).collect();
        (all.months.remove(0), notes)
    }

    fn near(found: Option<f64>, wanted: f64) {
        let found = found.unwrap();
        assert!((found - wanted).abs() < 5e-4, "{found}, {wanted} wanted");
    }

    const ADJUST: PowerFactor = PowerFactor::Adjust { target: 0.9 };
    const REACTIVE: PowerFactor = PowerFactor::Reactive { target: 0.9, per_kvarh: 0.02 };

    /// By hand: an hour of 40 kW and 30 kvar (50 kVA), one of 12 kW and 35 kvar (37 kVA): 52 kWh, 65 kvarh, power factor 0.6247. A target of 0.9
    /// allows 52 x 0.48432 = 25.185 kvarh; 50 kVA are billed as 50 x 0.9 / 0.62470 = 72.035.
    #[test]
    fn a_month_in_apparent_power_and_reactive_energy() {
        let rows = [(60, 40.0, Some(30.0)), (60, 12.0, Some(35.0))];
        let (month, notes) = month(Unit::Kva, REACTIVE, &rows);
        near(month.peak.map(|peak| peak.value), 50.0);
        near(month.power_factor, 0.62470);
        near(month.cost, 500.0);
        near(month.reactive.map(|(kvarh, _)| kvarh), 39.815);
        near(month.reactive.map(|(_, cost)| cost), 39.815 * 0.02);
        assert_eq!((month.unknown, notes.len()), (24, 0), "{notes:?}");
        let (month, _) = self::month(Unit::Kva, ADJUST, &rows);
        near(month.billed, 72.0351);
        near(month.cost, 720.3515);
        let (month, _) = self::month(Unit::Kw, PowerFactor::Nothing, &rows);
        near(month.billed, 40.0);
        assert_eq!(month.reactive, Some((0.0, 0.0)));
    }

    /// A minute of four hours without reactive power is let pass, one of two hours is not.
    #[test]
    fn what_is_told_in_part_is_not_billed() {
        for rows in [
            &[(60, 40.0, Some(30.0)), (60, 12.0, None)][..],
            &[(119, 40.0, Some(30.0)), (1, 12.0, None)],
            &[(120, 40.0, None)],
        ] {
            for (rule, billed) in [(ADJUST, None), (REACTIVE, Some(40.0))] {
                let (month, notes) = month(Unit::Kw, rule, rows);
                near(month.peak.map(|peak| peak.value), 40.0);
                assert_eq!((month.power_factor, month.billed.map(f64::round)), (None, billed));
                assert_eq!(month.cost.map(f64::round), billed.map(|kw| 10.0 * kw));
                assert_eq!(month.reactive, if rule == ADJUST { Some((0.0, 0.0)) } else { None });
                assert!(notes[0].starts_with("2026-06: reactive energy is told for"), "{notes:?}");
            }
        }
        let (month, notes) = month(Unit::Kw, REACTIVE, &[(239, 40.0, Some(30.0)), (1, 40.0, None)]);
        assert!(month.reactive.is_some() && notes.is_empty(), "{notes:?}");
    }

    #[test]
    fn a_month_without_a_demand_is_told_with_its_reason() {
        let (month, notes) = month(Unit::Kva, PowerFactor::Nothing, &[(120, 40.0, None)]);
        assert_eq!((month.peak, month.billed, month.cost, month.unknown), (None, None, None, 32));
        assert!(notes[0].contains("of 32 blocks none has power, and reactive power, told"), "{notes:?}");
        let (month, notes) = self::month(Unit::Kw, PowerFactor::Nothing, &[(10, 40.0, None)]);
        assert_eq!((month.peak, month.shift), (None, None));
        assert!(notes[0].contains("of 32 blocks none has power told"), "{notes:?}");
    }
}
