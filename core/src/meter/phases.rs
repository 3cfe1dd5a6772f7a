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

/// `(4 or 1) x + (4 or 1) y + w z`, over nine; squares are below 2^62, so that a sixteenth is taken
/// first: 4 bits of V² at Q32 are far below a step of V at Q16.
const fn ninth(x: i64, wx: i64, y: i64, wy: i64, z: i64, wz: i64) -> u64 {
    square(third(third((x >> 4) * wx + (y >> 4) * wy + (z >> 4) * wz)) << 4)
}

const fn third(x: i64) -> i64 {
    Scale::THIRD.apply(x)
}

impl Phases {
    /// Derives all phases. `p` are the products in the order of the wiring's pairs, `x` the phasors.
    pub(super) const fn derive(wiring: Wiring, p: &[i64; MAX_PAIRS], x: &[Phasor; CHANNELS]) -> Self {
        match wiring {
            Wiring::FourWire => Self {
                voltage: [square(p[0]), square(p[1]), square(p[2])],
                star: [square(p[0]), square(p[1]), square(p[2])],
                current: [square(p[3]), square(p[4]), square(p[5])],
                power: [p[6], p[7], p[8]],
                voltage_phasor: [x[0], x[1], x[2]],
                star_phasor: [x[0], x[1], x[2]],
                current_phasor: [x[3], x[4], x[5]],
            },
            Wiring::ThreeWire => {
                let [ab, bc, ca] = [x[0], x[1], x[2]];
                Self {
                    voltage: [square(p[0]), square(p[1]), square(p[2])],
                    star: [
                        ninth(p[0], 1, p[2], 1, p[8], -2),
                        ninth(p[1], 1, p[0], 1, p[6], -2),
                        ninth(p[2], 1, p[1], 1, p[7], -2),
                    ],
                    current: [square(p[3]), square(p[4]), square(p[5])],
                    power: [third(p[9] - p[10]), third(p[11] - p[12]), third(p[13] - p[14])],
                    voltage_phasor: [ab, bc, ca],
                    star_phasor: [
                        Phasor::third(ab, 1, ca, -1),
                        Phasor::third(bc, 1, ab, -1),
                        Phasor::third(ca, 1, bc, -1),
                    ],
                    current_phasor: [x[3], x[4], x[5]],
                }
            }
            Wiring::CurrentsOnly => Self {
                voltage: [0; 3],
                star: [0; 3],
                current: [square(p[0]), square(p[1]), square(p[2])],
                power: [0; 3],
                voltage_phasor: [Phasor::ZERO; 3],
                star_phasor: [Phasor::ZERO; 3],
                current_phasor: [x[3], x[4], x[5]],
            },
            Wiring::TwoElement => {
                let (ab, cb, a, c) = (x[0], x[1], x[3], x[5]);
                let bc = Phasor::minus_sum(cb, Phasor::ZERO);
                let b = Phasor::minus_sum(a, c);
                Self {
                    voltage: [
                        square(p[0]),
                        square(p[1]),
                        square(p[0].saturating_add(p[1]).saturating_sub(p[4].saturating_mul(2))),
                    ],
                    star: [
                        ninth(p[0], 4, p[1], 1, p[4], -4),
                        ninth(p[0], 1, p[1], 1, p[4], 2),
                        ninth(p[0], 1, p[1], 4, p[4], -4),
                    ],
                    current: [
                        square(p[2]),
                        square(p[2].saturating_add(p[3]).saturating_add(p[5].saturating_mul(2))),
                        square(p[3]),
                    ],
                    power: [third(p[6] * 2 - p[8]), third(p[6] + p[7] + p[8] + p[9]), third(p[9] * 2 - p[7])],
                    voltage_phasor: [ab, bc, Phasor::minus_sum(ab, bc)],
                    star_phasor: [
                        Phasor::third(ab, 2, cb, -1),
                        Phasor::third(ab, -1, cb, -1),
                        Phasor::third(cb, 2, ab, -1),
                    ],
                    current_phasor: [a, b, c],
                }
            }
        }
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
