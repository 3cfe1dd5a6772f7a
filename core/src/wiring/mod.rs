//! WIRING: six phasors and what is expected of them -> what is connected wrongly. For commissioning.
//!
//! ```text
//! phasors of a window ─┬─ angles ──── which moved or turned channels explain them (moves)
//!                      └─ sizes ───── missing, wrong ratio, line lost ─┬─ fewest faults that explain all
//! nameplate ── var at this power ── healthy, wrong ratio, capacitors ──┘   (expected)
//! ```
//!
//! Basis: a sound supply is a positive-sequence system (C. L. Fortescue, AIEE 1918), a motor's current lags it by an angle
//! between 84 and 23 degrees for loads of 10 to 125 %, transformers have the polarity of IEC 61869 (P1 towards the
//! supply). All sets of up to two moved or turned channels are tried, each with what the sizes and the nameplate add. The
//! fewest faults win; sets that explain the same with as many are one [`Class`].
//!
//! # What cannot be told apart here
//!
//! * **Invisible**: the same roll (a as b, b as c, c as a) of all voltages and all currents; all voltages and all currents
//!   reversed together. They change no figure.
//! * **A reversed supply** and the same two phases exchanged in voltages and currents are one class: whether the shaft turns
//!   the right way must be seen.
//! * Three reversed channels of a side, or a side's reversed channel and the other side's other ones, are one class with
//!   their complement (two reversed voltages and all currents reversed: the third voltage reversed).
//! * With a line lost the currents have no order: voltages are judged among themselves alone.
//! * Currents that are all too small, and capacitors that take less var than the motor's own at no load, look alike at one
//!   load: both are named.
//! * Currents that are all too large or too small, with capacitors or without, may have the power and var of another load, within
//!   the nameplate's tolerance (half or 0.58 of them at overload, 1.73 times at three quarters of load): seen as sound there, told at
//!   other loads. On two elements, by a guess at the leakages, one current may too, at light load and unbalanced voltage.
//! * Currents by a factor, and capacitors as well: at one load some factor alone makes the same power and var.
//! * A channel that is dead has no phase: what else is wrong with it cannot be seen.
//! * All currents dead is a motor that stands: nothing is said ([`Diagnosis::Idle`]).
//! * How two voltages in series at an open lead share what is left is not known: such two exchanged look as they did. On two
//!   elements only the common lead makes such a pair; either other one is a dead channel.
//! * On two elements two wrong currents of one factor are all of them; of two that differ by a sixth the same may be said,
//!   for 2 % of unbalanced voltage does as much.

mod class;
mod expected;
mod fault;
mod look;
mod moves;
mod open;
mod sizes;
mod unbalance;

pub use class::Class;
pub use expected::Expected;
pub use fault::{Fault, Faults, Side};

use crate::record::{Phasors, Window};
use class::Best;
use fault::of_channels;
use look::{inverter, line_lost, look, mask, side, voltage_sizes};
use moves::moved;
use open::in_series;
use sizes::Sight;

/// What a window shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Diagnosis {
    /// No current flows: nothing can be said.
    Idle,
    /// The voltages are far from sines, as an inverter's are: not for this instrument.
    Inverter,
    /// No set of up to two moved channels explains it.
    Unclear,
    /// Explained by each of these sets; by the empty one where all is well.
    Explained(Class),
}

/// Below this share of rated current no current flows, 1/1000.
const NO_CURRENT: i64 = 30;
/// How far a voltage's angle may be off a multiple of 60 degrees; with some in series off the mean of them.
const NEAR_VOLTS: [u32; 2] = [degrees(18), degrees(35)];
/// The same of a current.
const NEAR_AMPS: u32 = degrees(38);

const fn degrees(angle: u32) -> u32 {
    (((angle as u64) << 32) / 360) as u32
}

