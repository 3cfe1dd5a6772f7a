//! The currents that an unbalanced voltage drives, taken off before sizes are compared.
//!
//! A motor at light load answers 2 % of negative-sequence voltage with a third of its current: its impedance to that
//! sequence is about that at standstill. With e the channels turned back by their steps, so that sound ones lie side by
//! side, and p = 0, 1, 2 their place in the order of phases:
//!
//! ```text
//! negative sequence = sum(e_p at 120 p) / 3       a current's share of it in e_p: I2 at 240 p
//! ```

use super::degrees;
use super::expected::Expected;
use super::look::Look;
use super::moves::Steps;
use crate::math::phase;
use crate::settings::CHANNELS;

/// A vector, 1/100 000 of nominal or rated.
#[derive(Clone, Copy, Default)]
struct Vector {
    x: i64,
    y: i64,
}

impl Vector {
    fn polar(size: i64, angle: u32) -> Self {
        let (c, s) = phase::cos_sin(angle);
        Self { x: (size * i64::from(c)) >> 30, y: (size * i64::from(s)) >> 30 }
    }

    fn turned(self, angle: u32) -> Self {
        let (c, s) = phase::cos_sin(angle);
        let (c, s) = (i64::from(c), i64::from(s));
        Self { x: (self.x * c - self.y * s) >> 30, y: (self.x * s + self.y * c) >> 30 }
    }

    fn plus(self, other: Self, sign: i64) -> Self {
        Self { x: self.x + sign * other.x, y: self.y + sign * other.y }
    }

    fn over(self, n: i64) -> Self {
        Self { x: self.x / n, y: self.y / n }
    }

    fn size(self) -> i64 {
        i64::from(crate::math::root::isqrt((self.x * self.x + self.y * self.y) as u64))
    }

    fn angle(self) -> u32 {
        // The direction needs no more than 24 bits.
        let [x, y] = [self.x, self.y].map(|x| x.clamp(-(1 << 30), 1 << 30) as i32);
        phase::angle(x, y)
    }
}

/// A channel's place in the order of phases.
pub(super) fn place(step: i8) -> u32 {
    match step.rem_euclid(6) {
        0 | 3 => 0,
        1 | 4 => 1,
        _ => 2,
    }
}

/// The positive sequence of two of three, the second so many places further on. With `e = I1 + I2` and `f = I1 + h I2`, h at 240
/// degrees a place, it is `(h e - f) / (h - 1)`; one over `h - 1` is 1/sqrt 3 at -150 or 150 degrees.
fn positive_of(e: Vector, f: Vector, places: u32) -> Vector {
    let (h, inverse) = if places % 3 == 1 { (degrees(240), degrees(150)) } else { (degrees(120), degrees(210)) };
    let root = e.turned(h).plus(f, -1).turned(inverse);
    Vector { x: root.x * 1_000 / 1_732, y: root.y * 1_000 / 1_732 }
}

/// Currents without what the voltage's unbalance drives.
pub(super) struct Balanced {
    /// Sizes, 1/1000 of rated, in the order of channels 3 to 5; 0 where there is none.
    pub(super) sizes: [i64; 3],
    /// The positive sequence of those that are judged, 1/1000 of rated. Two make the third (a motor has no neutral), and then it
    /// does not depend on what was taken off; of one it is its size.
    pub(super) amps: i64,
    /// The angle by which it lags the voltage's positive sequence.
    pub(super) lag: u32,
    /// The largest distance of one's angle from their mean.
    pub(super) spread: u32,
    /// A third of the sum of all as they stand in their places, 1/1000 of rated: none through a motor, for it has no neutral.
    pub(super) zero: i64,
    /// The negative-sequence current that was taken off one of the right size, 1/1000 of rated.
    pub(super) driven: i64,
    /// The voltage's positive sequence over the mean size of its channels, 1/1000.
    pub(super) level: i64,
    /// Whether the voltage's unbalance is known.
    pub(super) whole: bool,
}

