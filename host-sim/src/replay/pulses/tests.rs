use super::*;
use proptest::prelude::*;

const COUNT: PulseForm = PulseForm::Count { bits: None };
const WIDE: PulseForm = PulseForm::Count { bits: Some(16) };
const EDGE: PulseForm = PulseForm::Edge { level: 1.0, least_s: 0.001 };

/// At 4 kHz: a level must last four rows of 0.25 ms.
fn counted(form: PulseForm, readings: &[f64]) -> Result<(f64, Vec<String>), Bad> {
    let mut pulses = Pulses::new(form, 4_000.0);
    let mut count = 0.0;
    for reading in readings {
        count = pulses.take(*reading)?;
    }
    Ok((count, pulses.warnings()))
}

/// By hand.
#[test]
fn a_count_rises_wraps_and_starts_anew() {
    let nan = f64::NAN;
    for (form, readings, want, words) in [
        (COUNT, &[7.0, 7.0, 8.0, nan, 10.0][..], 3.0, ""),
        (COUNT, &[-1.0, 0.0, 1.0], 2.0, ""),
        (COUNT, &[9.0, 10.0, 0.0, 1.0], 2.0, "started anew once"),
        (COUNT, &[65_534.0, 65_535.0, 0.0], 1.0, "give counter_bits"),
        (WIDE, &[65_534.0, 65_535.0, 0.0, 1.0], 3.0, "over its end once"),
        (WIDE, &[32_766.0, 32_767.0, -32_768.0], 2.0, "over its end once"),
        (WIDE, &[65_400.0, 65_500.0, 20.0], 156.0, "over its end once"),
        (WIDE, &[65_500.0, 20.0, 65_500.0], f64::NAN, ""),
        (WIDE, &[33_000.0, 33_001.0, 0.0], 1.0, "started anew once"),
        (WIDE, &[500.0, 501.0, 0.0], 1.0, "started anew once"),
        (COUNT, &[5_000.0, 5_001.0, 0.0, 0.0, 5_002.0], 2.0, "went on as before"),
        (COUNT, &[5_000.0, 5_100.0, 90.0, 190.0], 290.0, "started anew once"),
    ] {
        match counted(form, readings) {
            Ok((count, told)) => {
                assert!((count - want).abs() < 1e-9, "{readings:?}: {count}");
                assert!(told.is_empty() == words.is_empty() && told.iter().all(|t| t.contains(words)), "{told:?}");
            }
            Err(bad) => assert!(want.is_nan(), "{readings:?}: {bad:?}"),
        }
    }
}

#[test]
fn what_is_no_count_is_refused() {
    for (readings, found) in [
        (&[1.0, 1.5][..], "a count of 1.5 pulses"),
        (&[5_000.0, 5_001.0, 3_000.0], "falls from 5001 to 3000"),
        (&[1.0, -1.0], "falls from 1 to -1"),
    ] {
        assert!(counted(COUNT, readings).unwrap_err().0.contains(found), "{readings:?}");
    }
}

/// After a gap a count may have started anew and gone far.
#[test]
fn a_gap_is_bridged_by_a_count_and_not_by_a_level() {
    let mut count = Pulses::new(COUNT, 4_000.0);
    for (reading, want) in [(10.0, 0.0), (11.0, 1.0)] {
        assert!((count.take(reading).unwrap() - want).abs() < 1e-9);
    }
    count.gap();
    assert!((count.take(31.0).unwrap() - 21.0).abs() < 1e-9);
    count.gap();
    assert!((count.take(9.0).unwrap() - 30.0).abs() < 1e-9);
    let mut edge = Pulses::new(EDGE, 4_000.0);
    edge.take(0.0).unwrap();
    edge.gap();
    for _ in 0..8 {
        assert!(edge.take(1.0).unwrap() < 0.5, "it may have been high before");
    }
}

/// Two pulses of four rows, one of three, a dip of three rows in a pulse: by hand two, and two bounces.
#[test]
fn edges_are_counted_and_bounces_are_not() {
    let of = |parts: &[(f64, usize)]| -> Vec<f64> {
        parts.iter().flat_map(|(level, rows)| std::iter::repeat_n(*level, *rows)).collect()
    };
    let level = of(&[(1.0, 9), (0.0, 9), (1.0, 4), (0.0, 4), (1.0, 3), (0.0, 9), (1.0, 5), (0.2, 3), (0.9, 5)]);
    let (count, told) = counted(EDGE, &level).unwrap();
    assert!((count - 2.0).abs() < 1e-9 && told[0].starts_with("2 changes"), "{count} {told:?}");
    // Between a quarter and three quarters nothing changes.
    let noisy = of(&[(0.0, 9), (0.7, 9), (0.0, 9), (0.8, 9), (0.3, 9), (1.0, 9)]);
    assert!((counted(EDGE, &noisy).unwrap().0 - 1.0).abs() < 1e-9);
    let volts = PulseForm::Edge { level: 24.0, least_s: 0.0 };
    assert!((counted(volts, &[0.3, 17.9, 18.0, 6.1, 6.0, 23.0]).unwrap().0 - 2.0).abs() < 1e-9);
}

proptest! {
    /// Pulses anywhere, of any length that lasts: the level's edges come to what a count says, wraps included.
    #[test]
    fn both_forms_agree(gaps in prop::collection::vec((4_usize..60, 4_usize..60), 0..80), from in 0_u32..65_536) {
        let (mut level, mut count) = (vec![0.0; 5], vec![f64::from(from); 5]);
        for (n, (high, low)) in gaps.iter().enumerate() {
            let total = f64::from((from + n as u32 + 1) % 65_536);
            level.extend(std::iter::repeat_n(1.0, *high).chain(std::iter::repeat_n(0.0, *low)));
            count.extend(std::iter::repeat_n(total, high + low));
        }
        let by_edge = counted(EDGE, &level).unwrap().0;
        let by_count = counted(WIDE, &count).unwrap().0;
        prop_assert!((by_edge - gaps.len() as f64).abs() < 1e-9, "{by_edge}");
        prop_assert!((by_edge - by_count).abs() < 1e-9);
    }

    /// Whatever the readings, mass never falls and nothing panics.
    #[test]
    fn a_count_never_falls(readings in prop::collection::vec(prop_oneof![-4.0..9.0_f64, any::<f64>(), (0_u32..9).prop_map(f64::from)], 0..60)) {
        for form in [COUNT, WIDE, EDGE] {
            let mut pulses = Pulses::new(form, 4_000.0);
            let mut before = 0.0;
            for reading in &readings {
                let Ok(now) = pulses.take(*reading) else { break };
                prop_assert!(now >= before);
                before = now;
            }
        }
    }
}
