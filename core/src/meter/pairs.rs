//! Which products of channels a wiring needs.
//!
//! Quantities that are not measured (phase voltages of a three-wire supply, the third current of
//! two-element wiring) are linear in those that are, so their squares and powers follow from sums of
//! products once a window, at no cost a sample.

use crate::settings::Wiring;

/// A channel's place in a frame. Of a type of its own, so that no place has to be held against the number of channels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub(crate) enum Slot {
    Va,
    Vb,
    Vc,
    Ia,
    Ib,
    Ic,
}

use Slot::{Ia, Ib, Ic, Va, Vb, Vc};

impl Slot {
    pub(crate) const fn is_voltage(self) -> bool {
        (self as u8) < Ia as u8
    }
}

/// A product of two channels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pair {
    pub(crate) first: Slot,
    pub(crate) second: Slot,
    /// Three times the share of this product in the active power of all phases.
    pub(crate) power: i8,
}

const fn pair(first: Slot, second: Slot, power: i8) -> Pair {
    Pair { first, second, power }
}

impl Pair {
    /// Of a voltage and a current.
    pub(crate) const fn is_power(self) -> bool {
        self.first.is_voltage() && !self.second.is_voltage()
    }
}

/// P = va ia + vb ib + vc ic.
static FOUR_WIRE: [Pair; 9] = [
    pair(Va, Va, 0),
    pair(Vb, Vb, 0),
    pair(Vc, Vc, 0),
    pair(Ia, Ia, 0),
    pair(Ib, Ib, 0),
    pair(Ic, Ic, 0),
    pair(Va, Ia, 3),
    pair(Vb, Ib, 3),
    pair(Vc, Ic, 3),
];

/// To the virtual star point: va = (vab - vca)/3, vb = (vbc - vab)/3, vc = (vca - vbc)/3.
static THREE_WIRE: [Pair; 15] = [
    pair(Va, Va, 0),
    pair(Vb, Vb, 0),
    pair(Vc, Vc, 0),
    pair(Ia, Ia, 0),
    pair(Ib, Ib, 0),
    pair(Ic, Ic, 0),
    pair(Va, Vb, 0),
    pair(Vb, Vc, 0),
    pair(Vc, Va, 0),
    pair(Va, Ia, 1),
    pair(Vc, Ia, -1),
    pair(Vb, Ib, 1),
    pair(Va, Ib, -1),
    pair(Vc, Ic, 1),
    pair(Vb, Ic, -1),
];

/// P = vab ia + vcb ic (A. Blondel, 1893: one element less than wires).
static TWO_ELEMENT: [Pair; 10] = [
    pair(Va, Va, 0),
    pair(Vb, Vb, 0),
    pair(Ia, Ia, 0),
    pair(Ic, Ic, 0),
    pair(Va, Vb, 0),
    pair(Ia, Ic, 0),
    pair(Va, Ia, 3),
    pair(Va, Ic, 0),
    pair(Vb, Ia, 0),
    pair(Vb, Ic, 3),
];

/// No voltage, no power.
static CURRENTS_ONLY: [Pair; 3] = [pair(Ia, Ia, 0), pair(Ib, Ib, 0), pair(Ic, Ic, 0)];

/// The products of a wiring, squares first; [`super::phases`] knows them by their places.
pub(crate) const fn pairs(wiring: Wiring) -> &'static [Pair] {
    match wiring {
        Wiring::FourWire => &FOUR_WIRE,
        Wiring::ThreeWire => &THREE_WIRE,
        Wiring::TwoElement => &TWO_ELEMENT,
        Wiring::CurrentsOnly => &CURRENTS_ONLY,
    }
}

/// The products of two channels each.
pub(crate) const fn crosses(wiring: Wiring) -> &'static [Pair] {
    const fn after(squares: usize, all: &'static [Pair]) -> &'static [Pair] {
        all.split_at(squares).1
    }
    const FOUR: &[Pair] = after(6, &FOUR_WIRE);
    const THREE: &[Pair] = after(6, &THREE_WIRE);
    const TWO: &[Pair] = after(4, &TWO_ELEMENT);
    match wiring {
        Wiring::FourWire => FOUR,
        Wiring::ThreeWire => THREE,
        Wiring::TwoElement => TWO,
        Wiring::CurrentsOnly => &[],
    }
}

/// The slots that a wiring fills; their squares are its first products.
pub(crate) const fn slots(wiring: Wiring) -> &'static [Slot] {
    match wiring {
        Wiring::FourWire | Wiring::ThreeWire => &[Va, Vb, Vc, Ia, Ib, Ic],
        Wiring::TwoElement => &[Va, Vb, Ia, Ic],
        Wiring::CurrentsOnly => &[Ia, Ib, Ic],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_come_first() {
        for wiring in [Wiring::FourWire, Wiring::ThreeWire, Wiring::TwoElement, Wiring::CurrentsOnly] {
            for (pair, slot) in pairs(wiring).iter().zip(slots(wiring)) {
                assert_eq!((pair.first, pair.second, pair.power), (*slot, *slot, 0), "{wiring:?}");
            }
            assert_eq!(slots(wiring).len() + crosses(wiring).len(), pairs(wiring).len());
            assert!(crosses(wiring).iter().all(|pair| pair.first != pair.second), "{wiring:?}");
        }
    }
}
