//! The thermal image: IEC 60947-4-1's rows, hot and cold apart, what is foretold; starts that outlast their delay.

use super::*;
use crate::settings::{LongStart, Thermal};

/// Three like currents, in multiples of 100 A.
fn load(multiple: f64) -> HalfCycle {
    HalfCycle { current: [amps(100.0 * multiple); 3], ..record((0, 0, 0)) }
}

/// An image of base 100 A.
fn image(k: f64, tau_s: f64, running_ppm: u32) -> Bench {
    let mut settings = Settings::example();
    settings.trips = TripSettings {
        thermal: Some(Thermal {
            base_current_ma: 100_000,
            k_ppm: (k * 1e6) as u32,
            heating_ms: (tau_s * 1e3) as u32,
            cooling_ms: (tau_s * 4e3) as u32,
            initial_ppm: 0,
            negative_sequence_ppm: 0,
            running_ppm,
        }),
        ..TripSettings::default()
    };
    Bench::new(&settings)
}

/// Seconds at a current until the trip, looked for that long.
fn trips_after(b: &mut Bench, multiple: f64, most_s: f64) -> Option<f64> {
    let from = seconds(b.now);
    let step = (most_s / 2_000.0).clamp(0.02, 5.0);
    while seconds(b.now) - from < most_s {
        b.hold(&load(multiple), step);
        if let Some((at, cause)) = b.trips().first() {
            assert_eq!(*cause, Cause::ThermalOverload);
            return Some(at - from);
        }
    }
    None
}

/// Runs at a load until nothing changes any more.
fn settle(b: &mut Bench, multiple: f64, tau_s: f64) {
    b.hold(&load(multiple), 8.0 * tau_s);
    assert_eq!(b.trips(), []);
}

/// IEC 60947-4-1, overload relays (table 2 and 8.2.1.5.1, from memory): class 10A, 10, 20, 30 with the k and time constants that
/// settings of a class stand for: k = 1.12, tau such that 7.2 times the current trips after eight tenths of the class time (10A: half of it).
#[test]
fn iec_60947_4_1_row_by_row() {
    const HOUR: f64 = 3_600.0;
    for (class, tp_s, warm_s, earliest_s, latest_s) in [
        ("10A", 5.0, 120.0, 2.0, 10.0),
        ("10", 8.0, 240.0, 4.0, 10.0),
        ("20", 16.0, 480.0, 6.0, 20.0),
        ("30", 24.0, 720.0, 9.0, 30.0),
    ] {
        let m: f64 = 7.2 / 1.12;
        let tau_s = tp_s / (m * m / (m * m - 1.0)).ln();
        let mut b = image(1.12, tau_s, 1_000_000);
        assert_eq!(trips_after(&mut b, 1.05, 2.0 * HOUR), None, "{class}: no trip within two hours at 1.05 Ir, cold");
        let after = trips_after(&mut b, 1.2, 2.0 * HOUR);
        assert!(after.is_some(), "{class}: a trip within two hours at 1.2 Ir after it");
        let mut b = image(1.12, tau_s, 1_000_000);
        settle(&mut b, 1.0, tau_s);
        let after = trips_after(&mut b, 1.5, HOUR).unwrap();
        assert!(after < warm_s, "{class}: {after} s at 1.5 Ir after Ir, {warm_s} s allowed");
        let after = trips_after(&mut image(1.12, tau_s, 1_000_000), 7.2, 60.0).unwrap();
        assert!(after > earliest_s && after <= latest_s, "{class}: {after} s at 7.2 Ir, cold");
    }
    // Loss of a phase: two poles at 1.15 Ir, nothing in the third, after 1.0, 1.0 and 0.9.
    let mut b = image(1.12, 326.7, 1_000_000);
    let two = HalfCycle {
        current: [amps(115.0), amps(115.0), SquareAmps::default()],
        current_negative: Amps::from_bits((115 << 17) / 1_732 * 1_000),
        ..load(0.0)
    };
    settle(&mut b, 1.0, 326.7);
    b.hold(&two, 2.0 * HOUR);
    assert_eq!(b.trips().len(), 1, "within two hours");
}

/// At k = 1.05, as the default has it, 1.05 Ir for two hours is just the trip level: the row cannot be kept with certainty.
#[test]
fn why_a_class_has_a_k_of_its_own() {
    let mut b = image(1.05, 465.2, 1_000_000);
    b.hold(&load(1.05), 7_200.0);
    let level = b.judge.totals().max_thermal.unwrap().to_bits() as f64 / f64::from(1 << 24);
    assert!(level > 0.999, "{level}");
}

