//! Seeded numbers that stay the same over versions and machines.
//!
//! SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", 2014): the state goes up by
//! the odd constant 2^64 / golden ratio, and two multiply-and-shift rounds mix it. Written out here so that no
//! change of a library can alter a committed trace. Good enough for noise and for feeding pieces; not for secrets.

use serde::{Deserialize, Serialize};

/// A stream of pseudo-random numbers.
#[derive(Debug, Clone)]
pub struct Random {
    state: u64,
}

impl Random {
    /// The stream that belongs to a seed.
    pub const fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// One of several unrelated streams of the same seed, so that a change in how one is used leaves the others.
    #[must_use]
    pub fn stream(seed: u64, number: u64) -> Self {
        let mut root = Self::new(seed);
        let base = root.bits();
        Self::new(base ^ Self::new(number).bits())
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even over 0 (included) to 1 (excluded), in steps of 2^-53.
    pub fn unit(&mut self) -> f64 {
        // 53 bits fit an f64 exactly.
        (self.bits() >> 11).cast_signed() as f64 / (1_u64 << 53) as f64
    }

    /// Even over a span.
    pub fn within(&mut self, span: Span) -> f64 {
        span.at(self.unit())
    }

    /// Near enough normal with mean 0 and deviation 1: twelve even numbers less six. Needs no logarithm, whose
    /// last bit differs between machines, and never exceeds 6.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// From the first number to the second.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Span(pub f64, pub f64);

impl Span {
    /// The value a share (0 to 1) of the way along.
    pub fn at(self, share: f64) -> f64 {
        self.0 + (self.1 - self.0) * share
    }

    /// How far along a value lies (0 at the first number, 1 at the second); 0 for an empty span.
    pub fn share(self, value: f64) -> f64 {
        let width = self.1 - self.0;
        if width == 0.0 { 0.0 } else { (value - self.0) / width }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs for seed 1234567, as widely printed with the algorithm (quoted from memory).
    #[test]
    fn gives_the_published_sequence() {
        let mut random = Random::new(1_234_567);
        assert_eq!(random.bits(), 6_457_827_717_110_365_317);
        assert_eq!(random.bits(), 3_203_168_211_198_807_973);
        assert_eq!(random.bits(), 9_817_491_932_198_370_423);
    }

    #[test]
    fn normal_has_mean_zero_and_deviation_one() {
        let mut random = Random::new(5);
        let count = 100_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..count {
            let x = random.normal();
            sum += x;
            squares += x * x;
        }
        let n = f64::from(count);
        assert!((sum / n).abs() < 0.01);
        assert!((squares / n - 1.0).abs() < 0.02);
    }

    #[test]
    fn streams_of_one_seed_differ() {
        let first: Vec<u64> = (0..16).map(|n| Random::stream(7, n).bits()).collect();
        let mut sorted = first.clone();
        sorted.sort_unstable();
        sorted.dedup();
        assert_eq!(sorted.len(), first.len());
    }
}
