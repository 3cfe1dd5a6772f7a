//! A flash that obeys physics, for tests.
//!
//! * An erase sets every bit of a page, a write only clears bits.
//! * A unit that was written, or begun to be, may not be written again before its page is erased: the device refuses it. That holds for all ones too,
//!   because a code for error correction was written beside them.
//! * Power may go at any unit of a write and at any erase. What was being written then has any subset of its bits written; what was being erased, any subset erased: all of
//!   them, none, a few, half. Such bits are weak: after each power-up they read one way or the other anew.
//! * With a code for error correction, a unit that was cut off may refuse to be read.
//! * Erases are counted page by page; a page that is worn out takes writes without complaint and now and then leaves a bit set.
//!
//! Everything is drawn from a seed.

use std::ops::Range;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

/// Numbers drawn from a seed (splitmix64; Steele, Lea and Flood 2014).
#[derive(Debug, Clone)]
pub struct Draw(pub u64);

impl Draw {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    pub fn byte(&mut self) -> u8 {
        self.next() as u8
    }
}

/// With pages of `PAGE` bytes, written `WRITE` bytes at a time.
#[derive(Debug, Clone)]
pub struct Flash<const WRITE: usize, const PAGE: usize> {
    bytes: Vec<u8>,
    /// Bits that read as they please.
    weak: Vec<u8>,
    /// What weak bits would be had power not gone.
    meant: Vec<u8>,
    /// A unit each: written, or begun to be, since the last erase.
    spent: Vec<bool>,
    /// A unit each: refuses to be read.
    torn: Vec<bool>,
    pub erases: Vec<u32>,
    pub worn: Option<usize>,
    /// Units written and pages erased.
    pub operations: u64,
    /// Writes to what was spent.
    pub refused: u64,
    /// Power goes at the operation with this number.
    pub cut_at: Option<u64>,
    off: bool,
    draw: Draw,
}

impl<const WRITE: usize, const PAGE: usize> Flash<WRITE, PAGE> {
    /// As it comes from the factory, or used: any bits at all.
    pub fn new(pages: usize, seed: u64) -> Self {
        let mut draw = Draw(seed);
        let used = seed.is_multiple_of(2);
        let bytes = (0..pages * PAGE).map(|_| if used { draw.byte() } else { 0xff }).collect();
        Self {
            bytes,
            weak: vec![0; pages * PAGE],
            meant: vec![0; pages * PAGE],
            spent: vec![used; pages * PAGE / WRITE],
            torn: vec![false; pages * PAGE / WRITE],
            erases: vec![0; pages],
            worn: None,
            operations: 0,
            refused: 0,
            cut_at: None,
            off: false,
            draw,
        }
    }

    /// Power is back: weak bits read as they please.
    pub fn power_up(&mut self) {
        self.off = false;
        self.cut_at = None;
        self.settle();
        for unit in 0..self.torn.len() {
            let weak = self.weak[unit * WRITE..(unit + 1) * WRITE].iter().any(|&weak| weak != 0);
            // Only where a code is beside what is written: not with single bytes.
            self.torn[unit] = WRITE == 8 && weak && self.draw.below(4) == 0;
        }
    }

    pub const fn is_off(&self) -> bool {
        self.off
    }

    /// Whether power goes at this operation.
    fn cut(&mut self) -> bool {
        self.operations += 1;
        self.off |= self.cut_at == Some(self.operations - 1);
        self.off
    }

    /// These bytes should have become what `meant` says, but power went.
    fn half(&mut self, range: Range<usize>, meant: &[u8]) {
        for (at, &meant) in range.zip(meant) {
            self.weak[at] |= self.bytes[at] ^ meant;
            self.meant[at] = meant;
        }
        self.settle();
    }

    /// Weak bits read as they please this time.
    fn settle(&mut self) {
        let mood = self.draw.below(5);
        for at in 0..self.bytes.len() {
            if self.weak[at] == 0 {
                continue;
            }
            let done = match mood {
                0 => 0xff,
                1 => 0,
                2 => !(self.draw.byte() & self.draw.byte() & self.draw.byte()),
                3 => self.draw.byte() & self.draw.byte() & self.draw.byte(),
                _ => self.draw.byte(),
            };
            let reads = (self.meant[at] & done) | (!self.meant[at] & !done);
            self.bytes[at] = (self.bytes[at] & !self.weak[at]) | (reads & self.weak[at]);
        }
    }
}

impl<const WRITE: usize, const PAGE: usize> ErrorType for Flash<WRITE, PAGE> {
    type Error = NorFlashErrorKind;
}

