//! What keeps things over a power cut, as the loop sees it.

use embedded_storage::nor_flash::NorFlash;
use shaftwork_core::{Event, Monitor};
use shaftwork_store::Store;

/// Keeps what must outlast a power cut.
pub trait Keeper {
    /// Something happened. Quick: it is only taken note of.
    fn event(&mut self, event: &Event);

    /// No block waits: does one bounded thing. The queue of blocks must hold what comes in meanwhile ([`shaftwork_store::wear::Part::queue`]).
    fn step(&mut self, monitor: &Monitor);

    /// Power fails: keeps what is newest before it returns.
    fn power_fails(&mut self, monitor: &Monitor);
}

/// Nothing is kept.
impl Keeper for () {
    fn event(&mut self, _: &Event) {}
    fn step(&mut self, _: &Monitor) {}
    fn power_fails(&mut self, _: &Monitor) {}
}

impl<F: NorFlash> Keeper for Store<F> {
    fn event(&mut self, event: &Event) {
        self.event(event);
    }
    fn step(&mut self, monitor: &Monitor) {
        self.step(monitor);
    }
    fn power_fails(&mut self, monitor: &Monitor) {
        self.power_fails(monitor);
    }
}

#[cfg(test)]
mod tests {
    use std::cell::{Cell, RefCell};

    use super::*;
    use crate::blocks::{Blocks, Filler};
    use crate::outputs::testing::Mock;
    use crate::{App, Fault, Outputs, Pins, Poll};
    use embedded_storage::nor_flash::{ErrorType, NorFlashErrorKind, ReadNorFlash};
    use shaftwork_core::settings::CHANNELS;
    use shaftwork_core::time::Span;
    use shaftwork_core::{Frame, Settings};
    use shaftwork_store::wear::{Part, STM32G4};
    use shaftwork_store::{Places, Read, Region};

    const FRAME_US: u32 = 250;
    const PAGE: usize = STM32G4.page as usize;
    const QUEUE: usize = STM32G4.queue(8 * FRAME_US);

    /// The converter's interrupt goes on while the flash keeps the loop waiting.
    struct Line<'a> {
        filler: RefCell<Filler<'a>>,
        us: Cell<u32>,
        on: Cell<bool>,
    }

    impl Line<'_> {
        fn pass(&self, us: u32) {
            self.us.set(self.us.get() + us);
            while self.us.get() >= FRAME_US {
                self.us.set(self.us.get() - FRAME_US);
                if self.on.get() {
                    self.filler.borrow_mut().frame(Frame([0; CHANNELS]));
                }
            }
        }
    }

    struct Slow<'a> {
        line: &'a Line<'a>,
        bytes: Vec<u8>,
        erases: u32,
    }

    impl ErrorType for Slow<'_> {
        type Error = NorFlashErrorKind;
    }

    impl ReadNorFlash for Slow<'_> {
        const READ_SIZE: usize = 1;
        fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
            bytes.copy_from_slice(&self.bytes[offset as usize..][..bytes.len()]);
            Ok(())
        }
        fn capacity(&self) -> usize {
            self.bytes.len()
        }
    }

    impl NorFlash for Slow<'_> {
        const WRITE_SIZE: usize = 8;
        const ERASE_SIZE: usize = PAGE;
        fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
            self.bytes[from as usize..to as usize].fill(0xff);
            self.erases += 1;
            self.line.pass(STM32G4.erase_us);
            Ok(())
        }
        fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
            self.bytes[offset as usize..][..bytes.len()].copy_from_slice(bytes);
            self.line.pass(STM32G4.write_us);
            Ok(())
        }
    }

    /// Twenty seconds with totals kept all the time: the fault, if any, and how many pages were erased meanwhile.
    fn run<const N: usize>() -> (Option<Fault>, u32) {
        let mut blocks = Blocks::<N>::new();
        let (filler, taker) = blocks.split();
        let line = Line { filler: RefCell::new(filler), us: Cell::new(0), on: Cell::new(false) };
        let region = |page: usize| Region { first: (page * PAGE) as u32, pages: 5, cell: 16, step: 8 };
        let places = Places { kept: region(0), settings: region(5), events: region(10) };
        let flash = Slow { line: &line, bytes: vec![0; 15 * PAGE], erases: 0 };
        let (store, begun) = Store::mount(flash, &places, Span(1 << 16)).unwrap();
        assert_eq!(begun.kept, Read::Nothing);
        line.on.set(true);
        let pins = Pins {
            relay: Mock::default(),
            start: Mock::default(),
            feed: Mock::default(),
            wait: Mock::default(),
            stop: Mock::default(),
        };
        let outputs = Outputs::new(pins).unwrap();
        let mut app = App::new(&Settings::example(), taker, outputs, (), ()).unwrap().with_keeper(store);
        for turn in 0..20_000_000 / FRAME_US {
            // Sometimes late by part of a frame, so that a step begins anywhere in a block.
            line.pass(FRAME_US + turn % 7);
            while app.poll() != Poll::Idle {}
        }
        (app.fault(), app.into_keeper().into_flash().erases)
    }

    #[test]
    fn an_erase_costs_no_sample() {
        let (fault, erases) = run::<QUEUE>();
        assert_eq!(fault, None);
        assert!(erases > 50, "{erases}");
        let (fault, _) = run::<{ QUEUE - 1 }>();
        assert!(matches!(fault, Some(Fault::Missing(_))), "one block less does not do: {fault:?}");
        const { assert!(Part::queue(&STM32G4, 2_000) == 14) };
    }
}
