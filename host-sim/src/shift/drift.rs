//! Drift: each shift against the mill's own baseline, their cumulative sum, and when it bent.
//!
//! ```text
//! expected = idle power x running hours + what a tonne of each material costs x its tonnes
//! deviation = actual - expected; cumulative sum: flat as expected, rising: it takes more
//! ```
//!
//! Bends are looked for in the deviation of a day over its expected net energy: what a tonne costs more than it should, in per cent. The
//! shifts of one day have weather, crew and material in common and are one point. A known change of hammers or screen begins anew.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::account::{Account, Accounts};
use super::site::{Baseline, Changed, Site};
use crate::audit::bend::{self, Bend, FEWEST};
use crate::audit::model::{self, Rule};
use crate::minutes::MINUTE_US;
use crate::report::words::counted;

/// The baseline and how well it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Of the empty mill, kW.
    pub idle_kw: f64,
    /// Its standard uncertainty; `None`: it was given.
    pub idle_u_kw: Option<f64>,
    /// Energy of a tonne, kWh, by material, with its standard uncertainty; one without a name holds for all.
    pub materials: Vec<(Option<String>, f64, Option<f64>)>,
    /// Shifts that it was learnt from.
    pub shifts: usize,
    /// R² about the mean.
    pub r2: Option<f64>,
    /// Standard deviation over mean energy, %.
    pub cv_pct: Option<f64>,
    /// Standard deviation, kWh a shift.
    pub s_kwh: Option<f64>,
    /// The rules by which it is accepted; none where it was given.
    pub rules: Vec<Rule>,
}

/// A shift against the baseline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The shift's place.
    pub shift: usize,
    /// Expected energy, kWh.
    pub expected_kwh: f64,
    /// What it took more, kWh.
    pub deviation_kwh: f64,
    /// The sum of these so far, kWh.
    pub cusum_kwh: f64,
}

/// A bend with dates.
#[derive(Debug, Clone, PartialEq)]
pub struct Dated {
    /// The bend; times are days since 1970, whole at midnight.
    pub bend: Bend,
    /// Its date.
    pub on: Date,
    /// Between these two with a probability of 90 %.
    pub from: Date,
    /// See `from`.
    pub to: Date,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// The baseline.
    pub line: Line,
    /// The shifts that can be held against it, in order of time.
    pub points: Vec<Point>,
    /// The bends, in order of time.
    pub bends: Vec<Dated>,
    /// By day: its middle, days since 1970, deviation over expected net energy, %.
    pub days: Vec<[f64; 2]>,
    /// The straight lines through them that bend there.
    pub fit: Vec<[f64; 2]>,
    /// What a reader should know.
    pub notes: Vec<String>,
}

/// Materials that have a slope of their own, at most: the rules know five drivers.
const MOST_MATERIALS: usize = 4;
/// Shifts from which a baseline is learnt: some for each driver.
const FEWEST_SHIFTS: usize = 10;
/// Shifts of a material from which it has a slope.
const FEWEST_OF_ONE: usize = 4;
/// A share of materials that have none above which a shift is not judged.
const OTHERS: f64 = 0.05;
/// A share of time without rows above which a shift is not judged: a register tells no running hours.
const WITHOUT_ROWS: f64 = 0.005;
/// Days with less of the usual net energy say little.
const LITTLE: f64 = 0.2;

/// Whether a shift can be judged: it ran, rows tell it throughout, and its tonnes are known.
pub fn judged(account: &Account) -> bool {
    let sums = &account.sums;
    let without_us = sums.elapsed_us - sums.rows.us;
    sums.running_h() > 0.1 && sums.t() > 0.0 && without_us as f64 <= WITHOUT_ROWS * sums.elapsed_us as f64
}

/// The share of a shift's tonnes that is of none of these materials.
fn others(account: &Account, names: &[String]) -> f64 {
    let own: f64 = names.iter().filter_map(|name| account.sums.tonnes.get(name)).sum();
    1.0 - own / account.sums.t().max(f64::MIN_POSITIVE)
}

