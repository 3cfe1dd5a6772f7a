//! The elements that are off unless given, fed by hand. Pick-ups and delays are common practice, no source; what a lost line or
//! a dead transformer looks like is Fortescue's decomposition.

use super::*;
use crate::settings::{Action, Element, StartsPerHour, Watch};

/// The example with one element more and none of the five.
fn only(set: impl FnOnce(&mut TripSettings)) -> Bench {
    let mut settings = Settings::example();
    settings.trips = TripSettings::default();
    set(&mut settings.trips);
    Bench::new(&settings)
}

const fn element(pickup_ppm: u32, delay_ms: u32, action: Action) -> Element {
    Element { pickup_ppm, delay_ms, action }
}

/// Alarms and their ends, in order: when, which, whether the feed is held, whether it begins.
fn alarms(b: &Bench) -> Vec<(f64, Cause, bool, bool)> {
    let alarm = |(at, kind): &(f64, EventKind)| match *kind {
        EventKind::Alarm { cause, feed_stop, .. } => Some((*at, cause, feed_stop, true)),
        EventKind::AlarmEnds { cause, feed_stop } => Some((*at, cause, feed_stop, false)),
        _ => None,
    };
    b.events.iter().filter_map(alarm).collect()
}

#[track_caller]
fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 0.0151, "{found} s, {wanted} s wanted");
}

#[test]
fn overvoltage_trips_at_rest_too() {
    let mut b = only(|t| t.overvoltage = Some(element(1_100_000, 1_000, Action::Trip)));
    let high = |v: f64| HalfCycle { voltage: [volts(231.0), volts(v), volts(231.0)], ..record(REST) };
    b.hold(&high(253.0), 5.0);
    assert_eq!(b.trips(), [], "110 % of 230.9 V is 254.0 V");
    b.hold(&high(255.0), 2.0);
    one_trip(&b, Cause::Overvoltage, 6.01);
}

#[test]
fn a_warning_ends_by_itself_and_a_feed_stop_holds_the_feed() {
    for action in [Action::Warning, Action::FeedStop] {
        let mut b = only(|t| t.overvoltage = Some(element(1_100_000, 1_000, action)));
        let high = HalfCycle { voltage: [volts(260.0); 3], ..record(IDLE) };
        let between = HalfCycle { voltage: [volts(250.0); 3], ..record(IDLE) };
        b.hold(&record(IDLE), 6.0);
        assert_eq!(b.judge.decision().feed, report::Feed::Feed);
        b.hold(&high, 2.0);
        let held = if action == Action::FeedStop { report::Feed::Stop } else { report::Feed::Feed };
        assert_eq!(b.judge.decision().feed, held);
        b.hold(&between, 1.0);
        assert_eq!(b.judge.decision().feed, held, "above 97 % of the pick-up it lasts");
        b.hold(&record(IDLE), 8.0);
        assert_eq!((b.judge.decision().trip, b.judge.decision().feed), (None, report::Feed::Feed));
        let feed_stop = action == Action::FeedStop;
        let [(begun, Cause::Overvoltage, f, true), (ended, Cause::Overvoltage, g, false)] = alarms(&b)[..] else {
            panic!("{:?}", alarms(&b))
        };
        assert_eq!([f, g], [feed_stop; 2]);
        near(begun, 7.0);
        near(ended, 9.0);
        assert_eq!(b.judge.totals().trips, 0);
    }
}

#[test]
fn phase_reversal_by_voltages_at_rest_and_else_by_currents() {
    let watch = Some(Watch { delay_ms: 100, action: Action::Trip });
    let mut b = only(|t| t.phase_reversal = watch);
    let v = |positive: i32, negative: i32| HalfCycle {
        voltage_positive: Volts::from_bits(positive << 16),
        voltage_negative: Volts::from_bits(negative << 16),
        ..record(REST)
    };
    b.hold(&v(231, 12), 1.0).hold(&v(12, 231), 1.0);
    one_trip(&b, Cause::PhaseReversal, 1.11);
    let mut b = only(|t| t.phase_reversal = watch);
    let swapped = HalfCycle {
        current_positive: Amps::from_bits(5 << 17),
        current_negative: Amps::from_bits(97 << 17),
        ..record(RATED)
    };
    b.hold(&record(RATED), 1.0).hold(&swapped, 1.0);
    assert_eq!(b.trips(), [], "under voltages in the right order it is the wiring");
    b.hold(&HalfCycle { voltage_positive: Volts::ZERO, ..swapped }, 1.0);
    one_trip(&b, Cause::PhaseReversal, 2.11);
}

