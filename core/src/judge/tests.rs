//! The judge fed by hand: records of the example motor at rest, locked, idle, loaded.
//!
//! The electrical figures of the motor's operating points come from a plant model of a 55 kW, 400 V
//! machine (currents, powers and reactive powers at those slips), not from the core.

use super::shaft::{Now, Shaft, current};
use super::slip::Slip;
use super::winding::Winding;
use super::*;
use crate::settings::{MotorCoefficients, Settings, Trips as TripSettings, Undervoltage};
use crate::unit::{Amps, Joules, SquareAmps, SquareVolts, Volts, Watts};
use crate::{Cause, EventKind, State, Warning};
use proptest::prelude::*;
extern crate std;
use std::vec::Vec;

mod elements;
mod feed;
mod heat;
mod latching;
mod other;
mod restart;
mod rotor;
mod share;

const HALF: Span = Span(40 << 16);

/// Resistances as the settings have them.
const AS_SET: winding::Warm = winding::Warm { stator: 1 << 24, rotor: 1 << 24 };

/// Of a half cycle by itself: cold.
fn shaft_of(c: &MotorCoefficients, half: &HalfCycle, star: bool) -> Shaft {
    let now = Now { current: current(c, half), warm: AS_SET, star, begun: slip::Begun::Otherwise };
    Shaft::of(c, half, now, &mut Slip::default())
}

/// Active power W, reactive power var, current A.
type Operating = (i64, i64, i32);
const REST: Operating = (0, 0, 0);
const LOCKED: Operating = (70_301, 344_226, 507);
const IDLE: Operating = (8_254, 22_870, 35);
const RATED: Operating = (58_663, 32_146, 97);

fn amps(a: f64) -> SquareAmps {
    SquareAmps::of(Amps::from_bits((a * 131_072.0) as i32))
}

fn volts(v: f64) -> SquareVolts {
    SquareVolts::of(Volts::from_bits((v * 65_536.0) as i32))
}

fn record((active, reactive, current): Operating) -> HalfCycle {
    HalfCycle {
        length: HALF,
        cycle: Span(80 << 16),
        energy: Joules::from_bits((active << 20) / 100),
        active: Watts::from_bits(active << 16),
        reactive: Watts::from_bits(reactive << 16),
        voltage: [volts(231.0); 3],
        current: [amps(f64::from(current)); 3],
        voltage_positive: Volts::from_bits(231 << 16),
        current_positive: Amps::from_bits(current << 17),
        ..HalfCycle::default()
    }
}

/// A judge, its configuration and the clock.
struct Bench {
    c: JudgeCoefficients,
    judge: Judge,
    now: Instant,
    events: Vec<(f64, EventKind)>,
}

fn seconds(at: Instant) -> f64 {
    at.0 as f64 / 65_536.0 / 4_000.0
}

impl Bench {
    fn new(settings: &Settings) -> Self {
        let c = settings.build().unwrap().judge;
        Self { judge: Judge::new(&c), c, now: Instant(0), events: Vec::new() }
    }

    /// Holds a record for so many seconds.
    fn hold(&mut self, record: &HalfCycle, seconds_held: f64) -> &mut Self {
        for n in 0..(seconds_held * 100.0).round() as u64 {
            self.now = self.now.after(HALF);
            let half = HalfCycle { end: self.now, closes_window: n % 20 == 19, ..*record };
            self.judge.half_cycle(&self.c, &half);
            while let Some(event) = self.judge.pop_event() {
                self.events.push((seconds(event.at), event.kind));
            }
        }
        self
    }

    fn trips(&self) -> Vec<(f64, Cause)> {
        let trip = |(at, kind): &(f64, EventKind)| match kind {
            EventKind::Trip { cause, .. } => Some((*at, *cause)),
            _ => None,
        };
        self.events.iter().filter_map(trip).collect()
    }

    fn time(&self, state: State) -> f64 {
        let place = State::ALL.iter().position(|s| *s == state).unwrap();
        seconds(Instant(self.judge.totals().time[place].0))
    }
}

#[track_caller]
fn one_trip(bench: &Bench, cause: Cause, at: f64) {
    let trips = bench.trips();
    assert_eq!(trips.len(), 1, "{trips:?}");
    assert_eq!(trips[0].1, cause);
    assert!((trips[0].0 - at).abs() < 0.011, "{trips:?}, wanted at {at}");
}

