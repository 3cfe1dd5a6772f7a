use super::*;
use crate::plant::seed::{Random, Span};
use crate::shift::account::Sums;
use crate::shift::demand::Demand;
use crate::shift::site::tests::good;

/// Learnt from the shifts that are shown.
fn drift(site: &Site, accounts: &Accounts) -> Result<Drift, String> {
    super::drift(site, accounts, &[])
}

/// A shift of so many running hours, tonnes and kWh.
fn shift(date: Date, hours: f64, tonnes: &[(&str, f64)], kwh: f64) -> Account {
    let us = |h: f64| (h * 3.6e9) as i64;
    let mut sums = Sums { elapsed_us: us(8.0), ..Sums::default() };
    sums.rows.us = us(8.0);
    sums.rows.states_us = [us(8.0) - us(hours), 0, us(1.0), us(hours) - us(1.0), 0, 0];
    sums.rows.kwh[3] = kwh;
    sums.tonnes = tonnes.iter().map(|(name, t)| ((*name).to_owned(), *t)).collect();
    Account { date: Some(date), sums, ..Account::empty() }
}

/// A year of three shifts a day: 14 kW empty, 12 kWh/t, from a day on 0.2 % of that a day more. What the shifts of one day have in common
/// spreads by 3 %, each for itself by 1 %.
fn year(seed: u64, worn_from: f64) -> Accounts {
    let mut random = Random::new(seed);
    let mut shifts = Vec::new();
    for n in 0..365_i64 {
        let date = jiff::civil::date(2025, 1, 1).checked_add(jiff::SignedDuration::from_hours(24 * n)).unwrap();
        let worn = 1.0 + 0.002 * (n as f64 - worn_from).max(0.0);
        let of_day = 1.0 + 0.03 * random.normal();
        for _ in 0..3 {
            let (hours, t) = (random.within(Span(5.0, 7.5)), random.within(Span(14.0, 30.0)));
            let kwh = (14.0 * hours + 12.0 * worn * t) * of_day * (1.0 + 0.01 * random.normal());
            shifts.push(shift(date, hours, &[("castings", t)], kwh));
        }
    }
    accounts(shifts)
}

fn accounts(shifts: Vec<Account>) -> Accounts {
    let empty = Account { demand: Demand::default(), ..Account::empty() };
    Accounts {
        shifts,
        outside: empty.clone(),
        whole: empty,
        months: vec![],
        idle: None,
        start_kwh: None,
        notes: vec![],
    }
}

fn site() -> Site {
    let mut site = good();
    site.baseline = Some(Baseline::Learnt { from: "2025-01-01".parse().unwrap(), to: "2025-03-01".parse().unwrap() });
    site
}

/// Wear of 0.2 % a day from a day that is known: the 90 % interval of the bend holds it in at least 85 of 100 years, and is not wide.
#[test]
fn wear_is_dated() {
    let (mut covered, mut width, mut off, mut several) = (0, 0.0, 0.0, 0);
    for seed in 0..100 {
        let worn_from = 120.0 + (seed * 37 % 120) as f64;
        let found = drift(&site(), &year(seed, worn_from)).unwrap();
        // A day's wear is that at its middle.
        let truth = day("2025-01-01".parse().unwrap()) + worn_from + 0.5;
        assert!(!found.bends.is_empty(), "seed {seed}: no bend");
        several += u32::from(found.bends.len() > 1);
        // The largest: who does not know the truth has no other to look at.
        let bend = found.bends.iter().max_by(|a, b| a.bend.gain.total_cmp(&b.bend.gain)).unwrap().bend;
        covered += u32::from((bend.from..=bend.to).contains(&truth));
        width += bend.to - bend.from;
        off += (bend.at - truth).abs();
    }
    eprintln!(
        "covered {covered} of 100, {:.1} days wide, {:.1} days off, more than one bend in {several}",
        width / 100.0,
        off / 100.0
    );
    assert!(covered >= 85, "{covered} of 100");
    assert!(width / 100.0 < 30.0, "{width} days in all");
    assert!(several <= 10, "{several} years with more than one bend");
}

/// A year without wear bends hardly ever.
#[test]
fn a_steady_year_does_not_bend() {
    let told = (0..50).filter(|seed| !drift(&site(), &year(500 + seed, 1e9)).unwrap().bends.is_empty()).count();
    assert!(told <= 3, "{told} of 50");
}

/// A tonne costs 15 % more from 2025-04-01 on, which is told of that day; with two days before it without work, of the middle of these.
#[test]
fn a_step_is_told_of_its_day() {
    let first: Date = "2025-04-01".parse().unwrap();
    for (off, on) in [(0, "2025-04-01"), (2, "2025-03-31")] {
        let mut shifts = Vec::new();
        for n in 0..180_i64 {
            let date = jiff::civil::date(2025, 1, 1).checked_add(jiff::SignedDuration::from_hours(24 * n)).unwrap();
            if date < first && day(first) - day(date) <= f64::from(off) {
                continue;
            }
            let (h, t) = (5.0 + (n % 4) as f64 * 0.5, 14.0 + (n * 7 % 5) as f64);
            let of_tonne = if date < first { 12.0 } else { 13.8 };
            shifts.push(shift(
                date,
                h,
                &[("castings", t)],
                14.0 * h + of_tonne * t + [0.3, -0.5, 0.2][(n * 5 % 3) as usize],
            ));
        }
        let found = drift(&site(), &accounts(shifts)).unwrap();
        let step = found.bends.iter().max_by(|a, b| a.bend.gain.total_cmp(&b.bend.gain)).unwrap();
        assert_eq!((step.bend.kind, step.on.to_string().as_str()), (crate::audit::bend::Kind::Step, on), "{step:?}");
        assert!((step.bend.size - 15.0).abs() < 1.0 && step.from < step.on && step.to >= first, "{step:?}");
    }
}

