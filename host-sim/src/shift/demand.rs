//! Demand: the highest mean over blocks that begin with the clock, and over a span that begins at any minute.
//!
//! A block that holds a minute without measured power has no mean. A block belongs to a shift if it lies wholly inside it; one that
//! reaches over the change of shifts belongs to the month alone.

use super::calendar::Calendar;
use crate::minutes::{Bins, MINUTE_US};

/// The highest mean power and where it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// kW, or kVA.
    pub value: f64,
    /// The minute at which its block or span begins.
    pub at: i64,
}

/// Peaks of a stretch of time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Demand {
    /// By blocks, kW.
    pub block_kw: Option<Peak>,
    /// By blocks, kVA: the root of active and reactive energy squared; `None` where reactive power is not told.
    pub block_kva: Option<Peak>,
    /// By a span that slides a minute at a time, kW.
    pub sliding_kw: Option<Peak>,
    /// The same, kVA.
    pub sliding_kva: Option<Peak>,
    /// Blocks without a mean.
    pub unknown: u32,
    /// All blocks.
    pub blocks: u32,
}

/// A block's means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// Its first minute.
    pub at: i64,
    /// Active and apparent power; `None`: not measured throughout.
    pub power: Option<(f64, Option<f64>)>,
}

/// Energies up to each minute of a stretch, with how many of its minutes are whole.
struct Sums {
    from: i64,
    kwh: Vec<f64>,
    kvarh: Vec<f64>,
    whole: Vec<u32>,
    reactive: Vec<u32>,
}

impl Sums {
    fn new(bins: &Bins, from: i64, to: i64) -> Self {
        let mut all = Self { from, kwh: vec![0.0], kvarh: vec![0.0], whole: vec![0], reactive: vec![0] };
        let (mut kwh, mut kvarh, mut whole, mut reactive) = (0.0, 0.0, 0, 0);
        for minute in from..to {
            let bin = bins.get(minute).copied().unwrap_or_default();
            kwh += bin.total_kwh();
            kvarh += bin.kvarh;
            whole += u32::from(bin.us == MINUTE_US);
            reactive += u32::from(bin.kvar_us == MINUTE_US);
            all.kwh.push(kwh);
            all.kvarh.push(kvarh);
            all.whole.push(whole);
            all.reactive.push(reactive);
        }
        all
    }

    /// Mean powers of so many minutes from one on.
    fn mean(&self, at: i64, span: i64) -> Option<(f64, Option<f64>)> {
        let from = usize::try_from(at - self.from).ok()?;
        let to = from + span as usize;
        if to >= self.kwh.len() || i64::from(self.whole[to] - self.whole[from]) < span {
            return None;
        }
        let hours = span as f64 / 60.0;
        let kw = (self.kwh[to] - self.kwh[from]) / hours;
        let kvar = (self.kvarh[to] - self.kvarh[from]) / hours;
        let known = i64::from(self.reactive[to] - self.reactive[from]) == span;
        Some((kw, known.then(|| kw.hypot(kvar))))
    }
}

/// The blocks that lie wholly in a stretch of minutes.
pub fn blocks(bins: &Bins, calendar: &Calendar, from: i64, to: i64, block_min: i64) -> Vec<Block> {
    let sums = Sums::new(bins, from, to);
    let mut all = Vec::new();
    // Blocks begin with the clock of legal time; whole hours of its change keep them.
    let mut at = from;
    while at + block_min <= to {
        let off = (at + calendar.offset_min(at)).rem_euclid(block_min);
        if off != 0 {
            at += block_min - off;
            continue;
        }
        all.push(Block { at, power: sums.mean(at, block_min) });
        at += block_min;
    }
    all
}

fn higher(best: &mut Option<Peak>, value: f64, at: i64) {
    if best.is_none_or(|best| value > best.value) {
        *best = Some(Peak { value, at });
    }
}