#[test]
fn a_day_in_short() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(REST), 1.0)
        .hold(&record(LOCKED), 3.0)
        .hold(&record(IDLE), 4.0)
        .hold(&record(RATED), 5.0)
        .hold(&record(REST), 2.0);
    let near =
        |state, want: f64, bound: f64| assert!((b.time(state) - want).abs() <= bound, "{state:?} {}", b.time(state));
    near(State::Stopped, 1.0, 0.001);
    near(State::Starting, 3.0, 0.03);
    near(State::Idle, 4.0, 0.05); // far from idle the mill breaks at once
    near(State::Breaking, 5.0, 0.05);
    near(State::Coasting, 2.0, 0.001);
    let kinds: Vec<_> = b.events.iter().map(|(at, kind)| (*at, *kind)).collect();
    assert!(matches!(kinds[0], (at, EventKind::Start) if (at - 1.0).abs() < 1e-9));
    assert!(
        matches!(kinds[1], (at, EventKind::RunUp { peak, .. }) if (3.99..=4.0).contains(&at) && peak == Amps::from_bits(507 << 17))
    );
    assert!(matches!(kinds[2].1, EventKind::IdleBegins) && matches!(kinds[3].1, EventKind::IdleEnds));
    assert!(matches!(kinds[4].1, EventKind::Stop) && kinds.len() == 5);
    let t = b.judge.totals();
    assert_eq!((t.starts, t.trips), (1, 0));
    // 3 s of 70.3 kW, 4 s of 8.25 kW, 5 s of 58.7 kW; plain arithmetic.
    let joules = 3.0 * 70_301.0 + 4.0 * 8_254.0 + 5.0 * 58_663.0;
    assert!((t.electrical.joules as f64 - joules).abs() < 2.0);
}

/// Shaft figures of the example motor against the plant's: 6.70 kW idle, 55.0 kW at 1 477.3 rpm rated.
/// Running counts from when slip fell below 5 %, between two half cycles: a start's time is what its event tells, and no energy
/// of the shaft is missing. What was but a flash stays with the start.
#[test]
fn running_counts_from_when_it_began() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(REST), 1.0).hold(&record(LOCKED), 1.0).hold(&record(RATED), 0.02).hold(&record(LOCKED), 1.0);
    assert!((b.time(State::Starting) - 2.02).abs() < 1e-9 && b.time(State::Breaking).abs() < 1e-9);
    b.hold(&record(RATED), 2.0);
    let run_up = b.events.iter().find_map(|(at, kind)| match kind {
        EventKind::RunUp { onset, .. } => Some(at - seconds(*onset)),
        _ => None,
    });
    assert!((b.time(State::Starting) - run_up.unwrap()).abs() < 1e-6);
    let early = b.time(State::Breaking) - 2.0;
    assert!((0.0..0.01).contains(&early), "{early}");
    assert!((b.time(State::Breaking) + b.time(State::Starting) - 4.02).abs() < 1e-9);
    let totals = b.judge.totals();
    let of = |state| totals.energy[State::ALL.iter().position(|s| *s == state).unwrap()].q20() as f64;
    let [rated, locked] = [RATED, LOCKED].map(|point| record(point).energy.to_bits() as f64);
    assert!((of(State::Breaking) - 200.0 * rated - early * 100.0 * locked).abs() < 1e-4 * locked);
    assert_eq!(totals.energy.iter().map(|register| register.q20()).sum::<i128>(), totals.electrical.q20());
    // 55 kW of the example motor for two seconds, within what its shaft power is tested for below.
    assert!((totals.shaft_q20 as f64 / f64::from(1 << 20) - 110_000.0).abs() < 2_200.0, "{}", totals.shaft_q20 >> 20);
}

#[test]
fn shaft_power_and_speed() {
    let c = Settings::example().build().unwrap().judge.motor;
    for (point, shaft, rpm, bound) in [(RATED, 55_000.0, 1_477.3, 600.0), (IDLE, 6_700.0, 1_497.3, 150.0)] {
        let s = shaft_of(&c, &record(point), false);
        assert!((s.power.to_bits() as f64 / 65_536.0 - shaft).abs() < bound, "{s:?}");
        assert!((f64::from(s.speed.unwrap().to_bits()) / 4_096.0 - rpm).abs() < 1.0, "{s:?}");
        assert!(s.at_speed());
    }
    let locked = shaft_of(&c, &record(LOCKED), false);
    assert!(!locked.at_speed() && locked.slip > (9 << 24) / 10, "{locked:?}");
    assert_eq!(shaft_of(&c, &record(REST), false).speed, None);
    // The first cycle of a start may show power given back, whatever the rotor does.
    let back = shaft_of(&c, &record((-LOCKED.0, LOCKED.1, LOCKED.2)), false);
    assert!(back.speed.is_none() && !back.at_speed(), "{back:?}");
}

