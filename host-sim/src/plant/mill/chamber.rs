//! What is in the mill: pieces under the hammers, broken pieces before the screen, and what lies about and drags.
//!
//! ```text
//! coarse --- struck for the time of its burst ---> fine --- screen ---> out
//! out  = min( fine / passing, capacity min(1, 1 / fill) ) w / w0        kg/s     fill = (coarse + fine) / full
//! drag = T_full fill^2                                                  N m
//! ```
//!
//! A screen lets out broken pieces the faster the more of them lie before it, up to its capacity; a packed bed
//! (fill above 1) blinds it. What lies in the chamber is carried round and rubs: torque that breaks nothing, so the
//! energy a tonne rises as the mill fills, and feeding more than the screen passes ends in a choke: the charge
//! grows, the drag grows with it, the speed falls, and the screen passes less. The shape is common practice's
//! picture of choke feeding (a charge that fills until the discharge limits); the two laws are of our own making.

use serde::{Deserialize, Serialize};

/// A chamber with its screen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Chamber {
    /// Charge with which it is full, kg.
    pub full_kg: f64,
    /// Opening of the screen, mm.
    pub opening_mm: f64,
    /// How long a broken piece lies before the screen, s, in the mean, while few lie there.
    pub passing_s: f64,
    /// Most that the screen lets out at working speed, kg/s.
    pub capacity_kg_s: f64,
    /// Drag of a full chamber, N m.
    pub drag_nm: f64,
}

/// A piece under the hammers.
#[derive(Debug, Clone, Copy)]
struct Struck {
    mass_kg: f64,
    from_s: f64,
    until_s: f64,
}

/// The charge over time.
#[derive(Debug, Clone)]
pub(super) struct Charge {
    chamber: Chamber,
    struck: Vec<Struck>,
    coarse_kg: f64,
    fine_kg: f64,
    out_kg: f64,
}

impl Charge {
    /// Of an empty chamber.
    pub(super) fn new(chamber: Chamber) -> Self {
        Self { chamber, struck: Vec::new(), coarse_kg: 0.0, fine_kg: 0.0, out_kg: 0.0 }
    }

    /// A piece falls in; the hammers take that time to break it.
    pub(super) fn take(&mut self, mass_kg: f64, [from_s, until_s]: [f64; 2]) {
        self.struck.push(Struck { mass_kg, from_s, until_s });
        self.coarse_kg += mass_kg;
    }

    /// The hammers have been too slow: what they have to do takes so much longer.
    pub(super) fn delay(&mut self, t_s: f64, by_s: f64) {
        for piece in self.struck.iter_mut().filter(|piece| piece.until_s > t_s) {
            piece.from_s += by_s;
            piece.until_s += by_s;
        }
    }

    /// A tick of `h_s` ends at `t_s`; `pace` is the speed as a share of the working speed.
    pub(super) fn tick(&mut self, t_s: f64, h_s: f64, pace: f64) {
        let mut coarse_kg = 0.0;
        for piece in &mut self.struck {
            let left = ((piece.until_s - t_s) / (piece.until_s - piece.from_s)).clamp(0.0, 1.0);
            coarse_kg += piece.mass_kg * left;
        }
        self.struck.retain(|piece| piece.until_s > t_s);
        self.fine_kg += self.coarse_kg - coarse_kg;
        self.coarse_kg = coarse_kg;
        let Chamber { passing_s, capacity_kg_s, .. } = self.chamber;
        let most = capacity_kg_s * (1.0 / self.fill()).min(1.0);
        let out = ((self.fine_kg / passing_s).min(most) * pace.max(0.0) * h_s).min(self.fine_kg);
        self.fine_kg -= out;
        self.out_kg += out;
    }

    /// Charge as a share of a full one; may exceed 1.
    pub(super) fn fill(&self) -> f64 {
        self.charge_kg() / self.chamber.full_kg
    }

    /// All that is in the chamber, kg.
    pub(super) fn charge_kg(&self) -> f64 {
        self.coarse_kg + self.fine_kg
    }

    /// All that has left it, kg.
    pub(super) fn out_kg(&self) -> f64 {
        self.out_kg
    }

    /// Torque of what lies about, N m.
    pub(super) fn drag_nm(&self) -> f64 {
        self.chamber.drag_nm * self.fill() * self.fill()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHAMBER: Chamber =
        Chamber { full_kg: 10.0, opening_mm: 25.0, passing_s: 2.0, capacity_kg_s: 1.0, drag_nm: 300.0 };

    /// Fed evenly for so long; the charge at the end and what has left.
    fn fed(kg_s: f64, seconds: u32, pace: f64) -> Charge {
        let mut charge = Charge::new(CHAMBER);
        for n in 0..100 * seconds {
            let t = f64::from(n) * 0.01;
            charge.take(kg_s * 0.01, [t, t + 0.5]);
            charge.tick(t + 0.01, 0.01, pace);
            let whole = kg_s * 0.01 * f64::from(n + 1);
            assert!((charge.charge_kg() + charge.out_kg() - whole).abs() < 1e-9, "mass is kept");
        }
        charge
    }

    /// Below capacity the charge is what Little's law says: rate times time in the chamber (half a second under the
    /// hammers, of which linear breaking leaves half, and two before the screen).
    #[test]
    fn a_steady_feed_keeps_a_steady_charge() {
        let charge = fed(0.4, 60, 1.0);
        assert!((charge.charge_kg() - 0.4 * 2.25).abs() < 0.01, "{}", charge.charge_kg());
        assert!((charge.drag_nm() - 300.0 * 0.09 * 0.09).abs() < 0.1, "{}", charge.drag_nm());
    }

    #[test]
    fn more_than_the_screen_passes_chokes_the_mill() {
        let charge = fed(1.3, 60, 1.0);
        assert!(charge.fill() > 1.0, "{}", charge.fill());
        // A full chamber blinds the screen: less than its capacity has left.
        assert!(charge.out_kg() < 60.0, "{}", charge.out_kg());
    }

    #[test]
    fn a_stopped_rotor_lets_nothing_out() {
        assert!(fed(0.4, 10, 0.0).out_kg().abs() < 1e-12);
    }
}
