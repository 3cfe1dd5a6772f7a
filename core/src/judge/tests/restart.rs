//! What a start and a reset are refused for, and what outlasts a power cut.

use super::*;
use crate::settings::{Action, StartsPerHour};

/// The example with a rest of six minutes, coasting for five.
fn mill() -> Bench {
    let mut settings = Settings::example();
    settings.restart.rest_ms = 360_000;
    settings.trips.starts_per_hour = Some(StartsPerHour { most: 2, action: Action::Warning });
    Bench::new(&settings)
}

impl Bench {
    fn refused(&self) -> Option<Hindrance> {
        self.judge.decision().start
    }

    fn reset(&mut self) -> Result<(), Hindrance> {
        self.judge.reset(&self.c, self.now, true)
    }
}

#[test]
fn a_start_is_refused_until_the_rotor_stands_and_the_motor_has_rested() {
    let mut b = mill();
    assert_eq!(b.refused(), Some(Hindrance::MayTurn), "nothing is known");
    b.hold(&record(REST), 299.0);
    assert_eq!(b.refused(), Some(Hindrance::MayTurn), "it may have turned when power came");
    assert_eq!(b.judge.memory.state, State::Stopped);
    b.hold(&record(REST), 2.0);
    assert_eq!(b.refused(), None);
    b.hold(&record(LOCKED), 2.0).hold(&record(IDLE), 2.0);
    assert_eq!(b.refused(), Some(Hindrance::Running));
    b.hold(&record(REST), 299.0);
    assert_eq!(b.refused(), Some(Hindrance::MayTurn));
    b.hold(&record(REST), 2.0);
    assert_eq!(b.refused(), Some(Hindrance::Rest));
    b.hold(&record(REST), 60.0);
    assert_eq!(b.refused(), None);
    b.hold(&record(LOCKED), 2.0).hold(&record(IDLE), 2.0).hold(&record(REST), 362.0);
    assert_eq!(b.refused(), Some(Hindrance::Starts), "two in the last hour");
    b.hold(&record(REST), 3_600.0 - 735.0);
    assert_eq!(b.refused(), Some(Hindrance::Starts));
    b.hold(&record(REST), 6.0);
    assert_eq!(b.refused(), None, "the first one is an hour old");
}

#[test]
fn a_zero_speed_input_proves_standstill_and_that_there_is_none() {
    let mut b = mill();
    b.hold(&record(IDLE), 2.0).hold(&record(REST), 10.0);
    b.judge.set_standstill(Some(true));
    b.hold(&record(REST), 0.1);
    assert_eq!(b.refused(), Some(Hindrance::Rest));
    let mut b = mill();
    b.judge.set_standstill(Some(false));
    b.hold(&record(IDLE), 2.0).hold(&record(REST), 700.0);
    assert_eq!(b.refused(), Some(Hindrance::MayTurn), "long after its time it still turns");
    assert!(b.time(State::Stopped) == 0.0);
    b.judge.set_standstill(None);
    b.hold(&record(REST), 1.0);
    assert_eq!(b.refused(), None);
    // A tachometer above nought is believed against everything else, one at nought proves nothing.
    b.judge.set_speed(Some(Rpm::from_bits(900 << 12)));
    b.judge.set_standstill(Some(true));
    b.hold(&record(REST), 1.0);
    assert_eq!(b.refused(), Some(Hindrance::MayTurn));
    b.judge.set_speed(Some(Rpm::ZERO));
    b.judge.set_standstill(None);
    let mut b = mill();
    b.judge.set_speed(Some(Rpm::ZERO));
    b.hold(&record(IDLE), 2.0).hold(&record(REST), 10.0);
    assert_eq!(b.refused(), Some(Hindrance::MayTurn));
}

