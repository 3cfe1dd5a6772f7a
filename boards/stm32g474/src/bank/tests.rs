//! A bank that takes its time, and one that power leaves half written.

use std::cell::Cell;
use std::rc::Rc;

use super::*;
use crate::kept::{PLACES, every};
use shaftwork_core::time::Span;
use shaftwork_core::{Cause, EventKind};
use shaftwork_store::Read;

const BYTES: usize = PAGES as usize * PAGE;

#[derive(Default)]
struct State {
    /// How many looks an erase takes, and for how many more it goes on.
    takes: Cell<u32>,
    left: Cell<u32>,
    /// How often something was asked meanwhile, which would hold the processor.
    held: Cell<u32>,
    erases: Cell<u32>,
    /// Looks in a step that found it busy: more than one is a loop that waits.
    waited: Cell<u32>,
    /// This page cannot be erased.
    worn: Cell<Option<u8>>,
}

#[derive(Clone)]
struct Mock {
    state: Rc<State>,
    bytes: Vec<u8>,
    /// Double words that the code makes no sense of.
    torn: Vec<bool>,
    /// The last erase went well.
    well: bool,
}

impl Mock {
    fn new() -> Self {
        Self { state: Rc::default(), bytes: vec![0xff; BYTES], torn: vec![false; BYTES / WRITE], well: true }
    }

    fn asked(&self) {
        if self.state.left.get() > 0 {
            self.state.held.set(self.state.held.get() + 1);
        }
    }
}

impl Chip for Mock {
    fn busy(&self) -> bool {
        let left = self.state.left.get();
        self.state.left.set(left.saturating_sub(1));
        self.state.waited.set(self.state.waited.get() + u32::from(left > 0));
        left > 0
    }

    fn erase(&mut self, page: u8) {
        self.asked();
        self.state.left.set(self.state.takes.get());
        self.state.erases.set(self.state.erases.get() + 1);
        self.well = self.state.worn.get() != Some(page);
        let from = usize::from(page) * PAGE;
        if self.well {
            self.bytes[from..from + PAGE].fill(0xff);
            self.torn[from / WRITE..(from + PAGE) / WRITE].fill(false);
        }
    }

    fn erased(&mut self) -> bool {
        self.asked();
        self.well
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> bool {
        self.asked();
        let at = offset as usize..offset as usize + WRITE;
        // What is not blank takes nothing (RM0440, from memory).
        let blank = self.bytes[at.clone()].iter().all(|byte| *byte == 0xff);
        if blank {
            self.bytes[at].copy_from_slice(bytes);
        }
        blank
    }

    fn read(&mut self, offset: u32, into: &mut [u8]) -> bool {
        self.asked();
        let at = offset as usize..offset as usize + into.len();
        into.copy_from_slice(&self.bytes[at.clone()]);
        !self.torn[at.start / WRITE..at.end.div_ceil(WRITE)].contains(&true)
    }
}

fn monitor() -> Monitor {
    Monitor::new(&crate::settings::example()).unwrap()
}

#[test]
fn nothing_is_asked_while_an_erase_goes_on() {
    let chip = Mock::new();
    let state = Rc::clone(&chip.state);
    state.takes.set(12);
    let (store, _) = Store::mount(Bank::new(chip), &PLACES, Span(0)).unwrap();
    let (mut keeper, monitor) = (Patient(store), monitor());
    // Records one after the other, so that pages are erased.
    state.erases.set(0);
    for _ in 0..12_000 {
        state.waited.set(0);
        keeper.step(&monitor);
        assert!(state.waited.get() <= 1, "the loop was held");
    }
    assert!(state.erases.get() > 3, "{} pages were erased", state.erases.get());
    assert_eq!((state.held.get(), keeper.failing()), (0, None));
}

#[test]
fn who_must_write_waits() {
    let chip = Mock::new();
    let state = Rc::clone(&chip.state);
    state.takes.set(12);
    let mut bank = Bank::new(chip);
    bank.erase(0, PAGE as u32).unwrap();
    assert!(bank.busy());
    bank.write(0, &[5; 16]).unwrap();
    let mut read = [0; 16];
    bank.read(0, &mut read).unwrap();
    assert_eq!((read, state.held.get()), ([5; 16], 0));
    assert!(bank.write(8, &[4; 8]).is_err(), "not blank any more");
    assert!(bank.write(4, &[4; 8]).is_err() && bank.read(BYTES as u32, &mut read).is_err(), "no such place");
}

#[test]
fn a_page_that_cannot_be_erased_takes_nothing() {
    let chip = Mock::new();
    let state = Rc::clone(&chip.state);
    let mut bank = Bank::new(chip);
    state.worn.set(Some(1));
    bank.erase(0, 3 * PAGE as u32).unwrap();
    let [first, worn, last] = [0, 1, 2].map(|page| bank.write(page * PAGE as u32, &[1; 8]).is_ok());
    assert_eq!([first, worn, last], [true, false, true]);
    state.worn.set(None);
    bank.erase(PAGE as u32, 2 * PAGE as u32).unwrap();
    assert!(bank.write(PAGE as u32, &[1; 8]).is_ok());
}

/// Latches and events outlast a power cut that leaves a double word which is an error to read.
#[test]
fn what_a_power_cut_tears_is_passed_over() {
    let chip = Mock::new();
    let (store, begun) = Store::mount(Bank::new(chip), &PLACES, every(4_000_000)).unwrap();
    assert_eq!(begun.kept, Read::Nothing, "a new board");
    let (mut keeper, mut monitor) = (Patient(store), monitor());
    let saved = shaftwork_core::judge::saved::Saved { trip: Some(Cause::Jam), thermal_q32: 1 << 30, ..monitor.saved() };
    monitor.resume(&saved);
    keeper.event(&Event { at: monitor.now(), kind: EventKind::Stop });
    for _ in 0..1_000 {
        keeper.step(&monitor);
    }
    let mut chip = keeper.0.into_flash().chip;
    // Right behind what was kept: the next record, cut off.
    let kept = PLACES.kept.first as usize..(PLACES.kept.first as usize + PAGE * 5);
    let last = chip.bytes[kept.clone()].iter().rposition(|byte| *byte != 0xff).unwrap() + kept.start;
    let unit = last / WRITE + 1;
    chip.torn[unit] = true;
    let (_, begun) = Store::mount(Bank::new(chip), &PLACES, every(4_000_000)).unwrap();
    let found = begun.kept.here().expect("it is there").saved;
    assert_eq!((found.trip, begun.failed()), (Some(Cause::Jam), false));
    assert!(found.thermal_q32 > 0);
}
