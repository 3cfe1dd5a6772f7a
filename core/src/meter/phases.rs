//! From channels to phases: what each wiring measures directly and what follows from it.
//!
//! With va, vb, vc to the star point (the virtual one of three equal impedances where there is no
//! neutral): va = (vab - vca)/3 and so on round; two-element: vab and vcb are measured,
//! vbc = -vcb, vca = vcb - vab, ib = -(ia + ic).

use super::phasor::Phasor;
use crate::math::scale::Scale;
use crate::settings::{CHANNELS, MAX_PAIRS, Wiring};

/// Three phases' figures: squares (V² Q32, A² Q34), powers (W Q16), phasors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Phases {
    /// Mean square voltages as reported: to neutral, or line to line.
    pub(super) voltage: [u64; 3],
    /// Mean square voltages to the star point.
    pub(super) star: [u64; 3],
    /// Mean square currents.
    pub(super) current: [u64; 3],
    /// Active powers.
    pub(super) power: [i64; 3],
    /// Voltages as reported.
    pub(super) voltage_phasor: [Phasor; 3],
    /// Voltages to the star point.
    pub(super) star_phasor: [Phasor; 3],
    /// Currents.
    pub(super) current_phasor: [Phasor; 3],
}

const fn square(x: i64) -> u64 {
    if x < 0 { 0 } else { x as u64 }
}

/// Three products by their places, with weights of magnitude at most 4.
type Terms = [(Place, i8); 3];

/// A place among the products.
type Place = u8;

/// Weighted products, over nine; squares are below 2^62, so that a sixteenth is taken first: 4 bits of V² at Q32 are far below a
/// step of V at Q16.
#[inline(never)] // in six places
#[expect(clippy::trivially_copy_pass_by_ref, reason = "an address of constants costs less than six figures")]
const fn ninth(p: &[i64; MAX_PAIRS], [x, y, z]: &Terms) -> u64 {
    const fn term(p: &[i64; MAX_PAIRS], (place, weight): (Place, i8)) -> i64 {
        if (place as usize) < MAX_PAIRS { (p[place as usize] >> 4) * weight as i64 } else { 0 }
    }
    square(third(third(term(p, *x) + term(p, *y) + term(p, *z))) << 4)
}

const fn third(x: i64) -> i64 {
    Scale::THIRD.apply(x)
}

impl Phases {
    /// Derives all phases. `p` are the products in the order of the wiring's pairs, `x` the phasors.
    pub(super) const fn derive(wiring: Wiring, p: &[i64; MAX_PAIRS], x: &[Phasor; CHANNELS]) -> Self {
        // As with a neutral; what differs elsewhere is made anew.
        let mut phases = Self {
            voltage: [square(p[0]), square(p[1]), square(p[2])],
            star: [square(p[0]), square(p[1]), square(p[2])],
            current: [square(p[3]), square(p[4]), square(p[5])],
            power: [p[6], p[7], p[8]],
            voltage_phasor: [x[0], x[1], x[2]],
            star_phasor: [x[0], x[1], x[2]],
            current_phasor: [x[3], x[4], x[5]],
        };
        match wiring {
            Wiring::FourWire => {}
            Wiring::ThreeWire => {
                let [ab, bc, ca] = phases.voltage_phasor;
                phases.star = [
                    ninth(p, &[(0, 1), (2, 1), (8, -2)]),
                    ninth(p, &[(1, 1), (0, 1), (6, -2)]),
                    ninth(p, &[(2, 1), (1, 1), (7, -2)]),
                ];
                phases.power = [third(p[9] - p[10]), third(p[11] - p[12]), third(p[13] - p[14])];
                phases.star_phasor =
                    [Phasor::third(ab, 1, ca, -1), Phasor::third(bc, 1, ab, -1), Phasor::third(ca, 1, bc, -1)];
            }
            Wiring::CurrentsOnly => {
                phases.current = phases.voltage;
                (phases.voltage, phases.star, phases.power) = ([0; 3], [0; 3], [0; 3]);
                (phases.voltage_phasor, phases.star_phasor) = ([Phasor::ZERO; 3], [Phasor::ZERO; 3]);
            }
            Wiring::TwoElement => {
                let (ab, cb, a, c) = (x[0], x[1], x[3], x[5]);
                let bc = Phasor::minus_sum(cb, Phasor::ZERO);
                phases.voltage[2] = square(p[0].saturating_add(p[1]).saturating_sub(p[4].saturating_mul(2)));
                phases.star = [
                    ninth(p, &[(0, 4), (1, 1), (4, -4)]),
                    ninth(p, &[(0, 1), (1, 1), (4, 2)]),
                    ninth(p, &[(0, 1), (1, 4), (4, -4)]),
                ];
                phases.current = [
                    square(p[2]),
                    square(p[2].saturating_add(p[3]).saturating_add(p[5].saturating_mul(2))),
                    square(p[3]),
                ];
                phases.power = [third(p[6] * 2 - p[8]), third(p[6] + p[7] + p[8] + p[9]), third(p[9] * 2 - p[7])];
                phases.voltage_phasor = [ab, bc, Phasor::minus_sum(ab, bc)];
                phases.star_phasor =
                    [Phasor::third(ab, 2, cb, -1), Phasor::third(ab, -1, cb, -1), Phasor::third(cb, 2, ab, -1)];
                phases.current_phasor = [a, Phasor::minus_sum(a, c), c];
            }
        }
        phases
    }

    /// Sum of the phases' reactive powers of the fundamentals, var Q16.
    pub(super) const fn reactive(&self) -> i64 {
        let (v, i) = (&self.star_phasor, &self.current_phasor);
        // Q16 * Q17 -> Q16
        (v[0].cross(i[0]) >> 17) + (v[1].cross(i[1]) >> 17) + (v[2].cross(i[2]) >> 17)
    }

    /// Sum of the phases' active powers, watts Q16.
    pub(super) const fn active(&self) -> i64 {
        self.power[0].saturating_add(self.power[1]).saturating_add(self.power[2])
    }
}
