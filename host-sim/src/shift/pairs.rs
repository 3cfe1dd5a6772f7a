//! Materials and screens side by side: what a tonne of each took, and how fast it went through.
//!
//! A shift counts for a material and a screen if nearly all of its tonnes were of both: its energy cannot be parted. The band has what
//! meter and scale err by, and the scatter of the shifts: Student's t times their deviation over the root of their number. Errors of meter
//! and scale are the same for all: whether two differ is told by their scatter alone.

use std::collections::BTreeMap;

use serde::Serialize;
use statrs::distribution::{ContinuousCDF as _, StudentsT};

use super::account::{Account, Accounts, IdlePower, Sums};
use super::drift::judged;
use super::site::Site;
use super::uncertainty::{Known, bands, net_kwh};
use crate::report::number::figure;

/// A material through a screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct Pair {
    pub material: String,
    pub screen: String,
    pub shifts: usize,
    pub t: f64,
    pub t_per_h: f64,
    pub gross_kwh_per_t: f64,
    pub gross_band_kwh_per_t: Option<f64>,
    pub gross_scatter_kwh_per_t: Option<f64>,
    pub net_kwh_per_t: Option<f64>,
    pub net_band_kwh_per_t: Option<f64>,
    pub net_scatter_kwh_per_t: Option<f64>,
}

/// A shift is of one kind if so much of it is.
const NEARLY_ALL: f64 = 0.95;
/// Shifts from which their scatter tells something.
const FEWEST: usize = 3;

/// Every pair that has a shift of its own, the most tonnes first.
pub fn pairs(site: &Site, accounts: &Accounts) -> Vec<Pair> {
    let mut all: BTreeMap<&(String, String), Vec<&Account>> = BTreeMap::new();
    for shift in accounts.shifts.iter().filter(|shift| judged(shift)) {
        let most = shift.sums.pairs.iter().max_by(|a, b| a.1.total_cmp(b.1));
        if let Some((pair, _)) = most.filter(|(_, t)| **t >= NEARLY_ALL * shift.sums.t()) {
            all.entry(pair).or_default().push(shift);
        }
    }
    let mut rows: Vec<Pair> = all.into_iter().map(|(pair, shifts)| row(site, accounts, pair, &shifts)).collect();
    rows.sort_by(|a, b| b.t.total_cmp(&a.t));
    rows
}

fn row(site: &Site, accounts: &Accounts, (material, screen): &(String, String), shifts: &[&Account]) -> Pair {
    let mut sums = Sums::default();
    for shift in shifts {
        sums.join(&shift.sums);
    }
    let known = Known::of(&sums);
    // What idle power does from shift to shift is in their scatter.
    let field =
        bands(&known, accounts.idle.map(|idle| IdlePower { repeat_kw: idle.repeat_kw.map(|_| 0.0), ..idle }), site);
    let net = |known: &Known| accounts.idle.map(|idle| net_kwh(known, idle) / known.t);
    let each: Vec<Known> = shifts.iter().map(|shift| Known::of(&shift.sums)).collect();
    let gross_scatter = scatter(each.iter().map(|known| known.kwh / known.t));
    let net_scatter = accounts.idle.and_then(|_| scatter(each.iter().filter_map(net)));
    let both = |field: Option<f64>, scatter: Option<f64>| field.zip(scatter).map(|(a, b)| figure(a.hypot(b)));
    Pair {
        material: material.clone(),
        screen: screen.clone(),
        shifts: shifts.len(),
        t: figure(known.t),
        t_per_h: figure(known.t / known.running_h),
        gross_kwh_per_t: figure(known.kwh / known.t),
        gross_band_kwh_per_t: both(field.gross, gross_scatter),
        gross_scatter_kwh_per_t: gross_scatter.map(figure),
        net_kwh_per_t: net(&known).map(figure),
        net_band_kwh_per_t: both(field.net, net_scatter),
        net_scatter_kwh_per_t: net_scatter.map(figure),
    }
}

