//! An open lead of voltages that are measured between lines.
//!
//! ```text
//! a o──/ ──┬──────┐          lead a open: the inputs ab and ca lie in series across b and c, so that
//!         Zab    Zca             vab = -x vbc,   vca = -(1 - x) vbc,   x = Zab / (Zab + Zca)
//! b o──────┴─Zbc─┴────o c
//! ```
//!
//! Assumed (common practice, no source): the inputs hang on the lines alone and have like impedances, so that x is about
//! a half; three inputs to a star point that floats give the same. Dividers to earth on an earthed supply give each 1/√3,
//! 30 degrees off: told as well with three voltages. A sound voltage is never nearer to opposition than 60 degrees. With
//! two (ab and cb) only the common lead b makes such a pair; on dividers to earth it cannot be told from a wrong ratio.

use super::degrees;
use super::look::Look;
use crate::settings::{CHANNELS, Wiring};

/// How far from opposition, or with one turned round from being in line, the two may stand; of two alone nothing but the
/// series makes them so.
const NEAR: [u32; 2] = [degrees(42), degrees(25)];
/// Share of the whole voltage that either has, 1/1000.
const SHARE: core::ops::RangeInclusive<i64> = 150..=850;

/// Whether voltages lie in series; each then has the size of the whole in `looks`.
pub(super) fn in_series(wiring: Wiring, looks: &mut [Look; CHANNELS]) -> bool {
    let aligned = |i: usize, k: usize, near: u32| {
        // In line or in opposition: twice the angle is none.
        let off = looks[i].angle.wrapping_sub(looks[k].angle).wrapping_mul(2) as i32;
        looks[i].live && looks[k].live && off.unsigned_abs() < 2 * near
    };
    let share = |k: usize, whole: i64| SHARE.contains(&(looks[k].fine * 1_000 / whole.max(1)));
    let whole = match wiring {
        Wiring::FourWire | Wiring::CurrentsOnly => None,
        Wiring::TwoElement => {
            let whole = looks[0].fine + looks[1].fine;
            (aligned(0, 1, NEAR[1]) && share(0, whole) && share(1, whole)).then_some(whole)
        }
        Wiring::ThreeWire => (0..3).find_map(|k| {
            let whole = looks[k].fine;
            let both = [1, 2].map(|n| (k + n) % 3).into_iter().all(|n| aligned(n, k, NEAR[0]) && share(n, whole));
            both.then_some(whole)
        }),
    };
    if let Some(whole) = whole {
        looks[..3].iter_mut().filter(|look| look.live).for_each(|look| (look.fine, look.size) = (whole, whole / 100));
    }
    whole.is_some()
}