/// The peaks of a stretch of minutes.
pub fn peaks(bins: &Bins, calendar: &Calendar, from: i64, to: i64, block_min: i64) -> Demand {
    let mut out = Demand::default();
    for block in blocks(bins, calendar, from, to, block_min) {
        out.blocks += 1;
        match block.power {
            None => out.unknown += 1,
            Some((kw, kva)) => {
                higher(&mut out.block_kw, kw, block.at);
                if let Some(kva) = kva {
                    higher(&mut out.block_kva, kva, block.at);
                }
            }
        }
    }
    let sums = Sums::new(bins, from, to);
    for at in from..=(to - block_min) {
        let Some((kw, kva)) = sums.mean(at, block_min) else { continue };
        higher(&mut out.sliding_kw, kw, at);
        if let Some(kva) = kva {
            higher(&mut out.sliding_kva, kva, at);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::calendar::tests::calendar;
    use super::*;
    use crate::minutes::tests::row;

    fn bins(spells: &[(f64, f64)]) -> Bins {
        let mut bins = Bins::default();
        let mut at = 0.0;
        for (minutes, kw) in spells {
            bins.add(&row(at * 60.0, (at + minutes) * 60.0, *kw, 3));
            at += minutes;
        }
        bins
    }

    fn near(found: Option<Peak>, wanted: f64, within: f64) {
        let found = found.unwrap().value;
        assert!((found - wanted).abs() < within, "{found}, {wanted} wanted");
    }

    /// Bureau of Energy Efficiency (India), guide book 3, chapter 1 (from memory): 3606.7 kW over half an hour, not the peak of 4100.
    #[test]
    fn demand_is_no_peak() {
        let bins = bins(&[(4.0, 2_500.0), (12.0, 3_600.0), (6.0, 4_100.0), (8.0, 3_800.0)]);
        let found = peaks(&bins, &calendar("UTC", &[]), 0, 30, 30);
        near(found.block_kw, 3_606.7, 0.05);
        // Reactive power is half of active power in these rows.
        near(found.block_kva, 3_606.667 * 1.25f64.sqrt(), 0.05);
    }

    /// Own arithmetic: 56.67 and 53.33 kW by blocks, 80 kW by a span that slides.
    #[test]
    fn a_sliding_span_sees_what_two_blocks_share() {
        let bins = bins(&[(7.0, 30.0), (15.0, 80.0), (8.0, 30.0)]);
        let found = peaks(&bins, &calendar("UTC", &[]), 0, 30, 15);
        near(found.block_kw, 56.67, 0.005);
        near(found.sliding_kw, 80.0, 1e-9);
        assert_eq!((found.sliding_kw.unwrap().at, found.blocks, found.unknown), (7, 2, 0));
        let means: Vec<f64> =
            blocks(&bins, &calendar("UTC", &[]), 0, 30, 15).iter().map(|b| b.power.unwrap().0).collect();
        assert!((means[1] - 53.33).abs() < 0.005, "{means:?}");
    }

    /// A sliding span is never below the highest block; tried at every minute (own arithmetic).
    #[test]
    fn the_highest_span_is_found() {
        let spells = [(3.0, 10.0), (2.0, 90.0), (4.0, 20.0), (1.0, 200.0), (9.0, 15.0), (2.0, 70.0)];
        let all = bins(&spells);
        let minutes: Vec<f64> = spells.iter().flat_map(|(n, kw)| vec![*kw; *n as usize]).collect();
        let tried = minutes.windows(5).map(|span| span.iter().sum::<f64>() / 5.0).fold(0.0, f64::max);
        let utc = calendar("UTC", &[]);
        let found = peaks(&all, &utc, 0, 21, 5);
        near(found.sliding_kw, tried, 1e-9);
        assert!(blocks(&all, &utc, 0, 21, 5).iter().all(|block| block.power.unwrap().0 <= tried + 1e-9));
    }

    #[test]
    fn too_little_is_no_demand() {
        let utc = calendar("UTC", &[]);
        assert_eq!(peaks(&Bins::default(), &utc, 0, 0, 15), Demand::default());
        let found = peaks(&bins(&[(14.0, 1.0)]), &utc, 0, 14, 15);
        assert_eq!((found.block_kw, found.sliding_kw, found.blocks), (None, None, 0));
    }

    /// A minute that is not known makes its block unknown, and blocks begin with the clock of a zone that is 45 minutes off.
    #[test]
    fn gaps_and_odd_zones() {
        let mut all = bins(&[(30.0, 50.0)]);
        all.bins[20].us -= 1;
        let found = peaks(&all, &calendar("UTC", &[]), 0, 30, 15);
        assert_eq!((found.blocks, found.unknown), (2, 1));
        let kathmandu = calendar("Asia/Kathmandu", &[]);
        let starts: Vec<i64> =
            blocks(&all, &kathmandu, 0, 60, 30).iter().map(|block| block.at.rem_euclid(30)).collect();
        assert!(!starts.is_empty() && starts.iter().all(|at| *at == starts[0]));
        assert_eq!((blocks(&all, &kathmandu, 0, 60, 30)[0].at + kathmandu.offset_min(0)).rem_euclid(30), 0);
    }
}