impl<const WRITE: usize, const PAGE: usize> ReadNorFlash for Flash<WRITE, PAGE> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len())?;
        let range = offset as usize..offset as usize + bytes.len();
        let units = range.start / WRITE..range.end.div_ceil(WRITE);
        if self.off || self.torn[units].contains(&true) {
            return Err(NorFlashErrorKind::Other);
        }
        bytes.copy_from_slice(&self.bytes[range]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const WRITE: usize, const PAGE: usize> NorFlash for Flash<WRITE, PAGE> {
    const WRITE_SIZE: usize = WRITE;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to)?;
        for page in from as usize / PAGE..to as usize / PAGE {
            let range = page * PAGE..(page + 1) * PAGE;
            if self.off {
                return Err(NorFlashErrorKind::Other);
            }
            self.erases[page] += 1;
            self.spent[range.start / WRITE..range.end / WRITE].fill(false);
            if self.cut() {
                self.spent[range.start / WRITE..range.end / WRITE].fill(true);
                self.half(range, &[0xff; PAGE]);
                return Err(NorFlashErrorKind::Other);
            }
            self.bytes[range.clone()].fill(0xff);
            self.weak[range.clone()].fill(0);
            self.torn[range.start / WRITE..range.end / WRITE].fill(false);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len())?;
        for (n, unit) in bytes.chunks(WRITE).enumerate() {
            let at = offset as usize + n * WRITE;
            if self.off {
                return Err(NorFlashErrorKind::Other);
            }
            if std::mem::replace(&mut self.spent[at / WRITE], true) {
                self.refused += 1;
                return Err(NorFlashErrorKind::Other);
            }
            if self.cut() {
                // Single bytes are programmed together, as many as the call has.
                let rest = if WRITE == 1 { bytes.len() - n } else { WRITE };
                self.spent[at / WRITE..(at + rest) / WRITE].fill(true);
                let new = &bytes[n * WRITE..n * WRITE + rest];
                let meant: Vec<u8> = self.bytes[at..at + rest].iter().zip(new).map(|(old, new)| old & new).collect();
                self.half(at..at + rest, &meant);
                return Err(NorFlashErrorKind::Other);
            }
            let stuck = if self.worn == Some(at / PAGE) && self.draw.below(20) == 0 { self.draw.byte() } else { 0 };
            for (to, from) in self.bytes[at..at + WRITE].iter_mut().zip(unit) {
                *to &= from | stuck;
            }
        }
        Ok(())
    }
}

#[test]
fn a_write_only_clears_bits_and_only_once() {
    let mut flash = Flash::<4, 64>::new(2, 1);
    flash.write(0, &[0x0f, 0, 0xff, 0xff]).unwrap();
    assert!(flash.write(0, &[0; 4]).is_err(), "written already");
    assert!(flash.write(2, &[0; 4]).is_err(), "not aligned");
    let mut back = [0; 4];
    flash.read(0, &mut back).unwrap();
    assert_eq!((back, flash.refused), ([0x0f, 0, 0xff, 0xff], 1));
    flash.erase(0, 64).unwrap();
    flash.write(0, &[0; 4]).unwrap();
    assert_eq!(flash.erases, [1, 0]);
}

#[test]
fn what_is_cut_off_is_neither_old_nor_new_and_may_change() {
    let mut seen = std::collections::HashSet::new();
    for seed in 0..50 {
        let mut flash = Flash::<4, 64>::new(1, 2 * seed + 1);
        flash.cut_at = Some(1);
        assert!(flash.write(0, &[0; 12]).is_err());
        let mut back = [0; 12];
        assert!(flash.read(0, &mut back).is_err(), "power is off");
        for _ in 0..2 {
            flash.power_up();
            flash.read(0, &mut back).unwrap();
            assert_eq!((&back[..4], &back[8..]), (&[0; 4][..], &[0xff; 4][..]), "before and after it");
            seen.insert(back);
        }
        assert!(flash.write(4, &[0; 4]).is_err(), "begun already");
    }
    // A fifth each reads as written and as never written.
    assert!(seen.len() > 40, "{}", seen.len());
}

#[test]
fn an_erase_that_is_cut_off_leaves_anything_in_between() {
    let mut flash = Flash::<8, 64>::new(1, 1);
    flash.write(0, &[0; 64]).unwrap();
    flash.cut_at = Some(flash.operations);
    assert!(flash.erase(0, 64).is_err());
    let (mut refused, mut ones) = (0, 0);
    for _ in 0..100 {
        flash.power_up();
        refused += (0..8).filter(|n| flash.read(8 * n, &mut [0; 8]).is_err()).count();
        ones += flash.bytes.iter().map(|byte| byte.count_ones()).sum::<u32>();
    }
    assert!((100..300).contains(&refused), "of 800 units the code refuses a fourth: {refused}");
    assert!((20_000..32_000).contains(&ones), "half of 51 200 bits: {ones}");
    flash.erase(0, 64).unwrap();
    assert!(flash.bytes.iter().all(|&byte| byte == 0xff));
}
