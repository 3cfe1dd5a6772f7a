//! The rows of the report: every figure of a shift with its unit, its band, and why it cannot be had where it cannot.

mod row;
mod why;

use std::collections::BTreeMap;

use super::account::{Account, Accounts, Sums};
use super::calendar::{Calendar, timestamp};
use super::demand::Peak;
use super::drift::Drift;
use super::log::Span;
use super::log::merge::Merged;
use super::site::Site;
use super::stoppages::NO_REASON;
use super::tickets::told;
use super::uncertainty::{self, Known, bands};
use crate::minutes::{BREAKING, IDLE, MINUTE_US};
use crate::report::number::figure;
pub use row::Row;

/// A share of time without energy above which energy a tonne is not told.
const MISSING: f64 = 0.005;
/// A share of the running time for which a figure must be told: of less the rest may have been quite another.
const ENOUGH: f64 = 0.995;
/// A share of energy a tonne above which its band leaves nothing to be told.
const VAGUE: f64 = 0.5;

/// What rows are made from.
#[derive(Debug, Clone, Copy)]
pub struct Common<'a> {
    /// The site.
    pub site: &'a Site,
    /// All accounts.
    pub accounts: &'a Accounts,
    /// The logs.
    pub logs: &'a Merged,
    /// Whether tickets were given.
    pub tickets: bool,
    /// Whether stoppages were given.
    pub stoppages: bool,
    /// The drift, or why there is none.
    pub drift: Result<&'a Drift, &'a str>,
}

/// A moment of legal time with its offset.
fn at(minute: i64, calendar: &Calendar) -> String {
    calendar.stamp(minute)
}

/// Whether no row tells of an account's time.
fn dark(account: &Account) -> bool {
    account.sums.elapsed_us > 0 && account.sums.rows.us == 0
}

/// Stopped time by reason, h; with what no one has told it adds up to all of it.
fn reasons(sums: &Sums) -> BTreeMap<String, f64> {
    let hours = |us: i64| figure(us as f64 / 3.6e9);
    let told_us: i64 = sums.reasons_us.values().sum();
    let rest_us = sums.rows.states_us[0] - told_us;
    let rest = (rest_us > 0).then(|| (NO_REASON.to_owned(), hours(rest_us)));
    sums.reasons_us.iter().map(|(reason, us)| (reason.clone(), hours(*us))).chain(rest).collect()
}