/// Half width of the 95 % interval of a mean.
fn scatter(values: impl Iterator<Item = f64>) -> Option<f64> {
    let all: Vec<f64> = values.collect();
    let n = all.len();
    if n < FEWEST {
        return None;
    }
    let mean = all.iter().sum::<f64>() / n as f64;
    let deviation = (all.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    let student = StudentsT::new(0.0, 1.0, (n - 1) as f64).ok()?;
    Some(student.inverse_cdf(0.975) * deviation / (n as f64).sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::site::tests::good;
    use super::*;

    /// Student's t of four degrees at 97.5 % is 2.776 (any table): 1, 2, 3, 4, 5 have a deviation of 1.5811, over root 5.
    #[test]
    fn scatter_of_a_mean() {
        let found = scatter([1.0, 2.0, 3.0, 4.0, 5.0].into_iter()).unwrap();
        assert!((found - 2.776_445 * 1.581_139 / 5f64.sqrt()).abs() < 1e-4, "{found}");
        assert_eq!(scatter([1.0, 2.0].into_iter()), None);
    }

    /// By hand: 4 h of 14 kW and 10 t at 12 or 20 kWh each; a shift of both kinds is none's.
    #[test]
    fn screens_side_by_side() {
        let shift = |kinds: &[(&str, f64, f64)]| {
            let mut sums = Sums { elapsed_us: 14_400_000_000, shifts_h2: 16.0, ..Sums::default() };
            sums.rows.us = 14_400_000_000;
            sums.rows.states_us[3] = 14_400_000_000;
            sums.rows.kwh[3] = 56.0;
            for (screen, t, kwh) in kinds {
                sums.rows.kwh[3] += t * kwh;
                *sums.tonnes.entry("castings".to_owned()).or_default() += t;
                sums.pairs.insert(("castings".to_owned(), (*screen).to_owned()), *t);
            }
            Account { sums, ..Account::empty() }
        };
        let coarse = || shift(&[("25 mm", 10.0, 12.0)]);
        let fine = |more: f64| shift(&[("12 mm", 6.0, 20.0 + more)]);
        let shifts = vec![
            coarse(),
            coarse(),
            fine(1.0),
            fine(-1.0),
            fine(0.0),
            shift(&[("25 mm", 5.0, 12.0), ("12 mm", 5.0, 20.0)]),
        ];
        let empty = Account::empty();
        let idle = Some(IdlePower { kw: 14.0, repeat_kw: Some(0.4), learnt: true });
        let accounts = Accounts {
            shifts,
            outside: empty.clone(),
            whole: empty,
            months: vec![],
            idle,
            start_kwh: None,
            notes: vec![],
        };
        let found = pairs(&good(), &accounts);
        let names: Vec<_> = found.iter().map(|pair| (pair.screen.as_str(), pair.shifts)).collect();
        assert_eq!(names, [("25 mm", 2), ("12 mm", 3)]);
        assert!(
            (found[0].gross_kwh_per_t - 17.6).abs() < 1e-6 && (found[0].net_kwh_per_t.unwrap() - 12.0).abs() < 1e-6
        );
        assert_eq!(found[0].gross_band_kwh_per_t, None, "two shifts do not tell their scatter");
        assert!((found[1].t_per_h - 1.5).abs() < 1e-9 && (found[1].net_kwh_per_t.unwrap() - 20.0).abs() < 1e-6);
        // Three shifts with a deviation of one: t of two degrees is 4.303.
        assert!((found[1].net_scatter_kwh_per_t.unwrap() - 4.302_653 / 3f64.sqrt()).abs() < 1e-3);
        // Meter, transformers and scale, within 1 % of 20 kWh/t each: 2 x 0.2 x root 3 / root 3. Idle power's repeating is in the scatter already.
        let scatter = found[1].net_scatter_kwh_per_t.unwrap();
        assert!((found[1].net_band_kwh_per_t.unwrap() - scatter.hypot(0.4)).abs() < 1e-3, "{found:?}");
    }
}