#[test]
fn current_unbalance_waits_longer_than_phase_loss() {
    let mut b = only(|t| t.current_unbalance = Some(element(150_000, 10_000, Action::Warning)));
    let unlike =
        |percent: i32| HalfCycle { current_negative: Amps::from_bits((97 << 17) / 100 * percent), ..record(RATED) };
    b.hold(&unlike(14), 20.0).hold(&unlike(16), 11.0).hold(&unlike(10), 1.0);
    let [(begun, Cause::CurrentUnbalance, false, true), (ended, _, _, false)] = alarms(&b)[..] else {
        panic!("{:?}", alarms(&b))
    };
    near(begun, 30.01);
    near(ended, 31.01);
}

#[test]
fn residual_current_is_blocked_while_starting_and_below_a_fifth_of_rated() {
    let mut settings = Settings::example();
    settings.trips.residual_current = Some(element(199_999, 500, Action::Trip));
    assert!(settings.build().is_err(), "it is no residual-current device");
    let mut b = only(|t| t.residual_current = Some(element(200_000, 500, Action::Trip)));
    let leak = |operating, amps: i32| HalfCycle { current_sum: Amps::from_bits(amps << 17), ..record(operating) };
    b.hold(&record(REST), 0.5).hold(&leak(LOCKED, 100), 3.0).hold(&leak(IDLE, 19), 2.0);
    assert_eq!(b.trips(), []);
    b.hold(&leak(IDLE, 20), 2.0);
    one_trip(&b, Cause::ResidualCurrent, 6.01);
}

/// A motor alone: 600 W of friction out of 1.3 kW, 22.9 kvar, 33 A.
const ALONE: Operating = (1_400, 22_500, 33);

#[test]
fn underload_is_a_lost_belt_and_no_empty_hopper() {
    let mut settings = Settings::example();
    settings.trips.underload = Some(element(850_001, 5_000, Action::Trip));
    assert!(settings.build().is_err(), "at 85 % the mill is idle");
    let mut b = only(|t| t.underload = Some(element(500_000, 5_000, Action::Trip)));
    b.hold(&record(IDLE), 60.0);
    assert_eq!(b.trips(), []);
    b.hold(&record(ALONE), 6.0);
    one_trip(&b, Cause::Underload, 65.01);
}

#[test]
fn underload_knows_idle_only_after_a_minute_and_keeps_it() {
    let bench = || {
        let mut settings = Settings::example();
        settings.mill.idle_power_mw = None;
        settings.trips =
            TripSettings { underload: Some(element(500_000, 5_000, Action::Trip)), ..TripSettings::default() };
        Bench::new(&settings)
    };
    let mut b = bench();
    b.hold(&record(IDLE), 30.0).hold(&record(ALONE), 30.0);
    assert_eq!(b.trips(), [], "half a minute of idling is not sure");
    let mut b = bench();
    b.hold(&record(IDLE), 64.0).hold(&record(ALONE), 30.0);
    one_trip(&b, Cause::Underload, 69.01);
    let idle = b.judge.totals().idle.unwrap().to_bits() >> 16;
    assert!(idle > 6_000, "the motor alone is not taken for the mill: {idle} W");
}

#[test]
fn a_dead_transformer_stops_the_feed_within_five_cycles_and_a_lost_line_does_not() {
    let watch = Some(Watch { delay_ms: 60, action: Action::FeedStop });
    // One of three like currents gone: positive sequence two thirds, negative one third.
    let dead = HalfCycle {
        current: [amps(97.0), SquareAmps::default(), amps(97.0)],
        current_positive: Amps::from_bits((97 << 17) / 3 * 2),
        current_negative: Amps::from_bits((97 << 17) / 3),
        still: 0b01_0000,
        ..record(RATED)
    };
    let mut b = only(|t| t.sensor_fault = watch);
    b.hold(&record(RATED), 1.0).hold(&dead, 0.2).hold(&record(RATED), 0.2);
    let [(begun, Cause::SensorFault, true, true), (ended, _, true, false)] = alarms(&b)[..] else {
        panic!("{:?}", alarms(&b))
    };
    assert!((1.0..1.1).contains(&begun), "{begun}: five cycles are 0.1 s");
    near(ended, 1.21);
    // A line that is gone: the two others alike and opposite (1 / sqrt 3 of them in either sequence).
    let line = HalfCycle {
        current: [amps(160.0), SquareAmps::default(), amps(160.0)],
        current_positive: Amps::from_bits((160 << 17) / 1_732 * 1_000),
        current_negative: Amps::from_bits((160 << 17) / 1_732 * 1_000),
        still: 0b01_0000,
        ..record(RATED)
    };
    let mut b = only(|t| t.sensor_fault = watch);
    b.hold(&record(RATED), 1.0).hold(&line, 2.0);
    assert_eq!(alarms(&b), []);
}

