//! The rows of the report: every figure of a shift with its unit, its band, and why it cannot be had where it cannot.

use std::collections::BTreeMap;

use serde::Serialize;

use super::account::{Account, Accounts, Sums};
use super::calendar::{Calendar, timestamp};
use super::demand::Peak;
use super::drift::Drift;
use super::log::merge::Merged;
use super::site::{Changed, Site, Source};
use super::stoppages::NO_REASON;
use super::tickets::told;
use super::uncertainty::{self, Known, bands};
use crate::minutes::{BREAKING, IDLE, MINUTE_US};
use crate::report::number::figure;

/// A share of time without energy above which energy a tonne is not told.
const MISSING: f64 = 0.005;
/// A share of the running time for which a figure must be told: of less the rest may have been quite another.
const ENOUGH: f64 = 0.995;
/// A share of energy a tonne above which its band leaves nothing to be told.
const VAGUE: f64 = 0.5;

/// A shift, what is outside of all shifts, or all of it.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct Row {
    pub shift: String,
    pub crew: Option<String>,
    pub date: Option<String>,
    pub from: String,
    pub to: String,
    pub from_utc: String,
    pub to_utc: String,
    pub elapsed_h: f64,
    pub breaking_h: f64,
    pub idle_h: f64,
    pub starting_h: f64,
    pub coasting_h: f64,
    pub stopped_h: f64,
    pub stopped_by_reason_h: Option<BTreeMap<String, f64>>,
    pub unknown_h: f64,
    pub feed_stopped_h: Option<f64>,
    pub measured_h: f64,
    pub bridged_h: f64,
    pub estimated_h: f64,
    pub missing_h: f64,
    pub kwh: f64,
    pub kwh_band: Option<f64>,
    pub measured_kwh: f64,
    pub bridged_kwh: f64,
    pub estimated_kwh: f64,
    pub breaking_kwh: f64,
    pub idle_kwh: f64,
    pub starting_kwh: f64,
    pub other_kwh: f64,
    pub exported_kwh: f64,
    pub net_kwh: Option<f64>,
    pub net_kwh_band: Option<f64>,
    pub kvarh: Option<f64>,
    pub power_factor: Option<f64>,
    pub t: Option<f64>,
    pub t_band: Option<f64>,
    pub tickets: u32,
    pub late_tickets: u32,
    pub corrections: u32,
    pub materials: BTreeMap<String, f64>,
    pub t_per_h: Option<f64>,
    pub hammers: Option<String>,
    pub hammers_since: Option<String>,
    pub hammers_run_h: Option<f64>,
    pub hammers_t: Option<f64>,
    pub gross_kwh_per_t: Option<f64>,
    pub gross_band_kwh_per_t: Option<f64>,
    pub net_kwh_per_t: Option<f64>,
    pub net_band_kwh_per_t: Option<f64>,
    pub load_mean_pct: Option<f64>,
    pub load_p95_pct: Option<f64>,
    pub load_peak_1s_pct: Option<f64>,
    pub above_100_min: f64,
    pub feed_mean_pct: Option<f64>,
    pub feed_at_100_min: Option<f64>,
    pub demand_block_kw: Option<f64>,
    pub demand_block_at: Option<String>,
    pub demand_block_kva: Option<f64>,
    pub demand_sliding_kw: Option<f64>,
    pub demand_sliding_at: Option<String>,
    pub demand_sliding_kva: Option<f64>,
    pub demand_unknown_blocks: Option<u32>,
    pub load_factor: Option<f64>,
    pub starts: Option<u32>,
    pub feed_stops: Option<u32>,
    pub reversals: Option<u32>,
    pub trips: Option<BTreeMap<String, u32>>,
    pub expected_kwh: Option<f64>,
    pub deviation_kwh: Option<f64>,
    pub deviation_pct: Option<f64>,
    pub cusum_kwh: Option<f64>,
    pub energy_cost: Option<f64>,
    pub idle_cost: Option<f64>,
    pub by_band_kwh: BTreeMap<String, f64>,
    pub idle_spells_to_stop: Option<u32>,
    pub idle_spells_kwh: Option<f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub why: BTreeMap<&'static str, String>,
}

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

    /// Why nothing tells the tonnes.
    fn no_tonnes(&self) -> Option<&'static str> {
        match self.site.mass.source {
            Source::Tickets => (!self.tickets).then_some("no tickets given"),
            Source::Log => (!self.logs.mass).then_some("no log has a column mass_kg"),
            Source::Nothing => Some("mass.source is \"none\""),
        }
    }

    /// Why there is no age of the hammers, or what it lacks.
    fn explain_hammers(&self, row: &Row, account: &Account, say: &mut impl FnMut(bool, &'static str, String)) {
        let known = self.site.changes.iter().any(|change| change.what == Changed::Hammers);
        let no_set = if !known {
            "the site's file tells no change of hammers: [[change]] what = \"hammers\""
        } else if account.date.is_none() && row.hammers_since.is_none() {
            "the age of hammers is told at the end of shifts and of the period"
        } else {
            "the first change of hammers that the site's file tells is later"
        };
        for key in ["hammers_since", "hammers_run_h", "hammers_t"] {
            say(row.hammers_since.is_none(), key, no_set.to_owned());
        }
        say(row.hammers_since.is_some() && row.hammers.is_none(), "hammers", "its [[change]] has no note".to_owned());
        say(row.hammers.is_none(), "hammers", no_set.to_owned());
        let Some(hammers) = &account.hammers else { return };
        for key in ["hammers_run_h", "hammers_t"] {
            say(
                hammers.run_h.is_none(),
                key,
                "the logs that were read begin after the hammers were changed".to_owned(),
            );
        }
        let without = hammers.without_rows_h;
        let lower = format!("{without:.2} h since the change have no rows: what is known, a lower limit");
        say(hammers.run_h.is_some() && without > 0.0, "hammers_run_h", lower);
        say(row.hammers_t.is_none(), "hammers_t", self.no_tonnes().unwrap_or_default().to_owned());
    }

    fn explain(&self, row: &mut Row, account: &Account, missing: f64, blind: f64) {
        let Self { site, accounts, drift, .. } = *self;
        let mut why = std::mem::take(&mut row.why);
        let mut say = |lacks: bool, key: &'static str, words: String| {
            if lacks {
                why.entry(key).or_insert(words);
            }
        };
        let gap = format!("{:.1} % of the time has no energy figure", 100.0 * missing);
        say(missing > 0.0, "kwh", format!("{gap}: what is known, a lower limit"));
        if let Some(words) = uncertainty::no_energy_band(site) {
            say(row.kwh_band.is_none(), "kwh_band", words.to_owned());
        }
        if let Some(words) = uncertainty::no_mass_band(site) {
            say(row.t.is_some() && row.t_band.is_none(), "t_band", words.to_owned());
        }
        say(row.t.is_none(), "t", self.no_tonnes().unwrap_or_default().to_owned());
        say(row.t.is_some() && row.gross_kwh_per_t.is_none() && missing > MISSING, "gross_kwh_per_t", gap.clone());
        say(row.gross_kwh_per_t.is_none(), "gross_kwh_per_t", self.no_tonnes().unwrap_or("no tonnes").to_owned());
        say(row.net_kwh.is_none() && missing > MISSING, "net_kwh", gap);
        say(
            row.net_kwh.is_none() && blind > MISSING,
            "net_kwh",
            format!(
                "for {:.1} % of the time a register tells the energy, but nothing whether the mill was empty",
                100.0 * blind
            ),
        );
        say(
            row.net_kwh.is_none(),
            "net_kwh",
            "the empty mill's power is not known: less than five minutes of idling, no [motor] idle_kw".to_owned(),
        );
        if let Some(words) = uncertainty::no_net_band(accounts.idle) {
            say(row.net_kwh.is_some() && row.net_kwh_band.is_none(), "net_kwh_band", words.to_owned());
        }
        say(
            row.power_factor.is_none(),
            "power_factor",
            "reactive power is not told throughout, or nothing was taken".to_owned(),
        );
        say(
            row.demand_block_kw.is_none(),
            "demand_block_kw",
            if account.date.is_some() {
                "no block lies wholly inside the shift and is measured throughout"
            } else {
                "demand is told for shifts and by month"
            }
            .to_owned(),
        );
        say(
            row.load_mean_pct.is_none(),
            "load_mean_pct",
            "the logs have no load_pct, or the mill did not run".to_owned(),
        );
        say(
            row.load_peak_1s_pct.is_none(),
            "load_peak_1s_pct",
            if row.load_mean_pct.is_none() {
                "the logs have no load_pct, or the mill did not run"
            } else {
                "rows are longer than a second and have no load_peak_1s_pct: what a longer row's mean hides is not known"
            }
            .to_owned(),
        );
        self.explain_hammers(row, account, &mut say);
        say(
            row.stopped_by_reason_h.is_none(),
            "stopped_by_reason_h",
            "no stoppages given: --stoppages FILE".to_owned(),
        );
        let told = account.sums.rows.feed[1] / (account.sums.running_h() * 3.6e9).max(1.0);
        say(
            row.feed_mean_pct.is_none(),
            "feed_mean_pct",
            if told > 0.0 {
                format!("feeder_pct is told for {:.1} % of the running time", 100.0 * told)
            } else {
                "the logs have no feeder_pct, or the mill did not run".to_owned()
            },
        );
        say(
            row.demand_unknown_blocks.is_none(),
            "demand_unknown_blocks",
            "blocks are counted for shifts and by month, where those over a change of shifts are as well".to_owned(),
        );
        for key in ["starts", "feed_stops", "trips", "feed_stopped_h"] {
            say(dark(account), key, "no row tells of this time".to_owned());
        }
        say(
            row.feed_stopped_h.is_none(),
            "feed_stopped_h",
            "not every log has feed_stopped_s or its events beside it".to_owned(),
        );
        say(row.starts.is_none(), "starts", "not every log tells starts".to_owned());
        say(
            row.trips.is_none(),
            "trips",
            "not every log tells trips: events.csv beside a replay's log does".to_owned(),
        );
        say(row.feed_stops.is_none(), "feed_stops", "no log has its events beside it".to_owned());
        say(row.energy_cost.is_none(), "energy_cost", "the site's file has no [tariff]".to_owned());
        if account.date.is_some() && row.expected_kwh.is_none() {
            let words = drift.err().map_or_else(
                || "not running, no tonnes, rows missing, or a material that the baseline does not have".to_owned(),
                str::to_owned,
            );
            say(true, "expected_kwh", words);
        }
        say(
            row.idle_spells_to_stop.is_none(),
            "idle_spells_to_stop",
            "what a start takes or the empty mill's power is not known".to_owned(),
        );
        row.why = why;
    }
}
