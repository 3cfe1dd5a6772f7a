use super::month::billed;
use super::*;
use crate::minutes::tests::row;
use crate::minutes::{BREAKING, Bin, Row};
use crate::shift::calendar::tests::calendar;
use crate::shift::log::merge::Bridge;
use crate::shift::site::tests::good;
use crate::shift::site::{PowerFactor, Tariff};
use crate::shift::tickets::Ticket;

const HOUR_US: i64 = 3_600_000_000;

fn utc(text: &str) -> i64 {
    text.parse::<jiff::Timestamp>().unwrap().as_microsecond()
}

/// A log of one power from a time on, in rows of a minute, the first half of each hour idle.
fn log(from: &str, to: &str, kw: f64) -> Merged {
    let mut logs = Merged { counts: [true; 3], ..Merged::default() };
    let (mut at, end) = (utc(from), utc(to));
    while at < end {
        let state = if at.rem_euclid(HOUR_US) < HOUR_US / 2 { IDLE } else { BREAKING };
        logs.bins.add(&Row { from_us: at, to_us: at + 60_000_000, ..row(0.0, 60.0, kw, state) });
        at += 60_000_000;
    }
    logs
}

fn accounts(site: &Site, logs: &Merged, tickets: &Tickets, from: &str, to: &str) -> Accounts {
    let shifts = site.calendar.shifts(from.parse().unwrap(), to.parse().unwrap());
    let period = [shifts[0].from, shifts.last().unwrap().to];
    Accounts::new(site, logs, tickets, &shifts, period)
}

fn adds_up(all: &Accounts) {
    let parts = || all.shifts.iter().chain([&all.outside]);
    let us = |of: fn(&Sums) -> i64| (parts().map(|a| of(&a.sums)).sum::<i64>(), of(&all.whole.sums));
    let kwh = |of: fn(&Sums) -> f64| (parts().map(|a| of(&a.sums)).sum::<f64>(), of(&all.whole.sums));
    for (parts, whole) in
        [us(|s| s.elapsed_us), us(|s| s.rows.us), us(|s| s.bridged_us + s.estimated_us), us(|s| s.rows.states_us[2])]
    {
        assert_eq!(parts, whole);
    }
    for (parts, whole) in
        [kwh(Sums::total_kwh), kwh(Sums::t), kwh(|s| s.energy_cost), kwh(|s| s.by_band_kwh.iter().sum())]
    {
        assert!((parts - whole).abs() < 1e-6 * whole.abs().max(1.0), "{parts} {whole}");
    }
    let squares: f64 = parts().map(|account| account.sums.running_h().powi(2)).sum();
    assert!((all.whole.sums.shifts_h2 - squares).abs() < 1e-9, "{squares}");
    for account in parts().chain([&all.whole]) {
        let sums = &account.sums;
        assert_eq!(sums.rows.states_us.iter().sum::<i64>(), sums.elapsed_us, "{}", account.name);
        assert!(sums.missing_us() >= 0, "{}", account.name);
        let banded: f64 = sums.by_band_kwh.iter().sum();
        assert!((banded - sums.total_kwh()).abs() < 1e-6, "{}: {banded} {}", account.name, sums.total_kwh());
    }
}

/// Both nights on which the clocks change: 7 and 9 hours of 20 kW are 140 and 180 kWh (by hand), and nothing is lost or counted twice.
#[test]
fn nights_when_the_clocks_change() {
    for (date, hours) in [("2026-03-28", 7), ("2026-10-24", 9)] {
        let site = good();
        let day: Date = date.parse().unwrap();
        let next = day.tomorrow().unwrap().to_string();
        let logs = log(&format!("{date}T00:00:00Z"), &format!("{next}T23:00:00Z"), 20.0);
        let all = accounts(&site, &logs, &Tickets::default(), date, &next);
        adds_up(&all);
        let night = all.shifts.iter().find(|s| s.name == "night" && s.date == Some(day)).unwrap();
        assert_eq!(night.sums.elapsed_us, hours * HOUR_US);
        assert!((night.sums.total_kwh() - 20.0 * hours as f64).abs() < 1e-9);
        assert_eq!(night.sums.missing_us(), 0);
    }
}