/// Warm by the square of the current, first order; resistances after R(T) = R (k + T) / (k + reference).
#[test]
fn windings_warm_up_and_their_resistances_with_them() {
    let mut s = Settings::example();
    s.motor.winding = Some(crate::settings::Winding {
        time_constant_ms: 60_000,
        rise_mk: 80_000,
        ambient_mc: 25_000,
        start_mc: 25_000,
    });
    let c = s.build().unwrap().judge.motor;
    let mut winding = Winding::new(&c);
    let near = |found: i64, wanted: f64| {
        let found = found as f64 / f64::from(1 << 24);
        assert!((found - wanted).abs() < 2e-5, "found {found}, wanted {wanted}");
    };
    near(winding.warm(&c).stator, (234.5 + 25.0) / (234.5 + 105.0));
    near(winding.warm(&c).rotor, (225.0 + 25.0) / (225.0 + 105.0));
    let half = HalfCycle { current: [amps(96.5 * 1.2); 3], ..record(RATED) };
    for _ in 0..6_000 {
        winding.update(&c, current(&c, &half), half.length);
    }
    let after = 25.0 + 80.0 * 1.44 * (1.0 - (-1.0f64).exp());
    let warm = winding.warm(&c);
    assert!((warm.stator as f64 / f64::from(1 << 24) - (234.5 + after) / 339.5).abs() < 1e-4, "{warm:?}");
    // What is not told stays as it is.
    assert_eq!(Winding::new(&Settings::example().build().unwrap().judge.motor).warm(&c).stator, 1 << 24);
}

/// `s = x (1 + d s²)` by the inverse: for every slip up to the one that looks like standstill.
#[test]
fn deep_bars_by_the_inverse_of_their_law() {
    for d in [0.3, 1.0, 1.6, 4.0, 15.0] {
        let mut settings = Settings::example();
        settings.motor.deep_bar_ppm = (d * 1e6) as u32;
        let c = settings.build().unwrap().judge.motor;
        for n in 1..=200 {
            let s = f64::from(n) / 200.0;
            let x = s / (1.0 + d * s * s);
            let found = slip::deep(c.deep_bar, (x * f64::from(1 << 24)) as i64) as f64 / f64::from(1 << 24);
            let wanted = if s < 0.85 / d { s } else { 1.0 };
            // Where the law is flat a step of x is many of s; small slips go by the running resistance.
            let flat = (1.0 - d * s * s).abs() / (1.0 + d * s * s).powi(2);
            let bound = if x < 0.05 { d * s.powi(3) + 1e-6 } else { 2e-5 + 1e-6 / flat.max(1e-3) };
            let same = (found - wanted).abs() < bound;
            assert!(same || (s - 0.85 / d).abs() < 0.006, "d {d}: slip {s} looks like {x}, found {found}");
        }
    }
}

/// In star a winding has a root of three less voltage: at the same slip a third of power and current, by the same circuit.
#[test]
fn in_star_the_circuit_has_a_third_of_power_and_current() {
    let c = Settings::example().build().unwrap().judge.motor;
    let of = |record: &HalfCycle, star| shaft_of(&c, record, star);
    for (active, reactive, current) in [RATED, (60_000, 33_000, 99)] {
        let delta = of(&record((active, reactive, current)), false);
        let star = of(
            &HalfCycle { current: [amps(f64::from(current) / 3.0); 3], ..record((active / 3, reactive / 3, 0)) },
            true,
        );
        assert!((delta.slip - star.slip).abs() < 2_000, "{delta:?} {star:?}");
        // Friction does not fall with the voltage: 0.6 kW of the example motor.
        let [whole, third] = [delta, star].map(|s| s.power.to_bits() as f64 / 65_536.0);
        assert!((third - (whole - 2.0 * 600.0) / 3.0).abs() < 20.0, "{whole} {third}");
    }
}

