//! The sample path: a block of frames into sums, channel by channel.
//!
//! A block without a boundary runs straight through its eight frames. The one that holds a boundary takes the slower way: the
//! frame that is cut counts by its fraction on either side. The fraction is applied to each product and rounded once; what one
//! side gets the other loses, so nothing is ever lost.

use super::delta;
use super::pairs::{Pair, crosses, slots};
use super::sums::{Channel, Sums};
use crate::frame::{BLOCK, Frame};
use crate::math::phase;
use crate::settings::{CHANNELS, MeterCoefficients};

/// Cosine and sine of a frame's middle, Q16.
type Basis = (i32, i32);

/// A block's frames with their basis.
pub(super) struct Block<'a> {
    frames: &'a [Frame; BLOCK],
    basis: [Basis; BLOCK],
}

/// Whether all codes lie within the converter's range: not at its end nor, for the code before it, sure.
///
/// `x ^ (x >> 31)` is the magnitude, less one where `x` is negative. Lifted so that from `full - 1` on it has a bit beyond the
/// thirtieth: three instructions a code, where comparing both ends takes four.
#[inline]
pub(super) fn inside(frames: &[Frame; BLOCK], full: i32) -> bool {
    let lift = (1 << 30) - (full - 1); // full is at least 2^11 - 1
    let far = |x: i32| (x ^ (x >> 31)).wrapping_add(lift);
    let mut bits = 0;
    for Frame([a, b, c, d, e, f]) in frames {
        bits |= far(*a) | far(*b) | far(*c) | far(*d) | far(*e) | far(*f);
    }
    bits as u32 >> 30 == 0
}

/// Brings codes at or beyond the end back to it and makes line currents of windings'; how many lay there.
#[cold]
#[inline(never)]
pub(super) fn amend(c: &MeterCoefficients, star: bool, frames: &mut [Frame; BLOCK]) -> u32 {
    let full = c.full_code;
    let mut clipped = 0;
    for x in frames.iter_mut().flat_map(|frame| &mut frame.0) {
        if *x >= full || *x <= -full {
            clipped += 1; // at most 48 a block
            *x = (*x).max(-full).min(full); // `clamp` could panic
        }
    }
    if let Some(delta) = &c.delta {
        delta::to_lines(delta, star, frames);
    }
    clipped
}

/// The code of a channel; of the last one where there is none such.
#[expect(clippy::inline_always, reason = "a load")]
#[inline(always)]
fn code(frame: &Frame, k: usize) -> i32 {
    frame.0[k.min(CHANNELS - 1)]
}

/// A channel's sums under way.
#[derive(Clone, Copy)]
struct Gathered {
    square: i64,
    cosine: i64,
    sine: i64,
    /// Of a block: eight codes of at most 24 bits are 27.
    code: i32,
}

impl Gathered {
    #[expect(clippy::inline_always, reason = "four instructions")]
    #[inline(always)]
    fn plus(self, x: i32, (cosine, sine): Basis) -> Self {
        Self {
            square: plus(self.square, x, x),
            cosine: plus(self.cosine, x, cosine),
            sine: plus(self.sine, x, sine),
            code: self.code.wrapping_add(x),
        }
    }
}

impl Channel {
    /// Adds a channel of some frames: nine instructions each, for all sums stay in registers. (Unrolled, the compiler brings the
    /// loads forward, and what they displace is stored and loaded again: twelve.)
    #[expect(clippy::inline_always, reason = "in one place")]
    #[inline(always)]
    fn add(&mut self, k: usize, frames: &[Frame], basis: &[Basis]) {
        let mut sum = Gathered { square: self.square, cosine: self.cosine, sine: self.sine, code: 0 };
        for (frame, basis) in frames.iter().zip(basis) {
            sum = sum.plus(code(frame, k), *basis);
        }
        let code = self.code.wrapping_add(sum.code.into());
        *self = Self { square: sum.square, cosine: sum.cosine, sine: sum.sine, code };
    }
}

/// `sum` and the products of two channels.
#[expect(clippy::inline_always, reason = "in one place")]
#[inline(always)]
fn product(sum: i64, i: usize, j: usize, frames: &[Frame]) -> i64 {
    let each = |sum, frame| plus(sum, code(frame, i), code(frame, j));
    let (fours, rest) = frames.as_chunks();
    let sum = fours.iter().fold(sum, |sum, [a, b, c, d]| each(each(each(each(sum, a), b), c), d));
    rest.iter().fold(sum, each)
}

#[expect(clippy::inline_always, reason = "an instruction")]
#[inline(always)]
fn plus(sum: i64, x: i32, y: i32) -> i64 {
    sum.wrapping_add(i64::from(x) * i64::from(y))
}

impl<'a> Block<'a> {
    /// Frames within the converter's range; the angle of the first one's middle, and the phase a frame.
    #[inline]
    pub(super) fn new(frames: &'a [Frame; BLOCK], first_angle: u32, step: u32) -> Self {
        let mut block = Self { frames, basis: [(0, 0); BLOCK] };
        let mut angle = first_angle;
        for each in &mut block.basis {
            *each = phase::basis(angle);
            angle = angle.wrapping_add(step);
        }
        block
    }

