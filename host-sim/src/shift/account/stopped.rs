//! Stopped time by reason: what no one has given a reason for is left, so that all of it adds up to the stopped time.

use super::super::log::merge::Merged;
use super::super::stoppages::{Stoppage, Stoppages};
use super::{Accounts, place};
use crate::minutes::MINUTE_US;

/// A share of a stoppage for which the mill must have stood: of less a reader is told.
const STOOD: f64 = 0.5;
/// Stoppages that are told so, at most.
const TOLD: usize = 10;

/// Where stopped time stands among the states.
const STOPPED: usize = 0;

impl Accounts {
    /// Gives stopped time its reasons; tells of each stoppage for how long the mill stood, µs. Within a minute what stood is shared out by
    /// time, for a minute does not tell where in it the mill stood.
    pub fn give_reasons(&mut self, logs: &Merged, stoppages: &Stoppages, stamp: impl Fn(i64) -> String) -> Vec<i64> {
        let [from, to] = [self.whole.from, self.whole.to];
        let (mut outside, mut doubtful) = (0, Vec::new());
        let mut all = Vec::with_capacity(stoppages.all.len());
        for Stoppage { span, reason, .. } in &stoppages.all {
            let (mut stood_us, mut inside_us) = (0, 0);
            let minutes = span.from_us.div_euclid(MINUTE_US)..=(span.to_us - 1).div_euclid(MINUTE_US);
            for minute in (*minutes.start()).max(from)..=(*minutes.end()).min(to - 1) {
                let us = span.to_us.min((minute + 1) * MINUTE_US) - span.from_us.max(minute * MINUTE_US);
                inside_us += us;
                let Some(bin) = logs.bins.get(minute) else { continue };
                // Both are 6e7 at most.
                let own_us = bin.states_us[STOPPED] * us / MINUTE_US;
                if own_us > 0 {
                    for sums in [&mut place(&mut self.shifts, &mut self.outside, minute).sums, &mut self.whole.sums] {
                        *sums.reasons_us.entry(reason.clone()).or_default() += own_us;
                    }
                }
                stood_us += own_us;
            }
            outside += usize::from(inside_us == 0);
            if inside_us > 0 && (stood_us as f64) < STOOD * inside_us as f64 {
                doubtful.push(format!(
                    "stoppage \"{reason}\", {} to {}: the mill stood for {:.2} h of {:.2} h in the period, as the logs tell",
                    stamp(span.from_us),
                    stamp(span.to_us),
                    stood_us as f64 / 3.6e9,
                    inside_us as f64 / 3.6e9
                ));
            }
            all.push(stood_us);
        }
        let more = doubtful.len().saturating_sub(TOLD);
        self.notes.extend(doubtful.into_iter().take(TOLD));
        if more > 0 {
            self.notes
                .push(format!("{more} stoppages beside these in which the mill stood for less than half of the time"));
        }
        if outside > 0 {
            self.notes.push(format!("{outside} stoppages lie outside of the period and are not counted"));
        }
        all
    }
}