impl Common<'_> {
    /// Whether some of a time lies in an account; what lies wholly within a shift is not outside of shifts.
    fn holds(&self, account: &Account, span: Span) -> bool {
        let outside = std::ptr::eq(account, &raw const self.accounts.outside);
        account.touches(span) && !(outside && self.accounts.shifts.iter().any(|shift| shift.covers(span)))
    }

    /// The row of an account; `place` is that of a shift.
    #[expect(clippy::too_many_lines, reason = "a line for each figure")]
    pub fn row(&self, account: &Account, place: Option<usize>) -> Row {
        let Self { site, accounts, .. } = *self;
        let (sums, calendar) = (&account.sums, &site.calendar);
        let hours = |us: i64| figure(us as f64 / 3.6e9);
        let utc = |minute: i64| timestamp(minute * MINUTE_US).to_string();
        let known = Known::of(sums);
        let bands = bands(&known, accounts.idle, site);
        let kwh = sums.total_kwh();
        let t = self.no_tonnes().is_none().then(|| sums.t());
        let missing = sums.missing_us() as f64 / sums.elapsed_us.max(1) as f64;
        let tonnes = t.filter(|t| *t > 0.0 && missing <= MISSING);
        // A figure that may be half as much again says nothing.
        let says = |x: f64, band: Option<f64>| band.is_none_or(|band| band <= VAGUE * x.abs());
        // Of what was bridged the state is not known, so that nothing can be taken off for the empty mill.
        let blind = (sums.bridged_us + sums.estimated_us) as f64 / sums.elapsed_us.max(1) as f64;
        let net = accounts
            .idle
            .filter(|_| blind <= MISSING && missing <= MISSING)
            .map(|idle| uncertainty::net_kwh(&known, idle));
        let gross_per_t = tonnes.map(|t| kwh / t).filter(|x| says(*x, bands.gross));
        // What is vague before the empty mill is taken off is no better afterwards, and has no band where idle power has none.
        let net_per_t =
            tonnes.filter(|_| gross_per_t.is_some()).zip(net).map(|(t, net)| net / t).filter(|x| says(*x, bands.net));
        let peak = |peak: Option<Peak>| (peak.map(|peak| figure(peak.value)), peak.map(|peak| at(peak.at, calendar)));
        let demand = account.demand;
        let (demand_block_kw, demand_block_at) = peak(demand.block_kw);
        let (demand_sliding_kw, demand_sliding_at) = peak(demand.sliding_kw);
        let loads = sums.rows.load[1] > 0.0;
        let running_us = (sums.rows.states_us[IDLE] + sums.rows.states_us[BREAKING]) as f64;
        let of_running = |us: f64| if running_us > 0.0 { us / running_us } else { 0.0 };
        let (seconds, fed) = (of_running(sums.rows.seconds_us), of_running(sums.rows.feed[1]));
        // Of a time without a row nothing is known, rather than that nothing happened.
        let counts = self.logs.counts.map(|counts| counts && !dark(account));
        let happened = self.logs.told && !dark(account);
        let tariff = site.tariff.as_ref();
        let band_names = tariff.into_iter().flat_map(|tariff| tariff.bands.iter().map(|band| band.name.clone()));
        let point = place.and_then(|place| self.drift.ok()?.points.iter().find(|point| point.shift == place));
        let mut row = Row {
            shift: account.name.clone(),
            crew: account.crew.clone(),
            date: account.date.map(|date| date.to_string()),
            from: at(account.from, calendar),
            to: at(account.to, calendar),
            from_utc: utc(account.from),
            to_utc: utc(account.to),
            elapsed_h: hours(sums.elapsed_us),
            breaking_h: hours(sums.rows.states_us[3]),
            idle_h: hours(sums.rows.states_us[2]),
            starting_h: hours(sums.rows.states_us[1]),
            coasting_h: hours(sums.rows.states_us[4]),
            stopped_h: hours(sums.rows.states_us[0]),
            stopped_by_reason_h: self.stoppages.then(|| reasons(sums)),
            unknown_h: hours(sums.rows.states_us[5]),
            feed_stopped_h: counts[2].then(|| figure(sums.rows.held_us / 3.6e9)),
            measured_h: hours(sums.rows.us),
            bridged_h: hours(sums.bridged_us),
            estimated_h: hours(sums.estimated_us),
            missing_h: hours(sums.missing_us()),
            kwh: figure(kwh),
            kwh_band: bands.kwh.map(figure),
            measured_kwh: figure(sums.rows.total_kwh()),
            bridged_kwh: figure(sums.bridged_kwh),
            estimated_kwh: figure(sums.estimated_kwh),
            breaking_kwh: figure(sums.rows.kwh[3]),
            idle_kwh: figure(sums.rows.kwh[2]),
            starting_kwh: figure(sums.rows.kwh[1]),
            other_kwh: figure(sums.rows.kwh[0] + sums.rows.kwh[4] + sums.rows.kwh[5]),
            exported_kwh: figure(sums.rows.back_kwh),
            net_kwh: net.map(figure),
            net_kwh_band: net.and(bands.net_kwh).map(figure),
            kvarh: sums.rows.power_factor().map(|_| figure(sums.rows.kvarh)),
            power_factor: sums.rows.power_factor().map(figure),
            t: t.map(figure),
            t_band: t.and(bands.t).map(figure),
            tickets: sums.tickets[0],
            late_tickets: sums.tickets[1],
            corrections: sums.tickets[2],
            materials: sums.tonnes.iter().map(|(name, t)| (name.clone(), figure(*t))).collect(),
            t_per_h: t.filter(|_| sums.running_h() > 0.0).map(|t| figure(t / sums.running_h())),
            hammers: account.hammers.as_ref().and_then(|hammers| hammers.note.clone()),
            hammers_since: account.hammers.as_ref().map(|hammers| told(hammers.at_us, calendar)),
            hammers_run_h: account.hammers.as_ref().and_then(|hammers| hammers.run_h).map(figure),
            hammers_t: account.hammers.as_ref().and_then(|hammers| hammers.t).map(figure),
            gross_kwh_per_t: gross_per_t.map(figure),
            gross_band_kwh_per_t: gross_per_t.and(bands.gross).map(figure),
            net_kwh_per_t: net_per_t.map(figure),
            net_band_kwh_per_t: net_per_t.and(bands.net).map(figure),
            load_mean_pct: loads.then(|| figure(sums.rows.load[0] / sums.rows.load[1])),
            load_p95_pct: sums.loads.not_exceeded(0.95).map(figure),
            load_peak_1s_pct: sums.rows.peak_pct.filter(|_| seconds >= ENOUGH).map(figure),
            above_100_min: figure(sums.rows.above_us / 6e7),
            feed_mean_pct: (fed >= ENOUGH).then(|| figure(sums.rows.feed[0] / sums.rows.feed[1])),
            feed_at_100_min: (fed >= ENOUGH).then(|| figure(sums.rows.feed_full_us / 6e7)),
            demand_block_kw,
            demand_block_at,
            demand_block_kva: peak(demand.block_kva).0,
            demand_sliding_kw,
            demand_sliding_at,
            demand_sliding_kva: peak(demand.sliding_kva).0,
            demand_unknown_blocks: account.date.map(|_| demand.unknown),
            load_factor: demand
                .block_kw
                .filter(|peak| peak.value > 0.0 && missing <= MISSING)
                .map(|peak| figure(kwh / (peak.value * sums.elapsed_us as f64 / 3.6e9))),
            clock_corrections: self.logs.corrected.values().filter(|(_, span)| self.holds(account, *span)).count()
                as u32,
            register_rollovers: self.logs.rollovers.is_some().then_some(sums.rollovers),
            starts: counts[0].then_some(sums.counts[0]),
            feed_stops: happened.then_some(sums.counts[1]),
            reversals: happened.then_some(sums.counts[2]),
            trips: counts[1].then(|| sums.trips.clone()),
            expected_kwh: point.map(|point| figure(point.expected_kwh)),
            deviation_kwh: point.map(|point| figure(point.deviation_kwh)),
            deviation_pct: point
                .filter(|point| point.expected_kwh > 0.0)
                .map(|point| figure(100.0 * point.deviation_kwh / point.expected_kwh)),
            cusum_kwh: point.map(|point| figure(point.cusum_kwh)),
            energy_cost: tariff.map(|_| figure(sums.energy_cost)),
            idle_cost: tariff.map(|_| figure(sums.idle_cost)),
            by_band_kwh: tariff.map_or_else(BTreeMap::new, |_| {
                band_names
                    .chain(["other times".to_owned()])
                    .zip(sums.by_band_kwh.iter().map(|kwh| figure(*kwh)))
                    .collect()
            }),
            idle_spells_to_stop: accounts.stop_after_min(site).map(|_| sums.spells.0),
            idle_spells_kwh: accounts.stop_after_min(site).map(|_| figure(sums.spells.2)),
            why: BTreeMap::new(),
        };
        if let Some(t) = tonnes {
            let vague = |x: f64, band: Option<f64>| match band.filter(|band| *band > VAGUE * x.abs()) {
                Some(band) => format!("its band, +- {band:.2} kWh/t, is more than half of it"),
                None => "the band of gross_kwh_per_t is more than half of it".to_owned(),
            };
            if gross_per_t.is_none() {
                row.why.insert("gross_kwh_per_t", vague(kwh / t, bands.gross));
            }
            if let (None, Some(net)) = (net_per_t, net) {
                row.why.insert("net_kwh_per_t", vague(net / t, bands.net));
            }
        }
        self.explain(&mut row, account, missing, blind);
        row
    }
}
