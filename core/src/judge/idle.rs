//! Idle power: what the shaft gives with nothing in the mill. A setting, or learnt.
//!
//! A *reading* is the mean of ten windows (2 s) whose shaft power stays below half load and within 2 % of rated power:
//! the mill breaks nothing so evenly for long. Of readings
//!
//! * the lowest counts: what is left in the chamber can only add to it;
//! * the lowest of this day and the day before, no longer: a day (24 h) begins with a reading;
//! * the first ten even seconds in the minute after a run-up count more than all before: hammers, screen and belt are
//!   changed at rest.
//!
//! Idle power follows a fall of any size at the next reading, a rise up to 15 % within two days, a larger one at the next
//! start. Readings within 15 % of it tell how well it repeats (experimental standard deviation, JCGM 100, 4.2.2).

use crate::math::divide::{by, part};
use crate::math::root::isqrt;
use crate::math::scale::{Scale, ratio_q};
use crate::settings::JudgeCoefficients;
use crate::time::{Instant, Span};
use crate::unit::Watts;

/// Windows of a reading.
const HELD: u8 = 10;
/// Readings that decide anew after a run-up.
const FRESH: u8 = 5;
/// Readings that a spread wants: of five the standard deviation itself is known to a third (JCGM 100, table E.1).
const LEAST: u16 = 5;

/// Readings that make it sure.
const SURE: u16 = 30;

/// Idle power's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Idle {
    /// In force.
    power: Option<Watts>,
    set: bool,
    window: Level,
    fresh: Level,
    /// When the motor last ran up.
    ran_up: Option<Instant>,
    day: Day,
    spread: Spread,
    /// The mean of what was in force until so much running time had passed, where a rise came after it.
    before: Option<(Watts, Span)>,
}

/// The lowest readings of this day and the day before, and when this one began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Day {
    began: Instant,
    lowest: i64,
    before: i64,
}

/// Powers that stay alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Level {
    count: u8,
    lowest: i64,
    highest: i64,
    sum: i64,
}

/// Spread of readings about their mean: the mean in 2^-20 W, squares in (1/16 W)².
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Spread {
    count: u16,
    mean: i64,
    squares: u64,
}

impl Idle {
    pub(super) const fn new(c: &JudgeCoefficients) -> Self {
        let (level, spread) =
            (Level { count: 0, lowest: 0, highest: 0, sum: 0 }, Spread { count: 0, mean: 0, squares: 0 });
        Self {
            power: c.idle,
            set: c.idle.is_some(),
            window: level,
            fresh: level,
            ran_up: None,
            day: Day { began: Instant(0), lowest: i64::MAX, before: i64::MAX },
            spread,
            before: None,
        }
    }

    /// What is in force.
    pub(super) const fn power(&self) -> Option<Watts> {
        self.power
    }

    /// What is in force, once it is sure: set, or seen for a minute.
    pub(super) const fn sure(&self) -> Option<Watts> {
        if self.set || self.spread.count >= SURE { self.power } else { None }
    }

    /// The mean of what was in force over the running time: with it net energy is shaft energy less idle power times
    /// time, whatever changed.
    pub(super) fn mean(&self, running: Span) -> Option<Watts> {
        let power = self.power?;
        let Some((before, until)) = self.before else { return Some(power) };
        let share = Scale::from_q(ratio_q(until.min(running).0.cast_signed().max(0), running.0, 24).into(), 24);
        let off = before.to_bits().saturating_sub(power.to_bits());
        Some(Watts::from_bits(power.to_bits().saturating_add(share.apply(off))))
    }

    /// Standard deviation of the readings; `None` from too few.
    pub(super) fn spread(&self) -> Option<Watts> {
        self.spread.deviation()
    }

    /// As it was learnt before a power cut.
    pub(super) fn resume(&mut self, now: Instant, learnt: Option<Watts>) {
        if let Some(power) = learnt.filter(|power| !self.set && power.to_bits() > 0) {
            self.power = Some(power);
            self.day = Day { began: now, lowest: power.to_bits(), before: i64::MAX };
        }
    }

    /// The motor has run up from rest.
    pub(super) const fn ran_up(&mut self, now: Instant) {
        self.ran_up = Some(now);
        self.cut();
        self.fresh.count = 0;
    }

    /// What comes does not follow on what was.
    pub(super) const fn cut(&mut self) {
        self.window.count = 0;
    }

