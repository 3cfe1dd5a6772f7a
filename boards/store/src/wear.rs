//! How many pages give ten years, how long a step takes, how much a queue has to hold: from figures of the flash, for a board to compute when it is compiled.

use shaftwork_core::time::Span;

/// Bytes of a record after ten years of a busy mill, header included; a test measures it.
pub const RECORD: u32 = 264;
/// Ten years, s.
const TEN_YEARS: u64 = 315_576_000;
/// Records that are written at once in ten years: five for each of a hundred thousand starts (begun, run up, the image's eighths), and what else presses.
const AT_ONCE: u64 = 600_000;

/// How a board's power goes, and into what it writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// FRAM: no erase, no wear to speak of. A little more often than once a second.
    Fram,
    /// Flash; an input tells that power fails while there is enough left for [`Part::hold_up_us`]: what is newest is kept then. Once a minute besides,
    /// for resets that no input foretells.
    HoldUp,
    /// Flash alone. A little more often than once a minute.
    Plain,
}

impl Policy {
    /// Every so many milliseconds: so much less than what may be lost as a record takes to be written ([`Policy::holds`]).
    pub const fn every_ms(self) -> u32 {
        match self {
            Self::Fram => 900,
            Self::HoldUp | Self::Plain => 59_000,
        }
    }

    /// The same in frames of a converter that gives so many in a second, mHz.
    pub const fn every(self, rate_mhz: u32) -> Span {
        // 59 000 times 10^8 has 43 bits, 16 more for the fraction of a frame.
        Span((self.every_ms() as u64 * rate_mhz as u64 / 1_000_000) << 16)
    }

    /// So many seconds of energy are lost at most when power goes.
    pub const fn lost_s(self) -> u32 {
        match self {
            Self::Fram | Self::HoldUp => 1,
            Self::Plain => 60,
        }
    }

    /// Whether no more is lost, with a record of so many bytes in this flash and a step in each block of so many µs.
    pub const fn holds(self, part: &Part, record: u32, block_us: u32) -> bool {
        // With an input that tells of it, what is newest is kept when the power goes.
        let every_us = if matches!(self, Self::HoldUp) { 0 } else { self.every_ms() as u64 * 1_000 };
        every_us + part.record_us(record, block_us) <= self.lost_s() as u64 * 1_000_000
    }
}

/// What a flash's data sheet says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Bytes that are erased together.
    pub page: u32,
    /// Bytes that are written in one step.
    pub write: u32,
    /// How often a page may be erased; of FRAM, how often a byte may be written.
    pub endurance: u64,
    /// Longest erase of a page, µs.
    pub erase_us: u32,
    /// Longest write of a step, µs.
    pub write_us: u32,
}

/// The processor's own flash of an STM32G474. Figures from memory of the data sheet: check them against yours.
pub const STM32G4: Part = Part { page: 2_048, write: 8, endurance: 10_000, erase_us: 24_500, write_us: 91 };
/// A serial NOR flash of the usual kind, written 16 bytes at a time. Typical figures from memory: check them against your part's data sheet.
pub const SERIAL_NOR: Part = Part { page: 4_096, write: 16, endurance: 100_000, erase_us: 400_000, write_us: 3_000 };
/// A serial FRAM at 8 MHz, in pages of 2 KiB that "erasing" fills with ones. Typical figures from memory: check them against your part's data sheet.
pub const FRAM: Part = Part { page: 2_048, write: 64, endurance: 10_000_000_000_000, erase_us: 2_200, write_us: 70 };

impl Part {
    /// Records that a page takes.
    pub const fn per_page(&self, record: u32, cell: u32) -> u32 {
        let Some(per_page) = self.page.checked_div(record.next_multiple_of(cell)) else { return 0 };
        per_page
    }

    /// Pages that ten years take when a record of so many bytes is written every so many milliseconds, and some at once; `None` where a page has no room for one.
    pub const fn pages(&self, record: u32, cell: u32, every_ms: u32) -> Option<u64> {
        let per_page = self.per_page(record, cell) as u64;
        if per_page == 0 || every_ms == 0 || self.endurance == 0 {
            return None;
        }
        let records = (TEN_YEARS * 1_000).div_ceil(every_ms as u64) + AT_ONCE;
        let pages = records.div_ceil(per_page).div_ceil(self.endurance);
        Some(if pages < 5 { 5 } else { pages })
    }

