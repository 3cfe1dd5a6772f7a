//! The accounts: minutes, gaps and tickets booked on shifts, so that the shifts and what lies outside of them add up to the period.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::calendar::{MINUTE_US, Shift};
use super::demand::{self, Demand};
use super::log::Span;
use super::log::bins::{BREAKING, IDLE, STARTING, UNKNOWN};
use super::log::happened::What;
use super::log::merge::{Bridge, Gap, Merged};
use super::site::{PowerFactor, Site, Source};
use super::tickets::{Ticket, Tickets};

/// Sums over some time. Times are µs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sums {
    /// All of it.
    pub elapsed_us: i64,
    /// By state; together all of it.
    pub states_us: [i64; 6],
    /// How much of it rows tell.
    pub measured_us: i64,
    /// How much of it a register bridges.
    pub bridged_us: i64,
    /// How much of it has a share of what a register bridges over a change of shifts.
    pub estimated_us: i64,
    /// Energy that rows tell, by state, kWh.
    pub kwh: [f64; 6],
    /// Energy that a register tells.
    pub bridged_kwh: f64,
    /// Energy shared out over a change of shifts.
    pub estimated_kwh: f64,
    /// Standard uncertainty of that share, kWh.
    pub estimated_u_kwh: f64,
    /// Bridges in it: each stands on two readings.
    pub bridges: u32,
    /// Given back, kWh.
    pub back_kwh: f64,
    /// Reactive, kvarh, and the time and the energy for which it is told.
    pub kvarh: f64,
    /// See `kvarh`.
    pub kvar_us: i64,
    /// Energy by band of the tariff, the last for what is in none, kWh.
    pub by_band_kwh: Vec<f64>,
    /// What energy costs.
    pub energy_cost: f64,
    /// What it costs while idle.
    pub idle_cost: f64,
    /// Load times time while running (% µs), and that time.
    pub load: [f64; 2],
    /// Loads of running minutes with their times.
    pub loads: Vec<(f32, f32)>,
    /// The highest load of a row, %.
    pub load_max: f64,
    /// Time above rated load, µs.
    pub above_us: f64,
    /// Time for which the feed was stopped, µs.
    pub held_us: f64,
    /// Tonnes by material.
    pub tonnes: BTreeMap<String, f64>,
    /// Tonnes by material and screen, where tickets tell them.
    pub pairs: BTreeMap<(String, String), f64>,
    /// Standard uncertainty of single weighings, t: errors of one scale are alike and add up.
    pub weighing_u_t: f64,
    /// Tickets, late ones and corrections among them.
    pub tickets: [u32; 3],
    /// Starts, feed stops, reversals.
    pub counts: [u32; 3],
    /// Trips by cause.
    pub trips: BTreeMap<String, u32>,
    /// Idle spells that a stop would have paid for: how many, their time in h and what it would have saved, kWh.
    pub spells: (u32, f64, f64),
}

/// A shift, what is outside of all shifts, or all of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// Its name.
    pub name: String,
    /// Who worked it.
    pub crew: Option<String>,
    /// The date on which it begins; `None`: it is no shift.
    pub date: Option<Date>,
    /// Its begin, minutes of UTC.
    pub from: i64,
    /// Its end.
    pub to: i64,
    /// Its sums.
    pub sums: Sums,
    /// Its demand.
    pub demand: Demand,
}

/// All accounts.
#[derive(Debug, Clone, PartialEq)]
pub struct Accounts {
    /// The shifts in order of time.
    pub shifts: Vec<Account>,
    /// What is in no shift.
    pub outside: Account,
    /// Both together.
    pub whole: Account,
    /// The highest demand of each calendar month.
    pub months: Vec<Month>,
    /// What the empty mill takes.
    pub idle: Option<IdlePower>,
    /// What a start takes, kWh.
    pub start_kwh: Option<f64>,
    /// What a reader should know.
    pub notes: Vec<String>,
}

/// What the empty mill takes from the mains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdlePower {
    /// kW.
    pub kw: f64,
    /// How well it repeats from shift to shift, kW.
    pub repeat_kw: Option<f64>,
    /// Whether it was measured by the same meter.
    pub learnt: bool,
}

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

impl Sums {
    /// Energy taken in, kWh.
    pub fn total_kwh(&self) -> f64 {
        self.kwh.iter().sum::<f64>() + self.bridged_kwh + self.estimated_kwh
    }

