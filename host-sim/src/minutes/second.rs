//! The highest mean load over a second: what a motor's torque must carry, the rotor helping.
//!
//! ```text
//! rows of 0.2 s   | a | b | c | d | e | f |        mean = (b + c + d + e + f) / 5
//!                     '------ 1 s -------'         the oldest row counts with what of it lies in the second
//! ```

use std::collections::VecDeque;

/// Microseconds in a second.
const SECOND_US: i64 = 1_000_000;
/// Stamps are rounded: what is nearer touches.
const SAME_US: i64 = 1_000;

/// The rows of the last second of an uninterrupted run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Second {
    /// Lengths, µs, and mean loads, %.
    rows: VecDeque<(i64, f64)>,
    us: i64,
    end_us: i64,
}

impl Second {
    /// Whether rows of this length tell it, µs.
    pub fn told_by(row_us: i64) -> bool {
        row_us <= SECOND_US + SAME_US
    }

    /// Takes a row; gives the mean over the second that ends with it. `None`: the run is not a second long yet, or the mill does not run.
    pub fn push(&mut self, [from_us, to_us]: [i64; 2], load_pct: Option<f64>) -> Option<f64> {
        let own_us = to_us - from_us;
        if (from_us - self.end_us).abs() > SAME_US {
            self.clear();
        }
        self.end_us = to_us;
        let Some(load_pct) = load_pct.filter(|_| own_us > 0 && Self::told_by(own_us)) else {
            self.clear();
            return None;
        };
        self.rows.push_back((own_us, load_pct));
        self.us += own_us;
        while let Some((oldest_us, _)) = self.rows.front()
            && self.us - oldest_us >= SECOND_US - SAME_US
            && self.rows.len() > 1
        {
            self.us -= oldest_us;
            self.rows.pop_front();
        }
        if self.us < SECOND_US - SAME_US {
            return None;
        }
        // What of the oldest row lies before the second.
        let before_us = (self.us - SECOND_US).max(0);
        let oldest = self.rows.front().map_or(0.0, |row| row.1);
        let sum: f64 = self.rows.iter().map(|(us, load)| *us as f64 * load).sum();
        Some((sum - before_us as f64 * oldest) / (self.us - before_us) as f64)
    }

    fn clear(&mut self) {
        self.rows.clear();
        self.us = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn means(rows: &[(i64, f64)]) -> Vec<Option<f64>> {
        let mut second = Second::default();
        let mut at = 0;
        let push = |&(us, load): &(i64, f64)| {
            let span = [at, at + us];
            at += us;
            second.push(span, Some(load))
        };
        rows.iter().map(push).collect()
    }

    /// By hand: five rows of 0.2 s are a second; of rows of 0.3 s the oldest of four counts with a third.
    #[test]
    fn a_mean_over_a_second() {
        let rows: Vec<_> = [10.0, 20.0, 30.0, 40.0, 50.0, 160.0].map(|load| (200_000, load)).to_vec();
        assert_eq!(means(&rows), [None, None, None, None, Some(30.0), Some(60.0)]);
        let rows: Vec<_> = [30.0, 60.0, 90.0, 120.0].map(|load| (300_000, load)).to_vec();
        let last = means(&rows)[3].unwrap();
        assert!((last - (10.0 / 3.0 * 0.9 + 0.3 * 270.0)).abs() < 1e-9, "{last}");
        assert_eq!(means(&[(1_000_000, 70.0), (999_500, 80.0)]), [Some(70.0), Some(80.0)]);
        assert_eq!(means(&[(60_000_000, 70.0)]), [None], "a minute tells no second");
    }

    /// A stop and a gap begin anew.
    #[test]
    fn a_run_that_is_interrupted() {
        let mut second = Second::default();
        assert_eq!(second.push([0, 900_000], Some(50.0)), None);
        assert_eq!(second.push([900_000, 1_000_000], None), None);
        assert_eq!(second.push([1_000_000, 1_900_000], Some(50.0)), None);
        assert_eq!(second.push([2_900_000, 3_800_000], Some(50.0)), None);
        assert_eq!(second.push([3_800_000, 4_000_000], Some(100.0)), Some(60.0));
    }
}
