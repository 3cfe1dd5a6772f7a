//! Charge in the mill, as far as it shows: load that the feed does not account for.
//!
//! ```text
//! k = net load / feeder speed of `delay` ago      both over 13 s; the lowest of the last quarter of an hour, about
//! excess = net load - k speed                     what lies about in the chamber drags and breaks nothing
//! allowed = share k speed                         at least a twentieth of rated power
//! room = (allowed - excess) / (allowed / 2)       below one the feeder rises the more slowly, below nothing it goes back
//!
//! k is learnt after 20 s of feeding at a speed within an eighth of its mean, never from an empty mill, and anew after each stop.
//! ```
//!
//! A mill that chokes takes more power and passes no more (common practice's picture of choke feeding), so that the ratio of load to
//! feed rises above what it was while the mill was clear; tougher material looks the same at first and is learnt in a quarter of an
//! hour. Without a known idle power there is no net load and no such override. Shares at Q32.

use super::governor::ONE;
use crate::math::divide::signed;
use crate::settings::FeederCoefficients;

/// Windows kept; a longer delay is kept in coarser steps.
const KEPT: usize = 32;
/// Excess that is always allowed: a twentieth of rated power.
const ALWAYS: i64 = ONE / 20;
/// Most that is allowed, 2^10 of rated power: no excess comes near half of it, so that the bound changes nothing that is held.
const MOST: i64 = ONE << 10;
/// Windows of feeding, beyond the delay, before the ratio is learnt: 20 s.
const SETTLE: u16 = 100;

/// The memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Charge {
    /// Speeds at Q16 of one, oldest overwritten first.
    speeds: [u16; KEPT],
    at: u8,
    /// Windows since the last was kept, and since feeding began.
    since: u16,
    fed: u16,
    /// The speed that the load follows now, smoothed as the load is.
    speed: i64,
    /// Over 13 s.
    net: i64,
    mean: i64,
    /// Load for speed; 0 before it is known.
    ratio: i64,
    excess: i64,
}

impl Charge {
    /// Goes a window on.
    pub(super) fn step(&mut self, c: &FeederCoefficients, speed: i64, net: Option<i64>, feeding: bool) {
        let delayed = self.delayed(c.delay, speed);
        self.speed += c.filter.apply(delayed - self.speed);
        self.fed = if feeding { self.fed.saturating_add(1) } else { 0 };
        if !feeding {
            // What was learnt may have been of another material.
            self.ratio = 0;
        }
        let Some(net) = net else {
            (self.ratio, self.excess) = (0, 0);
            return;
        };
        self.net += (net - self.net) >> 6;
        self.mean += (self.speed - self.mean) >> 6;
        // On a ramp the load is behind the speed, and the ratio would be too low.
        let steady = (self.speed - self.mean).abs() < self.mean >> 3;
        // An empty hopper teaches nothing.
        let loaded = self.net > ALWAYS && self.mean > (c.least >> 1).max(1 << 24);
        if self.fed > c.delay.saturating_add(SETTLE) && loaded && steady {
            // The numerator is 39 + 24 bits, the divisor 16 at least: 2^47 at most, which no real mill comes near.
            let now = signed(self.net.clamp(0, 127 * ONE) << 24, self.mean >> 8).unwrap_or(0);
            self.ratio = match self.ratio {
                0 => now,
                known if now < known => known + ((now - known) >> 7), // 26 s
                known => known + ((now - known) >> 12),               // a quarter of an hour
            };
        }
        self.excess = self.net - self.accounted();
    }

    /// Load that the feed accounts for: a mean speed is at most one, so that it has the ratio's 47 bits, and it is never below nothing.
    fn accounted(&self) -> i64 {
        ((i128::from(self.ratio) * i128::from(self.mean)) >> 32) as i64
    }

    /// What is left of an error of the load: all of it while there is room, less and less from half of what is allowed on, and beyond
    /// that the excess itself.
    pub(super) fn held(&self, c: &FeederCoefficients, error: i64) -> i64 {
        let Some(share) = c.charge.filter(|_| self.ratio != 0) else { return error };
        // An excess is at most the net load, 2^40; below nothing it has 47 bits.
        let allowed = share.apply(self.accounted()).clamp(ALWAYS, MOST);
        let left = allowed - self.excess;
        if left <= 0 {
            return error.min(left);
        }
        // A share at Q16: 41 + 16 bits, and with the error 40 + 16; half of a twentieth at least.
        let half = allowed / 2;
        let share = signed(left.min(half) << 16, half).unwrap_or(0);
        error.min((error * share) >> 16)
    }

    /// Keeps the speed; gives that of so many windows ago.
    fn delayed(&mut self, delay: u16, speed: i64) -> i64 {
        if delay == 0 {
            return speed;
        }
        // Every n-th window, so that the delay takes at most all that is kept.
        let every = delay.div_ceil(KEPT as u16);
        let back = (delay / every).min(KEPT as u16 - 1) as u8;
        self.since += 1;
        if self.since >= every {
            self.since = 0;
            self.at = (self.at + 1) % KEPT as u8;
            if let Some(place) = self.speeds.get_mut(usize::from(self.at)) {
                *place = (speed >> 16).clamp(0, 0xffff) as u16;
            }
        }
        // The newest is this window's, or one of the last `every`.
        let place = (self.at + KEPT as u8 - back) % KEPT as u8;
        i64::from(self.speeds.get(usize::from(place)).copied().unwrap_or(0)) << 16
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;
    use crate::settings::{Feed, Feeder, Settings};
    use proptest::prelude::*;

    proptest! {
        /// Whatever was read and fed, up to loads of 127 at the slowest speed and the full one after it: what is held is what the formula
        /// of the file's head gives without a bound on its figures (reckoned in `f64`).
        #[test]
        fn what_is_held_is_what_the_formula_gives(
            slow in 0.01f64..1.0,
            load in -127.0f64..127.0,
            then in -127.0f64..127.0,
            charge_ppm in 1u32..=10_000_000,
            error in -254.0f64..2.0,
        ) {
            let feeder = Feeder { charge_ppm: Some(charge_ppm), filter_ms: 0, least_ppm: 10_000, delay_ms: 0, ..Feeder::default() };
            let feed = Feed { feeder: Some(feeder), ..Feed::default() };
            let c = Settings { feed, ..Settings::example() }.build().unwrap().judge.feed.feeder.unwrap();
            let at = |x: f64| (x * ONE as f64) as i64;
            let (mut charge, error) = (Charge::default(), at(error));
            let learnt = (0..600).map(|_| (slow, load));
            for (speed, load) in learnt.chain((0..600).map(|_| (1.0, then))) {
                charge.step(&c, at(speed), Some(at(load)), true);
                let whole = ONE as f64;
                let (ratio, mean) = (charge.ratio as f64 / whole, charge.mean as f64);
                let allowed = (f64::from(charge_ppm) / 1e6 * ratio * mean).max(whole / 20.0);
                let left = allowed - (charge.net as f64 - ratio * mean);
                let wanted = match charge.ratio {
                    0 => error as f64,
                    _ if left <= 0.0 => left.min(error as f64),
                    _ => (error as f64).min(error as f64 * (left / allowed * 2.0).min(1.0)),
                };
                let held = charge.held(&c, error) as f64;
                prop_assert!(
                    (held - wanted).abs() < 5e-3 * whole, // an error of 254 at Q16
                    "speed {}, load {}, ratio {}: {} held, {} wanted", speed, load, ratio, held / whole, wanted / whole
                );
            }
        }
    }
}