    /// Time of which nothing tells the energy, µs.
    pub fn missing_us(&self) -> i64 {
        self.elapsed_us - self.measured_us - self.bridged_us - self.estimated_us
    }

    /// Hours in a state.
    pub fn hours(&self, state: usize) -> f64 {
        self.states_us[state] as f64 / 3.6e9
    }

    /// Hours idle or breaking.
    pub fn running_h(&self) -> f64 {
        self.hours(IDLE) + self.hours(BREAKING)
    }

    /// Energy while idle or breaking, kWh.
    pub fn running_kwh(&self) -> f64 {
        self.kwh[IDLE] + self.kwh[BREAKING]
    }

    /// Tonnes.
    pub fn t(&self) -> f64 {
        self.tonnes.values().sum()
    }

    /// Power factor from energies, where reactive energy is told throughout.
    pub fn power_factor(&self) -> Option<f64> {
        let kwh: f64 = self.kwh.iter().sum();
        let told = self.kvar_us > 0 && self.measured_us - self.kvar_us <= self.measured_us / 200;
        (told && kwh > 0.0).then(|| kwh / kwh.hypot(self.kvarh))
    }

    /// The load not exceeded in 95 % of the running minutes, %.
    pub fn load_p95(&self) -> Option<f64> {
        let mut all = self.loads.clone();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let whole: f64 = all.iter().map(|load| f64::from(load.1)).sum();
        let mut sum = 0.0;
        all.iter()
            .find(|load| {
                sum += f64::from(load.1);
                sum >= 0.95 * whole
            })
            .map(|load| f64::from(load.0))
    }

    /// Those of another time as well.
    pub fn join(&mut self, other: &Self) {
        self.elapsed_us += other.elapsed_us;
        self.measured_us += other.measured_us;
        self.bridged_us += other.bridged_us;
        self.estimated_us += other.estimated_us;
        for at in 0..6 {
            self.states_us[at] += other.states_us[at];
            self.kwh[at] += other.kwh[at];
        }
        self.bridged_kwh += other.bridged_kwh;
        self.estimated_kwh += other.estimated_kwh;
        self.estimated_u_kwh = self.estimated_u_kwh.hypot(other.estimated_u_kwh);
        self.bridges += other.bridges;
        self.back_kwh += other.back_kwh;
        self.kvarh += other.kvarh;
        self.kvar_us += other.kvar_us;
        self.by_band_kwh.resize(self.by_band_kwh.len().max(other.by_band_kwh.len()), 0.0);
        self.by_band_kwh.iter_mut().zip(&other.by_band_kwh).for_each(|(own, more)| *own += more);
        self.energy_cost += other.energy_cost;
        self.idle_cost += other.idle_cost;
        self.load[0] += other.load[0];
        self.load[1] += other.load[1];
        self.loads.extend(&other.loads);
        self.load_max = self.load_max.max(other.load_max);
        self.above_us += other.above_us;
        self.held_us += other.held_us;
        for (material, t) in &other.tonnes {
            *self.tonnes.entry(material.clone()).or_default() += t;
        }
        for (pair, t) in &other.pairs {
            *self.pairs.entry(pair.clone()).or_default() += t;
        }
        self.weighing_u_t += other.weighing_u_t;
        for at in 0..3 {
            self.tickets[at] += other.tickets[at];
            self.counts[at] += other.counts[at];
        }
        for (cause, count) in &other.trips {
            *self.trips.entry(cause.clone()).or_default() += count;
        }
        self.spells.0 += other.spells.0;
        self.spells.1 += other.spells.1;
        self.spells.2 += other.spells.2;
    }
}

/// Idle time from which its mean tells the empty mill's power, µs.
const ENOUGH_IDLE_US: i64 = 300_000_000;
/// Shifts from which their spread tells how well it repeats.
const ENOUGH_SHIFTS: usize = 5;
/// What has no material on its ticket.
pub const NO_MATERIAL: &str = "not told";

/// What is booked: the site, its logs and its tickets.
struct Books<'a> {
    site: &'a Site,
    logs: &'a Merged,
}

