//! The accounts: minutes, gaps and tickets booked on shifts, so that the shifts and what lies outside of them add up to the period.

mod bridge;
mod hammers;
mod month;
mod stopped;
mod sums;
mod weighed;

use jiff::civil::Date;

use super::calendar::Shift;
use super::demand::{self, Demand};
use super::log::Span;
use super::log::happened::What;
use super::log::merge::{Bridge, Gap, Merged};
use super::site::{Site, Source};
use super::tickets::Tickets;
use crate::minutes::{IDLE, MINUTE_US, STARTING, UNKNOWN};
pub use hammers::Hammers;
pub use month::Month;
pub use sums::Sums;
use weighed::book_tickets;

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
    /// The hammers at its end, where a change of them is known.
    pub hammers: Option<Hammers>,
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
    /// The demand of each calendar month.
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
        for minute in
            logs.rollovers.iter().flatten().map(|us| us.div_euclid(MINUTE_US)).filter(|m| (from..to).contains(m))
        {
            place(&mut all, &mut outside, minute).sums.rollovers += 1;
        }
        for account in all.iter_mut().chain([&mut outside]) {
            account.sums.shifts_h2 = account.sums.running_h().powi(2);
            account.sums.readings = register_readings(logs, &account.sums);
        }
        let mut whole = Account { name: "all".to_owned(), ..outside.clone() };
        for shift in &all {
            whole.sums.join(&shift.sums);
        }
        // What one shift has too much of a bridge another has too little: over all of it nothing is left.
        let touches = |gap: &&Gap| gap.span.from_us < to * MINUTE_US && gap.span.to_us > from * MINUTE_US;
        let bridged = || logs.gaps.iter().filter(touches).filter(|gap| matches!(gap.energy, Bridge::Register(_)));
        let inside = |gap: &Gap| gap.span.from_us >= from * MINUTE_US && gap.span.to_us <= to * MINUTE_US;
        if bridged().all(inside) {
            whole.sums.estimated_u_kwh = 0.0;
        }
        // A bridge that several share is one, and stands on two readings.
        whole.sums.bridges = bridged().count() as u32;
        // So is all of what a register tells: the reading between two shifts is off for both, and one takes what the other gives.
        whole.sums.readings = register_readings(logs, &whole.sums);
        let idle = idle_power(site, &all, &whole.sums);
        let start_kwh = site.motor.start_kwh.or_else(|| {
            let starts = f64::from(whole.sums.counts[0]);
            (starts > 0.0 && whole.sums.rows.kwh[STARTING] > 0.0).then(|| whole.sums.rows.kwh[STARTING] / starts)
        });
        let months = books.months(shifts, [from, to], &mut notes);
        let mut out = Self { shifts: all, outside, whole, months, idle, start_kwh, notes };
        out.spells(&books);
        out
    }

    /// Time, energy and tonnes of shifts alone, such as a baseline is learnt from; nothing is made of what lies between them.
    pub fn shifts_alone(site: &Site, logs: &Merged, tickets: &Tickets, shifts: &[Shift]) -> Vec<Account> {
        let books = Books { site, logs };
        let mut all: Vec<Account> = shifts.iter().map(|shift| books.account(shift)).collect();
        let mut between = Account { sums: books.sums(0, 0), ..Account::empty() };
        let mut notes = Vec::new();
        let period = shifts.first().zip(shifts.last()).map_or([0; 2], |(first, last)| [first.from, last.to]);
        for gap in &logs.gaps {
            books.bridge(gap, &mut all, &mut between, period, &mut notes);
        }
        book_tickets((site, logs), tickets, &mut all, &mut between, period, &mut notes);
        all
    }

    /// Whether some of a time lies in the period.
    pub fn touches(&self, span: Span) -> bool {
        self.whole.touches(span)
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
    /// Whether some of a time lies in it.
    pub fn touches(&self, span: Span) -> bool {
        span.from_us < self.to * MINUTE_US && span.to_us > self.from * MINUTE_US
    }

    /// Whether all of a time lies in it.
    pub fn covers(&self, span: Span) -> bool {
        self.from * MINUTE_US <= span.from_us && span.to_us <= self.to * MINUTE_US
    }

    pub(super) fn empty() -> Self {
        Self {
            name: String::new(),
            crew: None,
            date: None,
            from: 0,
            to: 0,
            sums: Sums::default(),
            demand: Demand::default(),
            hammers: None,
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
            hammers: None,
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
        let mut sums = Sums {
            elapsed_us: (to - from) * MINUTE_US,
            by_band_kwh: vec![0.0; bands],
            loads: self.logs.loads.between(from, to),
            ..Sums::default()
        };
        for minute in from..to {
            let Some(bin) = self.logs.bins.get(minute).filter(|bin| bin.us > 0) else { continue };
            sums.rows.join(bin);
            if self.site.mass.source == Source::Log {
                *sums.tonnes.entry(NO_MATERIAL.to_owned()).or_default() += bin.kg / 1e3;
            }
            let (band, price) = self.price(minute);
            sums.by_band_kwh[band] += bin.total_kwh();
            sums.energy_cost += bin.total_kwh() * price;
            sums.idle_cost += bin.kwh[IDLE] * price;
        }
        // What no row tells is not known.
        sums.rows.states_us[UNKNOWN] += sums.elapsed_us - sums.rows.us;
        sums
    }

    /// Books the time for which the feed stood.
    fn held(&self, [from_us, to_us]: [i64; 2], shifts: &mut [Account], outside: &mut Account, [from, to]: [i64; 2]) {
        for minute in from_us.div_euclid(MINUTE_US)..=to_us.div_euclid(MINUTE_US) {
            let us = to_us.min((minute + 1) * MINUTE_US) - from_us.max(minute * MINUTE_US);
            if us > 0 && (from..to).contains(&minute) && self.logs.bins.get(minute).is_some_and(|bin| bin.us > 0) {
                place(shifts, outside, minute).sums.rows.held_us += us as f64;
            }
        }
    }
}

/// A register's readings that the rows of a time stand on: its first and its last.
fn register_readings(logs: &Merged, sums: &Sums) -> u32 {
    if logs.by_register && sums.rows.us > 0 { 2 } else { 0 }
}

fn idle_power(site: &Site, shifts: &[Account], whole: &Sums) -> Option<IdlePower> {
    let own: Vec<f64> = shifts
        .iter()
        .filter(|shift| shift.sums.rows.states_us[IDLE] >= ENOUGH_IDLE_US)
        .map(|shift| shift.sums.rows.kwh[IDLE] / shift.sums.hours(IDLE))
        .collect();
    let mean = own.iter().sum::<f64>() / own.len() as f64;
    let spread = (own.len() >= ENOUGH_SHIFTS)
        .then(|| (own.iter().map(|kw| (kw - mean).powi(2)).sum::<f64>() / (own.len() - 1) as f64).sqrt());
    let repeat_kw = site.motor.idle_repeatability_kw.or(spread);
    if let Some(kw) = site.motor.idle_kw {
        return Some(IdlePower { kw, repeat_kw, learnt: false });
    }
    (whole.rows.states_us[IDLE] >= ENOUGH_IDLE_US).then(|| IdlePower {
        kw: whole.rows.kwh[IDLE] / whole.hours(IDLE),
        repeat_kw,
        learnt: true,
    })
}

#[cfg(test)]
mod tests;
