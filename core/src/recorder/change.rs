//! A change of level in a series: the step that explains most of how it spreads, and how long the change took.
//!
//! A step after `k` of `n` values explains `D² / (n k (n - k))` of the sum of squares about the mean, with
//! `D = n S_k - k S_n` and `S_k` the sum of the first `k` (least squares of two levels; D. V. Hinkley, "Inference about the change-point in
//! a sequence of random variables", Biometrika 57, 1970). Widths: at most 256 values within 2^13: `|D| <= k (n - k) 2^14 <= 2^28`, its
//! square fits 56 bits.

use crate::math::divide::signed;

/// The most values that are looked at.
pub(super) const MOST: usize = 256;
/// How sure a change must be: what it explains over what a value of the rest does (F of one level against two). Independent values that
/// have no change exceed 12 in one of a hundred series (D. W. K. Andrews, "Tests for parameter instability and structural
/// change with unknown change point", Econometrica 61, 1993, table I).
pub(super) const INDEPENDENT: u64 = 12;
/// Loads of neighbouring tenths of a second belong to the same strike: three times that.
pub(super) const ALIKE: u64 = 36;
/// A level is a mean of at least so many values.
const LEAST: usize = 2;

/// A change of level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Change {
    /// The levels before it and after it.
    pub(super) from: i32,
    pub(super) to: i32,
    /// The first value that has left the level before, and the first that has come to the one after: where a tenth and nine tenths
    /// are passed, and an eighth of what lies between further out, as if it went straight.
    pub(super) begins: usize,
    pub(super) ends: usize,
}

/// The mean; nothing of nothing.
pub(super) fn mean(values: &[i32]) -> i32 {
    let sum: i64 = values.iter().map(|x| i64::from(*x)).sum();
    signed(sum, values.len() as i64).unwrap_or_default() as i32
}

/// Finds the change, if there is one that is as sure as `least`. Values lie within ±8 191.
pub(super) fn find(values: &[i32], least: u64) -> Option<Change> {
    let values = values.get(values.len().saturating_sub(MOST)..)?;
    let n = values.len() as i64;
    let sum: i64 = values.iter().map(|x| i64::from(*x)).sum();
    let squares: i64 = values.iter().map(|x| i64::from(*x) * i64::from(*x)).sum();
    let spread = (n * squares - sum * sum).unsigned_abs();
    let (mut before, mut best) = (0, (0, 0));
    for (k, x) in values.iter().enumerate() {
        let (k_i64, d) = (k as i64, n * before - k as i64 * sum);
        before += i64::from(*x);
        if k < LEAST || k + LEAST > values.len() {
            continue;
        }
        let explained = signed(d * d, k_i64 * (n - k_i64)).unwrap_or_default().unsigned_abs();
        if explained > best.0 {
            best = (explained, k);
        }
    }
    let (explained, at) = best;
    // F = explained (n - 2) / (spread - explained).
    let rest = spread.saturating_sub(explained);
    if explained == 0 || explained.saturating_mul(values.len().saturating_sub(2) as u64) < rest.saturating_mul(least) {
        return None;
    }
    let (older, newer) = values.split_at_checked(at)?;
    let smooth = Smooth::over(older, mean(newer));
    let first = Change { from: mean(older), to: mean(newer), begins: at, ends: at };
    // The first levels have a part of the change in them: once more with what lies outside of it.
    let second = first.walked(values, at, &smooth);
    Some(second.walked(values, at, &smooth))
}

impl Change {
    /// Begins and ends where the levels are left and come to, and the levels of what lies outside.
    fn walked(self, values: &[i32], at: usize, smooth: &Smooth) -> Self {
        let Self { from, to, .. } = self;
        let (rises, tenth) = (to > from, (to - from) / 10);
        let left = |place: &usize| {
            let x = smooth.at(values, *place);
            if rises { x > from + tenth } else { x < from + tenth }
        };
        let short = |place: &usize| {
            let x = smooth.at(values, *place);
            if rises { x < to - tenth } else { x > to - tenth }
        };
        let begins = at - (0..at).rev().take_while(left).count();
        let ends = at + (at..values.len() - 1).take_while(short).count();
        // What is no longer than the smoothing makes of a step is one.
        let (begins, ends) = if ends - begins <= 2 * smooth.reach { (at, at) } else { (begins, ends) };
        let further = (ends - begins) / 8;
        let (begins, ends) = (begins.saturating_sub(further), (ends + further).min(values.len() - 1));
        let (older, newer) = (values.get(..begins).unwrap_or_default(), values.get(ends..).unwrap_or_default());
        Self { from: if older.is_empty() { from } else { mean(older) }, to: mean(newer), begins, ends }
    }
}