#[test]
fn the_pause_of_a_star_delta_starter_is_no_stop() {
    use crate::settings::Starter::{Direct, StarDelta};
    let day = |starter, pause| {
        let mut settings = Settings::example();
        settings.motor.starter = starter;
        let mut b = Bench::new(&settings);
        let third = record((LOCKED.0 / 3, LOCKED.1 / 3, LOCKED.2 / 3));
        b.hold(&record(REST), 1.0).hold(&third, 2.0).hold(&record(REST), pause);
        b.hold(&record(LOCKED), 1.0).hold(&record(RATED), 1.0).hold(&record(REST), 1.0);
        let stops: Vec<f64> = b.events.iter().filter(|(_, kind)| *kind == EventKind::Stop).map(|(at, _)| *at).collect();
        (b.judge.totals().starts, stops)
    };
    let near = |(starts, stops): (u32, Vec<f64>), wanted: (u32, &[f64])| {
        let same = stops.iter().zip(wanted.1).all(|(found, wanted)| (found - wanted).abs() < 0.011);
        assert!(starts == wanted.0 && stops.len() == wanted.1.len() && same, "{starts} {stops:?}, wanted {wanted:?}");
    };
    near(day(StarDelta, 0.1), (1, &[5.1]));
    near(day(Direct, 0.1), (2, &[3.01, 5.1]));
    // Longer than any starter takes: it had been switched off.
    near(day(StarDelta, 0.8), (2, &[3.0, 5.8]));
}

/// However star is left, or not seen to be: in the end the motor gives its rated power at its rated speed, and nothing trips.
#[test]
fn delta_is_found_however_star_is_left() {
    let third = record((LOCKED.0 / 3, LOCKED.1 / 3, LOCKED.2 / 3));
    let star_running = record((RATED.0, RATED.1, 50));
    let none = record(REST);
    let (locked, rated) = (record(LOCKED), record(RATED));
    let ways: [&[(&HalfCycle, f64)]; 7] = [
        &[(&none, 1.0), (&third, 5.0), (&none, 0.1), (&locked, 1.0), (&rated, 3.0)],
        &[(&none, 1.0), (&third, 5.0), (&locked, 1.0), (&rated, 3.0)], // no pause
        &[(&none, 1.0), (&third, 5.0), (&none, 0.8), (&locked, 1.0), (&rated, 3.0)], // a long one
        &[(&third, 5.0), (&none, 0.1), (&locked, 1.0), (&rated, 3.0)], // begins in star, taken to run
        &[(&none, 1.0), (&third, 2.0), (&none, 0.1), (&third, 2.0), (&locked, 1.0), (&rated, 3.0)], // star again
        &[(&none, 1.0), (&third, 5.0), (&record((3_000, 12_000, 30)), 0.3), (&rated, 3.0)], // no pause, near full speed
        &[(&none, 1.0), (&star_running, 1.0), (&rated, 3.0)],
    ];
    let mut settings = Settings::example();
    settings.motor.starter = crate::settings::Starter::StarDelta;
    for (n, way) in ways.into_iter().enumerate() {
        let mut b = Bench::new(&settings);
        for (record, held) in way {
            b.hold(record, *held);
        }
        assert_eq!(b.trips(), [], "way {n}");
        let end = b.judge.half_cycle(&b.c, &HalfCycle { end: b.now.after(HALF), ..rated });
        let (kw, rpm) = (end.shaft.to_bits() as f64 / 65_536e3, f64::from(end.speed.unwrap().to_bits()) / 4_096.0);
        assert!((kw - 55.0).abs() < 0.6 && (rpm - 1_477.3).abs() < 1.0, "way {n}: {kw} kW, {rpm} rpm");
        // Begun in star below running current it is taken to run from the first cycle, 5 s of star; in the last it runs in star.
        let runs = [3.0, 3.0, 3.0, 8.0, 3.0, 3.0, 4.0][n];
        assert!((b.time(State::Breaking) - runs).abs() < 0.2, "way {n}: {} s", b.time(State::Breaking));
    }
}

