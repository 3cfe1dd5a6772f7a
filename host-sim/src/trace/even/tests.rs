//! Tests of the evenness rule.

use super::super::number::printed;
use super::*;
use proptest::prelude::*;

/// Feeds stamps printed with `digits` decimals; the place is the index.
fn run(
    stamps: impl IntoIterator<Item = f64>,
    digits: usize,
    want: Option<f64>,
    split: bool,
) -> Result<Option<f64>, String> {
    let mut even = Evenness::new("t", "line", want, split, false);
    for (k, t) in stamps.into_iter().enumerate() {
        even.stamp(printed(format!("{t:.digits$}").as_bytes()).unwrap(), k as u64).map_err(|f| f.to_string())?;
    }
    even.finish().map_err(|f| f.to_string())
}

// The limits 2 %, one digit and 0.1 % are this project's format for traces.

#[test]
fn even_stamps_pass_at_any_rate_and_digit() {
    for rate in [2000.0, 3200.0, 4000.0, 12_800.0, 16_000.0] {
        for digits in [2, 4, 6, 9] {
            let hz = run((0..20_000).map(|k| k as f64 / rate + 17.0), digits, Some(rate), false).unwrap().unwrap();
            assert!((hz / rate - 1.0).abs() < 0.01, "{rate} {digits}: {hz}");
        }
    }
}

#[test]
fn one_stamp_off_is_named() {
    for at in [1_u64, 2, 5, 63, 64, 500, 998] {
        let stamps = |off: f64| (0..1000_u64).map(move |k| (k as f64 + if k == at { off } else { 0.0 }) / 4000.0);
        assert!(run(stamps(0.0195), 9, Some(4000.0), false).is_ok());
        for off in [0.03, -0.03, 0.4, 0.6, 0.95] {
            let error = run(stamps(off), 9, Some(4000.0), false).unwrap_err();
            assert!(error.contains("even place") || at < 3, "{at} {off}: {error}");
            assert!(error.contains(&format!("line {at}:")) || at < 3, "{at} {off}: {error}");
        }
    }
}

#[test]
fn a_drift_within_the_file_does_not_pass() {
    // Both halves are within 0.1 % of 4000 Hz, their mean too; the middle lies a sample off.
    let stamps = (0..8000).map(|k| k as f64 / 4000.0 + if k > 4000 { (k - 4000) as f64 * 2.5e-7 } else { 0.0 });
    assert!(run(stamps, 9, Some(4000.0), false).unwrap_err().contains("even place"));
}

#[test]
fn the_mean_rate_is_held_to_a_thousandth() {
    for (rate, ok) in
        [(4003.9, true), (4004.1, false), (3996.1, true), (3995.9, false), (8000.0, false), (2000.0, false)]
    {
        let result = run((0..8000).map(|k| k as f64 / rate), 9, Some(4000.0), false);
        assert_eq!(result.is_ok(), ok, "{rate}: {result:?}");
    }
}

#[test]
fn significant_digits_grow_coarse_and_that_is_allowed() {
    // Six significant digits, as a bare stream prints them: 1 ms after 100 s.
    let mut even = Evenness::new("t", "line", Some(4000.0), false, false);
    for k in 0..500_000_u64 {
        let t = k as f64 / 4000.0;
        let whole = if t >= 1.0 { t.log10().floor() as usize + 1 } else { 0 };
        even.stamp(printed(format!("{t:.*}", 6 - whole).as_bytes()).unwrap(), k).unwrap();
    }
    assert!((even.finish().unwrap().unwrap() - 4000.0).abs() < 0.1);
}

#[test]
fn gaps_are_refused_or_split() {
    let stamps = || (0..1000).map(|k| f64::from(if k < 500 { k } else { k + 40 }) / 4000.0);
    let error = run(stamps(), 6, Some(4000.0), false).unwrap_err();
    assert!(error.contains("line 500:") && error.contains("about 40 samples"), "{error}");
    assert!((run(stamps(), 6, Some(4000.0), true).unwrap().unwrap() - 4000.0).abs() < 0.01);
    // A jump in the last stamp is one as well.
    let error = run(stamps().take(501), 6, Some(4000.0), false).unwrap_err();
    assert!(error.contains("line 500:") && error.contains("about 40 samples"), "{error}");
    let one = (0..100).map(|k| f64::from(if k < 50 { k } else { k + 1 }) / 4000.0);
    assert!(run(one, 6, None, false).unwrap_err().contains("about 1 sample is missing"));
}

#[test]
fn stamps_that_stand_still_are_no_time() {
    // Ten seconds of frames cannot all be at 0 s; half a second printed without decimals can.
    let error = run((0..40_000).map(|_| 0.0), 6, Some(4000.0), false).unwrap_err();
    assert!(error.contains("all 0 s"), "{error}");
    assert_eq!(run((0..2000).map(|_| 0.0), 0, Some(4000.0), false), Ok(None));
    assert_eq!(run((0..40_000).map(|_| 0.0), 6, None, false), Ok(None));
    let twice = [0.0, 0.0, 0.000_25, 0.0005];
    assert!(run(twice, 6, Some(4000.0), false).unwrap_err().contains("several samples"));
}

proptest! {
    /// Oracle: the rule itself, with the mean taken over the whole file.
    #[test]
    fn agrees_with_the_rule(jitter in proptest::collection::vec(-0.03_f64..0.03, 3..200)) {
        let t: Vec<f64> = jitter.iter().enumerate().map(|(k, j)| ((k as f64 + j) / 4000.0 * 1e12).round() / 1e12).collect();
        let mean = (t[t.len() - 1] - t[0]) / (t.len() - 1) as f64;
        let worst = t.iter().enumerate().map(|(k, x)| ((x - t[0]) / mean - k as f64).abs()).fold(0.0, f64::max);
        prop_assume!((worst - 0.02).abs() > 1e-6);
        prop_assert_eq!(run(t, 12, None, false).is_ok(), worst < 0.02);
    }

    #[test]
    fn never_panics(stamps in proptest::collection::vec(any::<f64>(), 0..100), split in any::<bool>()) {
        let mut even = Evenness::new("t", "line", Some(4000.0), split, true);
        for (k, t) in stamps.into_iter().filter(|t| t.is_finite()).enumerate() {
            let _ = even.stamp(Printed { value: t, decimals: 3, whole: 9 }, k as u64);
        }
        let _ = even.finish();
    }
}
