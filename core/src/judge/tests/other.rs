//! Going on under other settings than those that something was remembered under, as whoever compares settings on a capture does.

use super::*;
use crate::settings::{Action, Wedge};
use crate::unit::Rpm;

/// 400 % of 55 kW: what stands is told, and nothing decides.
fn wedge(window_ms: u32, inertia_gm2: Option<u32>) -> Settings {
    let mut settings = Settings::example();
    settings.mill.inertia_gm2 = inertia_gm2;
    settings.trips.wedge = Some(Wedge { pickup_ppm: 4_000_000, window_ms, action: Action::Trip });
    settings
}

impl Bench {
    /// Goes on from what another remembers.
    fn going_on(settings: &Settings, other: &Self) -> Self {
        let mut bench = Self { now: other.now, ..Self::new(settings) };
        bench.judge.restore(&bench.c, other.judge.memory());
        bench
    }

    fn stands(&self) -> i32 {
        self.judge.share(&self.c, Cause::Wedge, self.now).to_bits()
    }
}

/// Loads that come and go, none the same for long.
fn loads() -> impl Iterator<Item = HalfCycle> {
    (0..200).map(|n| record([IDLE, RATED, (70_000, 50_000, 125), RATED, (62_000, 40_000, 110)][n * n % 5]))
}

/// A shorter window stands as if it had been so from the beginning; the same one to the bit; a longer one never higher, and as if it had
/// been so once it is full.
#[test]
fn another_window_of_the_wedge() {
    for [before_ms, after_ms] in [[220, 100], [220, 40], [100, 90], [100, 100], [100, 220], [40, 220]] {
        for kept in 0..40 {
            let mut before = Bench::new(&wedge(before_ms, None));
            let mut always = Bench::new(&wedge(after_ms, None));
            for half in [IDLE; 60].map(record).into_iter().chain(loads().take(kept)) {
                before.hold(&half, 0.01);
                always.hold(&half, 0.01);
            }
            let mut after = Bench::going_on(&wedge(after_ms, None), &before);
            if before_ms == after_ms {
                assert_eq!(after.judge.memory(), before.judge.memory());
            }
            for (n, half) in loads().skip(kept).take(60).enumerate() {
                let (found, wanted) = (after.hold(&half, 0.01).stands(), always.hold(&half, 0.01).stands());
                let full = before_ms >= after_ms || n >= 22;
                assert!(
                    found == wanted || (!full && found < wanted),
                    "{before_ms} {after_ms} {kept} {n}: {found} {wanted}"
                );
            }
        }
    }
}

/// A rotor at one speed lends nothing, whatever its inertia is said to be now.
#[test]
fn another_inertia_is_no_load() {
    for inertia in [Some(5_000), Some(20_000), None] {
        let mut before = Bench::new(&wedge(100, Some(10_000)));
        before.judge.set_speed(Some(Rpm::from_bits(1_480 * 4_096)));
        before.hold(&record(IDLE), 1.0).hold(&record(RATED), 0.5);
        let mut after = Bench::going_on(&wedge(100, inertia), &before);
        let wanted = before.stands();
        for n in 0..20 {
            let found = after.hold(&record(RATED), 0.01).stands();
            assert!((found - wanted).abs() <= 16, "{inertia:?} {n}: {found}, {wanted} wanted");
        }
    }
}
