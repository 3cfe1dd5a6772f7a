//! The governor: a PI controller of the feeder's speed on the load, with overrides.
//!
//! ```text
//! v = I + Kc e                      e: the smaller of the errors of target and current, held back by the charge
//! u = v between least and most, and no further from the last u than the ramps allow
//! I = I + Kc (h / Ti) e + (h / Ti) (u - v)        h = 0.2 s, a window
//! ```
//!
//! Where a peak is set, the target is the peak less the load's headroom (95th percentile over mean), if that is lower: lumpy material is
//! held the lower the lumpier it is, never below a quarter of the target that is set.
//!
//! Shares at Q32: u of full speed, errors of rated power or rated current. What the output cannot follow is taken back from the
//! integral (back-calculation, tracking time Ti: Åström and Hägglund, *PID Controllers*, 1995, from memory), so that nothing winds
//! up at a limit, on a ramp or while nothing is fed. An override is a limit that takes the controller over while it is the nearest
//! (limiting control: Itävuo and others, *Mass balance control of crushing circuits*, 2019). Load and current are smoothed by
//! y += (x - y) h / (T + h), which is stable for any T.
//!
//! Widths: a load is at most 127, 2^39 at Q32; times a gain of 16 2^43; the integral is kept below 2^46.

use super::FeedMode;
use super::charge::Charge;
use super::scatter::Scatter;
use super::search::Searching;
use crate::judge::report::Limit;
use crate::math::divide::by;
use crate::settings::FeederCoefficients;
use crate::unit::Ratio;

/// The whole, Q32.
pub(super) const ONE: i64 = 1 << 32;
/// The integral's bound.
const MOST: i64 = 1 << 46;

/// What a window brought.
#[derive(Debug, Clone, Copy)]
pub(in crate::judge) struct Reading {
    /// Mean shaft power over rated power.
    pub(in crate::judge) load: Ratio,
    /// Largest phase's current over rated current at its end.
    pub(in crate::judge) current: Ratio,
    /// Thermal level at its end.
    pub(in crate::judge) thermal: Option<Ratio>,
    /// Idle power over rated power, where it is known.
    pub(in crate::judge) idle: Option<Ratio>,
    /// Total fed, where it is weighed.
    pub(in crate::judge) mass_mg: Option<u64>,
}

/// At Q32.
pub(super) fn share(ratio: Ratio) -> i64 {
    i64::from(ratio.to_bits()) << 8
}

/// The memory; shares at Q32.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Governor {
    /// Feeder speed now.
    speed: i64,
    integral: i64,
    /// Whether a load was seen since it was forgotten.
    seen: bool,
    /// Smoothed.
    load: i64,
    current: i64,
    /// The speed of the last half minute of undisturbed feeding.
    good: i64,
    /// The last error.
    error: i64,
    limit: Limit,
    charge: Charge,
    search: Searching,
    scatter: Scatter,
}

impl Governor {
    /// Feeding begins: at a share of the last good speed, without a jump of the integral.
    pub(super) fn begin(&mut self, c: &FeederCoefficients, mode: FeedMode) {
        let most = if let FeedMode::Manual(permille) = mode { manual(c, permille) } else { c.most };
        self.speed = c.restart.apply(self.good).max(c.least).min(most);
        self.integral = self.speed - c.gain.apply(self.error);
    }

    /// Goes a window on.
    pub(super) fn step(&mut self, c: &FeederCoefficients, mode: FeedMode, r: &Reading, feeding: bool) {
        let (load, current) = (share(r.load), share(r.current));
        if core::mem::replace(&mut self.seen, true) {
            self.load += c.filter.apply(load - self.load);
            self.current += c.filter.apply(current - self.current);
        } else {
            (self.load, self.current) = (load, current);
        }
        if !feeding {
            self.speed = 0;
        }
        let net = r.idle.map(|idle| self.load - share(idle));
        self.charge.step(c, self.speed, net, feeding);
        if feeding && (c.peak.is_some() || c.search.is_some()) {
            self.scatter.step(load);
        }
        self.search.step(c, r, self.speed, feeding && mode.automatic());
        let (error, limit) = self.error(c, r.thermal);
        (self.error, self.limit) = (error, limit);
        if !feeding {
            return;
        }
        let v = match mode {
            FeedMode::Automatic => self.integral + c.gain.apply(error),
            FeedMode::Manual(permille) => manual(c, permille),
        };
        // Nothing rises while an override is beyond its limit, by hand neither.
        let most = if limit != Limit::None && error < 0 { self.speed.max(c.least) } else { c.most };
        let wanted = if mode.automatic() { v.max(c.least).min(most) } else { v.min(most) };
        let next = wanted.max(self.speed - c.down).min(self.speed + c.up);
        self.integral = match mode {
            FeedMode::Automatic => self.integral + c.integral.apply(error) + c.back.apply(next - v),
            // What automatic goes on from.
            FeedMode::Manual(_) => next - c.gain.apply(error),
        }
        .clamp(-MOST, MOST);
        self.speed = next;
        self.good += (next - self.good) >> 7; // 25.6 s
    }

    /// The smallest of all errors, and whose it is where it is no longer the target's alone.
    fn error(&self, c: &FeederCoefficients, thermal: Option<Ratio>) -> (i64, Limit) {
        let headroom = self.scatter.headroom();
        let set = self.search.target(c, headroom);
        let target = c.peak.map_or(set, |peak| set.min(peak - headroom).max(set >> 2));
        // From its level on to the trip level the target goes down to nothing.
        let hot = thermal.map_or(0, |level| c.cooling.apply(share(level) - c.thermal)).clamp(0, ONE);
        let allowed = ((i128::from(target) * i128::from(ONE - hot)) >> 32) as i64;
        let error = allowed - self.load;
        // A search steps by less than the band.
        let band = if c.search.is_some() { 0 } else { c.deadband };
        let dull = error - error.max(-band).min(band);
        let held_by = if hot > 0 {
            Limit::Thermal
        } else if target < set {
            Limit::Scatter
        } else {
            Limit::None
        };
        let mut least = (dull, held_by);
        let current = c.current - self.current;
        if current < least.0 {
            least = (current, Limit::Current);
        }
        let held = self.charge.held(c, least.0);
        if held < least.0 { (held, Limit::Charge) } else { least }
    }

    /// Samples are missing.
    pub(super) fn forget(&mut self) {
        *self = Self { good: self.good, search: self.search.again(), scatter: self.scatter, ..Self::default() };
    }

    /// Smoothed load.
    pub(super) const fn load(&self) -> Ratio {
        Ratio::from_bits((self.load >> 8) as i32)
    }

    /// Feeder speed.
    pub(super) const fn permille(&self) -> u16 {
        ((self.speed * 1_000 + ONE / 2) >> 32) as u16
    }

    /// What holds it.
    pub(super) const fn limit(&self) -> Limit {
        self.limit
    }
}

/// What a person has set.
fn manual(c: &FeederCoefficients, permille: u16) -> i64 {
    by(i64::from(permille.min(1_000)) * ONE, 1_000).min(c.most)
}
