//! How many pages give ten years, how long a step takes, how much a queue has to hold: from figures of the flash, for a board to compute when it is compiled.

/// Bytes of a record after ten years of a busy mill, header included; a test measures it.
pub const RECORD: u32 = 264;
/// Ten years, s.
const TEN_YEARS: u64 = 315_576_000;

/// How a board's power goes, and into what it writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// FRAM: no erase, no wear to speak of. Once a second.
    Fram,
    /// Flash; an input tells that power fails while there is enough left for [`Part::hold_up_us`]: what is newest is kept then. Once a minute besides,
    /// for resets that no input foretells.
    HoldUp,
    /// Flash alone. Once a minute.
    Plain,
}

impl Policy {
    /// Every so many seconds.
    pub const fn every_s(self) -> u32 {
        match self {
            Self::Fram => 1,
            Self::HoldUp | Self::Plain => 60,
        }
    }

    /// So many seconds of energy are lost at most when power goes.
    pub const fn lost_s(self) -> u32 {
        match self {
            Self::Fram | Self::HoldUp => 1,
            Self::Plain => 60,
        }
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
/// A serial FRAM at 8 MHz, in pages of 1 KiB that "erasing" fills with ones. Typical figures from memory: check them against your part's data sheet.
pub const FRAM: Part = Part { page: 1_024, write: 64, endurance: 10_000_000_000_000, erase_us: 1_100, write_us: 70 };

impl Part {
    /// Records that a page takes.
    pub const fn per_page(&self, record: u32, cell: u32) -> u32 {
        let Some(per_page) = self.page.checked_div(record.next_multiple_of(cell)) else { return 0 };
        per_page
    }

    /// Pages that ten years take when a record of so many bytes is written every so many seconds; `None` where a page has no room for one.
    pub const fn pages(&self, record: u32, cell: u32, every_s: u32) -> Option<u64> {
        let per_page = self.per_page(record, cell) as u64;
        if per_page == 0 || every_s == 0 || self.endurance == 0 {
            return None;
        }
        let records = TEN_YEARS.div_ceil(every_s as u64);
        let pages = records.div_ceil(per_page).div_ceil(self.endurance);
        Some(if pages < 5 { 5 } else { pages })
    }

    /// Years that so many pages last.
    pub const fn years(&self, record: u32, cell: u32, every_s: u32, pages: u64) -> u64 {
        // Records of 10 000 years fit 64 bits with room to spare; FRAM's endurance needs 128.
        let seconds = self.endurance as u128 * pages as u128 * self.per_page(record, cell) as u128 * every_s as u128;
        (seconds / 31_557_600) as u64
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
    use crate::kept::KEPT_BYTES;

    /// The table in the crate's documentation.
    #[test]
    fn pages_and_years() {
        let mut table = String::new();
        for (name, part, policy, cell) in [
            ("STM32G4, alone or with hold-up", STM32G4, Policy::Plain, 16),
            ("serial NOR, alone or with hold-up", SERIAL_NOR, Policy::HoldUp, 16),
            ("FRAM", FRAM, Policy::Fram, 64),
        ] {
            let every = policy.every_s();
            let pages = part.pages(RECORD, cell, every).unwrap();
            let largest = part.pages(KEPT_BYTES as u32, cell, every).unwrap();
            let years = part.years(RECORD, cell, every, pages);
            let (queue, hold) = (part.queue(2_000), part.hold_up_us(RECORD).div_ceil(1_000));
            let kib = pages * u64::from(part.page) / 1_024;
            writeln!(table, "{name} | {every} s | {pages} ({kib} KiB), {largest} | {years} | {queue} | {hold} ms")
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
STM32G4, alone or with hold-up | 60 s | 76 (152 KiB), 176 | 10 | 14 | 31 ms
serial NOR, alone or with hold-up | 60 s | 5 (20 KiB), 8 | 14 | 202 | 502 ms
FRAM | 1 s | 5 (5 KiB), 5 | 4753213 | 2 | 2 ms
";
}
