//! Which products of channels a wiring needs.
//!
//! Quantities that are not measured (phase voltages of a three-wire supply, the third current of
//! two-element wiring) are linear in those that are, so their squares and powers follow from sums of
//! products once a window, at no cost a sample.

use crate::settings::Wiring;

/// A product of two channels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pair {
    /// Slot of a frame.
    pub(crate) first: u8,
    /// Slot of a frame.
    pub(crate) second: u8,
    /// Three times the share of this product in the active power of all phases.
    pub(crate) power: i8,
}

const fn pair(first: u8, second: u8, power: i8) -> Pair {
    Pair { first, second, power }
}

/// P = va ia + vb ib + vc ic.
static FOUR_WIRE: [Pair; 9] = [
    pair(0, 0, 0),
    pair(1, 1, 0),
    pair(2, 2, 0),
    pair(3, 3, 0),
    pair(4, 4, 0),
    pair(5, 5, 0),
    pair(0, 3, 3),
    pair(1, 4, 3),
    pair(2, 5, 3),
];

/// To the virtual star point: va = (vab - vca)/3, vb = (vbc - vab)/3, vc = (vca - vbc)/3.
static THREE_WIRE: [Pair; 15] = [
    pair(0, 0, 0),
    pair(1, 1, 0),
    pair(2, 2, 0),
    pair(3, 3, 0),
    pair(4, 4, 0),
    pair(5, 5, 0),
    pair(0, 1, 0),
    pair(1, 2, 0),
    pair(2, 0, 0),
    pair(0, 3, 1),
    pair(2, 3, -1),
    pair(1, 4, 1),
    pair(0, 4, -1),
    pair(2, 5, 1),
    pair(1, 5, -1),
];

/// P = vab ia + vcb ic (A. Blondel, 1893: one element less than wires).
static TWO_ELEMENT: [Pair; 10] = [
    pair(0, 0, 0),
    pair(1, 1, 0),
    pair(3, 3, 0),
    pair(5, 5, 0),
    pair(0, 1, 0),
    pair(3, 5, 0),
    pair(0, 3, 3),
    pair(0, 5, 0),
    pair(1, 3, 0),
    pair(1, 5, 3),
];

/// No voltage, no power.
static CURRENTS_ONLY: [Pair; 3] = [pair(3, 3, 0), pair(4, 4, 0), pair(5, 5, 0)];

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
pub(crate) const fn slots(wiring: Wiring) -> &'static [u8] {
    match wiring {
        Wiring::FourWire | Wiring::ThreeWire => &[0, 1, 2, 3, 4, 5],
        Wiring::TwoElement => &[0, 1, 3, 5],
        Wiring::CurrentsOnly => &[3, 4, 5],
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
