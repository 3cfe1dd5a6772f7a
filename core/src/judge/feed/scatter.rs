//! How far the load scatters: its mean, and the 95th percentile of its windows.
//!
//! ```text
//! mean += (load - mean) / 512                                   102 s
//! high += 0.95 step where load > high, else high -= 0.05 step   step: 1/128 of rated power
//! ```
//!
//! Stochastic approximation (Robbins and Monro 1951): the steps up and down are as many as they are large the other way round where a
//! twentieth of all windows lie above. Down by 10 % of rated power it takes a minute, up a few seconds. Lumpy scrap is known by it:
//! what trips a motor are the heavy pieces that coincide, not the mean. Loads at Q32: 2^39 at most, and so are mean and percentile.

use super::governor::ONE;

/// Step of the percentile.
const STEP: i64 = ONE / 128;

/// The memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Scatter {
    mean: i64,
    high: i64,
}

impl Scatter {
    /// A window's load.
    pub(super) fn step(&mut self, load: i64) {
        if self.high == 0 {
            (self.mean, self.high) = (load, load);
        }
        self.mean += (load - self.mean) >> 9;
        self.high += if load > self.high { STEP - STEP / 20 } else { -(STEP / 20) };
    }

    /// How far the percentile is above the mean.
    pub(super) fn headroom(&self) -> i64 {
        (self.high - self.mean).max(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Loads spread evenly over 0.5 to 1.1: the mean is 0.8 and 95 % of them are below 1.07.
    #[test]
    fn the_percentile_of_even_loads() {
        let mut scatter = Scatter::default();
        let (mut sum, count) = (0.0, 4_000);
        for n in 0..2 * count {
            // Multiples of the golden section modulo one are spread evenly (Weyl).
            let load = 0.5 + 0.6 * (f64::from(n) * 0.618_033_988_75 % 1.0);
            scatter.step((load * ONE as f64) as i64);
            sum += if n >= count { scatter.headroom() as f64 / ONE as f64 } else { 0.0 };
        }
        let found = sum / f64::from(count);
        assert!((found - 0.27).abs() < 0.01, "{found}");
    }
}
