//! The sample path: a block of frames into sums, channel by channel.
//!
//! A block without a boundary runs loops of constant length. The one that holds a boundary takes the
//! slower way: the frame that is cut counts by its fraction on either side. The fraction is applied to
//! each product and rounded once; what one side gets the other loses, so nothing is ever lost.

use core::array;

use super::pairs::{Pair, pairs, slots};
use super::sums::Sums;
use crate::frame::{BLOCK, Frame};
use crate::math::phase;
use crate::settings::{CHANNELS, MeterCoefficients};

/// A block, turned channel by channel, with its basis.
pub(super) struct Block {
    channel: [[i32; BLOCK]; CHANNELS],
    cosine: [i32; BLOCK],
    sine: [i32; BLOCK],
    clipped: u32,
}

impl Block {
    /// Turns the frames, limits them to the converter's range and makes the basis: the angle of the
    /// first frame's middle and the phase a frame.
    #[inline]
    pub(super) fn load(frames: &[Frame; BLOCK], full: i32, first_angle: u32, step: u32) -> Self {
        let inside = full - 1; // full is at least 2^11 - 1
        let mut beyond = 0i32; // the sign bit collects: some sample is at or beyond the end
        let channel = array::from_fn(|c| {
            array::from_fn(|f| {
                let code = frames[f].0[c];
                beyond |= inside.wrapping_sub(code) | inside.wrapping_add(code);
                code
            })
        });
        let mut block = Self { channel, cosine: [0; BLOCK], sine: [0; BLOCK], clipped: 0 };
        let mut angle = first_angle;
        for (c, s) in block.cosine.iter_mut().zip(&mut block.sine) {
            (*c, *s) = phase::basis(angle);
            angle = angle.wrapping_add(step);
        }
        if beyond < 0 {
            block.limit(full);
        }
        block
    }

    /// Counts what lies at or beyond the end and brings it back to the end.
    #[cold]
    fn limit(&mut self, full: i32) {
        for channel in &mut self.channel {
            for x in channel {
                if *x >= full || *x <= -full {
                    self.clipped += 1; // at most 48 a block
                    *x = (*x).max(-full).min(full); // `clamp` could panic
                }
            }
        }
    }

    /// The currents' codes.
    pub(super) const fn currents(&mut self) -> [&mut [i32; BLOCK]; 3] {
        let [_, _, _, a, b, c] = &mut self.channel;
        [a, b, c]
    }

    /// Adds all eight frames.
    #[inline]
    pub(super) fn add_all(&self, c: &MeterCoefficients, to: &mut Sums) {
        self.add(c, 0, BLOCK, to);
    }

    /// Adds frames `from..until`.
    #[inline(never)] // the loops of constant length above are not to be bent to this one's needs
    pub(super) fn add_some(&self, c: &MeterCoefficients, from: usize, until: usize, to: &mut Sums) {
        if from < until {
            self.add(c, from, until, to);
        }
    }

    #[expect(clippy::inline_always, reason = "once with constant bounds, once without")]
    #[inline(always)]
    fn add(&self, c: &MeterCoefficients, from: usize, until: usize, to: &mut Sums) {
        let (cosines, sines) = (part(&self.cosine, from, until), part(&self.sine, from, until));
        to.frames = to.frames.wrapping_add(((until - from) as u32) << 16);
        for &slot in slots(c.wiring) {
            let k = slot as usize;
            let (Some(x), Some(code), Some(cosine), Some(sine)) =
                (self.channel.get(k), to.code.get_mut(k), to.cosine.get_mut(k), to.sine.get_mut(k))
            else {
                continue;
            };
            let (mut sum, mut re, mut im) = (0i32, *cosine, *sine); // 8 codes: 27 bits
            for ((x, c), s) in part(x, from, until).iter().zip(cosines).zip(sines) {
                sum = sum.wrapping_add(*x);
                re = re.wrapping_add(i64::from(*x) * i64::from(*c));
                im = im.wrapping_add(i64::from(*x) * i64::from(*s));
            }
            *code = code.wrapping_add(i64::from(sum));
            (*cosine, *sine) = (re, im);
        }
        for (Pair { first, second, .. }, sum) in pairs(c.wiring).iter().zip(&mut to.product) {
            if let (Some(x), Some(y)) = (self.channel.get(*first as usize), self.channel.get(*second as usize)) {
                *sum = dot(part(x, from, until), part(y, from, until), *sum);
            }
        }
        let [cc, cs, ss] = to.basis;
        to.basis = [dot(cosines, cosines, cc), dot(cosines, sines, cs), dot(sines, sines, ss)];
    }

    /// Cuts frame `f`: `weight` of it (Q16, at most one) goes to `before`, the rest to `after`.
    pub(super) fn cut(&self, c: &MeterCoefficients, f: usize, weight: u32, before: &mut Sums, after: &mut Sums) {
        let w = i64::from(weight);
        // Products have at most 46 bits: with 16 of weight 62.
        let give = |before: &mut i64, after: &mut i64, x: i64| {
            let share = (x * w + 0x8000) >> 16;
            *before = before.wrapping_add(share);
            *after = after.wrapping_add(x - share);
        };
        let at = |k: usize| self.channel.get(k).and_then(|x| x.get(f)).map_or(0, |x| i64::from(*x));
        let (Some(&cosine), Some(&sine)) = (self.cosine.get(f), self.sine.get(f)) else { return };
        let (cosine, sine) = (i64::from(cosine), i64::from(sine));
        for k in 0..CHANNELS {
            give(&mut before.code[k], &mut after.code[k], at(k));
            give(&mut before.cosine[k], &mut after.cosine[k], at(k) * cosine);
            give(&mut before.sine[k], &mut after.sine[k], at(k) * sine);
        }
        for ((Pair { first, second, .. }, before), after) in
            pairs(c.wiring).iter().zip(&mut before.product).zip(&mut after.product)
        {
            give(before, after, at(*first as usize) * at(*second as usize));
        }
        for ((before, after), x) in
            before.basis.iter_mut().zip(&mut after.basis).zip([cosine * cosine, cosine * sine, sine * sine])
        {
            give(before, after, x);
        }
        before.frames = before.frames.wrapping_add(weight);
        after.frames = after.frames.wrapping_add((1 << 16) - weight);
    }

    /// How many of the block's samples lay at or beyond the converter's end.
    pub(super) const fn clipped(&self) -> u32 {
        self.clipped
    }
}

/// The frames `from..until` of a row.
#[expect(clippy::inline_always, reason = "a bound that is known must be seen to be")]
#[inline(always)]
fn part(row: &[i32; BLOCK], from: usize, until: usize) -> &[i32] {
    row.get(from..until).unwrap_or_default()
}

/// `sum` plus the products of two rows.
#[inline]
fn dot(x: &[i32], y: &[i32], sum: i64) -> i64 {
    x.iter().zip(y).fold(sum, |sum, (x, y)| sum.wrapping_add(i64::from(*x) * i64::from(*y)))
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
        let block = Block::load(&frames(), c.full_code, 12345, c.nominal_step);
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
            (full - 1, 0, full - 1),
            (full, 8, full),
            (full + 1, 8, full),
            (-full, 8, -full),
            (1 - full, 0, 1 - full),
            (i32::MIN, 8, -full),
            (i32::MAX, 8, full),
        ] {
            let mut frames = [Frame::default(); BLOCK];
            for f in &mut frames {
                f.0[4] = code;
            }
            let block = Block::load(&frames, full, 0, 0);
            assert_eq!((block.clipped, block.channel[4]), (clipped, [kept; BLOCK]), "{code}");
        }
    }
}