/// The first cycle of a restart is half without current and tells nothing: a rotor that is held is not taken to turn because of it.
#[test]
fn the_first_cycle_of_a_start_decides_nothing() {
    let mut settings = Settings::example();
    settings.motor.deep_bar_ppm = 1_600_000;
    for first in [(20_000, 9_000, 60), (-30_000, 100_000, 300), (30_000, 20_000, 90)] {
        let mut b = Bench::new(&settings);
        b.hold(&record(RATED), 1.0).hold(&record(REST), 1.0).hold(&record(first), 0.01).hold(&record(LOCKED), 5.0);
        assert!(!b.events.iter().any(|(_, kind)| matches!(kind, EventKind::RunUp { .. })), "{first:?}: {:?}", b.events);
        let end = b.judge.half_cycle(&b.c, &HalfCycle { end: b.now.after(HALF), ..record(LOCKED) });
        assert!(end.shaft.to_bits() >> 16 < 1_000, "{first:?}: {end:?}");
    }
}

#[test]
fn a_trace_that_begins_running_counts_no_start_and_arms_jam() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(RATED), 1.0).hold(&record(LOCKED), 2.0);
    assert_eq!(b.judge.totals().starts, 0);
    one_trip(&b, Cause::Jam, 1.51);
}

#[test]
fn jam_is_not_armed_while_starting_and_forgets_what_drops_out() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(REST), 0.1).hold(&record(LOCKED), 4.0).hold(&record(RATED), 1.0);
    let over = record((115_000, 60_000, 194));
    let between = record((113_000, 60_000, 190)); // 97 % of 193 A is 187.2 A
    let short = record((110_000, 60_000, 186));
    b.hold(&over, 0.4).hold(&short, 0.01).hold(&over, 0.4);
    assert_eq!(b.trips(), [], "the time starts from zero");
    b.hold(&short, 0.1).hold(&over, 0.1).hold(&between, 0.5);
    let trips = b.trips();
    assert!(trips.len() == 1 && trips[0].1 == Cause::Jam, "held between pick-up and drop-out: {trips:?}");
    assert!(b.judge.decision().trip == Some(Cause::Jam) && b.judge.decision().feed == report::Feed::Stop);
}

#[test]
fn pickup_to_the_last_bit() {
    let mut settings = Settings::example();
    settings.trips.jam = Some(crate::settings::Jam { pickup_ppm: 2_000_000, delay_ms: 0 });
    let pickup = settings.build().unwrap().judge.trips.jam.unwrap().pickup;
    for (square, trips) in [(pickup.0, 0), (pickup.0 + 1, 1)] {
        let mut b = Bench::new(&settings);
        let mut half = record(RATED);
        b.hold(&half, 0.1);
        half.current[1] = SquareAmps(square);
        b.hold(&half, 0.1);
        assert_eq!(b.trips().len(), trips, "above, not at, the pick-up");
    }
}

#[test]
fn long_start_whatever_the_current() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(REST), 2.0).hold(&record(LOCKED), 5.0).hold(&record((60_000, 150_000, 230)), 20.0);
    let trips = b.trips();
    assert!((trips[0].0 - 17.0).abs() < 0.011 && trips[0].1 == Cause::LongStart, "{trips:?}");
}

/// One line open: positive and negative sequence are equal (symmetrical components).
#[test]
fn phase_loss_trips_after_its_delay_and_not_below_the_floor() {
    for (current, trips) in [(60, 1), (13, 0)] {
        let mut b = Bench::new(&Settings::example());
        b.hold(&record(RATED), 1.0);
        let mut half = record((20_000, 20_000, current));
        half.current[2] = SquareAmps(0);
        half.current_negative = half.current_positive;
        b.hold(&half, 2.0);
        assert_eq!(b.trips().len(), trips, "15 % of rated is 14.5 A");
        if trips == 1 {
            one_trip(&b, Cause::PhaseLoss, 2.01);
        }
    }
}

#[test]
fn undervoltage_needs_current_and_waits_longer_while_starting() {
    let mut low = record(RATED);
    low.voltage[1] = volts(180.0); // 80 % of 230.9 V is 184.8 V
    let mut low_at_rest = record(REST);
    low_at_rest.voltage = [volts(0.0); 3];
    let mut low_starting = record(LOCKED);
    low_starting.voltage = low.voltage;
    let mut settings = Settings::example();
    settings.trips = TripSettings {
        undervoltage: Some(Undervoltage { pickup_ppm: 800_000, delay_ms: 2_000, start_delay_ms: 5_000 }),
        ..TripSettings::default()
    };
    let mut b = Bench::new(&settings);
    b.hold(&low_at_rest, 10.0).hold(&low_starting, 4.5);
    assert_eq!(b.trips(), [], "no current, then the longer delay");
    b.hold(&low_starting, 1.0);
    one_trip(&b, Cause::Undervoltage, 15.01);
    let mut b = Bench::new(&settings);
    b.hold(&record(RATED), 1.0).hold(&low, 3.0);
    one_trip(&b, Cause::Undervoltage, 3.01);
}

