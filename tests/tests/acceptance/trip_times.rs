//! Random settings and profiles: the thermal image and the elements with a definite time against times worked out beside them.
//!
//! Thermal: IEC 60255-149's equation over pieces of constant current, solved in closed form here: limit 1 % and a half cycle, for
//! currents above 1.1 times k x base. Definite time: the moment at which the figure passes its pick-up, and the delay: limit one cycle
//! and 20 ms. `SHAFTWORK_CASES` says how many pairs of each; by default few enough for every run of the tests.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use shaftwork_core::judge::Judge;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::settings::{
    Action, Element, Jam, LongStart, Nominal, PhaseLoss, Settings, Thermal, Trips, Undervoltage, Watch,
};
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, SquareAmps, SquareVolts, Volts, Watts};
use shaftwork_core::{Cause, EventKind};

fn cases(by_default: u32) -> u32 {
    std::env::var("SHAFTWORK_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(by_default)
}

fn runner(by_default: u32) -> TestRunner {
    TestRunner::new(Config { cases: cases(by_default), failure_persistence: None, ..Config::default() })
}

/// A rate and a supply, and half cycles of it.
#[derive(Debug, Clone, Copy)]
struct Clock {
    rate_hz: u32,
    nominal: Nominal,
}

impl Clock {
    fn half_s(self) -> f64 {
        0.5 / f64::from(self.nominal.hertz())
    }

    fn half(self) -> Span {
        Span((f64::from(self.rate_hz) * self.half_s() * 65_536.0).round() as u64)
    }
}

fn clock() -> impl Strategy<Value = Clock> {
    let nominal = prop_oneof![Just(Nominal::Hz50), Just(Nominal::Hz60)];
    (2_000u32..=16_000, nominal).prop_map(|(rate_hz, nominal)| Clock { rate_hz, nominal })
}

fn settings(clock: Clock, trips: Trips) -> Settings {
    let mut settings = Settings::example();
    settings.sampling.rate_mhz = clock.rate_hz * 1_000;
    settings.supply.nominal = clock.nominal;
    settings.motor.rated_frequency_mhz = clock.nominal.hertz() * 1_000;
    settings.motor.synchronous_mrpm = clock.nominal.hertz() * 30_000;
    settings.trips = trips;
    settings
}

fn amps(a: f64) -> SquareAmps {
    SquareAmps::of(Amps::from_bits((a * 131_072.0).round() as i32))
}

fn volts(v: f64) -> SquareVolts {
    SquareVolts::of(Volts::from_bits((v * 65_536.0).round() as i32))
}

/// Seconds until a cause speaks, of half cycles that `record` makes for each beginning, at most so long.
fn speaks(
    clock: Clock,
    settings: &Settings,
    cause: Cause,
    most_s: f64,
    record: impl Fn(f64) -> HalfCycle,
) -> Option<f64> {
    let c = settings.build().unwrap().judge;
    let mut judge = Judge::new(&c);
    let half = clock.half();
    for n in 1..=(most_s / clock.half_s()).ceil() as u64 {
        let began_s = (n - 1) as f64 * clock.half_s();
        let cycle = Span(2 * half.0);
        judge.half_cycle(&c, &HalfCycle { end: Instant(n * half.0), length: half, cycle, ..record(began_s) });
        while let Some(event) = judge.pop_event() {
            let (EventKind::Trip { cause: found, .. } | EventKind::Alarm { cause: found, .. }) = event.kind else {
                continue;
            };
            if found == cause {
                return Some(event.at.0 as f64 / half.0 as f64 * clock.half_s());
            }
        }
    }
    None
}

/// When the level of pieces (length s, current over k x base) passes one, s.
fn analytic(tau_s: f64, initial: f64, pieces: &[(f64, f64)]) -> Option<f64> {
    let (mut level, mut at_s) = (initial, 0.0);
    for (length_s, multiple) in pieces {
        let square = multiple * multiple;
        if square > 1.0 {
            let due_s = tau_s * ((square - level) / (square - 1.0)).ln();
            if due_s <= *length_s {
                return Some(at_s + due_s);
            }
        }
        level = square + (level - square) * (-length_s / tau_s).exp();
        at_s += length_s;
    }
    None
}

#[test]
fn thermal_times_of_random_settings_and_profiles() {
    let profile = (
        clock(),
        (5.0..400.0f64, 0.9..1.3f64, 1.0..4.0f64, 0.0..0.8f64),
        // The last piece trips: between 1.1 and 7 times.
        prop::collection::vec((0.05..5.0f64, 0.3..0.95f64), 0..4),
        1.1..7.0f64,
    );
    let tested = runner(300).run(&profile, |(clock, (base, k, log_tau, initial), mut pieces, last)| {
        // 2.7 to 55 s: a longer one only takes longer, half cycle by half cycle.
        let tau_s = log_tau.exp();
        pieces.push((10.0 * tau_s, last));
        let trips = Trips {
            thermal: Some(Thermal {
                base_current_ma: (base * 1e3) as u32,
                k_ppm: (k * 1e6) as u32,
                heating_ms: (tau_s * 1e3) as u32,
                cooling_ms: (tau_s * 1e3) as u32,
                initial_ppm: (initial * 1e6) as u32,
                negative_sequence_ppm: 0,
                running_ppm: 1_000_000,
            }),
            ..Trips::default()
        };
        let wanted = analytic(tau_s, initial, &pieces).expect("the last piece trips");
        // Currents in pieces cut at whole half cycles: what comes to both.
        let cut: Vec<(f64, f64)> =
            pieces.iter().map(|(s, m)| ((s / clock.half_s()).round() * clock.half_s(), *m)).collect();
        let wanted = analytic(tau_s, initial, &cut).unwrap_or(wanted);
        let current = |at_s: f64| {
            let mut end_s = 0.0;
            let piece = cut.iter().find(|(length_s, _)| {
                end_s += length_s;
                at_s + 0.25 * clock.half_s() < end_s
            });
            amps(piece.or(cut.last()).map_or(0.0, |(_, m)| m * k * base))
        };
        let record = |at_s| HalfCycle { current: [current(at_s); 3], ..HalfCycle::default() };
        let settings = settings(clock, trips);
        let found = speaks(clock, &settings, Cause::ThermalOverload, 1.02 * wanted + 1.0, record);
        let off = found.unwrap_or(f64::INFINITY) - wanted;
        prop_assert!(off.abs() <= 0.01 * wanted + clock.half_s() + 1e-6, "{found:?} s, {wanted} s wanted");
        Ok(())
    });
    tested.unwrap_or_else(|error| panic!("{error}"));
}

/// The example motor running at its rated point.
fn rated() -> HalfCycle {
    HalfCycle {
        active: Watts::from_bits(58_663 << 16),
        reactive: Watts::from_bits(32_146 << 16),
        voltage: [volts(231.0); 3],
        current: [amps(97.0); 3],
        voltage_positive: Volts::from_bits(231 << 16),
        current_positive: Amps::from_bits(97 << 17),
        ..HalfCycle::default()
    }
}

#[test]
fn definite_times_of_random_settings() {
    let elements = prop_oneof![
        Just(Cause::Jam),
        Just(Cause::LongStart),
        Just(Cause::PhaseLoss),
        Just(Cause::Undervoltage),
        Just(Cause::Overvoltage),
        Just(Cause::CurrentUnbalance),
        Just(Cause::ResidualCurrent),
        Just(Cause::PhaseReversal),
        Just(Cause::SensorFault),
    ];
    // How far past the pick-up, when, and the delay.
    let case = (clock(), elements, 0.25..0.9f64, 1.02..1.5f64, 0.1..1.0f64, 0.0..6.0f64);
    let tested = runner(400).run(&case, |(clock, cause, share, past, from_s, delay_s)| {
        let ms = (delay_s * 1e3).round() as u32;
        let element =
            |pickup: f64| Some(Element { pickup_ppm: (pickup * 1e6) as u32, delay_ms: ms, action: Action::Trip });
        let watch = Some(Watch { delay_ms: ms, action: Action::Warning });
        let mut trips = Trips::default();
        let ratio = |x: f64| Amps::from_bits((97.0 * 131_072.0 * x) as i32);
        let mut bad = rated();
        match cause {
            Cause::Jam => {
                trips.jam = Some(Jam { pickup_ppm: 2_000_000, delay_ms: ms });
                bad.current = [amps(96.5 * 2.0 * past), amps(97.0), amps(97.0)];
            }
            Cause::LongStart => trips.long_start = Some(LongStart { delay_ms: ms.max(100), gaining_ms: None }),
            Cause::PhaseLoss => {
                trips.phase_loss = Some(PhaseLoss { pickup_ppm: (share * 1e6) as u32, delay_ms: ms });
                bad.current_negative = ratio(share * past);
            }
            Cause::CurrentUnbalance => {
                trips.current_unbalance = element(share);
                bad.current_negative = ratio(share * past);
            }
            Cause::ResidualCurrent => {
                trips.residual_current = element(share);
                bad.current_sum = ratio(share * past);
            }
            Cause::Undervoltage => {
                let pickup_ppm = (share * 1e6) as u32;
                trips.undervoltage = Some(Undervoltage { pickup_ppm, delay_ms: ms, start_delay_ms: 60_000 });
                bad.voltage[1] = volts(230.94 * share / past);
            }
            Cause::Overvoltage => {
                trips.overvoltage = element(1.0 + share);
                bad.voltage[2] = volts(230.94 * (1.0 + share) * past);
            }
            Cause::PhaseReversal => {
                trips.phase_reversal = watch;
                (bad.voltage_positive, bad.voltage_negative) = (Volts::from_bits(9 << 16), Volts::from_bits(231 << 16));
            }
            _ => {
                trips.sensor_fault = watch;
                bad.still = 0b010;
            }
        }
        let settings = settings(clock, trips);
        // A start that never ends begins with the first current; the others are bad from a half cycle on.
        let from_s = (from_s / clock.half_s()).round() * clock.half_s();
        let locked = HalfCycle {
            active: Watts::from_bits(70_301 << 16),
            reactive: Watts::from_bits(344_226 << 16),
            current: [amps(507.0); 3],
            current_positive: Amps::from_bits(507 << 17),
            ..rated()
        };
        let record = |at_s: f64| {
            let begun = at_s + 0.25 * clock.half_s() > from_s;
            match (cause, begun) {
                (Cause::LongStart, false) => {
                    HalfCycle { voltage_positive: Volts::from_bits(231 << 16), ..HalfCycle::default() }
                }
                (Cause::LongStart, true) => locked,
                (_, false) => rated(),
                (_, true) => bad,
            }
        };
        let delay_s = if cause == Cause::LongStart { f64::from(ms.max(100)) / 1e3 } else { f64::from(ms) / 1e3 };
        let found = speaks(clock, &settings, cause, from_s + delay_s + 1.0, record);
        let off = found.unwrap_or(f64::INFINITY) - from_s - delay_s;
        let allowed = 2.0 * clock.half_s() + 0.02;
        prop_assert!(
            (-1e-6..=allowed).contains(&off),
            "{cause:?}: {found:?} s, from {from_s} s with a delay of {delay_s} s"
        );
        Ok(())
    });
    tested.unwrap_or_else(|error| panic!("{error}"));
}