/// Sums of energy over sums of mass, not the mean of ratios: 60 kWh for 5 t, then 20 for 0.1 t are 15.69 kWh/t (by hand).
#[test]
fn a_ratio_of_sums() {
    let mut site = good();
    site.calendar = calendar("UTC", &[("a", "06:00", "08:00"), ("b", "08:00", "09:00")]);
    let mut logs = log("2026-03-02T06:00:00Z", "2026-03-02T08:00:00Z", 30.0);
    logs.bins.join(&log("2026-03-02T08:00:00Z", "2026-03-02T09:00:00Z", 20.0).bins);
    let ticket = |time: &str, kg| Ticket {
        id: String::new(),
        at_us: utc(time),
        kg,
        material: None,
        screen: None,
        who: "Wren".to_owned(),
        entered_us: None,
        why: None,
        corrections: Vec::new(),
    };
    let all = vec![
        ticket("2026-03-02T07:00:00Z", 5_000.0),
        ticket("2026-03-02T08:30:00Z", 100.0),
        ticket("2026-03-03T08:30:00Z", 7.0),
    ];
    let tickets = Tickets { all, notes: Vec::new(), given: true };
    let all = accounts(&site, &logs, &tickets, "2026-03-02", "2026-03-02");
    adds_up(&all);
    assert!((all.whole.sums.total_kwh() / all.whole.sums.t() - 15.69).abs() < 0.005);
    assert!((all.shifts[1].sums.total_kwh() / all.shifts[1].sums.t() - 200.0).abs() < 1e-6);
    assert!(all.notes[0].contains("1 tickets of 7 kg lie outside"), "{:?}", all.notes);
}

/// A register bridges a gap: inside a shift it is that shift's; over a change of shifts it is shared out by time, with what that may err.
#[test]
fn bridges() {
    let site = good();
    let gap = |from: &str, to: &str, kwh| Gap {
        span: Span { from_us: utc(from), to_us: utc(to) },
        energy: Bridge::Register(kwh),
    };
    let with = |gap| {
        let mut logs = log("2026-06-01T04:00:00Z", "2026-06-01T10:00:00Z", 20.0);
        logs.bins.join(&log("2026-06-01T14:00:00Z", "2026-06-02T04:00:00Z", 20.0).bins);
        logs.gaps = vec![gap];
        accounts(&site, &logs, &Tickets::default(), "2026-06-01", "2026-06-01")
    };
    // 12:00 to 14:00 is the end of the early shift (legal time is two hours ahead).
    let inside = with(gap("2026-06-01T10:00:00Z", "2026-06-01T12:00:00Z", 50.0));
    adds_up(&inside);
    let early = &inside.shifts[0].sums;
    assert_eq!((early.bridged_us, early.estimated_us, early.missing_us()), (2 * HOUR_US, 0, 0));
    assert!((early.total_kwh() - 170.0).abs() < 1e-9);
    assert_eq!(inside.shifts[1].sums.missing_us(), 2 * HOUR_US);
    let across = with(gap("2026-06-01T10:00:00Z", "2026-06-01T14:00:00Z", 100.0));
    adds_up(&across);
    let [early, late] = [&across.shifts[0].sums, &across.shifts[1].sums];
    assert_eq!((early.bridged_us, early.estimated_us, late.estimated_us), (0, 2 * HOUR_US, 2 * HOUR_US));
    assert!((early.estimated_kwh - 50.0).abs() < 1e-9);
    // All of the 100 kWh may have been in either: 132 kWh fit into two hours of 55 kW and a fifth.
    assert!((early.estimated_u_kwh - 100.0 / 12f64.sqrt()).abs() < 1e-9);
    // One bridge, two readings, however many share it; over all of it no share is in doubt, whatever is missing elsewhere.
    assert_eq!((early.bridges, late.bridges, across.whole.sums.bridges), (1, 1, 1));
    assert!(across.whole.sums.estimated_u_kwh.abs() < 1e-12);
    let mut logs = log("2026-06-01T04:00:00Z", "2026-06-01T10:00:00Z", 20.0);
    logs.gaps = vec![
        gap("2026-05-31T10:00:00Z", "2026-06-01T03:00:00Z", 7.0),
        gap("2026-06-01T10:00:00Z", "2026-06-01T14:00:00Z", 100.0),
        Gap { energy: Bridge::Missing, ..gap("2026-06-01T20:00:00Z", "2026-06-02T20:00:00Z", 0.0) },
    ];
    let with_others = accounts(&site, &logs, &Tickets::default(), "2026-06-01", "2026-06-01").whole.sums;
    assert_eq!((with_others.bridges, with_others.estimated_u_kwh), (1, 0.0));
    // One that reaches out of the period leaves what it may have taken outside.
    logs.gaps[1] = gap("2026-06-01T10:00:00Z", "2026-06-02T06:00:00Z", 100.0);
    assert!(accounts(&site, &logs, &Tickets::default(), "2026-06-01", "2026-06-01").whole.sums.estimated_u_kwh > 1.0);
    let jumped =
        Gap { energy: Bridge::Jumped([5.0, 900.0]), ..gap("2026-06-01T10:00:00Z", "2026-06-01T14:00:00Z", 0.0) };
    let jumped = with(jumped);
    assert!(jumped.notes[0].contains("was the meter changed"), "{:?}", jumped.notes);
    assert_eq!(jumped.whole.sums.missing_us(), 4 * HOUR_US);
}

/// Where a register alone tells power every shift stands on two of its readings, and so does all of it; a shift without rows on none.
#[test]
fn readings_of_a_register() {
    let mut logs = log("2026-06-01T04:00:00Z", "2026-06-01T16:00:00Z", 20.0);
    for (by_register, wanted) in [(false, [0, 0, 0, 0]), (true, [2, 2, 0, 2])] {
        logs.by_register = by_register;
        let all = accounts(&good(), &logs, &Tickets::default(), "2026-06-01", "2026-06-01");
        let found = [0, 1, 2].map(|at: usize| all.shifts[at].sums.readings);
        assert_eq!([found[0], found[1], found[2], all.whole.sums.readings], wanted);
    }
}