impl Accounts {
    /// Books everything on shifts, which are in order of time and do not overlap; the period reaches from `from` to `to`, minutes.
    pub fn new(site: &Site, logs: &Merged, tickets: &Tickets, shifts: &[Shift], [from, to]: [i64; 2]) -> Self {
        let books = Books { site, logs };
        let mut all: Vec<Account> = shifts.iter().map(|shift| books.account(shift)).collect();
        let mut outside =
            Account { name: "outside of shifts".to_owned(), crew: None, date: None, from, to, ..Account::empty() };
        let mut at = from;
        for (start, end) in shifts.iter().map(|shift| (shift.from, shift.to)).chain([(to, to)]) {
            if start > at {
                outside.sums.join(&books.sums(at, start));
            }
            at = at.max(end);
        }
        let mut notes = Vec::new();
        for gap in &logs.gaps {
            books.bridge(gap, &mut all, &mut outside, [from, to], &mut notes);
        }
        book_tickets((site, logs), tickets, &mut all, &mut outside, [from, to], &mut notes);
        for event in &logs.happened {
            let minute = event.at_us.div_euclid(MINUTE_US);
            if !(from..to).contains(&minute) {
                continue;
            }
            let sums = &mut place(&mut all, &mut outside, minute).sums;
            match &event.what {
                What::Start => sums.counts[0] += 1,
                What::FeedStop(_, until_us) => {
                    sums.counts[1] += 1;
                    books.held([event.at_us, *until_us], &mut all, &mut outside, [from, to]);
                }
                What::Reversal => sums.counts[2] += 1,
                What::Trip(cause) => *sums.trips.entry(cause.clone()).or_default() += 1,
            }
        }
        let mut whole = Account { name: "all".to_owned(), ..outside.clone() };
        for shift in &all {
            whole.sums.join(&shift.sums);
        }
        // What one shift has too much of a bridge another has too little: over all of it nothing is left.
        let inside = |gap: &Gap| gap.span.from_us >= from * MINUTE_US && gap.span.to_us <= to * MINUTE_US;
        if logs.gaps.iter().all(inside) {
            whole.sums.estimated_u_kwh = 0.0;
        }
        let idle = idle_power(site, &all, &whole.sums);
        let start_kwh = site.motor.start_kwh.or_else(|| {
            let starts = f64::from(whole.sums.counts[0]);
            (starts > 0.0 && whole.sums.kwh[STARTING] > 0.0).then(|| whole.sums.kwh[STARTING] / starts)
        });
        let mut out =
            Self { shifts: all, outside, whole, months: books.months(shifts, [from, to]), idle, start_kwh, notes };
        out.spells(&books);
        out
    }

    /// Whether some of a time lies in the period.
    pub fn touches(&self, span: Span) -> bool {
        span.from_us < self.whole.to * MINUTE_US && span.to_us > self.whole.from * MINUTE_US
    }

    /// The shortest idle spell that a stop pays for, min: the restart's energy, and no more starts an hour than allowed.
    pub fn stop_after_min(&self, site: &Site) -> Option<f64> {
        let even = self.start_kwh? / self.idle?.kw * 60.0;
        Some(even.max(site.motor.starts_per_hour.map_or(0.0, |starts| 60.0 / starts)))
    }

    /// Idle spells that are longer: a timer that stops the mill after so long saves the rest of each, less a start.
    fn spells(&mut self, books: &Books<'_>) {
        let (Some(limit), Some(idle), Some(start_kwh)) = (self.stop_after_min(books.site), self.idle, self.start_kwh)
        else {
            return;
        };
        for shift in &mut self.shifts {
            let mut length = 0;
            for minute in shift.from..=shift.to {
                let empty = minute < shift.to
                    && books
                        .logs
                        .bins
                        .get(minute)
                        .is_some_and(|bin| bin.us == MINUTE_US && bin.states_us[IDLE] > bin.us / 100 * 99);
                if empty {
                    length += 1;
                    continue;
                }
                let over = f64::from(length) - limit;
                let saved = idle.kw * over / 60.0 - start_kwh;
                if over > 0.0 && saved > 0.0 {
                    let spells = &mut shift.sums.spells;
                    *spells = (spells.0 + 1, spells.1 + f64::from(length) / 60.0, spells.2 + saved);
                }
                length = 0;
            }
            let own = shift.sums.spells;
            let all = &mut self.whole.sums.spells;
            *all = (all.0 + own.0, all.1 + own.1, all.2 + own.2);
        }
    }
}

impl Account {
    pub(super) fn empty() -> Self {
        Self {
            name: String::new(),
            crew: None,
            date: None,
            from: 0,
            to: 0,
            sums: Sums::default(),
            demand: Demand::default(),
        }
    }
}

