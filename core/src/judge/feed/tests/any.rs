//! Whatever the inputs and the settings are.

use super::*;
use crate::settings::{FeedJam, Search};
use proptest::prelude::*;
use std::vec;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever comes: the output stays within its bounds; forwards and backwards never together; nothing moves without permit,
    /// under a trip, with an input lost; no window changes the speed by more than a ramp but to nothing; nothing moves that was
    /// not released, or without the sounder before it.
    #[test]
    fn whatever_the_inputs(
        steps in prop::collection::vec((0u8..12, 0.0f64..2.0, 0u16..1_200), 1..300),
        reverse_ms in prop::sample::select(vec![0u32, 1_000]),
        least_ppm in prop::sample::select(vec![10_000u32, 300_000]),
    ) {
        let jam = FeedJam { reverse_ms, delay_ms: 400, tries: 1, ..FeedJam::default() };
        let search = Some(Search { lowest_ppm: 300_000, highest_ppm: 1_000_000, step_ppm: 50_000, dwell_ms: 10_000 });
        let feeder = SetFeeder { jam, sounder_ms: 1_000, most_ppm: 900_000, least_ppm, search, ..SetFeeder::default() };
        let mut bench = Bench::new(feeder);
        let mut c = bench.c;
        c.resume_delay = Span(10 * HALF);
        bench.c = c;
        let (mut permit, mut mode, mut load) = (Some(true), FeedMode::Automatic, 0.12);
        let mut released = false;
        let mut before = Feeder::default();
        for (what, level, permille) in steps {
            let mut press = false;
            match what {
                0 => permit = None,
                1 => permit = Some(false),
                2..=4 => permit = Some(true),
                5 => mode = FeedMode::Manual(if permille < 400 { 0 } else { permille }),
                6 => mode = FeedMode::Automatic,
                7 => bench.may = Err(FeedCause::Trip),
                8 => bench.may = Err([FeedCause::Mill, FeedCause::Input, FeedCause::Element][usize::from(permille % 3)]),
                9 => press = true,
                10 => bench.feed.gap(),
                _ => bench.may = Ok(()),
            }
            bench.thermal = level;
            bench.current = level;
            load = if permille % 2 == 0 { level } else { load };
            bench.inputs(permit, mode, press);
            released |= press && permit == Some(true);
            for _ in 0..6 {
                let told = bench.window(load);
                let moves = told.permille > 0 || told.reverse;
                prop_assert!(told.permille <= 900);
                prop_assert!(!(told.reverse && (told.permille > 0 || reverse_ms == 0)));
                let may = permit == Some(true) && bench.may.is_ok();
                prop_assert!(may || !moves && !told.sounder, "{:?} {:?}", told, bench.may);
                prop_assert!(released || !moves);
                let begins = before.permille == 0 && told.permille > 0;
                prop_assert!(!begins || before.sounder || before.permille > 0, "no sounder before it");
                if before.permille > 0 && told.permille > 0 {
                    prop_assert!(told.permille <= before.permille + 5 && told.permille + 41 >= before.permille);
                }
                prop_assert!(bench.feed.feed() == Feed::Feed || told.permille == 0);
                // No rise while an override is beyond its limit: at the trip level the target is nothing.
                if level > 1.2 && load > 0.1 && before.permille > 0 {
                    let most = before.permille.max((least_ppm / 1_000) as u16);
                    prop_assert!(told.permille <= most, "{:?} {:?}", before, told);
                }
                before = told;
            }
        }
    }

    /// Any settings in range, any readings: no panic, and the speed between its bounds while it feeds.
    #[test]
    fn whatever_the_settings(
        figures in prop::collection::vec(0u32..=u32::MAX, 16),
        loads in prop::collection::vec(-127.0f64..127.0, 1..200),
    ) {
        let within = |n: usize, low: u32, high: u32| low + ((u64::from(figures[n]) * u64::from(high - low + 1)) >> 32) as u32;
        let most_ppm = within(0, 10_000, 1_000_000);
        let feeder = SetFeeder {
            target_ppm: within(1, 1, 2_000_000),
            deadband_ppm: within(2, 0, 500_000),
            gain_ppm: within(3, 1, 16_000_000),
            integral_ms: within(4, 200, 36_000_000),
            filter_ms: within(5, 0, 60_000),
            delay_ms: within(6, 0, 120_000),
            up_ppm_s: within(7, 1, 10_000_000),
            down_ppm_s: within(8, 1, 10_000_000),
            least_ppm: within(9, 10_000, most_ppm),
            most_ppm,
            restart_ppm: within(10, 0, 1_000_000),
            sounder_ms: 1_000,
            current_ppm: within(11, 1, 100_000_000),
            thermal_ppm: within(12, 1, 999_999),
            peak_ppm: (figures[14] % 2 == 0).then(|| within(14, 1, 10_000_000)),
            charge_ppm: Some(within(13, 1, 10_000_000)),
            ..SetFeeder::default()
        };
        let mut bench = Bench::new(feeder).released();
        bench.c.stop = ratio(126.0);
        bench.c.resume = ratio(126.0);
        bench.c.surge = ratio(127.0);
        let least = (feeder.least_ppm / 1_000) as u16;
        for load in loads {
            bench.current = load.abs();
            bench.thermal = load.abs();
            let told = bench.window(load);
            prop_assert!(u32::from(told.permille) <= (most_ppm + 500) / 1_000);
            let feeds = matches!(bench.feed.phase, Phase::Feeding { .. });
            prop_assert!(!feeds || told.permille >= least, "{} below {}", told.permille, least);
        }
    }
}
