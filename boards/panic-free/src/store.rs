//! The store over a flash that may do anything.

use core::hint::black_box;

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use shaftwork_core::settings::Settings;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::{Event, EventKind, Monitor};
use shaftwork_store::{Places, Region, Store};

struct Any;

impl ErrorType for Any {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Any {
    const READ_SIZE: usize = 1;
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        black_box(offset);
        bytes.fill_with(|| black_box(0));
        black_box(Ok(()))
    }
    fn capacity(&self) -> usize {
        black_box(1 << 18)
    }
}

impl NorFlash for Any {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = 2_048;
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        black_box((from, to));
        black_box(Ok(()))
    }
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        black_box(Ok(()))
    }
}

#[inline(never)]
pub fn drive(monitor: &mut Monitor) {
    let region = || black_box(Region { first: 0, pages: 5, cell: 16, step: 8 });
    let places = Places { kept: region(), settings: region(), events: region() };
    let Ok((mut store, begun)) = Store::mount(Any, &places, black_box(Span(0))) else { return };
    if let Some(kept) = begun.kept.here() {
        monitor.resume(&kept.saved);
    }
    black_box(begun.settings.here());
    while black_box(true) {
        store.event(&black_box(Event { at: Instant(0), kind: EventKind::Stop }));
        black_box(store.step(monitor));
        black_box(store.set(&black_box(Settings::example())).is_ok());
        black_box(store.entry(black_box(0)));
        black_box((store.totals(monitor), store.missed()));
        black_box(store.power_fails(monitor));
    }
}