    /// Adds all eight frames.
    pub(super) fn add_all(&self, c: &MeterCoefficients, to: &mut Sums) {
        Self::add(c, self.frames, &self.basis, to);
    }

    /// Adds frames `from..until`.
    pub(super) fn add_some(&self, c: &MeterCoefficients, from: usize, until: usize, to: &mut Sums) {
        let (Some(frames), Some(basis)) = (self.frames.get(from..until), self.basis.get(from..until)) else { return };
        Self::add(c, frames, basis, to);
    }

    /// Channel by channel. (With eight known at compile time the loops come out longer: an index instead of two pointers.)
    #[inline(never)]
    fn add(c: &MeterCoefficients, frames: &[Frame], basis: &[Basis], to: &mut Sums) {
        to.frames = to.frames.wrapping_add((frames.len() as u32) << 16);
        for &slot in slots(c.wiring) {
            let k = slot as usize;
            if let Some(sums) = to.channel.get_mut(k) {
                sums.add(k, frames, basis);
            }
        }
        for (Pair { first, second, .. }, sum) in crosses(c.wiring).iter().zip(&mut to.cross) {
            let (i, j) = (*first as usize, *second as usize);
            *sum = product(*sum, i, j, frames);
        }
        let [mut cc, mut cs, mut ss] = to.basis;
        for (c, s) in basis {
            (cc, cs, ss) = (plus(cc, *c, *c), plus(cs, *c, *s), plus(ss, *s, *s));
        }
        to.basis = [cc, cs, ss];
    }

    /// Cuts frame `f`: `weight` of it (Q16, at most one) goes to `before`, the rest to `after`.
    #[inline(never)]
    pub(super) fn cut(&self, c: &MeterCoefficients, f: usize, weight: u32, before: &mut Sums, after: &mut Sums) {
        let w = i64::from(weight);
        // Products have at most 46 bits: with 16 of weight 62.
        let give = |before: &mut i64, after: &mut i64, x: i64| {
            let share = (x * w + 0x8000) >> 16;
            *before = before.wrapping_add(share);
            *after = after.wrapping_add(x - share);
        };
        let (Some(frame), Some(&(cosine, sine))) = (self.frames.get(f), self.basis.get(f)) else { return };
        let (cosine, sine) = (i64::from(cosine), i64::from(sine));
        for &slot in slots(c.wiring) {
            let k = (slot as usize).min(CHANNELS - 1);
            let (x, before, after) = (i64::from(code(frame, k)), &mut before.channel[k], &mut after.channel[k]);
            give(&mut before.square, &mut after.square, x * x);
            give(&mut before.cosine, &mut after.cosine, x * cosine);
            give(&mut before.sine, &mut after.sine, x * sine);
            give(&mut before.code, &mut after.code, x);
        }
        for ((Pair { first, second, .. }, before), after) in
            crosses(c.wiring).iter().zip(&mut before.cross).zip(&mut after.cross)
        {
            give(before, after, i64::from(code(frame, *first as usize)) * i64::from(code(frame, *second as usize)));
        }
        for ((before, after), x) in
            before.basis.iter_mut().zip(&mut after.basis).zip([cosine * cosine, cosine * sine, sine * sine])
        {
            give(before, after, x);
        }
        before.frames = before.frames.wrapping_add(weight);
        after.frames = after.frames.wrapping_add((1 << 16) - weight);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Settings;

    fn frames() -> [Frame; BLOCK] {
        core::array::from_fn(|f| Frame(core::array::from_fn(|k| (f as i32 - 4) * 1000 + 37 * k as i32)))
    }

    #[test]
    fn parts_add_up_to_the_whole() {
        let c = Settings::example().build().unwrap().meter;
        let frames = frames();
        let block = Block::new(&frames, 12345, c.nominal_step);
        let mut whole = Sums::ZERO;
        block.add_all(&c, &mut whole);
        for cut in 0..BLOCK {
            for weight in [0, 1, 20_000, 65_535, 65_536] {
                let (mut before, mut after) = (Sums::ZERO, Sums::ZERO);
                block.add_some(&c, 0, cut, &mut before);
                block.cut(&c, cut, weight, &mut before, &mut after);
                block.add_some(&c, cut + 1, BLOCK, &mut after);
                before.add(&after);
                assert_eq!(before, whole, "cut {cut} weight {weight}");
            }
        }
    }

    #[test]
    fn the_end_counts_as_clipped_and_beyond_it_is_the_end() {
        let c = Settings::example().build().unwrap().meter;
        let full = c.full_code;
        for (code, clipped, kept) in [
            (full - 2, 0, full - 2),
            (full - 1, 0, full - 1),
            (full, 8, full),
            (full + 1, 8, full),
            (-full, 8, -full),
            (1 - full, 0, 1 - full),
            (2 - full, 0, 2 - full),
            (i32::MIN, 8, -full),
            (i32::MAX, 8, full),
        ] {
            let mut frames = [Frame::default(); BLOCK];
            for f in &mut frames {
                f.0[4] = code;
            }
            assert_eq!(inside(&frames, full), (1 - full..full - 1).contains(&code), "{code}");
            assert_eq!(amend(&c, false, &mut frames), clipped, "{code}");
            assert!(frames.iter().all(|frame| frame.0 == [0, 0, 0, 0, kept, 0]), "{code}");
        }
    }
}