#[test]
fn idle_is_learnt_from_a_steady_level_at_speed_only() {
    let mut settings = Settings::example();
    settings.mill.idle_power_mw = None;
    settings.trips = TripSettings::default();
    let mut b = Bench::new(&settings);
    b.hold(&record(RATED), 4.0);
    assert_eq!(b.judge.totals().idle, None, "above half load");
    b.hold(&record(LOCKED), 4.0);
    assert_eq!(b.judge.totals().idle, None, "stalled");
    b.hold(&record(IDLE), 1.8);
    assert_eq!(b.judge.totals().idle, None, "not for long enough");
    b.hold(&record(IDLE), 1.0);
    let idle = b.judge.totals().idle.unwrap().to_bits() as f64 / 65_536.0;
    assert!((idle - 6_700.0).abs() < 150.0, "{idle}");
}

#[test]
fn a_gap_is_unknown_time_and_trips_stay() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(RATED), 1.0).hold(&record(LOCKED), 1.0);
    b.judge.gap(&b.c, b.now, Span(4_000 << 16));
    assert!((b.time(State::Unknown) - 1.0).abs() < 1e-9);
    b.hold(&record(RATED), 1.0);
    assert_eq!(b.judge.decision().trip, Some(Cause::Jam));
    assert_eq!(b.judge.reset(&b.c, b.now, true), Err(Hindrance::Running));
    b.hold(&record(REST), 301.0);
    assert_eq!(b.judge.reset(&b.c, b.now, true), Ok(()));
    assert_eq!(b.judge.decision().trip, None);
}

#[test]
fn the_feed_waits_above_its_level_and_resumes_below() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(IDLE), 4.0);
    assert_eq!(b.judge.decision().feed, report::Feed::Wait, "five seconds below 70 % first");
    b.hold(&record(IDLE), 2.0);
    assert_eq!(b.judge.decision().feed, report::Feed::Feed);
    b.hold(&record((70_440, 36_761, 115)), 0.9); // 119 % of rated power
    assert_eq!(b.judge.decision().feed, report::Feed::Feed);
    b.hold(&record((70_440, 36_761, 115)), 0.3);
    assert_eq!(b.judge.decision().feed, report::Feed::Wait);
    b.hold(&record(REST), 0.1);
    assert_eq!(b.judge.decision().feed, report::Feed::Stop);
}

proptest! {
    /// Whatever comes: a latched trip never clears itself, registers never fall, every moment counts.
    #[test]
    fn latches_hold_and_registers_never_fall(records in prop::collection::vec((any::<i64>(), any::<i64>(), prop::array::uniform3(any::<u64>()), any::<i32>(), any::<i32>(), any::<u32>()), 1..200)) {
        let mut b = Bench::new(&Settings::example());
        let mut latched = None;
        let mut before = *b.judge.totals();
        for (n, (active, reactive, squares, positive, negative, clipped)) in records.into_iter().enumerate() {
            let half = HalfCycle {
                energy: Joules::from_bits(active),
                active: Watts::from_bits(active),
                reactive: Watts::from_bits(reactive),
                current: squares.map(SquareAmps),
                voltage: squares.map(SquareVolts),
                current_positive: Amps::from_bits(positive),
                current_negative: Amps::from_bits(negative),
                voltage_positive: Volts::from_bits(negative),
                voltage_negative: Volts::from_bits(positive),
                clipped,
                ..record(REST)
            };
            b.hold(&half, 0.01);
            let t = *b.judge.totals();
            let states: i128 = t.energy.iter().map(|e| e.q20()).sum();
            prop_assert_eq!(states, t.electrical.q20(), "the states share all the energy");
            prop_assert!(t.electrical.q20() >= before.electrical.q20() && t.exported.q20() >= before.exported.q20());
            prop_assert_eq!(t.time.iter().map(|span| span.0).sum::<u64>(), (n as u64 + 1) * HALF.0);
            latched = latched.or(b.judge.decision().trip);
            prop_assert_eq!(b.judge.decision().trip, latched);
            before = t;
        }
    }
}