/// Names what explains a window's phasors.
///
/// Meant for a board's idle loop at commissioning, a window now and then, not for each block: measured on a host (release build), a
/// sound window takes 6 us and one reversed transformer 8 us, but two faults 70 to 190 us, for then all pairs are tried.
/// Not measured on a Cortex-M4, which has no 64-bit division and takes many times as long.
///
/// ```
/// use shaftwork_core::wiring::{Diagnosis, Expected, Fault, diagnose};
/// use shaftwork_core::{Settings, Window, record::Phasors};
/// let expected = Expected::new(&Settings::example());
/// // 230 V; 60 A that lag by 37 degrees, ia turned round.
/// let volts = [(230, 0), (-115, -199), (-115, 199)].map(|(re, im)| (re << 16, im << 16));
/// let amps = [(-48, 36), (-55, -24), (7, 60)].map(|(re, im)| (re << 17, im << 17));
/// let phasors = Phasors([volts[0], volts[1], volts[2], amps[0], amps[1], amps[2]]);
/// let Diagnosis::Explained(class) = diagnose(&expected, &Window::default(), &phasors) else { panic!() };
/// assert_eq!(class.sets()[0].iter().collect::<Vec<_>>(), [Fault::Reversed(3)]);
/// ```
#[must_use]
pub fn diagnose(expected: &Expected, window: &Window, phasors: &Phasors) -> Diagnosis {
    let mut looks = look(expected, phasors);
    let largest = looks[3..].iter().fold(0, |most, look| most.max(look.size));
    if inverter(expected, window) {
        return Diagnosis::Inverter;
    }
    if largest < NO_CURRENT {
        return Diagnosis::Idle;
    }
    let wiring = expected.wiring;
    let lost = line_lost(wiring, &looks);
    let open = in_series(wiring, &mut looks);
    let dead = mask(|k| !looks[k].live && Fault::Dead(k as u8).exists(wiring));
    let dead = if lost.is_some() { dead & 0b111 } else { dead };
    let (ratios, volts) = voltage_sizes(&looks);
    let mut base = Faults(ratios.0 | of_channels(dead, Fault::Dead).0);
    if window.clipped > 0 {
        base = base.with(Fault::Clipped);
    }
    if let Some(line) = lost {
        base = base.with(line);
    }
    let sight = Sight::new(expected, &looks, ratios, volts);
    let mut best = Best::default();
    let alone = |k: usize| Faults(1 << k);
    let exist = |k: &usize| Fault::ALL[*k].exists(wiring);
    let opens = Fault::OPENS.filter(exist).filter(|_| open).map(alone);
    let singles = Fault::MOVES.filter(exist);
    let pairs = singles
        .clone()
        .flat_map(|i| (i + 1..Fault::MOVES.end).filter(exist).map(move |k| Faults(alone(i).0 | alone(k).0)));
    for opened in core::iter::once(Faults::NONE).filter(|_| !open).chain(opens) {
        for moves in core::iter::once(Faults::NONE).chain(singles.clone().map(alone)).chain(pairs.clone()) {
            // A line that is lost may float by itself, at a motor that is held.
            let floats = (0..3).any(|k| lost == Some(Fault::LineLost(k)) && opened.has(Fault::LeadOpen(k)));
            let set = Faults(base.0 | moves.0 | if floats { 0 } else { opened.0 });
            if set.count() > best.count {
                continue;
            }
            let moved = moved(wiring, Faults(opened.0 | moves.0));
            let Some(voltage) = side(&looks, moved.0, 0, NEAR_VOLTS[usize::from(open)]) else { continue };
            if lost.is_some() {
                // Two currents to and fro have no sequence; only the voltages can be judged.
                best.offer(set, 0);
            } else if let Some(current) = side(&looks, moved.0, 3, NEAR_AMPS) {
                sight.explain(set, moved, [voltage, current], &mut best);
            }
        }
    }
    if best.class.sets().is_empty() { Diagnosis::Unclear } else { Diagnosis::Explained(best.class) }
}

#[cfg(test)]
mod tests;
