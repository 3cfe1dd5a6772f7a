//! Strikes that are given one by one: for whoever draws them himself.
//!
//! ```text
//! torque = T r(x) r(y)      r(x) = x^2 (3 - 2x),  x = (t - at) / edge,  y = (at + length - t) / edge, each within 0 .. 1
//! ```
//!
//! Two [`Wedge`]s, of which the second takes the first one's torque away; its integral is T (length - edge).

use super::wedge::Wedge;
use serde::{Deserialize, Serialize};

/// A torque that rises, stays and falls.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lump {
    /// When it begins, s.
    pub at_s: f64,
    /// From beginning to end, s.
    pub length_s: f64,
    /// How long it rises, and how long it falls, s: at most half of its length.
    pub edge_s: f64,
    /// Its height, N m.
    pub torque_nm: f64,
}

impl Lump {
    fn parts(&self) -> [Wedge; 2] {
        let Self { at_s, length_s, edge_s, torque_nm } = *self;
        let part = |at_s, torque_nm| Wedge { at_s, rise_s: edge_s, torque_nm, until_s: f64::INFINITY };
        [part(at_s, torque_nm), part(at_s + length_s - edge_s, -torque_nm)]
    }

    fn over(&self, t_s: f64) -> bool {
        self.at_s + self.length_s <= t_s
    }
}

/// Those that are under way or to come, in order of their beginnings.
#[derive(Debug, Clone, Default)]
pub(super) struct Lumps {
    all: Vec<Lump>,
    /// Those before are over.
    first: usize,
    longest_s: f64,
}

impl Lumps {
    pub(super) fn new(lumps: &[Lump]) -> Self {
        let mut all = lumps.to_vec();
        all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let longest_s = all.iter().map(|lump| lump.length_s).fold(0.0, f64::max);
        Self { all, first: 0, longest_s }
    }

    /// Forgets those that are over.
    pub(super) fn advance(&mut self, t_s: f64) {
        while self.all.get(self.first).is_some_and(|lump| lump.at_s + self.longest_s <= t_s) {
            self.first += 1;
        }
    }

    fn begun(&self, t_s: f64) -> impl Iterator<Item = &Lump> {
        self.all[self.first..].iter().take_while(move |lump| lump.at_s <= t_s)
    }

    /// Torque at a time, N m.
    pub(super) fn torque(&self, t_s: f64) -> f64 {
        let all = self.begun(t_s).filter(|lump| !lump.over(t_s));
        all.flat_map(Lump::parts).map(|part| part.torque(t_s)).sum()
    }

    /// Torque over a span of time, N m s.
    pub(super) fn impulse(&self, from_s: f64, until_s: f64) -> f64 {
        let all = self.begun(until_s).filter(|lump| !lump.over(from_s));
        all.flat_map(Lump::parts).map(|part| part.impulse(from_s, until_s)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LUMP: Lump = Lump { at_s: 2.0, length_s: 0.15, edge_s: 0.05, torque_nm: 900.0 };

    #[test]
    fn rises_stays_and_falls() {
        let lumps = Lumps::new(&[LUMP]);
        for (t, wanted) in [(1.9, 0.0), (2.025, 450.0), (2.075, 900.0), (2.125, 450.0), (2.15, 0.0), (3.0, 0.0)] {
            assert!((lumps.torque(t) - wanted).abs() < 1e-9, "{t}: {}", lumps.torque(t));
        }
    }

    /// The impulse is the torque's integral, whatever the span, whatever has been forgotten.
    #[test]
    fn the_impulse_is_the_integral_of_the_torque() {
        let mut lumps = Lumps::new(&[LUMP, Lump { at_s: 1.95, length_s: 0.02, edge_s: 0.01, torque_nm: 300.0 }]);
        assert!((lumps.impulse(0.0, 3.0) - 900.0 * 0.1 - 300.0 * 0.01).abs() < 1e-9);
        for (from, until) in [(1.9, 1.96), (1.96, 2.02), (2.02, 2.09), (2.09, 2.2), (2.2, 3.0)] {
            lumps.advance(from);
            let steps = 20_000;
            let h = (until - from) / f64::from(steps);
            let sum: f64 = (0..steps).map(|n| lumps.torque(from + (f64::from(n) + 0.5) * h) * h).sum();
            let found = lumps.impulse(from, until);
            assert!((found - sum).abs() < 1e-3, "{from} to {until}: {found}, summed {sum}");
        }
    }
}
