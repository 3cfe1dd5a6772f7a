//! The thermal image against the times of IEC 60255-149's equation.
//!
//! `t = tau ln((I² - Ip²) / (I² - (k Ib)²))` (the standard's formula, from memory; times computed from
//! it by an independent program). Limit: 1 % plus one half cycle, above 1.1 x k x base.

use shaftwork_core::judge::Judge;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::settings::{Settings, Thermal, Trips};
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, SquareAmps};
use shaftwork_core::{Cause, EventKind};

const HALF: Span = Span(40 << 16);
const HALF_S: f64 = 0.01;

/// Time to trip at a steady current from a thermal level in per cent, s; judged from records made by hand.
fn time_to_trip(base: f64, k: f64, tau: f64, amps: f64, initial_pct: f64) -> f64 {
    let mut settings = Settings::example();
    settings.trips = Trips {
        thermal: Some(Thermal {
            base_current_ma: (base * 1e3) as u32,
            k_ppm: (k * 1e6) as u32,
            heating_ms: (tau * 1e3) as u32,
            cooling_ms: (tau * 4e3) as u32,
            initial_ppm: (initial_pct * 1e4).round() as u32,
            negative_sequence_ppm: 0,
            running_ppm: 1_000_000,
        }),
        ..Trips::default()
    };
    let c = settings.build().unwrap().judge;
    let mut judge = Judge::new(&c);
    let square = SquareAmps::of(Amps::from_bits((amps * 131_072.0).round() as i32));
    let mut half = HalfCycle { length: HALF, cycle: Span(80 << 16), current: [square; 3], ..HalfCycle::default() };
    for n in 1..1_000_000u64 {
        half.end = Instant(n * HALF.0);
        judge.half_cycle(&c, &half);
        while let Some(event) = judge.pop_event() {
            if let EventKind::Trip { cause, .. } = event.kind {
                assert_eq!(cause, Cause::ThermalOverload);
                return event.at.0 as f64 / HALF.0 as f64 * HALF_S;
            }
        }
    }
    f64::INFINITY
}

fn holds(what: &str, got: f64, want: f64) {
    assert!((got - want).abs() <= want * 0.01 + HALF_S, "{what}: {got} s, wanted {want} s");
}

/// tau 600 s: multiples of k x base, cold and after half and nine tenths of it.
#[test]
fn table_of_multiples() {
    for (multiple, cold, half, nine) in [
        (1.2, 711.374, 596.960, 215.367),
        (1.5, 352.672, 282.002, 84.900),
        (2.0, 172.609, 133.886, 36.845),
        (3.0, 70.670, 53.767, 14.083),
        (5.0, 24.493, 18.463, 4.731),
        (6.0, 16.903, 12.721, 3.248),
        (7.2, 11.687, 8.787, 2.238),
    ] {
        for (prior, want) in [(0.0f64, cold), (0.5, half), (0.9, nine)] {
            let got = time_to_trip(100.0, 1.05, 600.0, multiple * 105.0, prior * prior * 100.0);
            holds(&format!("{multiple} after {prior}"), got, want);
        }
    }
}

/// k = 1.05, base 100 A, tau 600 s: cold, and hot after 100 A.
#[test]
fn table_of_currents() {
    let hot = 100.0 * (100.0f64 / 105.0).powi(2);
    for (amps, cold, warm) in [(150.0, 404.007, 51.335), (200.0, 193.468, 20.858), (600.0, 18.662, 1.760)] {
        holds("cold", time_to_trip(100.0, 1.05, 600.0, amps, 0.0), cold);
        holds("hot", time_to_trip(100.0, 1.05, 600.0, amps, hot), warm);
    }
}

/// Time constants that trip at exactly the class time at 7.2 x base from cold, k = 1.05.
#[test]
fn class_times() {
    for (class, tau) in [(10.0, 465.2), (20.0, 930.4), (30.0, 1395.6)] {
        holds("class", time_to_trip(100.0, 1.05, tau, 720.0, 0.0), class);
    }
}

/// What k x base, held for ever, must not do.
#[test]
fn just_below_the_limit_never_trips() {
    assert!(time_to_trip(100.0, 1.05, 30.0, 104.5, 0.0).is_infinite());
}