/// A motor that stands draws current as the square root of its power: at any voltage the slip is one.
/// Figures of a locked rotor from the circuit itself: I = V / |Z|, P = (Rs + Rr) I², Q = (Xs + Xr) I².
#[test]
fn standing_is_seen_at_any_voltage() {
    let c = Settings::example().build().unwrap().judge.motor;
    let (r, x) = (0.0535 + 0.0374, 0.221 + 0.221);
    for percent in [5, 10, 20, 30, 35, 50, 70, 100] {
        let v = 230.9 * f64::from(percent) / 100.0;
        let i = v / f64::hypot(r, x);
        let mut half = record((0, 0, 0));
        half.active = Watts::from_bits((3.0 * r * i * i * 65_536.0) as i64);
        half.reactive = Watts::from_bits((3.0 * x * i * i * 65_536.0 + 3.0 * v * v / 6.78 * 65_536.0) as i64);
        half.current = [amps(i); 3];
        half.voltage_positive = Volts::from_bits((v * 65_536.0) as i32);
        let s = shaft_of(&c, &half, false);
        assert!(!s.at_speed() && s.slip > (1 << 24) * 6 / 10, "{percent} %: slip {}", s.slip as f64 / 16_777_216.0);
    }
}

#[test]
fn the_delays_of_undervoltage_do_not_add_up() {
    let mut settings = Settings::example();
    settings.trips = TripSettings {
        undervoltage: Some(Undervoltage { pickup_ppm: 800_000, delay_ms: 2_000, start_delay_ms: 15_000 }),
        ..TripSettings::default()
    };
    let low = |point| HalfCycle { voltage: [volts(180.0); 3], ..record(point) };
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 1.0).hold(&low(LOCKED), 8.0).hold(&low(RATED), 1.5);
    assert_eq!(b.trips(), [], "allowed while starting, and running for less than the delay");
    b.hold(&low(RATED), 1.0);
    one_trip(&b, Cause::Undervoltage, 11.04);
}

#[test]
fn a_gap_forgets_what_was_picked_up_and_not_that_the_rotor_turns() {
    let mut b = Bench::new(&Settings::example());
    b.hold(&record(RATED), 1.0).hold(&record((115_000, 60_000, 194)), 0.4);
    b.judge.gap(&b.c, b.now, Span(40_000 << 16));
    b.now = b.now.after(Span(40_000 << 16));
    b.hold(&record((115_000, 60_000, 194)), 0.4);
    assert_eq!(b.trips(), [], "0.4 s before and 0.4 s after are not 0.5 s");
    b.judge.gap(&b.c, b.now, Span(4_000 << 16));
    b.now = b.now.after(Span(4_000 << 16));
    b.hold(&record(REST), 1.0);
    assert!(b.time(State::Coasting) > 0.9 && b.time(State::Stopped) < 0.1);
}

#[test]
fn phases_in_reverse_order_are_told_once() {
    let mut b = Bench::new(&Settings::example());
    let half = record(RATED);
    let turned = HalfCycle { voltage_positive: half.voltage_negative, voltage_negative: half.voltage_positive, ..half };
    b.hold(&turned, 1.0);
    let told = b.events.iter().filter(|(_, kind)| matches!(kind, EventKind::Warning(Warning::PhaseOrder))).count();
    assert_eq!(told, 1);
}

/// A converter that is stuck gives a current without a sine; its sequences are remnants of rounding.
#[test]
fn what_does_not_alternate_has_no_unbalance() {
    let [amps, stuck] = [100, 2_000].map(|amps| SquareAmps::of(Amps::from_bits(amps << 17)));
    let half = |positive: i32, negative: i32| HalfCycle {
        current: [amps; 3],
        current_positive: Amps::from_bits(positive),
        current_negative: Amps::from_bits(negative),
        ..HalfCycle::default()
    };
    let tenth = 10 << 17;
    for (positive, negative, told) in
        [(3, 5, false), (tenth - 1, tenth - 1, false), (tenth, 0, true), (0, tenth, true), (100 << 17, 0, true)]
    {
        for current in
            [[amps; 3], [stuck, amps, amps], [amps, stuck, amps], [amps, amps, stuck], [SquareAmps(0), amps, stuck]]
        {
            let half = HalfCycle { current, ..half(positive, negative) };
            assert_eq!(memory::unbalance(&half).is_some(), told, "{positive} {negative} {current:?}");
        }
    }
}