/// A running mean over so many values, more the more they spread, so that a single strike is no change of level.
struct Smooth {
    reach: usize,
}

impl Smooth {
    /// By how the older values spread, over the change to `to`: up to a twentieth none, up to a fifth five values, else eleven.
    fn over(older: &[i32], to: i32) -> Self {
        let from = mean(older);
        let squares: i64 = older.iter().map(|x| i64::from(x - from) * i64::from(x - from)).sum();
        let spread = signed(squares, older.len() as i64).unwrap_or_default(); // its square
        let rise = i64::from(to - from) * i64::from(to - from);
        Self {
            reach: match () {
                () if spread * 400 <= rise => 0,
                () if spread * 25 <= rise => 2,
                () => 5,
            },
        }
    }

    fn at(&self, values: &[i32], place: usize) -> i32 {
        let to = (place + self.reach + 1).min(values.len());
        mean(values.get(place.saturating_sub(self.reach)..to).unwrap_or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::vec::Vec;

    #[test]
    fn steps_and_ramps_are_found_where_they_are() {
        let step: Vec<i32> = (0..100).map(|n| if n < 93 { 60 } else { 250 }).collect();
        assert_eq!(find(&step, ALIKE), Some(Change { from: 60, to: 250, begins: 93, ends: 93 }));
        let fall: Vec<i32> = step.iter().rev().copied().collect();
        assert_eq!(find(&fall, ALIKE), Some(Change { from: 250, to: 60, begins: 7, ends: 7 }));
        // 40 to 100 in thirty values from the fiftieth on.
        let ramp: Vec<i32> = (0..110).map(|n| 40 + 2 * (n - 50).clamp(0, 30)).collect();
        let found = find(&ramp, ALIKE).unwrap();
        assert!(found.begins.abs_diff(50) <= 1 && found.ends.abs_diff(80) <= 1, "{found:?}");
        assert!(found.from.abs_diff(40) <= 2 && found.to.abs_diff(100) <= 2, "{found:?}");
        // The same under strikes: of three of ten values 30 higher.
        let rough: Vec<i32> = ramp.iter().enumerate().map(|(n, x)| x + if n * 7 % 10 < 3 { 30 } else { 0 }).collect();
        let found = find(&rough, ALIKE).unwrap();
        assert!(found.begins.abs_diff(50) <= 5 && found.ends.abs_diff(80) <= 5, "{found:?}");
        assert!((found.to - found.from).abs_diff(60) <= 6, "{found:?}");
    }

    #[test]
    fn even_and_short_series_have_no_change() {
        for values in [&[][..], &[5], &[5, 9], &[5, 5, 5, 5, 5, 5], &[8_191; 256], &[-8_191; 300]] {
            assert_eq!(find(values, ALIKE), None, "{values:?}");
        }
        let noise: Vec<i32> = (0..200_i32).map(|n| n * 7_919 % 97).collect();
        assert_eq!(find(&noise, ALIKE), None);
        let widest: Vec<i32> = (0..256).map(|n| if n < 128 { -8_191 } else { 8_191 }).collect();
        assert_eq!(find(&widest, ALIKE), Some(Change { from: -8_191, to: 8_191, begins: 128, ends: 128 }));
    }

    proptest::proptest! {
        #[test]
        fn whatever_the_values(values in proptest::collection::vec(-8_191..=8_191_i32, 0..300)) {
            if let Some(found) = find(&values, INDEPENDENT) {
                let latest = &values[values.len().saturating_sub(MOST)..];
                let (least, most) = (latest.iter().min().unwrap(), latest.iter().max().unwrap());
                assert!(found.begins <= found.ends && found.ends < latest.len(), "{found:?}");
                assert!((least..=most).contains(&&found.from) && (least..=most).contains(&&found.to), "{found:?}");
            }
        }
    }
}
