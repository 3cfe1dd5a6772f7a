//! Where the store lies in the second bank, and how long it lasts: figures of the flash from memory of the data sheet, for ten years.
//!
//! The bank's first page is that of the settings ([`crate::settings`]), which a person writes. The store's own ring of settings stays empty: nothing sets them
//! over a line here, and what is flashed counts.

use shaftwork_core::time::Span;
use shaftwork_store::wear::{Policy, RECORD, STM32G4};
use shaftwork_store::{Places, Region};

use crate::bank::{PAGE, PAGES, WRITE};

/// Flash alone: that the supply lasts for [`shaftwork_store::wear::Part::hold_up_us`] after its detector tells was never measured.
pub const POLICY: Policy = Policy::Plain;
/// Bytes of a cell.
const CELL: u32 = 16;

/// As many pages as ten years take.
pub const KEPT_PAGES: u32 = match STM32G4.pages(RECORD, CELL, POLICY.every_ms()) {
    Some(pages) if pages < PAGES as u64 => pages as u32,
    _ => panic!("the bank is too small"),
};
/// The least there can be.
const SETTINGS_PAGES: u32 = 5;
/// The rest.
pub const EVENT_PAGES: u32 = PAGES - 1 - KEPT_PAGES - SETTINGS_PAGES;

/// From the bank's beginning.
pub const PLACES: Places = Places {
    kept: region(1, KEPT_PAGES),
    settings: region(1 + KEPT_PAGES, SETTINGS_PAGES),
    events: region(1 + KEPT_PAGES + SETTINGS_PAGES, EVENT_PAGES),
};

/// A write of a double word a step.
const fn region(page: u32, pages: u32) -> Region {
    Region { first: page * PAGE as u32, pages, cell: CELL, step: WRITE as u32 }
}

/// How often totals are kept, in frames of so many a second, mHz.
pub const fn every(rate_mhz: u32) -> Span {
    POLICY.every(rate_mhz)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings;
    use shaftwork_store::kept::{ENTRY_BYTES, KEPT_BYTES};

    const PAGE_TEXT: &str = include_str!("../../../docs/board-stm32g474.md");

    #[test]
    fn nothing_overlaps_and_memory_x_reserves_it() {
        let memory = include_str!("../memory.x");
        let first = settings::OFFSET;
        assert_eq!((PLACES.kept.first, settings::BYTES), (PAGE as u32, PAGE), "behind the settings' page");
        for (region, next) in [
            (PLACES.kept, PLACES.settings.first),
            (PLACES.settings, PLACES.events.first),
            (PLACES.events, PAGES * PAGE as u32),
        ] {
            assert_eq!(region.first + region.pages * PAGE as u32, next);
        }
        let flash = format!("FLASH    : ORIGIN = 0x08000000, LENGTH = {}K", first / 1_024);
        let own = format!("SETTINGS : ORIGIN = {:#010x}, LENGTH = {}K", 0x0800_0000 + first, PAGE / 1_024);
        let store = format!(
            "STORE    : ORIGIN = {:#010x}, LENGTH = {}K",
            0x0800_0000 + first + PLACES.kept.first,
            (PAGES - 1) * PAGE as u32 / 1_024
        );
        for line in [flash, own, store] {
            assert!(memory.contains(&line), "memory.x lacks {line}");
        }
    }

    /// The page's table of pages and years, and its times.
    #[test]
    fn the_page_says_how_long_it_lasts() {
        let years = |record, pages| STM32G4.years(record, CELL, POLICY.every_ms(), u64::from(pages));
        let per_page = STM32G4.per_page(ENTRY_BYTES as u32, CELL);
        // Every page as often as it may be erased, in ten years of 3 652 days.
        let entries = u64::from(EVENT_PAGES * per_page) * STM32G4.endurance / 3_652;
        let hold_up = STM32G4.hold_up_us(RECORD).div_ceil(1_000);
        let address = |offset: u32, what: &str| {
            let at = 0x0800_0000 + settings::OFFSET + offset;
            format!("| 0x{:04X} {:04X} | {what}", at >> 16, at & 0xffff)
        };
        for line in [
            format!(
                " | totals, thermal image, latches, starts, timers | {KEPT_PAGES} ({} KiB) | {} years; were every record as large as one can be ({KEPT_BYTES} bytes), {} |",
                KEPT_PAGES * 2,
                years(RECORD, KEPT_PAGES),
                years(KEPT_BYTES as u32, KEPT_PAGES)
            ),
            format!(
                " | events | {EVENT_PAGES} ({} KiB) | ten years at {entries} a day, each as large as one can be ({ENTRY_BYTES} bytes); the newest {} are there for sure |",
                EVENT_PAGES * 2,
                (EVENT_PAGES - 4) * per_page
            ),
            address(0, "settings, flashed"),
            address(PLACES.kept.first, "totals"),
            address(PLACES.settings.first, "the store's own settings"),
            address(PLACES.events.first, "events"),
            format!("{:.1} ms at most for a page", f64::from(STM32G4.erase_us) / 1e3),
            format!("{} µs at most for eight bytes", STM32G4.write_us),
            format!("for {hold_up} ms after"),
            format!("a minute of energy at most ({} s)", POLICY.lost_s()),
        ] {
            assert!(PAGE_TEXT.contains(&line), "docs/board-stm32g474.md lacks: {line}");
        }
        assert!(years(RECORD, KEPT_PAGES) >= 10);
        assert!(POLICY.holds(&STM32G4, KEPT_BYTES as u32, 4_000), "at the slowest rate");
    }

    /// The loop never waits for an erase; a write is shorter than a block at the highest rate, and the queue has room for more than that.
    #[test]
    fn no_step_costs_a_block() {
        let block_us = 8_000_000 / 16_000;
        assert!(STM32G4.write_us < block_us);
        let waits = STM32G4.write_us.div_ceil(block_us) + 1;
        assert!(waits < crate::timing::QUEUE as u32, "{waits}");
        assert!(STM32G4.queue(block_us) > crate::timing::QUEUE, "were it to wait for an erase, it would not do");
    }
}