/// 25 s at 5.25 times rated leave (5.25 / 1.05)² x (1 - exp(-25 / 600)) = 1.02 of the trip level: no room for as much again and a tenth, ever. Cold
/// is cold all the same.
#[test]
fn a_start_that_leaves_nearly_everything_is_allowed_from_cold() {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 1_000;
    settings.trips = TripSettings { thermal: settings.trips.thermal, ..TripSettings::default() };
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 2.0).hold(&record(LOCKED), 22.0).hold(&record(IDLE), 2.0);
    assert_eq!(b.trips(), []);
    b.hold(&record(REST), 600.0);
    assert_eq!(b.refused(), Some(Hindrance::Hot));
    let wait = b.judge.foretold(&b.c, b.now)[1].unwrap();
    b.hold(&record(REST), seconds(Instant(wait.0)) + 1.0);
    assert_eq!(b.refused(), None);
}

#[test]
fn a_held_button_is_told_once_and_too_many_starts_are_not_reset_away() {
    let mut settings = Settings::example();
    (settings.mill.coast_down_ms, settings.trips.starts_per_hour) =
        (1_000, Some(StartsPerHour { most: 1, action: Action::Trip }));
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 2.0);
    for _ in 0..2 {
        b.hold(&record(LOCKED), 2.0).hold(&record(IDLE), 2.0).hold(&record(REST), 10.0);
    }
    assert_eq!(b.judge.decision().trip, Some(Cause::StartsPerHour));
    for _ in 0..100 {
        assert_eq!(b.reset(), Err(Hindrance::Starts));
    }
    assert_eq!(b.judge.totals().lost_events, 0);
    b.hold(&record(REST), 3_600.0);
    assert_eq!(b.reset(), Ok(()));
    b.hold(&record(REST), 1.0);
    assert_eq!(b.judge.decision().trip, None);
    let refusals = b.events.iter().filter(|(_, kind)| matches!(kind, EventKind::ResetRefused(_))).count();
    assert_eq!(refusals, 1);
}

#[test]
fn a_gap_within_a_start_makes_no_second_one_and_a_reset_ends_no_feed_stop() {
    let mut settings = Settings::example();
    settings.trips.starts_per_hour = Some(StartsPerHour { most: 1, action: Action::Trip });
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 1.0).hold(&record(LOCKED), 1.0);
    b.judge.gap(&b.c, b.now, HALF);
    b.hold(&record(LOCKED), 1.0).hold(&record(IDLE), 2.0);
    assert_eq!(b.trips(), []);
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 1_000;
    let high = crate::settings::Element { pickup_ppm: 1_100_000, delay_ms: 100, action: Action::FeedStop };
    settings.trips.overvoltage = Some(high);
    let mut b = Bench::new(&settings);
    let high = HalfCycle { voltage: [volts(260.0); 3], ..record(REST) };
    b.hold(&high, 5.0);
    assert_eq!(b.reset(), Ok(()));
    b.hold(&high, 5.0);
    let begun = b.events.iter().filter(|(_, kind)| matches!(kind, EventKind::Alarm { .. })).count();
    assert_eq!(begun, 1, "it goes on, and is not told twice");
}

#[test]
fn a_reset_is_refused_one_by_one() {
    let mut b = mill();
    b.hold(&record(RATED), 5.0).hold(&record(LOCKED), 1.0);
    assert_eq!(b.judge.decision().trip, Some(Cause::Jam));
    let refused = |b: &mut Bench, why| {
        assert_eq!(b.reset(), Err(why));
        assert_eq!(b.judge.decision().trip, Some(Cause::Jam), "{why:?}");
        assert_eq!(b.refused(), Some(Hindrance::Trip));
    };
    refused(&mut b, Hindrance::Running);
    b.hold(&record(REST), 100.0);
    refused(&mut b, Hindrance::MayTurn);
    b.hold(&record(REST), 210.0);
    refused(&mut b, Hindrance::Rest);
    b.hold(&record(REST), 60.0);
    assert_eq!(b.judge.reset(&b.c, b.now, false), Err(Hindrance::Remote));
    assert_eq!(b.reset(), Ok(()));
    assert_eq!((b.judge.decision().trip, b.refused()), (None, None));
    assert_eq!(b.judge.decision().feed, report::Feed::Stop, "a reset starts nothing");
}

