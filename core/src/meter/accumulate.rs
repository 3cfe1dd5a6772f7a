//! The sample path: a block of frames into running totals, channel by channel.
//!
//! A block runs straight through its eight frames, written out one by one. The one that holds a boundary goes frame by frame, and
//! notes the totals at the boundary on its way: of the frame that is cut a part counts before it.

use super::delta;
use super::pairs::{Pair, Slot, crosses, slots};
use super::sums::{Channel, Sums};
use crate::frame::{BLOCK, Frame};
use crate::math::divide::part;
use crate::math::phase::Turning;
use crate::math::scale::{upper, upper_rounded};
use crate::settings::MeterCoefficients;

/// Cosine and sine of a frame's middle, Q16.
type Basis = (i32, i32);

/// A block's frames with their basis.
pub(super) struct Block<'a> {
    frames: &'a [Frame; BLOCK],
    basis: [Basis; BLOCK],
}

/// What tells codes at the converter's end from others: see [`inside`].
///
/// A code times a fourth, and a little more, of 1 / full: from the end on, `full`, that is 2^(bits - 1) - 1, the upper word of the
/// product is out of -2^(bits - 3) .. 2^(bits - 3). With `full - 1/2` taken for it an end is an eighth of a step beyond, and the code
/// before it an eighth short; the factor's own rounding makes 2^-9 of a step at most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Range {
    factor: i32,
    half: i32,
}

impl Range {
    /// Of a converter with codes up to `full`, 2^11 - 1 to 2^23 - 1.
    pub(crate) const fn new(full: i32) -> Self {
        let half = (full as u64 + 1) >> 2;
        let (num, den) = (half << 33, 2 * full as u64 - 1);
        // Above 2^30 by 3/4 of 2^30 / full: 31 bits.
        Self { factor: part(num + den / 2, den as u32) as i32, half: half as i32 }
    }
}