/// tau 600 s, k 1.05: after 100 A for long, 600 A trips the plain image within 1.760 s (IEC 60255-149) of the cold 18.662 s; with a
/// hot stall time of 8 s and a cold one of 10 s the share is 0.2: tau ln((32.653 - 0.1814) / 31.653) = 15.32 s.
#[test]
fn a_hot_restart_is_judged_by_its_own_limit() {
    for (running_ppm, wanted) in [(1_000_000, 1.760), (200_000, 15.32)] {
        let mut b = image(1.05, 600.0, running_ppm);
        settle(&mut b, 1.0, 600.0);
        let after = trips_after(&mut b, 6.0, 60.0).unwrap();
        assert!((after - wanted).abs() < 0.01 * wanted + 0.01, "{after} s, {wanted} s wanted");
    }
    // What may not stay for ever still trips, hot or cold.
    let mut b = image(1.05, 600.0, 200_000);
    assert!((trips_after(&mut b, 1.5, 600.0).unwrap() - 404.007).abs() < 4.05, "cold as without");
}

#[test]
fn times_are_foretold_that_then_come() {
    let mut b = image(1.05, 600.0, 1_000_000);
    b.hold(&record(REST), 1.0);
    // Cold, and at rest as far as anybody knows: the rotor may have been turning when power came, for 300 s.
    let [None, Some(wait)] = b.judge.foretold(&b.c, b.now) else { panic!("a start will be allowed") };
    assert!((seconds(Instant(wait.0)) - 299.0).abs() < 0.03, "{wait:?}");
    b.hold(&record(REST), seconds(Instant(wait.0)) + 0.01);
    assert_eq!((b.judge.decision().start, b.judge.foretold(&b.c, b.now)), (None, [None, Some(Span::ZERO)]));
    b.hold(&load(2.0), 1.0);
    let [Some(trip), None] = b.judge.foretold(&b.c, b.now) else { panic!("a trip will come") };
    let told = seconds(Instant(trip.0));
    let came = trips_after(&mut b, 2.0, 400.0).unwrap();
    assert!((told - came).abs() < 0.03, "{told} s told, after {came} s it came");
    b.hold(&load(0.9), 2.0);
    assert_eq!(b.judge.foretold(&b.c, b.now)[0], None, "90 % may stay for ever");
    assert_eq!(b.judge.foretold(&b.c, b.now.after(Span(1)))[1], None, "it runs");
    b.hold(&record(REST), 5.0);
    assert_eq!(b.judge.foretold(&b.c, b.now)[1], None, "a latched trip does not end by itself");

    let mut b = image(1.05, 600.0, 1_000_000);
    b.hold(&load(1.0), 3_000.0).hold(&record(REST), 1.0);
    assert_eq!(b.judge.decision().start, Some(Hindrance::MayTurn));
    let [None, Some(wait)] = b.judge.foretold(&b.c, b.now) else { panic!("a start will be allowed") };
    let told = seconds(Instant(wait.0));
    let mut came = 0.0;
    while b.judge.decision().start.is_some() {
        b.hold(&record(REST), 0.5);
        came += 0.5;
    }
    assert!(told > 300.0 && (told - came).abs() < 0.6, "{told} s told, after {came} s it came");
}

/// A rotor that needs 25 s where 15 s are allowed: tripped, unless a tachometer shows it gaining, and then at the hot stall time.
#[test]
fn a_start_outlasts_its_delay_only_while_it_is_seen_gaining() {
    let bench = |gaining_ms| {
        let mut settings = Settings::example();
        let long_start = Some(LongStart { delay_ms: 15_000, gaining_ms });
        settings.trips = TripSettings { long_start, ..TripSettings::default() };
        let mut b = Bench::new(&settings);
        b.hold(&record(REST), 1.0);
        b
    };
    let rpm = |rpm: f64| Some(Rpm::from_bits((rpm * 4_096.0) as i32));
    let run = |b: &mut Bench, seconds: f64, a_second: f64| {
        for n in 0..(seconds * 10.0) as u32 {
            b.judge.set_speed(rpm(f64::from(n) / 10.0 * a_second));
            b.hold(&record(LOCKED), 0.1);
        }
    };
    let mut b = bench(Some(30_000));
    run(&mut b, 25.0, 57.0);
    b.hold(&record(IDLE), 1.0);
    assert_eq!(b.trips(), [], "it gained all the time");
    let mut b = bench(Some(30_000));
    run(&mut b, 40.0, 35.0);
    one_trip(&b, Cause::LongStart, 31.0);
    let mut b = bench(Some(30_000));
    run(&mut b, 20.0, 2.0);
    one_trip(&b, Cause::LongStart, 16.0);
    let mut b = bench(Some(30_000));
    b.hold(&record(LOCKED), 20.0);
    one_trip(&b, Cause::LongStart, 16.0);
    let mut b = bench(None);
    run(&mut b, 25.0, 57.0);
    one_trip(&b, Cause::LongStart, 16.0);
}
