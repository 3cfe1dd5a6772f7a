//! Channels moved and turned, in steps of 60 degrees.
//!
//! With balanced phases every channel's angle is a multiple of 60 degrees from that of the first of its side: a phase
//! further on is two steps back, a reversal is three. A fault of wiring is a change of these six small numbers.

use super::fault::{Fault, Faults, Side};
use crate::settings::{CHANNELS, Wiring};

/// Each channel's angle, in sixths of a turn from the side's first when all is sound; not reduced.
pub(super) type Steps = [i8; CHANNELS];

const fn sound(wiring: Wiring) -> Steps {
    match wiring {
        Wiring::FourWire | Wiring::ThreeWire | Wiring::CurrentsOnly => [0, -2, 2, 0, -2, 2],
        // vcb stands 60 degrees before vab.
        Wiring::TwoElement => [0, 1, 0, 0, -2, 2],
    }
}

/// The steps with these faults, and whether the first voltage stands 30 degrees behind (1), level with (0) or before
/// (-1) the phase's: what must be added to it, in twelfths of a turn.
pub(super) fn moved(wiring: Wiring, faults: Faults) -> (Steps, i8) {
    let mut steps = sound(wiring);
    let mut lead = if wiring == Wiring::FourWire { 0 } else { -1 };
    for fault in faults.iter() {
        match fault {
            // In series ab and cb show shares of ac and ca.
            Fault::LeadOpen(_) if wiring == Wiring::TwoElement => steps[..2].copy_from_slice(&[-1, 2]),
            Fault::LeadOpen(k) => {
                let [own, whole, last] = [0, 1, 2].map(|n| (usize::from(k) + n) % 3);
                steps[own] = steps[whole] + 3;
                steps[last] = steps[whole] + 3;
            }
            Fault::LeadsSwapped(a, _) if wiring == Wiring::TwoElement => {
                let turned = if a == 0 { [3, 2] } else { [5, 4] };
                steps[..2].copy_from_slice(&turned);
            }
            Fault::LeadsSwapped(a, b) => {
                // vab with a and b exchanged is -vab, vbc is -vca: the other two change places, all change sign.
                let [a, b] = [a, b].map(usize::from);
                let other = |k: usize| (k + 1) % 3;
                // Lines a and b leave the voltage from a to b in place.
                debug_assert_eq!(other(a), b, "neighbours");
                steps.swap(b, other(b));
                steps[..3].iter_mut().for_each(|step| *step += 3);
            }
            Fault::Swapped(a, b) => steps.swap(usize::from(a) % CHANNELS, usize::from(b) % CHANNELS),
            // Three are moved as they are; of two, one comes from a line that is not among them.
            Fault::RolledOn(side) if wiring != Wiring::TwoElement => of(side, &mut steps).rotate_left(1),
            Fault::RolledBack(side) if wiring != Wiring::TwoElement => of(side, &mut steps).rotate_right(1),
            Fault::RolledOn(side) => of(side, &mut steps).iter_mut().for_each(|step| *step -= 2),
            Fault::RolledBack(side) => of(side, &mut steps).iter_mut().for_each(|step| *step += 2),
            Fault::Reversed(k) => steps[usize::from(k) % CHANNELS] += 3,
            Fault::AllReversed(side) => of(side, &mut steps).iter_mut().for_each(|step| *step += 3),
            Fault::SupplyReversed => {
                // All angles the other way; those of channels turned round are so either way (3 is -3).
                steps = steps.map(|step| -step);
                lead = -lead;
            }
            _ => {}
        }
    }
    (steps, lead)
}

fn of(side: Side, steps: &mut Steps) -> &mut [i8] {
    let (voltages, currents) = steps.split_at_mut(3);
    if side == Side::Voltages { voltages } else { currents }
}
