//! Why a figure of a row cannot be had, or what it lacks.

use super::super::account::Account;
use super::super::site::{Changed, Source};
use super::super::uncertainty;
use super::{Common, MISSING, Row, dark};

impl Common<'_> {
    /// Why nothing tells the tonnes.
    pub(super) fn no_tonnes(&self) -> Option<&'static str> {
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

    pub(super) fn explain(&self, row: &mut Row, account: &Account, missing: f64, blind: f64) {
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
        self.explain_hammers(row, account, &mut say);
        say(
            row.stopped_by_reason_h.is_none(),
            "stopped_by_reason_h",
            "no stoppages given: --stoppages FILE".to_owned(),
        );
        explain_load(row, account, &mut say);
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
        say(row.register_rollovers.is_none(), "register_rollovers", "no log has register_kwh".to_owned());
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

/// Why load and feed are not told.
fn explain_load(row: &Row, account: &Account, say: &mut impl FnMut(bool, &'static str, String)) {
    say(row.load_mean_pct.is_none(), "load_mean_pct", "the logs have no load_pct, or the mill did not run".to_owned());
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
}