/// Cooling from the trip level to 75 %: 2 400 s x ln(1 / 0.75) = 690.4 s (IEC 60255-149's exponential).
#[test]
fn a_reset_waits_until_the_image_has_cooled() {
    let mut settings = Settings::example();
    settings.trips.jam = None;
    settings.restart.reset_level_ppm = 750_000;
    let mut b = Bench::new(&settings);
    b.hold(&record(RATED), 1.0);
    while b.judge.decision().trip.is_none() {
        b.hold(&record(LOCKED), 0.1);
    }
    assert_eq!(b.judge.decision().trip, Some(Cause::ThermalOverload));
    b.hold(&record(REST), 685.0);
    assert_eq!(b.reset(), Err(Hindrance::Hot));
    b.hold(&record(REST), 15.0);
    assert_eq!(b.reset(), Ok(()));
}

/// A start of ten seconds at 5.25 times rated current: (5.25 / 1.05)² x (1 - exp(-10 / 600)) = 0.4132 of the trip level,
/// and a tenth: a level above 0.5455 leaves no room for another.
#[test]
fn a_hot_restart_waits_until_there_is_room_for_its_heat() {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 1_000;
    settings.trips.jam = None;
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 1.0).hold(&record(LOCKED), 10.0).hold(&record(RATED), 1_200.0).hold(&record(REST), 2.0);
    let level = || b.judge.totals().max_thermal.unwrap().to_bits() as f64 / f64::from(1 << 24);
    assert!((0.75..0.95).contains(&level()), "{}", level());
    let mut waited = 0.0;
    while b.refused() == Some(Hindrance::Hot) {
        b.hold(&record(REST), 1.0);
        waited += 1.0;
    }
    assert_eq!(b.refused(), None);
    // 0.4132 x exp(-1200 / 600) + (97 / 101.3)² x (1 - exp(-1200 / 600)) cools by exp(-t / 2400) to 1 - 1.1 x 0.4132.
    let level = 0.4132 * (-2f64).exp() + (97.0f64 / 101.325).powi(2) * (1.0 - (-2f64).exp());
    let wanted = 2_400.0 * (level / (1.0 - 1.1 * 0.4132)).ln() - 2.0;
    assert!((waited - wanted).abs() < 15.0, "{waited} s, {wanted} s wanted");
}

#[test]
fn a_power_cut_clears_no_trip_and_cools_no_motor() {
    let mut b = mill();
    b.hold(&record(REST), 1.0).hold(&record(LOCKED), 2.0).hold(&record(RATED), 300.0).hold(&record(LOCKED), 1.0);
    assert_eq!(b.judge.decision().trip, Some(Cause::Jam));
    let saved = b.judge.saved(b.now);
    assert!(saved.thermal_q32 > 1 << 30, "{saved:?}");
    let mut b = mill();
    b.judge.resume(&b.c, b.now, &saved);
    assert_eq!((b.judge.decision().trip, b.refused()), (Some(Cause::Jam), Some(Hindrance::Trip)));
    b.hold(&record(REST), 290.0);
    assert_eq!(b.reset(), Err(Hindrance::MayTurn), "it may have turned when power came back");
    b.hold(&record(REST), 40.0);
    assert_eq!(b.reset(), Err(Hindrance::Rest), "nobody knows how long it has rested");
    b.hold(&record(REST), 40.0);
    assert_eq!(b.reset(), Ok(()));
    let again = b.judge.saved(b.now);
    let cooled = again.thermal_q32 as f64 / saved.thermal_q32 as f64;
    assert!((cooled - (-370.0f64 / 2_400.0).exp()).abs() < 1e-3, "{cooled}");
    assert_eq!(saved.starts.iter().filter(|left| **left > Span::ZERO).count(), 1, "one start counts on");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Somebody starts the mill whenever that is not refused, and stops it soon; the power goes and is back at once, which is the worst, anywhere. There are never more than two starts in
    /// what counts as an hour here, 20 s, and each comes after a whole rest.
    #[test]
    fn a_power_cut_grants_no_start(cuts in prop::collection::vec(1u32..900, 1..40)) {
        let mut settings = Settings::example();
        (settings.mill.coast_down_ms, settings.restart.rest_ms) = (500, 2_000);
        settings.trips.starts_per_hour = Some(StartsPerHour { most: 2, action: Action::Trip });
        settings.trips.thermal = None;
        let mut b = Bench::new(&settings);
        b.c.trips.starts_per_hour.as_mut().unwrap().hour = Span((20 * 4_000) << 16);
        let mut cuts = cuts.into_iter();
        let mut cut = cuts.next().unwrap_or(u32::MAX);
        let (mut starts, mut stopped, mut runs) = (Vec::new(), f64::MIN, 0);
        for _ in 0..8_000 {
            if runs == 0 && b.refused().is_none() {
                let now = seconds(b.now);
                prop_assert!(now - stopped > 1.985, "rested from {stopped} to {now}: two seconds, but for a half cycle");
                starts.push(now);
                runs = 60;
            }
            b.hold(&record(if runs > 30 { LOCKED } else if runs > 0 { IDLE } else { REST }), 0.01);
            if runs > 0 {
                runs -= 1;
                stopped = seconds(b.now);
            }
            cut -= 1;
            if cut == 0 {
                let saved = b.judge.saved(b.now);
                b.judge = Judge::new(&b.c);
                b.judge.resume(&b.c, b.now, &saved);
                (runs, stopped) = (0, seconds(b.now)); // the contactor falls
                cut = cuts.next().unwrap_or(u32::MAX);
            }
        }
        prop_assert!(starts.len() > 3, "it was started: {starts:?}");
        for three in starts.windows(3) {
            prop_assert!(three[2] - three[0] > 19.9, "{starts:?}");
        }
    }
}