    /// Takes a window's mean shaft power: `steady` while running at speed throughout. `running` is the running time so far.
    pub(super) fn window(&mut self, c: &JudgeCoefficients, now: Instant, shaft: Watts, steady: bool, running: Span) {
        let (rated, power) = (c.motor.rated_power.to_bits(), shaft.to_bits());
        if !steady || power > rated / 2 || power <= 0 {
            (self.window.count, self.fresh.count) = (0, 0);
            return;
        }
        let even = by(rated, 50);
        let Some((reading, _)) = self.window.hold(power, even, HELD) else { return };
        let fresh = self.ran_up.is_some_and(|at| now.since(at) <= c.fresh);
        let anew = if fresh { self.fresh.hold(reading, even, FRESH) } else { None };
        let Some(idle) = self.power else { return self.begin(now, reading) };
        let near = within(reading, idle, 15);
        if self.set {
            if near {
                self.spread.add(reading);
            }
            return;
        }
        if let Some((_, lowest)) = anew
            && lowest > idle.to_bits()
        {
            self.ran_up = None;
            self.keep(idle, running);
            return self.begin(now, lowest);
        }
        if reading < idle.to_bits() && !near {
            return self.begin(now, reading);
        }
        if near {
            self.spread.add(reading);
            if now.since(self.day.began) >= c.day {
                self.day = Day { began: now, lowest: reading, before: self.day.lowest };
            }
            self.day.lowest = self.day.lowest.min(reading);
            let lowest = self.day.lowest.min(self.day.before);
            if lowest > idle.to_bits() {
                self.keep(idle, running);
            }
            self.power = Some(Watts::from_bits(lowest));
        }
    }

    /// Idle power is learnt anew from a reading.
    #[inline(never)] // in three places
    fn begin(&mut self, now: Instant, reading: i64) {
        self.power = Some(Watts::from_bits(reading));
        self.day = Day { began: now, lowest: reading, before: i64::MAX };
        self.spread = Spread::default();
        self.spread.add(reading);
    }

    /// What was in force stays so for the time that has passed.
    #[inline(never)] // in two places
    fn keep(&mut self, idle: Watts, running: Span) {
        self.before = Some((self.mean(running).unwrap_or(idle), running));
    }
}

impl Level {
    /// Takes a power; gives the mean and the lowest once so many in a row lay within a span of each other.
    fn hold(&mut self, power: i64, span: i64, count: u8) -> Option<(i64, i64)> {
        let (lowest, highest) = (self.lowest.min(power), self.highest.max(power));
        if self.count == 0 || highest - lowest > span {
            *self = Self { count: 1, lowest: power, highest: power, sum: power };
            return None;
        }
        // Ten powers below 2^47.
        *self = Self { count: self.count + 1, lowest, highest, sum: self.sum.saturating_add(power) };
        if self.count < count {
            return None;
        }
        let mean = by(self.sum, self.count.into());
        self.count = 0;
        Some((mean, lowest))
    }
}

impl Spread {
    /// Takes a reading (Welford 1962, from memory). Squares of readings within 30 % of each other hold a day's 43 200 at 100 MW,
    /// beyond that they saturate.
    fn add(&mut self, reading: i64) {
        // 46 bits, and 16 more of fraction.
        let x = (reading >> 12).clamp(0, 1 << 46) << 16;
        if self.count == u16::MAX {
            (self.count, self.squares) = (self.count / 2, self.squares / 2);
        }
        self.count += 1;
        let off = x - self.mean;
        self.mean += by(off, self.count.into());
        // Both have one sign.
        let square = (off.unsigned_abs() >> 8).saturating_mul((x - self.mean).unsigned_abs() >> 8);
        self.squares = self.squares.saturating_add(square >> 16);
    }

    fn deviation(&self) -> Option<Watts> {
        if self.count < LEAST {
            return None;
        }
        let variance = part(self.squares, u32::from(self.count - 1));
        Some(Watts::from_bits(i64::from(isqrt(variance)) << 12))
    }
}

/// Whether a power (Watts' bits) is within so many per cent of idle power.
#[inline(never)] // in five places
pub(super) const fn within(power: i64, idle: Watts, percent: i64) -> bool {
    let off = power.saturating_sub(idle.to_bits()).saturating_abs();
    off.saturating_mul(100) <= idle.to_bits().saturating_mul(percent)
}

#[cfg(test)]
mod tests;