/// Takes it off. `voltage` and `current` are the common angles of the sides, `lead` twelfths of a turn that are added to
/// the voltage's for the phase's; `good` says which voltages may be believed. `scales` says how many times too large each
/// current is taken to be, 1/1000: so many times is its share. Lag and spread are those of the currents in `judged`.
pub(super) fn balance(
    expected: &Expected,
    looks: &[Look; CHANNELS],
    (steps, lead): (Steps, i8),
    [voltage, current]: [u32; 2],
    (good, judged): (u8, u8),
    scales: [i64; 3],
) -> Balanced {
    let back = |k: usize, common: u32| {
        let step = (i32::from(steps[k]) as u32).wrapping_mul(degrees(60));
        Vector::polar(looks[k].fine, looks[k].angle.wrapping_sub(step).wrapping_sub(common))
    };
    let third = degrees(120);
    let turn = (i32::from(lead) as u32).wrapping_mul(degrees(30));
    // The three in place, as phasors; one that is missing closes the triangle.
    let mut three = [None; 3];
    for k in (0..3).filter(|k| good >> k & 1 == 1) {
        let p = place(steps[k]);
        three[p as usize % 3] = Some(back(k, voltage).turned(0u32.wrapping_sub(third.wrapping_mul(p))));
    }
    let closing = |a: Option<Vector>, b: Option<Vector>| Some(Vector::default().plus(a?, -1).plus(b?, -1));
    let [a, b, c] = three;
    let whole = [a.or(closing(b, c)), b.or(closing(c, a)), c.or(closing(a, b))];
    let known = whole.iter().all(Option::is_some);
    let (mut negative, mut positive) = (Vector::default(), Vector::default());
    if let [Some(a), Some(b), Some(c)] = whole {
        negative = a.plus(b.turned(0u32.wrapping_sub(third)), 1).plus(c.turned(third), 1);
        positive = a.plus(b.turned(third), 1).plus(c.turned(0u32.wrapping_sub(third)), 1);
    }
    // Over the positive one, so that a ratio that is wrong for all does not matter; its own size is added again.
    let share = negative.size() * 100_000 / positive.size().max(1);
    let driven = share.min(10_000) * expected.negative_admittance / 1_000;
    // From the phase's positive voltage on.
    let angle = negative.angle().wrapping_sub(positive.angle()).wrapping_sub(turn.wrapping_mul(2));
    let mut balanced = Balanced {
        sizes: [0; 3],
        amps: 0,
        level: 1_000,
        lag: 0,
        spread: 0,
        zero: 0,
        driven: driven / 100,
        whole: known,
    };
    let voltage = if known { voltage.wrapping_add(positive.angle()) } else { voltage };
    if known {
        let [sum, count] =
            (0..3).filter(|k| good >> k & 1 == 1).fold([0, 0], |[sum, n], k| [sum + looks[k].fine, n + 1]);
        balanced.level = positive.size() * count * 1_000 / (3 * sum).max(1);
    }
    let mut lag = voltage.wrapping_add(turn).wrapping_sub(current);
    let live = || (3..CHANNELS).filter(|k| looks[*k].live);
    // The common angle moves a little with what is taken off.
    for _ in 0..2 {
        let flows = angle.wrapping_sub(expected.negative_angle).wrapping_add(lag);
        let common = voltage.wrapping_add(turn).wrapping_sub(lag);
        let mut off = [0i64; 3];
        let mut sum = Vector::default();
        for k in live() {
            // 10 000 * 15 * the largest scale of 2^20: below 2^38, and what is kept of it is a small angle's work.
            let share = (driven * scales[k - 3] / 1_000).min(1 << 30);
            let share = Vector::polar(share, flows.wrapping_add(third.wrapping_mul(2 * place(steps[k]))));
            let rest = back(k, common).plus(share, -1);
            balanced.sizes[k - 3] = rest.size() / 100;
            off[k - 3] = i64::from(rest.angle() as i32);
            sum = sum.plus(rest.turned(0u32.wrapping_sub(third.wrapping_mul(place(steps[k])))), 1);
        }
        balanced.zero = sum.size() / 300;
        let right = || (0..3).filter(|k| live().any(|one| one == k + 3) && judged >> (k + 3) & 1 == 1);
        let mean = right().map(|k| off[k]).sum::<i64>() / (right().count() as i64).max(1);
        balanced.spread = right().map(|k| (off[k] - mean).unsigned_abs() as u32).max().unwrap_or(0);
        let shown = |k: usize| back(k + 3, common);
        let own = match (right().next(), right().nth(1), right().nth(2)) {
            (Some(a), Some(b), None) => positive_of(shown(a), shown(b), place(steps[b + 3]) + 3 - place(steps[a + 3])),
            (Some(a), Some(b), Some(c)) => shown(a).plus(shown(b), 1).plus(shown(c), 1).over(3),
            (Some(a), ..) => Vector::polar(balanced.sizes[a] * 100, off[a] as u32),
            _ => Vector::default(),
        };
        balanced.amps = own.size() / 100;
        lag = lag.wrapping_sub(own.angle());
    }
    balanced.lag = lag;
    balanced
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A positive sequence of 100 at 0 degrees and a negative one of 30 at 90: in the first place 100 + 30j. In the others the negative
    /// one stands at 330 and at 210 degrees: 100 + 25.98 - 15j and 100 - 25.98 - 15j.
    #[test]
    fn two_currents_make_the_third() {
        let places = [(100_000, 30_000), (125_981, -15_000), (74_019, -15_000)].map(|(x, y)| Vector { x, y });
        for first in 0..3_u32 {
            for further in [1, 2] {
                let second = places[(first + further) as usize % 3];
                let found = positive_of(places[first as usize], second, further);
                assert!((found.x - 100_000).abs() < 30 && found.y.abs() < 30, "{} {}", found.x, found.y);
            }
        }
    }
}