/// Whether all codes lie within the converter's range, short of its ends. Two instructions a code and half of a load.
#[inline(never)]
pub(super) fn inside(frames: &[Frame; BLOCK], Range { factor, half }: Range) -> bool {
    let lifted = |x: i32| half.wrapping_add(upper(x, factor));
    let mut bits = 0;
    for Frame([a, b, c, d, e, f]) in frames {
        bits |= lifted(*a) | lifted(*b) | lifted(*c) | lifted(*d) | lifted(*e) | lifted(*f);
    }
    // Of 0 .. 2 half, a power of two, or with bits beyond.
    (bits as u32) < 2 * half as u32
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

/// The code of a channel.
#[expect(clippy::inline_always, reason = "a load")]
#[inline(always)]
fn code(frame: &Frame, k: Slot) -> i32 {
    frame.0[k as usize]
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
    /// Six instructions: two loads, three products, a sum.
    #[expect(clippy::inline_always, reason = "six instructions")]
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

impl Gathered {
    #[expect(clippy::inline_always, reason = "in two places")]
    #[inline(always)]
    fn run(self, k: Slot, (frames, basis): Part) -> Self {
        frames.iter().zip(basis).fold(self, |sum, (frame, basis)| sum.plus(code(frame, k), *basis))
    }
}

impl From<Channel> for Gathered {
    fn from(Channel { square, cosine, sine, .. }: Channel) -> Self {
        Self { square, cosine, sine, code: 0 }
    }
}

impl Channel {
    /// With what was gathered on top of it.
    fn with(&self, Gathered { square, cosine, sine, code }: Gathered) -> Self {
        Self { square, cosine, sine, code: self.code.wrapping_add(code.into()) }
    }

    /// Adds a channel of eight frames. By itself, so that all sums stay in registers: in a loop over channels the compiler keeps there
    /// what is the same for all of them.
    #[inline(never)]
    fn add(&mut self, k: Slot, [fa, fb, fc, fd, fe, ff, fg, fh]: &[Frame; BLOCK], basis: &[Basis; BLOCK]) {
        let [ba, bb, bc, bd, be, bf, bg, bh] = basis;
        let sum = Gathered::from(*self).plus(code(fa, k), *ba).plus(code(fb, k), *bb).plus(code(fc, k), *bc);
        let sum = sum.plus(code(fd, k), *bd).plus(code(fe, k), *be).plus(code(ff, k), *bf);
        *self = self.with(sum.plus(code(fg, k), *bg).plus(code(fh, k), *bh));
    }
}

/// `sum` and the products of two channels of eight frames; by itself as [`Channel::add`].
#[inline(never)]
fn product(sum: i64, i: Slot, j: Slot, [a, b, c, d, e, f, g, h]: &[Frame; BLOCK]) -> i64 {
    let each = |sum, frame| plus(sum, code(frame, i), code(frame, j));
    each(each(each(each(each(each(each(each(sum, a), b), c), d), e), f), g), h)
}

#[expect(clippy::inline_always, reason = "an instruction")]
#[inline(always)]
fn plus(sum: i64, x: i32, y: i32) -> i64 {
    sum.wrapping_add(i64::from(x) * i64::from(y))
}

impl<'a> Block<'a> {
    /// Frames within the converter's range; `turning` stands at the angle of the first one's middle, and is left at that of the
    /// first one after them.
    #[inline(never)]
    pub(super) fn new(frames: &'a [Frame; BLOCK], turning: &mut Turning) -> Self {
        let mut at = *turning;
        let basis = [at.next(), at.next(), at.next(), at.next(), at.next(), at.next(), at.next(), at.next()];
        *turning = at;
        Self { frames, basis }
    }

    /// Adds all eight frames.
    #[inline(never)]
    pub(super) fn add(&self, c: &MeterCoefficients, to: &mut Sums) {
        to.frames = to.frames.wrapping_add((BLOCK as u32) << 16);
        for &slot in slots(c.wiring) {
            to.channel[slot as usize].add(slot, self.frames, &self.basis);
        }
        for (Pair { first, second, .. }, sum) in crosses(c.wiring).iter().zip(&mut to.cross) {
            *sum = product(*sum, *first, *second, self.frames);
        }
        to.basis = squares_of_all(to.basis, &self.basis);
    }

    /// Adds the first `count` frames, with a boundary in the one at place `f`, of which `weight` (Q16, at most one) lies before it;
    /// at that moment the totals were `end`.
    ///
    /// Of the frame that is cut the share of each product is rounded once, but for those with the basis: the basis is weighted
    /// instead, within half a step of its own. What one stretch has too much the next one lacks.
    #[inline(never)]
    pub(super) fn cut(
        &self,
        c: &MeterCoefficients,
        f: usize,
        weight: u32,
        count: usize,
        to: &mut Sums,
        end: &mut Sums,
    ) {
        let (f, count) = (f.min(BLOCK - 1), count.min(BLOCK));
        let (cosine, sine) = self.basis[f];
        let mut cut =
            Cut { first: self.part(0, f), frame: &self.frames[f], rest: self.part(f, count), weight, basis: (0, 0) };
        cut.basis = (cut.weighted(cosine), cut.weighted(sine));
        for &slot in slots(c.wiring) {
            cut.channel(slot, &mut to.channel[slot as usize], &mut end.channel[slot as usize]);
        }
        for ((Pair { first, second, .. }, to), end) in crosses(c.wiring).iter().zip(&mut to.cross).zip(&mut end.cross) {
            (*to, *end) = cut.product(*to, *first, *second);
        }
        let [cc, cs, ss] = squares(to.basis, cut.first.1);
        end.basis = [plus(cc, cosine, cut.basis.0), plus(cs, cosine, cut.basis.1), plus(ss, sine, cut.basis.1)];
        to.basis = squares([cc, cs, ss], cut.rest.1);
        end.frames = to.frames.wrapping_add(((f as u32) << 16) + weight);
        to.frames = to.frames.wrapping_add((count as u32) << 16);
    }

    fn part(&self, from: usize, until: usize) -> Part<'_> {
        (self.frames.get(from..until).unwrap_or_default(), self.basis.get(from..until).unwrap_or_default())
    }
}

/// [`squares`] of all eight frames; by itself as [`Channel::add`].
#[inline(never)]
fn squares_of_all(sums: [i64; 3], [a, b, c, d, e, f, g, h]: &[Basis; BLOCK]) -> [i64; 3] {
    let each = |[cc, cs, ss]: [i64; 3], &(c, s): &Basis| [plus(cc, c, c), plus(cs, c, s), plus(ss, s, s)];
    each(each(each(each(each(each(each(each(sums, a), b), c), d), e), f), g), h)
}

/// Some frames of a block with their basis.
type Part<'a> = (&'a [Frame], &'a [Basis]);

/// A block with a boundary.
struct Cut<'a> {
    first: Part<'a>,
    /// The one with the boundary, which begins the rest.
    frame: &'a Frame,
    rest: Part<'a>,
    /// The share of it that lies before the boundary, Q16.
    weight: u32,
    /// Its basis, weighted.
    basis: Basis,
}

