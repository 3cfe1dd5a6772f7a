//! Demand: mean power over a span of time, as a tariff bills it.
//!
//! Blocks follow each other from a fixed moment (the clock); a sliding span may begin at any. Within a spell power is
//! constant, so the mean over a sliding span is piecewise linear in time, and its highest value lies where an end of
//! the span meets the end of a spell.

/// A spell of constant power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spell {
    /// Its length, s; not negative.
    pub length_s: f64,
    /// Its power, kW.
    pub kw: f64,
}

/// The mean of each whole block from the first spell's begin on, kW.
pub fn blocks(spells: &[Spell], block_s: f64) -> Vec<f64> {
    let energy = Energy::new(spells);
    // A block that lacks a millionth of itself is whole.
    let whole = (energy.end_s() / block_s + 1e-6).floor() as usize;
    (0..whole).map(|at| energy.mean(at as f64 * block_s, block_s)).collect()
}

/// The highest mean over a span of this length that begins at any moment, kW; `None`: the spells are shorter.
pub fn sliding(spells: &[Spell], span_s: f64) -> Option<f64> {
    let energy = Energy::new(spells);
    let latest = energy.end_s() - span_s;
    if latest < -1e-6 * span_s {
        return None;
    }
    let ends = energy.sums.iter().flat_map(|(at_s, _)| [*at_s, at_s - span_s]);
    ends.map(|from_s| energy.mean(from_s.clamp(0.0, latest.max(0.0)), span_s)).reduce(f64::max)
}

/// Energy since the begin at the end of each spell.
struct Energy {
    /// Time, s, and energy, kW s; the first is (0, 0).
    sums: Vec<(f64, f64)>,
}

impl Energy {
    fn new(spells: &[Spell]) -> Self {
        let mut sums = vec![(0.0, 0.0)];
        let mut last = (0.0, 0.0);
        for spell in spells {
            last = (last.0 + spell.length_s, last.1 + spell.length_s * spell.kw);
            sums.push(last);
        }
        Self { sums }
    }

    fn end_s(&self) -> f64 {
        self.sums.last().map_or(0.0, |last| last.0)
    }

    fn at(&self, t_s: f64) -> f64 {
        let after = self.sums.partition_point(|(at_s, _)| *at_s <= t_s).min(self.sums.len() - 1);
        let [low, high] = [after.saturating_sub(1), after].map(|at| self.sums[at]);
        let part = if high.0 > low.0 { ((t_s - low.0) / (high.0 - low.0)).clamp(0.0, 1.0) } else { 0.0 };
        low.1 + part * (high.1 - low.1)
    }

    fn mean(&self, from_s: f64, span_s: f64) -> f64 {
        (self.at(from_s + span_s) - self.at(from_s)) / span_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(list: &[(f64, f64)]) -> Vec<Spell> {
        list.iter().map(|(minutes, kw)| Spell { length_s: 60.0 * minutes, kw: *kw }).collect()
    }

    fn near(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() <= within, "{found}, {wanted} wanted");
    }

    /// Bureau of Energy Efficiency (India), guide book 3, chapter 1 (from memory): of 2500 kW for 4 min, 3600 for 12,
    /// 4100 for 6 and 3800 for 8 the demand over half an hour is 3606.7 kW, not 4100.
    #[test]
    fn demand_is_no_peak() {
        let spells = minutes(&[(4.0, 2_500.0), (12.0, 3_600.0), (6.0, 4_100.0), (8.0, 3_800.0)]);
        let all = blocks(&spells, 1_800.0);
        assert_eq!(all.len(), 1);
        near(all[0], 3_606.7, 0.05);
        near(sliding(&spells, 1_800.0).unwrap(), 3_606.7, 0.05);
    }

    /// Own arithmetic: 7 min at 30 kW, 15 at 80, 8 at 30 are 56.67 and 53.33 kW by blocks of a quarter of an hour, but
    /// 80 kW for a span that slides.
    #[test]
    fn a_sliding_span_sees_what_two_blocks_share() {
        let spells = minutes(&[(7.0, 30.0), (15.0, 80.0), (8.0, 30.0)]);
        let all = blocks(&spells, 900.0);
        assert_eq!(all.len(), 2);
        near(all[0], 56.67, 0.005);
        near(all[1], 53.33, 0.005);
        near(sliding(&spells, 900.0).unwrap(), 80.0, 1e-9);
    }

    /// A sliding span is never below the highest block; tried at every second (own arithmetic).
    #[test]
    fn the_highest_span_is_found() {
        let spells = minutes(&[(3.0, 10.0), (2.0, 90.0), (4.0, 20.0), (1.0, 200.0), (9.0, 15.0), (2.5, 70.0)]);
        let energy = Energy::new(&spells);
        let tried = (0..=1_290 - 300).map(|s| energy.mean(f64::from(s), 300.0)).fold(0.0, f64::max);
        near(sliding(&spells, 300.0).unwrap(), tried, 1e-9);
        assert!(blocks(&spells, 300.0).iter().all(|block| *block <= tried + 1e-9));
    }

    #[test]
    fn too_little_is_no_demand() {
        assert_eq!((blocks(&[], 900.0), sliding(&[], 900.0)), (vec![], None));
        assert_eq!(sliding(&minutes(&[(14.9, 1.0)]), 900.0), None);
    }
}