proptest! {
    /// Whatever happens, a latched trip stays until a reset is taken, and a reset is taken only at rest.
    #[test]
    fn a_latched_trip_stays(
        steps in prop::collection::vec((0usize..6, 1u32..20, any::<bool>(), 0u8..4), 1..60),
    ) {
        let mut settings = Settings::example();
        (settings.mill.coast_down_ms, settings.restart.rest_ms) = (500, 1_000);
        let mut b = Bench::new(&settings);
        let mut latched = None;
        for (what, half_cycles, here, act) in steps {
            let operating = [REST, REST, LOCKED, IDLE, RATED, LOCKED][what];
            b.hold(&record(operating), f64::from(half_cycles * half_cycles) / 100.0);
            let trip = b.judge.decision().trip;
            prop_assert!(latched.is_none() || trip == latched);
            prop_assert!(trip.is_none() || b.judge.decision().feed == report::Feed::Stop);
            prop_assert!(trip.is_none() || b.refused() == Some(Hindrance::Trip));
            match act {
                0 => b.judge.gap(&b.c, b.now, Span(4_000 << 16)),
                1 => {
                    let stood = b.judge.memory.state == State::Stopped;
                    let taken = b.judge.reset(&b.c, b.now, here);
                    prop_assert!(taken.is_err() || here && stood && operating == REST);
                    prop_assert_eq!(b.judge.decision().trip, if taken.is_ok() { None } else { trip });
                }
                2 => {
                    let saved = b.judge.saved(b.now);
                    b.judge = Judge::new(&b.c);
                    b.judge.resume(&b.c, b.now, &saved);
                    prop_assert_eq!(b.judge.decision().trip, trip);
                    prop_assert!(b.refused().is_some());
                }
                _ => {}
            }
            latched = b.judge.decision().trip;
        }
    }
}

/// A latch that outlasts a power cut is the element's own: it is not given again, and no other is thought given.
#[test]
fn a_trip_that_outlasts_a_power_cut_is_told_once() {
    let saved = crate::judge::saved::Saved { trip: Some(Cause::Jam), ..crate::judge::saved::Saved::default() };
    let mut b = mill();
    b.judge.resume(&b.c, b.now, &saved);
    let missing = HalfCycle { current_negative: Amps::from_bits(180 << 17), ..record((40_000, 25_000, 250)) };
    b.hold(&record(RATED), 10.0).hold(&missing, 3.0);
    assert_eq!(b.trips().into_iter().map(|(_, cause)| cause).collect::<Vec<_>>(), [Cause::PhaseLoss]);
    assert_eq!(b.judge.decision().trip, Some(Cause::Jam), "the first stays");
}
