//! Whether the board's reference is what it should be, by the processor's own.
//!
//! The factory has measured the processor's own reference with 3 V on the converter and left the result in the flash (RM0440, data sheet, from memory). With 2.5 V there it reads
//! 6/5 of that; a board's reference that is too low makes it read more, by as much.

use crate::front;
use crate::lasting::Lasting;

/// What the converter's reference was at the factory, mV.
pub const FACTORY_MV: u32 = 3_000;
/// The board's may be off by so much, permille: the processor's own drifts by up to 50 ppm/K, 0.3 % over 60 K, and the factory's 3 V were ±10 mV, 0.33 % (data sheet, from memory).
pub const OFF_PERMILLE: u32 = 20;

/// Whether a result of 12 bits is right, given the factory's: true value over `FACTORY_MV` x that is `REFERENCE_MV` x this.
///
/// Width: 4 095 x 3 000 x 1 000 has 34 bits of 64. A factory value that nobody has written, all ones or nothing, is never right.
pub const fn right(read: u32, factory: u16) -> bool {
    let (is, should) = (read as u64 * front::REFERENCE_MV as u64, factory as u64 * FACTORY_MV as u64);
    should > 0 && is.abs_diff(should) * 1_000 <= should * OFF_PERMILLE as u64
}

/// When it is looked at: once a minute, and three blocks in a row where it is wrong, before it is believed.
#[derive(Debug, Clone, Copy)]
pub struct Minutes {
    every: u32,
    left: u32,
    wrong: Lasting,
    doubts: bool,
}

impl Minutes {
    /// A minute has so many blocks.
    pub const fn new(every: u32) -> Self {
        Self { every, left: every, wrong: Lasting::new(3), doubts: false }
    }

    /// Once a block: whether it has to be looked at.
    pub const fn due(&mut self) -> bool {
        self.left = self.left.saturating_sub(1);
        self.left == 0 || self.doubts
    }

    /// Takes what was seen; whether it is believed to be wrong.
    pub const fn take(&mut self, right: bool) -> bool {
        self.left = self.every;
        self.doubts = !right;
        self.wrong.take(!right)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is read with a reference of so many volts: the processor's own is 1.212 V, measured at 3 V in 12 bits.
    fn read(reference: f64) -> u32 {
        (1.212 / reference * 4_095.0).round() as u32
    }

    #[test]
    fn two_per_cent_either_way() {
        let factory = read(3.0) as u16;
        for (reference, wanted) in
            [(2.5, true), (2.46, true), (2.54, true), (2.44, false), (2.56, false), (3.3, false), (2.048, false)]
        {
            assert_eq!(right(read(reference), factory), wanted, "{reference} V");
        }
        assert_eq!([right(read(2.5), 0), right(read(2.5), u16::MAX), right(0, 0), right(0, factory)], [false; 4]);
    }

    #[test]
    fn it_is_looked_at_once_a_minute_and_again_where_it_is_wrong() {
        let mut minutes = Minutes::new(5);
        let looks = |minutes: &mut Minutes, right: bool| -> Vec<Option<bool>> {
            (0..8).map(|_| minutes.due().then(|| minutes.take(right))).collect()
        };
        assert_eq!(looks(&mut minutes, true).iter().flatten().count(), 1);
        let mut minutes = Minutes::new(5);
        let believed: Vec<_> = looks(&mut minutes, false).into_iter().flatten().collect();
        assert_eq!(believed, [false, false, true, true], "from the fifth block on, every block");
        assert!(minutes.due() && !minutes.take(true) && !minutes.due(), "right again");
    }

    #[test]
    fn the_page_says_so() {
        let page = include_str!("../../../docs/board-stm32g474.md");
        assert!(page.contains(&format!("off by more than {} %", OFF_PERMILLE / 10)));
    }
}