impl Cut<'_> {
    /// The basis and its sign take 18 bits: with eight zeros more 26, and the weight 25.
    const fn weighted(&self, x: i32) -> i32 {
        upper_rounded(x << 8, (self.weight << 8) as i32)
    }

    /// The share of a product: 46 bits and 17 of weight make 63.
    #[expect(clippy::inline_always, reason = "ten instructions")]
    #[inline(always)]
    fn share(&self, x: i32, y: i32) -> i64 {
        (i64::from(x) * i64::from(y) * i64::from(self.weight) + 0x8000) >> 16
    }

    /// Adds a channel, and notes what it was at the boundary; by itself as [`Channel::add`].
    #[inline(never)]
    fn channel(&self, k: Slot, to: &mut Channel, end: &mut Channel) {
        let x = code(self.frame, k);
        let sum = Gathered::from(*to).run(k, self.first);
        let (cosine, sine) = self.basis;
        *end = to.with(Gathered {
            square: sum.square.wrapping_add(self.share(x, x)),
            cosine: plus(sum.cosine, x, cosine),
            sine: plus(sum.sine, x, sine),
            code: sum.code.wrapping_add(self.share(x, 1) as i32),
        });
        *to = to.with(sum.run(k, self.rest));
    }

    /// The same of the products of two channels: the sum after the block and at the boundary.
    #[inline(never)]
    fn product(&self, sum: i64, i: Slot, j: Slot) -> (i64, i64) {
        let run =
            |sum, (frames, _): Part| frames.iter().fold(sum, |sum, frame| plus(sum, code(frame, i), code(frame, j)));
        let sum = run(sum, self.first);
        (run(sum, self.rest), sum.wrapping_add(self.share(code(self.frame, i), code(self.frame, j))))
    }
}

/// The basis' own sums on top of some.
#[expect(clippy::inline_always, reason = "three instructions a frame")]
#[inline(always)]
fn squares(sums: [i64; 3], basis: &[Basis]) -> [i64; 3] {
    basis.iter().fold(sums, |[cc, cs, ss], &(c, s)| [plus(cc, c, c), plus(cs, c, s), plus(ss, s, s)])
}

#[cfg(test)]
mod tests {
    use super::super::sums::Stretch;
    use super::*;
    use crate::settings::Settings;

    fn frames() -> [Frame; BLOCK] {
        core::array::from_fn(|f| Frame(core::array::from_fn(|k| (f as i32 - 4) * 1000 + 37 * k as i32)))
    }

    /// Frame by frame, in numbers that cannot be too wide.
    fn wanted(c: &MeterCoefficients, frames: &[Frame; BLOCK], block: &Block, f: usize, weight: u32) -> Sums {
        let mut sums = Sums { frames: ((f as u32) << 16) + weight, ..Sums::ZERO };
        for (n, (Frame(codes), (cosine, sine))) in frames.iter().zip(block.basis).enumerate().take(f + 1) {
            let weight = i128::from(if n < f { 1 << 16 } else { weight });
            let give = |sum: &mut i64, x: i32, y: i32| {
                *sum += ((i128::from(x) * i128::from(y) * weight + 0x8000) >> 16) as i64;
            };
            for (sums, x) in sums.channel.iter_mut().zip(codes) {
                give(&mut sums.square, *x, *x);
                give(&mut sums.cosine, *x, cosine);
                give(&mut sums.sine, *x, sine);
                give(&mut sums.code, *x, 1);
            }
            for (pair, sum) in crosses(c.wiring).iter().zip(&mut sums.cross) {
                give(sum, codes[pair.first as usize], codes[pair.second as usize]);
            }
            let [cc, cs, ss] = &mut sums.basis;
            give(cc, cosine, cosine);
            give(cs, cosine, sine);
            give(ss, sine, sine);
        }
        sums
    }

