//! Currents of a delta's windings -> currents of its lines, sample by sample.
//!
//! ```text
//! in delta   ia = i1 - i3   ib = i2 - i1   ic = i3 - i2    windings A-B, B-C, C-A
//!            ia = i1 - i2   ib = i2 - i3   ic = i3 - i1    windings A-C, B-A, C-B
//! in star    ia = i1        ib = i2        ic = i3         a star-delta starter before it changes over
//! ```
//!
//! Kirchhoff's first law at the terminals, so that it holds for every harmonic, for unlike windings, for an open one and for a
//! line that is lost (windings 1 : 1 : 2 are lines 0 : 1 : 1). What the three windings have in common runs round in the delta
//! and is gone: it is in no line, and since the three line-to-line voltages add up to nothing it has no part in the power.
//!
//! Error. Two windings' samples must be of one moment. Where transformers' leads or the channels' skews differ, their mean is undone: of
//! what a winding differs by, d rad, up to d of its current is taken for negative sequence. Power errs by the mean of d times each
//! winding's reactive power, which is nothing for equal windings. A dead transformer and an open winding look alike: lines
//! 1 : 1 : root of three, negative over positive sequence a half.

use crate::frame::{BLOCK, Frame};
use crate::settings::DeltaCoefficients;

/// Of the weights.
const SHIFT: u32 = 20;

/// Turns the codes of three windings into those of the lines.
pub(super) fn to_lines(c: &DeltaCoefficients, star: bool, frames: &mut [Frame; BLOCK]) {
    let [wa, wb, wc] = c.weight.map(i64::from);
    let [za, zb, zc] = c.zero;
    for Frame([_, _, _, a, b, c3]) in frames {
        // Each at most 1.25 times 2^21 at Q20: a difference is below 2^23.
        let own = [i64::from(*a) * wa - za, i64::from(*b) * wb - zb, i64::from(*c3) * wc - zc];
        let [x, y, z] = own;
        let other = match (star, c.forward) {
            (true, _) => [0; 3],
            (false, true) => [z, x, y],
            (false, false) => [y, z, x],
        };
        let line = |own: i64, other: i64| ((own - other + (1 << (SHIFT - 1))) >> SHIFT) as i32;
        (*a, *b, *c3) = (line(x, other[0]), line(y, other[1]), line(z, other[2]));
    }
}

#[cfg(test)]
mod tests;