/// Works it out; `beside` are shifts that the baseline may be learnt from and that the accounts' period does not have.
///
/// # Errors
/// In words, why there is no baseline.
pub fn drift(site: &Site, accounts: &Accounts, beside: &[Account]) -> Result<Drift, String> {
    let baseline = site.baseline.as_ref().ok_or("the site's file has no [baseline]")?;
    let shifts = &accounts.shifts;
    let mut notes = Vec::new();
    let line = match baseline {
        Baseline::Given { idle_kw, kwh_per_t } => Line {
            idle_kw: *idle_kw,
            idle_u_kw: None,
            materials: vec![(None, *kwh_per_t, None)],
            shifts: 0,
            r2: None,
            cv_pct: None,
            s_kwh: None,
            rules: Vec::new(),
        },
        Baseline::Learnt { from, to } => learnt(beside, shifts, *from, *to)?,
    };
    let mut points = Vec::new();
    let mut cusum_kwh = 0.0;
    let names: Vec<String> = line.materials.iter().filter_map(|(name, ..)| name.clone()).collect();
    let broke_known = |shift: &Account| names.is_empty() || others(shift, &names) <= OTHERS;
    for (at, shift) in shifts.iter().enumerate().filter(|(_, shift)| judged(shift) && broke_known(shift)) {
        let expected_kwh = line.expected(shift);
        let deviation_kwh = shift.sums.total_kwh() - expected_kwh;
        cusum_kwh += deviation_kwh;
        points.push(Point { shift: at, expected_kwh, deviation_kwh, cusum_kwh });
    }
    let left_out = shifts.len() - points.len();
    if left_out > 0 {
        notes.push(format!(
            "{left_out} shifts are not held against the baseline: not running, no tonnes, rows missing, or a material that the baseline does not have"
        ));
    }
    let days = days(&line, shifts, &points);
    let (bends, fit) = dated(site, &days, &mut notes);
    if line.rules.iter().any(|rule| !rule.kept) {
        notes.push("the baseline does not keep the rules by which such models are accepted: its expectations, deviations and bends are weak".to_owned());
    }
    Ok(Drift { line, points, bends, days, fit, notes })
}

impl Line {
    /// What a shift should take, kWh.
    pub fn expected(&self, account: &Account) -> f64 {
        self.idle_kw * account.sums.running_h() + self.expected_net(account)
    }

    /// What its tonnes should take beyond the empty mill, kWh.
    fn expected_net(&self, account: &Account) -> f64 {
        let of = |(material, t): (&String, &f64)| t * self.tonne(material);
        account.sums.tonnes.iter().map(of).sum()
    }

    fn tonne(&self, material: &str) -> f64 {
        let own = self.materials.iter().find(|(name, ..)| name.as_deref() == Some(material));
        own.or(self.materials.iter().find(|(name, ..)| name.is_none()))
            .or(self.materials.first())
            .map_or(0.0, |own| own.1)
    }
}

/// Learnt from shifts on these dates, for the use on others.
fn learnt(beside: &[Account], shown: &[Account], from: Date, to: Date) -> Result<Line, String> {
    let inside = |shift: &&Account| shift.date.is_some_and(|date| (from..=to).contains(&date));
    let mut used: Vec<&Account> = beside.iter().chain(shown).filter(inside).filter(|shift| judged(shift)).collect();
    used.sort_by_key(|shift| shift.from);
    if used.len() < FEWEST_SHIFTS {
        return Err(format!(
            "the baseline's days, {from} to {to}, have {} shifts with tonnes and whole energy in the logs that were read; {FEWEST_SHIFTS} at least are wanted: \
             give the logs and tickets of those days as well, or [baseline] idle_kw and kwh_per_t as given",
            used.len()
        ));
    }
    // Materials that are in some of the shifts have a slope of their own, those of the most tonnes first.
    let mut seen: BTreeMap<&str, (usize, f64)> = BTreeMap::new();
    for (material, t) in used.iter().flat_map(|shift| &shift.sums.tonnes).filter(|(_, t)| **t > 0.0) {
        let own = seen.entry(material).or_default();
        *own = (own.0 + 1, own.1 + t);
    }
    let mut own: Vec<(&str, f64)> =
        seen.iter().filter(|(_, (count, _))| *count >= FEWEST_OF_ONE).map(|(name, (_, t))| (*name, *t)).collect();
    own.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(b.0)));
    own.truncate(MOST_MATERIALS);
    let names: Vec<String> = own.iter().map(|(name, _)| (*name).to_owned()).collect();
    let used: Vec<&Account> = used.into_iter().filter(|shift| others(shift, &names) <= OTHERS).collect();
    if used.len() < FEWEST_SHIFTS {
        return Err(format!(
            "only {} shifts of the baseline's days broke nothing but materials that several of them have",
            used.len()
        ));
    }
    let drivers = |account: &Account| {
        let mut row = vec![account.sums.running_h()];
        row.extend(names.iter().map(|name| account.sums.tonnes.get(name).copied().unwrap_or(0.0)));
        // What little there is of others goes with the first.
        row[1] += account.sums.t() - row[1..].iter().sum::<f64>();
        row
    };
    let rows: Vec<Vec<f64>> = used.iter().map(|shift| drivers(shift)).collect();
    let energy: Vec<f64> = used.iter().map(|shift| shift.sums.total_kwh()).collect();
    let model = model::fit(&rows, &energy, false).ok_or(
        "running hours and tonnes of the baseline's shifts go together: nothing parts idle power from the tonnes'",
    )?;
    let words = names.iter().map(|name| format!("tonnes, {name}"));
    let driver_names: Vec<String> = std::iter::once("running hours".to_owned()).chain(words).collect();
    let mut judged: Vec<Vec<f64>> =
        shown.iter().filter(|shift| judged(shift) && others(shift, &names) <= OTHERS).map(drivers).collect();
    // Used on none it holds where it was learnt.
    if judged.is_empty() {
        judged.clone_from(&rows);
    }
    let mean = |at: usize| judged.iter().map(|row| row[at]).sum::<f64>() / judged.len() as f64;
    let means: Vec<f64> = (0..driver_names.len()).map(mean).collect();
    let material =
        |(at, name): (usize, &String)| (Some(name.clone()), model.slopes[at + 1], Some(model.slopes_u[at + 1]));
    Ok(Line {
        idle_kw: model.slopes[0],
        idle_u_kw: Some(model.slopes_u[0]),
        materials: names.iter().enumerate().map(material).collect(),
        shifts: used.len(),
        r2: Some(model.r2),
        cv_pct: Some(model.cv_pct),
        s_kwh: Some(model.s),
        rules: model::rules(&model, &driver_names, &means),
    })
}