#[test]
fn a_voltage_that_is_missing_or_impossible() {
    let bench = || only(|t| t.sensor_fault = Some(Watch { delay_ms: 60, action: Action::Warning }));
    let mut b = bench();
    b.hold(&HalfCycle { still: 0b111, ..record(REST) }, 2.0);
    assert_eq!(alarms(&b), [], "a supply that is off");
    b.hold(&HalfCycle { still: 0b010, ..record(REST) }, 1.0);
    near(alarms(&b)[0].0, 2.07);
    let mut b = bench();
    b.hold(&record(RATED), 1.0).hold(&HalfCycle { still: 0b111, ..record(RATED) }, 1.0);
    near(alarms(&b)[0].0, 1.07);
    let mut b = bench();
    b.hold(&record(RATED), 1.0)
        .hold(&HalfCycle { voltage: [volts(231.0), volts(347.0), volts(231.0)], ..record(RATED) }, 1.0);
    near(alarms(&b)[0].0, 1.07);
    let mut b = bench();
    let backwards = HalfCycle { active: Watts::from_bits(-(5_600 << 16)), ..record(RATED) };
    b.hold(&record(RATED), 1.0).hold(&backwards, 1.0);
    near(alarms(&b)[0].0, 1.07);
}

/// NEMA MG 10, table 2-3 allows a 100 hp motor of four poles 5.2 starts an hour: five.
#[test]
fn a_sixth_start_within_an_hour() {
    let mut b = only(|t| t.starts_per_hour = Some(StartsPerHour { most: 5, action: Action::Warning }));
    b.hold(&record(REST), 1.0);
    for n in 0..6 {
        assert_eq!(alarms(&b).len(), 0, "{n} starts");
        b.hold(&record(LOCKED), 2.0).hold(&record(IDLE), 2.0).hold(&record(REST), 56.0);
    }
    let [(begun, Cause::StartsPerHour, false, true)] = alarms(&b)[..] else { panic!("{:?}", alarms(&b)) };
    near(begun, 301.0 + 0.01);
    b.hold(&record(REST), 3_600.0 - 360.0);
    let (ended, ..) = alarms(&b)[1];
    near(ended, 3_601.0);
}

/// 5 % of its voltage is noise to a transformer, and no supply: told, and nothing is learnt from it.
#[test]
fn a_voltage_that_is_only_noise_is_missing_and_teaches_nothing() {
    let mut settings = Settings::example();
    settings.mill.idle_power_mw = None;
    settings.trips = TripSettings {
        sensor_fault: Some(Watch { delay_ms: 60, action: Action::FeedStop }),
        underload: Some(element(500_000, 1_000, Action::Trip)),
        ..TripSettings::default()
    };
    let mut b = Bench::new(&settings);
    let noisy = HalfCycle {
        active: Watts::from_bits(5_500 << 16),
        voltage: [volts(11.0), volts(231.0), volts(231.0)],
        ..record(IDLE)
    };
    b.hold(&noisy, 5.0);
    assert!(matches!(alarms(&b)[..], [(_, Cause::SensorFault, true, true)]), "{:?}", alarms(&b));
    assert_eq!(b.judge.totals().idle, None);
    b.hold(&record(IDLE), 70.0);
    let idle = b.judge.totals().idle.unwrap();
    let none = HalfCycle {
        active: Watts::from_bits(-(100 << 16)),
        voltage: [volts(9.0); 3],
        voltage_positive: Volts::from_bits(9 << 16),
        ..record(IDLE)
    };
    b.hold(&none, 5.0);
    assert_eq!((b.trips(), b.judge.totals().idle), (std::vec![], Some(idle)), "no underload without a voltage");
    assert_eq!(alarms(&b).len(), 3, "told again");
}