/// A missing day is missing: its shifts are there, with all their time not known.
#[test]
fn a_missing_day() {
    let site = good();
    let mut logs = log("2026-06-01T04:00:00Z", "2026-06-02T04:00:00Z", 20.0);
    logs.bins.join(&log("2026-06-03T04:00:00Z", "2026-06-04T04:00:00Z", 20.0).bins);
    let all = accounts(&site, &logs, &Tickets::default(), "2026-06-01", "2026-06-03");
    adds_up(&all);
    assert_eq!(all.shifts.len(), 9);
    let missing: Vec<i64> = all.shifts.iter().map(|shift| shift.sums.missing_us() / HOUR_US).collect();
    assert_eq!(missing, [0, 0, 0, 8, 8, 8, 0, 0, 0]);
    assert_eq!(all.shifts[4].sums.rows.states_us[UNKNOWN], 8 * HOUR_US);
}

/// 800 kW at a power factor of 0.80 with a target of 0.90 are billed as 900 kW (own arithmetic); and the power factor of a time is that of
/// its energies, not the mean of factors.
#[test]
fn power_factors() {
    assert!((billed(800.0, Some(0.8), PowerFactor::Adjust { target: 0.9 }) - 900.0).abs() < 1e-9);
    assert!((billed(800.0, Some(0.95), PowerFactor::Adjust { target: 0.9 }) - 800.0).abs() < 1e-9);
    // An hour of 10 kW and 30 kvar idle, an hour of 50 kW and 20 kvar: 60 kWh, 50 kvarh.
    let sums = Bin {
        us: 2 * HOUR_US,
        kvar_us: 2 * HOUR_US,
        kwh: [0.0, 0.0, 10.0, 50.0, 0.0, 0.0],
        kvarh: 50.0,
        ..Bin::default()
    };
    let mean = f64::midpoint(10.0 / 10f64.hypot(30.0), 50.0 / 50f64.hypot(20.0));
    let factor = sums.power_factor().unwrap();
    assert!((factor - 60.0 / 60f64.hypot(50.0)).abs() < 1e-12 && (factor - mean).abs() > 0.1, "{factor} {mean}");
}

/// The motor's input of a data sheet's example (US DOE, "Determining Electric Motor Load and Efficiency", example from memory): 470 V, 37 A and 0.763
/// are 22.98 kW by its formula V I PF sqrt 3; an hour of it is booked as so many kWh.
#[test]
fn an_hour_of_a_motor() {
    let kw = 470.0 * 37.0 * 0.763 * 3f64.sqrt() / 1e3;
    assert!((kw - 22.98).abs() < 0.005);
    let site = good();
    let logs = log("2026-06-01T04:00:00Z", "2026-06-01T05:00:00Z", kw);
    let all = accounts(&site, &logs, &Tickets::default(), "2026-06-01", "2026-06-01");
    assert!((all.whole.sums.total_kwh() - 22.98).abs() < 0.005);
}

/// A week of idling, 14 kW for 2 h a shift, two shifts a day, 250 days are 14 000 kWh (own arithmetic): here one such shift, its money,
/// and the timer that would have stopped the mill.
#[test]
fn idling_in_money() {
    let mut site = good();
    site.motor.start_kwh = Some(0.7);
    site.tariff = Some(Tariff { bands: Vec::new(), ..site.tariff.clone().unwrap() });
    let mut logs = Merged { counts: [true; 3], ..Merged::default() };
    let from = utc("2026-06-01T04:00:00Z");
    logs.bins.add(&Row { from_us: from, to_us: from + 2 * HOUR_US, ..row(0.0, 60.0, 14.0, IDLE) });
    logs.bins.add(&Row { from_us: from + 2 * HOUR_US, to_us: from + 8 * HOUR_US, ..row(0.0, 60.0, 50.0, BREAKING) });
    let all = accounts(&site, &logs, &Tickets::default(), "2026-06-01", "2026-06-01");
    let sums = &all.shifts[0].sums;
    assert!((sums.rows.kwh[IDLE] * 250.0 * 2.0 - 14_000.0).abs() < 1e-6);
    assert!((sums.idle_cost - 28.0 * 0.20).abs() < 1e-9, "{}", sums.idle_cost);
    // A start is worth 3 min of idling; four starts an hour allow one in 15 min.
    assert!((all.stop_after_min(&site).unwrap() - 15.0).abs() < 1e-9);
    let (count, hours, saved) = sums.spells;
    assert_eq!(count, 1);
    assert!((hours - 2.0).abs() < 1e-9 && (saved - (14.0 * 1.75 - 0.7)).abs() < 1e-9, "{saved}");
}
