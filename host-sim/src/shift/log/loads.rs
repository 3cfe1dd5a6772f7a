//! How loads are spread over time: what of a shift's load is not exceeded for 95 % of it, from the rows as they are.
//!
//! Rows are too many to be kept. They are counted in steps of load, apart for each stretch between two borders of the calendar: every
//! shift and every period is made of whole ones.

use std::collections::BTreeMap;

use crate::minutes::{BREAKING, IDLE, MINUTE_US, Row};
use crate::shift::calendar::Calendar;

/// Width of a step, % of rated load: a figure is off by half of it at most.
const STEP_PCT: f64 = 0.2;

/// Running time by load.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Spread {
    /// Time, µs, by the load's count of steps.
    us: BTreeMap<i32, f64>,
}

impl Spread {
    /// Those of another time as well.
    pub fn join(&mut self, other: &Self) {
        for (step, us) in &other.us {
            *self.us.entry(*step).or_default() += us;
        }
    }

    /// The load that is not exceeded for a share of the time, %; `None`: no row tells a load.
    pub fn not_exceeded(&self, share: f64) -> Option<f64> {
        let whole: f64 = self.us.values().sum();
        let mut sum = 0.0;
        let step = self.us.iter().find(|(_, us)| {
            sum += **us;
            sum >= share * whole * (1.0 - 1e-12)
        });
        step.map(|(step, _)| f64::from(*step) * STEP_PCT)
    }
}

/// Spreads by stretch of the calendar.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Loads {
    /// By the stretch's first minute: one after its last, and what it has.
    all: BTreeMap<i64, (i64, Spread)>,
    /// The stretch of the row before.
    now: [i64; 2],
}

impl Loads {
    /// Takes a row; what of it lies in another stretch is shared out by time.
    pub fn add(&mut self, row: &Row, calendar: &Calendar) {
        let runs = row.states[IDLE] + row.states[BREAKING];
        let Some(load) = row.load_pct.filter(|_| runs > 0.0) else { return };
        let step = (load / STEP_PCT).round() as i32;
        let mut from_us = row.from_us;
        while from_us < row.to_us {
            let minute = from_us.div_euclid(MINUTE_US);
            if !(self.now[0]..self.now[1]).contains(&minute) {
                self.now = calendar.stretch(minute);
            }
            let to_us = row.to_us.min(self.now[1] * MINUTE_US);
            let own = self.all.entry(self.now[0]).or_insert((self.now[1], Spread::default()));
            *own.1.us.entry(step).or_default() += runs * (to_us - from_us) as f64;
            from_us = to_us;
        }
    }

    /// Those of another log as well.
    pub fn join(&mut self, other: &Self) {
        for (from, (to, spread)) in &other.all {
            self.all.entry(*from).or_insert((*to, Spread::default())).1.join(spread);
        }
    }

    /// All of a time that begins and ends at borders of the calendar, minutes.
    pub fn between(&self, from: i64, to: i64) -> Spread {
        let mut sum = Spread::default();
        for (_, (_, spread)) in self.all.range(..to).filter(|(_, (end, _))| *end > from) {
            sum.join(spread);
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::minutes::tests::row;
    use crate::shift::calendar::tests::calendar;

    /// By hand: of 100 s the first 95 have loads of 1 to 95 %; a row over the change of shifts belongs to both.
    #[test]
    fn what_is_not_exceeded() {
        let berlin = calendar("UTC", &[("a", "00:00", "01:00"), ("b", "01:00", "02:00")]);
        let mut loads = Loads::default();
        let with = |from: f64, to: f64, load| Row { load_pct: Some(load), ..row(from, to, 1.0, BREAKING) };
        for n in 1..=100 {
            loads.add(&with(f64::from(n), f64::from(n + 1), f64::from(n)), &berlin);
        }
        loads.add(&with(3_599.0, 3_601.0, 120.0), &berlin);
        loads.add(&row(3_700.0, 3_800.0, 1.0, 0), &berlin);
        let (first, second) = (loads.between(0, 60), loads.between(60, 120));
        assert_eq!(first.not_exceeded(0.95), Some(96.0), "of 101 s");
        assert_eq!(second.not_exceeded(0.5).map(f64::round), Some(120.0));
        let mut both = first.clone();
        both.join(&second);
        assert_eq!(both, loads.between(0, 120));
        assert_eq!(Spread::default().not_exceeded(0.95), None);
    }
}