    /// Years that so many pages last.
    pub const fn years(&self, record: u32, cell: u32, every_ms: u32, pages: u64) -> u64 {
        // Sums of FRAM need 128 bits.
        let records = self.endurance as u128 * pages as u128 * self.per_page(record, cell) as u128;
        let in_ten_years = (TEN_YEARS as u128 * 1_000).div_ceil(every_ms as u128) + AT_ONCE as u128;
        (records * 10 / in_ten_years) as u64
    }

    /// How long a record takes until it is kept, µs: an erase and the steps that write and read it, one in each block of so many µs.
    pub const fn record_us(&self, record: u32, block_us: u32) -> u64 {
        let steps = record.div_ceil(self.write) as u64 + 1;
        let step = if self.write_us > block_us { self.write_us } else { block_us };
        self.erase_us as u64 + steps * step as u64
    }

    /// The longest step, µs.
    pub const fn longest_us(&self) -> u32 {
        if self.erase_us > self.write_us { self.erase_us } else { self.write_us }
    }

    /// The `N` of a queue that loses no block to a step. The loop does a step when it finds the queue empty: what is taken in
    /// meanwhile has to fit, and a block that was begun before.
    pub const fn queue(&self, block_us: u32) -> usize {
        let Some(blocks) = self.longest_us().checked_div(block_us) else { return usize::MAX };
        blocks as usize + 2
    }

    /// How long power must hold for the newest record to be kept, µs: an erase that was begun, the record that is being
    /// written, its own. Reading back is not in it.
    pub const fn hold_up_us(&self, record: u32) -> u32 {
        let Some(record) = record.div_ceil(self.write).checked_mul(self.write_us) else { return u32::MAX };
        self.erase_us.saturating_add(record.saturating_mul(2))
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::fmt::Write;
    use std::string::String;

    use super::*;
    use crate::kept::{KEPT_BYTES, SETTINGS_BYTES};

    /// The table in the crate's documentation.
    #[test]
    fn pages_and_years() {
        let mut table = String::new();
        for (name, part, policy, cell) in [
            ("STM32G4, alone or with hold-up", STM32G4, Policy::Plain, 16),
            ("serial NOR, alone or with hold-up", SERIAL_NOR, Policy::HoldUp, 16),
            ("FRAM", FRAM, Policy::Fram, 64),
        ] {
            let every = policy.every_ms();
            assert!(part.page >= SETTINGS_BYTES as u32, "{name}: settings fit a page");
            assert!(policy.holds(&part, KEPT_BYTES as u32, 2_000), "{name}: the largest takes too long");
            assert!(!policy.holds(&part, 256 * RECORD, 2_000), "{name}: whatever it takes");
            let pages = part.pages(RECORD, cell, every).unwrap();
            let largest = part.pages(KEPT_BYTES as u32, cell, every).unwrap();
            let years = part.years(RECORD, cell, every, pages);
            let (queue, hold) = (part.queue(2_000), part.hold_up_us(RECORD).div_ceil(1_000));
            let kib = pages * u64::from(part.page) / 1_024;
            writeln!(table, "{name} | {every} ms | {pages} ({kib} KiB), {largest} | {years} | {queue} | {hold} ms")
                .unwrap();
        }
        std::println!("{table}");
        assert_eq!(table, WANTED);
        for line in WANTED.lines() {
            assert!(include_str!("lib.rs").contains(line), "the documentation lacks: {line}");
        }
    }

    #[test]
    fn nothing_fits_nowhere() {
        assert_eq!(STM32G4.pages(4_096, 16, 60), None);
        assert_eq!(STM32G4.pages(RECORD, 16, 0), None);
        assert_eq!(STM32G4.queue(0), usize::MAX);
    }

    const WANTED: &str = "\
STM32G4, alone or with hold-up | 59000 ms | 85 (170 KiB), 199 | 10 | 14 | 31 ms
serial NOR, alone or with hold-up | 59000 ms | 5 (20 KiB), 9 | 12 | 202 | 502 ms
FRAM | 900 ms | 5 (10 KiB), 5 | 8541168 | 3 | 3 ms
";
}
