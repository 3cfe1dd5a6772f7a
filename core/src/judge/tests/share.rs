//! How far each element is on its way: by hand from its delay or its level.

use super::*;
use crate::settings::{Action, LongStart, StartsPerHour, Wedge};
use crate::unit::Rpm;

impl Bench {
    fn share(&self, cause: Cause) -> f64 {
        f64::from(self.judge.share(&self.c, cause, self.now).to_bits()) / f64::from(1 << 24)
    }
}

#[track_caller]
fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-4, "{found}, {wanted} wanted");
}

/// 200 % of 96.5 A for 0.5 s: the first half cycle beyond it picks up, each one after it is a fiftieth of the delay.
#[test]
fn a_delay_passes_and_is_forgotten() {
    let mut b = Bench::new(&Settings::example());
    let heavy = record((110_000, 90_000, 215));
    b.hold(&record(RATED), 1.0);
    near(b.share(Cause::Jam), 0.0);
    for (held_s, wanted) in [(0.01, 0.0), (0.10, 0.2), (0.30, 0.8)] {
        b.hold(&heavy, held_s);
        near(b.share(Cause::Jam), wanted);
        assert!(b.judge.decision().trip.is_none());
    }
    b.hold(&record(RATED), 0.02);
    near(b.share(Cause::Jam), 0.0);
    b.hold(&heavy, 0.52).hold(&record(RATED), 1.0);
    near(b.share(Cause::Jam), 1.0);
    assert_eq!(b.judge.decision().trip, Some(Cause::Jam));
    near(b.share(Cause::Overvoltage), 0.0);
}

/// The image as intervals tell it; a start of 3 s in 15 s; the first of two starts that are allowed.
#[test]
fn a_start_a_count_and_a_level() {
    let mut settings = Settings::example();
    settings.trips.starts_per_hour = Some(StartsPerHour { most: 2, action: Action::Trip });
    let mut b = Bench::new(&settings);
    b.hold(&record(REST), 1.0);
    for cause in [Cause::LongStart, Cause::StartsPerHour, Cause::ThermalOverload] {
        near(b.share(cause), 0.0);
    }
    b.hold(&record(LOCKED), 3.0);
    near(b.share(Cause::LongStart), 3.0 / 15.0);
    near(b.share(Cause::StartsPerHour), 1.0 / 3.0);
    // (507 / (1.05 x 96.5))² x (1 - exp(-3 / 600)), IEC 60255-149.
    let level = (507.0f64 / (1.05 * 96.5)).powi(2) * (1.0 - (-3.0f64 / 600.0).exp());
    assert!((b.share(Cause::ThermalOverload) - level).abs() < 2e-3, "{}", b.share(Cause::ThermalOverload));
    b.hold(&record(RATED), 2.0);
    near(b.share(Cause::LongStart), 0.0);
}

/// 15 s are allowed, 25 s while a tachometer shows the rotor gaining speed: after 20 s of such a start 20 of 25 have passed; it has not tripped,
/// and is not told as if it had.
#[test]
fn a_start_that_is_seen_to_gain_speed() {
    let mut settings = Settings::example();
    settings.trips.long_start = Some(LongStart { delay_ms: 15_000, gaining_ms: Some(25_000) });
    let mut b = Bench::new(&settings);
    b.judge.set_speed(Some(Rpm::from_bits(0)));
    b.hold(&record(REST), 1.0);
    for second in 1..=20 {
        b.judge.set_speed(Some(Rpm::from_bits(second * 60 * 4_096)));
        b.hold(&record(LOCKED), 1.0);
        assert!(b.share(Cause::LongStart) < 1.0, "{second} s");
    }
    near(b.share(Cause::LongStart), 20.0 / 25.0);
    assert_eq!(b.trips(), []);
}

/// 150 % of 55 kW over 0.1 s without an inertia: a load of 100 kW at the shaft for five half cycles is 5 kJ of 8.25 kJ.
#[test]
fn work_that_stands() {
    let mut settings = Settings::example();
    settings.mill.inertia_gm2 = None;
    settings.trips.wedge = Some(Wedge { pickup_ppm: 1_500_000, window_ms: 100, action: Action::Trip });
    let mut b = Bench::new(&settings);
    b.hold(&record(IDLE), 1.0);
    let idle = b.share(Cause::Wedge);
    let shaft = |b: &mut Bench, record: &HalfCycle| {
        b.now = b.now.after(HALF);
        let moment = b.judge.half_cycle(&b.c, &HalfCycle { end: b.now, ..*record });
        moment.shaft.to_bits() as f64 / 65_536.0 / 100.0
    };
    let base: f64 = (0..10).map(|_| shaft(&mut b, &record(IDLE))).sum();
    near(idle, base / 8_250.0);
    // The load rises: what stands is five half cycles of before and five of now.
    let heavy = record((70_000, 50_000, 125));
    let more: f64 = (0..5).map(|_| shaft(&mut b, &heavy)).sum();
    assert!((b.share(Cause::Wedge) - (base / 2.0 + more) / 8_250.0).abs() < 1e-3);
}