    #[test]
    fn totals_are_those_of_the_frames() {
        let wide = Settings::example();
        let wide = Settings { sampling: crate::settings::Sampling { bits: 24, ..wide.sampling }, ..wide };
        let c = wide.build().unwrap().meter;
        let full = c.full_code;
        let ends = core::array::from_fn(|f| {
            Frame(core::array::from_fn(|k| if (f + k) % 3 == 0 { 1 - full } else { full - 1 }))
        });
        for frames in [frames(), ends] {
            let block = Block::new(&frames, &mut Turning::new(12345, c.nominal_step));
            let mut whole = Sums::ZERO;
            block.add(&c, &mut whole);
            assert_eq!(whole, wanted(&c, &frames, &block, 7, 1 << 16));
            // On top of totals that are about to wrap.
            let before = Sums { cross: [i64::MAX; 9], frames: u32::MAX, ..whole };
            for (cut, count) in (0..BLOCK).flat_map(|cut| (cut..=BLOCK).map(move |count| (cut, count))) {
                for weight in [0, 1, 20_000, 65_535, 65_536] {
                    let (mut to, mut end) = (before, before);
                    block.cut(&c, cut, weight, count, &mut to, &mut end);
                    let all = if count == BLOCK { whole } else { wanted(&c, &frames, &block, count, 0) };
                    let stretch = Stretch { end: &to, begin: &before };
                    assert_eq!([stretch.cross(0), stretch.cross(2)], [all.cross[0], all.cross[2]].map(Some));
                    assert_eq!((stretch.frames(), stretch.basis()), (all.frames, all.basis));
                    assert_eq!(stretch.channel(Slot::Ic), all.channel[5]);
                    // Of the frame that is cut the basis is rounded, by half a step of it.
                    let until = wanted(&c, &frames, &block, cut, weight);
                    assert_eq!(end.frames, before.frames.wrapping_add(until.frames));
                    let most = if weight % 65_536 == 0 { 0 } else { i64::from(full) / 2 + 1 };
                    for (end, (before, until)) in end.channel.iter().zip(before.channel.iter().zip(&until.channel)) {
                        assert_eq!(end.square.wrapping_sub(before.square), until.square, "cut {cut} weight {weight}");
                        assert_eq!(end.code.wrapping_sub(before.code), until.code, "cut {cut} weight {weight}");
                        let off = [end.cosine - before.cosine - until.cosine, end.sine - before.sine - until.sine];
                        assert!(off.iter().all(|off| off.abs() <= most), "cut {cut} weight {weight}: {off:?}");
                    }
                    for (end, (before, until)) in end.cross.iter().zip(before.cross.iter().zip(&until.cross)) {
                        assert_eq!(end.wrapping_sub(*before), *until, "cut {cut} weight {weight}");
                    }
                    for (end, (before, until)) in end.basis.iter().zip(before.basis.iter().zip(&until.basis)) {
                        assert!((end - before - until).abs() <= 1 << 15, "cut {cut} weight {weight}");
                    }
                }
            }
        }
    }

    #[test]
    fn every_range_ends_at_its_ends() {
        for bits in 12..=24 {
            let full = (1 << (bits - 1)) - 1;
            for near in [0, full / 2, full] {
                for code in (near - 4..=near + 4).flat_map(|x| [x, -x]).chain([i32::MIN, i32::MAX, 3 * full, -3 * full])
                {
                    let mut frames = [Frame::default(); BLOCK];
                    frames[3].0[4] = code;
                    let wanted = (1 - full..full).contains(&code);
                    assert_eq!(inside(&frames, Range::new(full)), wanted, "{bits} bits, {code}");
                }
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
            assert_eq!(inside(&frames, Range::new(full)), (1 - full..full).contains(&code), "{code}");
            assert_eq!(amend(&c, false, &mut frames), clipped, "{code}");
            assert!(frames.iter().all(|frame| frame.0 == [0, 0, 0, 0, kept, 0]), "{code}");
        }
    }
}