/// Exact shifts of two materials: their own figures come out, and the cumulative sum is that of the deviations.
#[test]
fn materials_have_slopes_of_their_own() {
    let at = |n: i64| jiff::civil::date(2025, 1, 1).checked_add(jiff::SignedDuration::from_hours(24 * n)).unwrap();
    let one = |n: i64, more: f64| {
        let (h, a, b) = (5.0 + (n % 4) as f64 * 0.5, 10.0 + (n * 7 % 5) as f64, 4.0 + (n * 3 % 7) as f64);
        shift(at(n), h, &[("castings", a), ("windings", b)], 14.0 * h + 12.0 * a + 25.0 * b + more)
    };
    let mut shifts: Vec<Account> = (0..40).map(|n| one(n, if n % 2 == 0 { 0.1 } else { -0.1 })).collect();
    shifts.extend([one(70, 5.0), one(71, -2.0)]);
    // A material that the baseline does not know, and a shift of which half is missing.
    shifts.push(shift(at(72), 6.0, &[("wood", 20.0)], 300.0));
    let mut blind = one(73, 900.0);
    blind.sums.rows.us /= 2;
    shifts.push(blind);
    let found = drift(&site(), &accounts(shifts)).unwrap();
    let names: Vec<_> = found.line.materials.iter().map(|m| m.0.as_deref().unwrap()).collect();
    assert_eq!(names, ["castings", "windings"]);
    assert!((found.line.idle_kw - 14.0).abs() < 0.05, "{:?}", found.line);
    assert!((found.line.materials[1].1 - 25.0).abs() < 0.05, "{:?}", found.line);
    assert!(found.line.rules.iter().all(|rule| rule.kept), "{:?}", found.line.rules);
    assert_eq!(found.points.len(), 42);
    let last = found.points[41];
    assert!((last.deviation_kwh + 2.0).abs() < 0.3 && (last.cusum_kwh - 3.0).abs() < 0.8, "{last:?}");
    assert!(found.notes.iter().any(|note| note.starts_with("2 shifts are not held")), "{:?}", found.notes);
}

/// Between two changes of hammers lie 9 days: none is looked for there, which is told, and looked for on both sides of them.
#[test]
fn where_no_bend_is_looked_for_is_told() {
    let mut site = site();
    let changed = |at: &str| crate::shift::site::Change {
        at_us: at.parse::<jiff::Timestamp>().unwrap().as_microsecond(),
        what: Changed::Hammers,
        note: None,
        who: "Wren".to_owned(),
        why: None,
        readings: None,
        clock: None,
    };
    site.changes = vec![changed("2025-07-01T10:00:00Z"), changed("2025-07-11T10:00:00Z")];
    let found = drift(&site, &year(1, 1e9)).unwrap();
    let notes: Vec<_> = found.notes.iter().filter(|note| note.starts_with("no bend")).collect();
    assert_eq!(
        notes,
        ["no bend is looked for from 2025-07-02 to 2025-07-10: 9 days that can be judged, 20 are wanted"]
    );
    assert_eq!(found.fit.len(), 365 - 9 - 2);
    let mut few = year(1, 1e9);
    few.shifts.truncate(45);
    let found = drift(&site, &few).unwrap();
    assert_eq!(
        (found.notes[0].as_str(), found.fit.len()),
        ("no bend is looked for from 2025-01-01 to 2025-01-15: 15 days that can be judged, 20 are wanted", 0)
    );
}

#[test]
fn what_is_no_baseline_is_told() {
    let mut none = site();
    none.baseline = None;
    assert!(drift(&none, &year(1, 1e9)).unwrap_err().contains("no [baseline]"));
    let mut early = site();
    early.baseline = Some(Baseline::Learnt { from: "2020-01-01".parse().unwrap(), to: "2020-03-01".parse().unwrap() });
    assert!(drift(&early, &year(1, 1e9)).unwrap_err().contains("have 0 shifts"));
    let mut given = site();
    given.baseline = Some(Baseline::Given { idle_kw: 14.0, kwh_per_t: 12.0 });
    let found = drift(&given, &year(1, 1e9)).unwrap();
    assert!(found.line.rules.is_empty() && found.points.len() == 1_095);
    assert_eq!((date(day("2026-02-28".parse().unwrap()) + 0.9)).to_string(), "2026-02-28");
}

/// New hammers begin anew: what is known is no bend.
#[test]
fn a_known_change_begins_anew() {
    let mut all = year(7, 100.0);
    // Hammers as new on day 250.
    for (n, shift) in all.shifts.iter_mut().enumerate().filter(|(n, _)| *n >= 750) {
        let worn = 1.0 + 0.002 * ((n / 3) as f64 - 100.0);
        let t = shift.sums.t();
        shift.sums.rows.kwh[3] -= 12.0 * (worn - 1.0) * t;
    }
    let mut told = site();
    told.changes = vec![crate::shift::site::Change {
        at_us: 1_757_311_200_000_000, // 2025-09-08 06:00Z, day 250
        what: Changed::Hammers,
        note: None,
        who: "Wren".to_owned(),
        why: None,
        readings: None,
        clock: None,
    }];
    let found = drift(&told, &all).unwrap();
    assert_eq!(found.bends.len(), 1, "{:?}", found.bends);
    let untold = drift(&site(), &all).unwrap();
    assert!(untold.bends.iter().any(|dated| dated.bend.kind == crate::audit::bend::Kind::Step), "{:?}", untold.bends);
}