/// The account that a minute belongs to.
fn place<'a>(shifts: &'a mut [Account], outside: &'a mut Account, minute: i64) -> &'a mut Account {
    let after = shifts.partition_point(|shift| shift.from <= minute);
    match after.checked_sub(1) {
        Some(at) if minute < shifts[at].to => &mut shifts[at],
        _ => outside,
    }
}

impl Books<'_> {
    fn account(&self, shift: &Shift) -> Account {
        let block_min = self.site.tariff.as_ref().map_or(15, |tariff| tariff.block_min);
        Account {
            name: shift.name.clone(),
            crew: shift.crew.clone(),
            date: Some(shift.date),
            from: shift.from,
            to: shift.to,
            sums: self.sums(shift.from, shift.to),
            demand: demand::peaks(&self.logs.bins, &self.site.calendar, shift.from, shift.to, block_min),
        }
    }

    /// The place of a minute's band and its price.
    fn price(&self, minute: i64) -> (usize, f64) {
        let Some(tariff) = &self.site.tariff else { return (0, 0.0) };
        let (band, price) = tariff.at(self.site.calendar.local(minute));
        (band.unwrap_or(tariff.bands.len()), price)
    }

    /// What the rows of some minutes tell.
    fn sums(&self, from: i64, to: i64) -> Sums {
        let bands = self.site.tariff.as_ref().map_or(1, |tariff| tariff.bands.len() + 1);
        let mut sums = Sums { elapsed_us: (to - from) * MINUTE_US, by_band_kwh: vec![0.0; bands], ..Sums::default() };
        for minute in from..to {
            let Some(bin) = self.logs.bins.get(minute).filter(|bin| bin.us > 0) else { continue };
            sums.measured_us += bin.us;
            for at in 0..6 {
                sums.states_us[at] += bin.states_us[at];
                sums.kwh[at] += bin.kwh[at];
            }
            sums.back_kwh += bin.back_kwh;
            sums.kvarh += bin.kvarh;
            sums.kvar_us += bin.kvar_us;
            sums.load[0] += bin.load[0];
            sums.load[1] += bin.load[1];
            if bin.load[1] > 0.0 {
                sums.loads.push(((bin.load[0] / bin.load[1]) as f32, bin.load[1] as f32));
            }
            sums.load_max = sums.load_max.max(bin.load_max);
            sums.above_us += bin.above_us;
            sums.held_us += bin.held_us;
            if self.site.mass.source == Source::Log {
                *sums.tonnes.entry(NO_MATERIAL.to_owned()).or_default() += bin.kg / 1e3;
            }
            let (band, price) = self.price(minute);
            sums.by_band_kwh[band] += bin.total_kwh();
            sums.energy_cost += bin.total_kwh() * price;
            sums.idle_cost += bin.kwh[IDLE] * price;
        }
        // What no row tells is not known.
        sums.states_us[UNKNOWN] += sums.elapsed_us - sums.measured_us;
        sums
    }

    /// Books the time for which the feed stood.
    fn held(&self, [from_us, to_us]: [i64; 2], shifts: &mut [Account], outside: &mut Account, [from, to]: [i64; 2]) {
        for minute in from_us.div_euclid(MINUTE_US)..=to_us.div_euclid(MINUTE_US) {
            let us = to_us.min((minute + 1) * MINUTE_US) - from_us.max(minute * MINUTE_US);
            if us > 0 && (from..to).contains(&minute) && self.logs.bins.get(minute).is_some_and(|bin| bin.us > 0) {
                place(shifts, outside, minute).sums.held_us += us as f64;
            }
        }
    }

    /// Books what a register tells of a gap; a share of it where the gap reaches over a change of shifts.
    fn bridge(
        &self,
        gap: &Gap,
        shifts: &mut [Account],
        outside: &mut Account,
        [from, to]: [i64; 2],
        notes: &mut Vec<String>,
    ) {
        let at = |us: i64| self.site.calendar.stamp(us.div_euclid(MINUTE_US));
        let kwh = match gap.energy {
            Bridge::Register(kwh) => kwh,
            Bridge::Missing => return,
            Bridge::Jumped([before, after]) => {
                if gap.span.from_us >= to * MINUTE_US || gap.span.to_us <= from * MINUTE_US {
                    return;
                }
                notes.push(format!(
                    "the register went from {before} to {after} kWh between {} and {}, more than the motor can have taken: was the meter changed or set? \
                     Say so with [[change]] what = \"meter\" in the site's file; until then the energy of that time is missing",
                    at(gap.span.from_us),
                    at(gap.span.to_us)
                ));
                return;
            }
        };
        let whole_us = gap.span.to_us - gap.span.from_us;
        let mut borders = vec![gap.span.from_us];
        let inside = |us: &i64| (gap.span.from_us + 1..gap.span.to_us).contains(us);
        borders.extend(
            shifts.iter().flat_map(|shift| [shift.from, shift.to]).map(|minute| minute * MINUTE_US).filter(inside),
        );
        borders.extend([from, to].map(|minute| minute * MINUTE_US).iter().filter(|us| inside(us)));
        borders.push(gap.span.to_us);
        borders.sort_unstable();
        borders.dedup();
        let one = borders.len() == 2;
        for pair in borders.windows(2) {
            let (begin, end) = (pair[0], pair[1]);
            let minute = begin.div_euclid(MINUTE_US);
            if !(from..to).contains(&minute) {
                continue;
            }
            let own_us = end - begin;
            let own_kwh = kwh * own_us as f64 / whole_us as f64;
            let sums = &mut place(shifts, outside, minute).sums;
            sums.bridges += 1;
            if one {
                sums.bridged_us += own_us;
                sums.bridged_kwh += own_kwh;
            } else {
                sums.estimated_us += own_us;
                sums.estimated_kwh += own_kwh;
                // The share lies between what the others leave and what the motor can take; all between is equally likely.
                let most = |us: i64| 1.2 * self.site.motor.rated_kw * us as f64 / 3.6e9;
                let least_kwh = (kwh - most(whole_us - own_us)).max(0.0);
                let width = kwh.min(most(own_us)) - least_kwh;
                sums.estimated_u_kwh = sums.estimated_u_kwh.hypot(width.max(0.0) / 12f64.sqrt());
            }
            let (first, last) = (minute, (end - 1).div_euclid(MINUTE_US));
            let each = own_kwh / own_us as f64;
            for minute in first..=last {
                let us = end.min((minute + 1) * MINUTE_US) - begin.max(minute * MINUTE_US);
                let (band, price) = self.price(minute);
                sums.by_band_kwh[band] += each * us as f64;
                sums.energy_cost += each * us as f64 * price;
            }
        }
    }

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
    fn months(&self, shifts: &[Shift], [from, to]: [i64; 2]) -> Vec<Month> {
        let Some(tariff) = &self.site.tariff else { return Vec::new() };
        let mut all: BTreeMap<String, (Option<demand::Peak>, u32, f64, f64)> = BTreeMap::new();
        let name = |minute| self.site.calendar.local(minute).strftime("%Y-%m").to_string();
        for block in demand::blocks(&self.logs.bins, &self.site.calendar, from, to, tariff.block_min) {
            let month = all.entry(name(block.at)).or_default();
            let power =
                block.power.and_then(|(kw, kva)| if tariff.demand == super::site::Unit::Kva { kva } else { Some(kw) });
            match power {
                Some(value) if month.0.is_none_or(|peak| value > peak.value) => {
                    month.0 = Some(demand::Peak { value, at: block.at });
                }
                Some(_) => {}
                None => month.1 += 1,
            }
            for minute in block.at..block.at + tariff.block_min {
                if let Some(bin) = self.logs.bins.get(minute) {
                    month.2 += bin.total_kwh();
                    month.3 += bin.kvarh;
                }
            }
        }
        let month = |(name, (peak, unknown, kwh, kvarh)): (String, (Option<demand::Peak>, u32, f64, f64))| {
            let peak = peak?;
            let shift = shifts.iter().find(|shift| (shift.from..shift.to).contains(&peak.at));
            let shift =
                shift.map_or_else(|| "outside of shifts".to_owned(), |shift| format!("{} {}", shift.date, shift.name));
            let known = self.logs.bins.bins.iter().any(|bin| bin.kvar_us > 0);
            let power_factor = (known && kwh > 0.0).then(|| kwh / kwh.hypot(kvarh));
            let billed = billed(peak.value, power_factor, tariff.power_factor);
            let reactive = match tariff.power_factor {
                PowerFactor::Reactive { target, per_kvarh } => {
                    let beyond = (kvarh - kwh * (1.0 / (target * target) - 1.0).max(0.0).sqrt()).max(0.0);
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
fn billed(demand: f64, power_factor: Option<f64>, rule: PowerFactor) -> f64 {
    match (rule, power_factor) {
        (PowerFactor::Adjust { target }, Some(factor)) if factor < target => demand * target / factor,
        _ => demand,
    }
}

fn idle_power(site: &Site, shifts: &[Account], whole: &Sums) -> Option<IdlePower> {
    let own: Vec<f64> = shifts
        .iter()
        .filter(|shift| shift.sums.states_us[IDLE] >= ENOUGH_IDLE_US)
        .map(|shift| shift.sums.kwh[IDLE] / shift.sums.hours(IDLE))
        .collect();
    let mean = own.iter().sum::<f64>() / own.len() as f64;
    let spread = (own.len() >= ENOUGH_SHIFTS)
        .then(|| (own.iter().map(|kw| (kw - mean).powi(2)).sum::<f64>() / (own.len() - 1) as f64).sqrt());
    let repeat_kw = site.motor.idle_repeatability_kw.or(spread);
    if let Some(kw) = site.motor.idle_kw {
        return Some(IdlePower { kw, repeat_kw, learnt: false });
    }
    (whole.states_us[IDLE] >= ENOUGH_IDLE_US).then(|| IdlePower {
        kw: whole.kwh[IDLE] / whole.hours(IDLE),
        repeat_kw,
        learnt: true,
    })
}

fn book_tickets(
    (site, logs): (&Site, &Merged),
    tickets: &Tickets,
    shifts: &mut [Account],
    outside: &mut Account,
    [from, to]: [i64; 2],
    notes: &mut Vec<String>,
) {
    let (mut before, mut kg) = (0, 0.0);
    for ticket in &tickets.all {
        let minute = ticket.at_us.div_euclid(MINUTE_US);
        if !(from..to).contains(&minute) {
            before += 1;
            kg += ticket.kg;
            continue;
        }
        let account = place(shifts, outside, minute);
        let end_us = if account.date.is_some() { account.to * MINUTE_US } else { ticket.at_us };
        let sums = &mut account.sums;
        sums.tickets[0] += 1;
        sums.tickets[1] += u32::from(ticket.late(end_us, site.mass.late_after_h));
        sums.tickets[2] += ticket.corrections.len() as u32;
        if site.mass.source == Source::Tickets {
            let material = ticket.material.clone().unwrap_or_else(|| NO_MATERIAL.to_owned());
            let screen = ticket.screen.clone().unwrap_or_else(|| NO_MATERIAL.to_owned());
            *sums.pairs.entry((material.clone(), screen)).or_default() += ticket.kg / 1e3;
            *sums.tonnes.entry(material).or_default() += ticket.kg / 1e3;
            sums.weighing_u_t += weighing_u_kg(site, ticket) / 1e3;
        }
    }
    if before > 0 {
        notes.push(format!("{before} tickets of {kg} kg lie outside of the period and are not counted"));
    }
    notes.extend(no_tonnes(site, logs, tickets, before));
}

/// Why there are no tonnes where one would look for them; `outside` tickets are not of the period.
fn no_tonnes(site: &Site, logs: &Merged, tickets: &Tickets, outside: usize) -> Option<String> {
    let source = site.mass.source;
    let word = if source == Source::Log { "log" } else { "none" };
    match source {
        Source::Tickets if !tickets.given => {
            Some("no tickets given: tonnes and kWh/t are not known; give them with --tickets FILE".to_owned())
        }
        Source::Tickets if tickets.all.len() == outside => Some("no ticket falls into the period".to_owned()),
        Source::Log if !logs.mass => Some(format!(
            "mass.source is \"log\", but no log has a column mass_kg: tonnes and kWh/t are not known{}",
            if tickets.given { "; the tickets are not counted" } else { "" }
        )),
        Source::Log | Source::Nothing if tickets.given => {
            Some(format!("tickets are given but not counted, for mass.source is \"{word}\" in the site's file"))
        }
        _ => None,
    }
}

/// Standard uncertainty of a ticket by the scale's interval e: in service a scale of class III may err by e up to 500 e, 2 e up to 2000 e,
/// 3 e above (UK SI for non-automatic weighing instruments; from memory), for each of its weighings.
fn weighing_u_kg(site: &Site, ticket: &Ticket) -> f64 {
    let Some(e) = site.mass.scale_e_kg.filter(|_| ticket.kg > 0.0) else { return 0.0 };
    let limit = match ticket.kg / e {
        ..=500.0 => e,
        ..=2_000.0 => 2.0 * e,
        _ => 3.0 * e,
    };
    f64::from(site.mass.weighings).sqrt() * limit / 3f64.sqrt()
}

#[cfg(test)]
#[path = "account/tests.rs"]
mod tests;