/// Days since 1970.
pub(super) fn day(date: Date) -> f64 {
    let since = jiff::civil::date(1970, 1, 1).duration_until(date);
    since.as_secs() as f64 / 86_400.0
}

pub(super) fn date(day: f64) -> Date {
    let since = jiff::SignedDuration::from_secs((day.floor() * 86_400.0) as i64);
    jiff::civil::date(1970, 1, 1).checked_add(since).unwrap_or(Date::MAX)
}

fn days(line: &Line, shifts: &[Account], points: &[Point]) -> Vec<[f64; 2]> {
    let mut all: BTreeMap<Date, [f64; 2]> = BTreeMap::new();
    for point in points {
        let shift = &shifts[point.shift];
        let Some(date) = shift.date else { continue };
        let own = all.entry(date).or_default();
        own[0] += point.deviation_kwh;
        own[1] += line.expected_net(shift);
    }
    let mut nets: Vec<f64> = all.values().map(|own| own[1]).collect();
    nets.sort_by(f64::total_cmp);
    let usual = nets.get(nets.len() / 2).copied().unwrap_or(0.0);
    let enough = |own: &[f64; 2]| own[1] > LITTLE * usual && own[1] > 0.0;
    // A day's shifts are its middle: a step between two days is then at the midnight with which the second begins.
    let middle = |date| day(date) + 0.5;
    all.into_iter().filter(|(_, own)| enough(own)).map(|(date, own)| [middle(date), 100.0 * own[0] / own[1]]).collect()
}

/// The bends between known changes, and the lines where any were looked for; a note where none were.
fn dated(site: &Site, days: &[[f64; 2]], notes: &mut Vec<String>) -> (Vec<Dated>, Vec<[f64; 2]>) {
    let known = |changed: Changed| matches!(changed, Changed::Hammers | Changed::Screen);
    let local = |us: i64| site.calendar.local(us.div_euclid(MINUTE_US)).date();
    let mut borders: Vec<f64> = site.changes.iter().filter(|c| known(c.what)).map(|c| day(local(c.at_us))).collect();
    borders.push(f64::INFINITY);
    let (mut all, mut fit, mut from) = (Vec::new(), Vec::new(), 0);
    for border in borders {
        // The day of the change has both.
        let to = days.partition_point(|point| point[0] < border);
        let stretch = days.get(from..to).unwrap_or_default();
        if let (Some(first), Some(last)) = (stretch.first(), stretch.last()) {
            let own = bend::bends(stretch);
            fit.extend(bend::fitted(stretch, &own));
            all.extend(own);
            if stretch.len() < FEWEST {
                let days = counted(stretch.len() as u64, "day");
                let (first, last) = (date(first[0]), date(last[0]));
                notes.push(format!(
                    "no bend is looked for from {first} to {last}: {days} that can be judged, {FEWEST} are wanted"
                ));
            }
        }
        from = days.partition_point(|point| point[0] < border + 1.0).max(from);
    }
    if days.is_empty() {
        notes.push("no bend is looked for: no day can be judged".to_owned());
    }
    let dated = all
        .into_iter()
        .map(|bend| Dated { on: date(bend.at), from: date(bend.from), to: date(bend.to), bend })
        .collect();
    (dated, fit)
}

#[cfg(test)]
#[path = "drift/tests.rs"]
mod tests;
