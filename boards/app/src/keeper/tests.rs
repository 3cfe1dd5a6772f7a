//! A board with a store in a slow flash, or in one that fails.

use std::cell::{Cell, RefCell};

use super::*;
use crate::blocks::{Blocks, Filler, Taker};
use crate::outputs::testing::{self, Mock};
use crate::{Outputs, Poll};
use embedded_storage::nor_flash::{ErrorType, NorFlashErrorKind, ReadNorFlash};
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::time::Span;
use shaftwork_core::{Cause, Frame, Settings, Totals};
use shaftwork_report_bits::Report;
use shaftwork_store::wear::{FRAM, Part, Policy, STM32G4};
use shaftwork_store::{Change, Kept, Places, Read, Region};

const FRAME_US: u32 = 250;
const BLOCK_US: u32 = 8 * FRAME_US;
const PAGE: usize = 2_048;
const QUEUE: usize = STM32G4.queue(BLOCK_US);

/// The converter's interrupt goes on while the flash keeps the loop waiting.
struct Line<'a> {
    filler: RefCell<Filler<'a>>,
    us: Cell<u32>,
    on: Cell<bool>,
    frames: Cell<u32>,
    /// What the motor takes on 230 V.
    amps: Cell<f64>,
}

impl<'a> Line<'a> {
    fn new(filler: Filler<'a>) -> Self {
        let (us, on, frames, amps) = (Cell::new(0), Cell::new(false), Cell::new(0), Cell::new(40.0));
        Self { filler: RefCell::new(filler), us, on, frames, amps }
    }

    fn pass(&self, us: u32) {
        self.us.set(self.us.get() + us);
        while self.us.get() >= FRAME_US {
            self.us.set(self.us.get() - FRAME_US);
            if self.on.get() {
                self.filler.borrow_mut().frame(self.frame());
            }
        }
    }

    fn frame(&self) -> Frame {
        let n = self.frames.replace(self.frames.get() + 1);
        let phase = f64::from(n % 80) / 80.0 * core::f64::consts::TAU;
        Frame(core::array::from_fn(|channel| {
            let turn = f64::from((channel % 3) as u32) / 3.0 * core::f64::consts::TAU;
            let amps = self.amps.get() * core::f64::consts::SQRT_2;
            let (peak, lag) = if channel < CHANNELS / 2 { (325.3 / 800.0, 0.0) } else { (amps / 1_400.0, 0.6) };
            ((phase - turn - lag).sin() * peak * 32_767.0) as i32
        }))
    }
}

/// Bytes that are never slow.
#[derive(Clone)]
struct Ram(Vec<u8>);

impl ErrorType for Ram {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Ram {
    const READ_SIZE: usize = 1;
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        bytes.copy_from_slice(&self.0[offset as usize..][..bytes.len()]);
        Ok(())
    }
    fn capacity(&self) -> usize {
        self.0.len()
    }
}

impl NorFlash for Ram {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = PAGE;
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.0[from as usize..to as usize].fill(0xff);
        Ok(())
    }
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.0[offset as usize..][..bytes.len()].copy_from_slice(bytes);
        Ok(())
    }
}

/// How a flash does.
#[derive(Clone, Copy, PartialEq)]
enum Health {
    Good,
    /// Neither written nor erased.
    Stuck,
    /// Nor read.
    Dead,
}

struct Slow<'a> {
    line: &'a Line<'a>,
    health: &'a Cell<Health>,
    part: Part,
    ram: Ram,
    erases: u32,
}

impl Slow<'_> {
    fn if_not(&self, than: &[Health]) -> Result<(), NorFlashErrorKind> {
        if than.contains(&self.health.get()) { Err(NorFlashErrorKind::Other) } else { Ok(()) }
    }
}

impl ErrorType for Slow<'_> {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Slow<'_> {
    const READ_SIZE: usize = 1;
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        self.if_not(&[Health::Dead])?;
        self.ram.read(offset, bytes)
    }
    fn capacity(&self) -> usize {
        self.ram.capacity()
    }
}

impl NorFlash for Slow<'_> {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = PAGE;
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.line.pass(self.part.erase_us);
        self.if_not(&[Health::Stuck, Health::Dead])?;
        self.erases += 1;
        self.ram.erase(from, to)
    }
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.line.pass(self.part.write_us);
        self.if_not(&[Health::Stuck, Health::Dead])?;
        self.ram.write(offset, bytes)
    }
}

const fn places(part: &Part) -> Places {
    const fn region(page: usize, part: &Part) -> Region {
        let cell = if part.write > 16 { 64 } else { 16 };
        Region { first: (page * PAGE) as u32, pages: 5, cell, step: part.write }
    }
    Places { kept: region(0, part), settings: region(5, part), events: region(10, part) }
}

/// The alarms of the store that were told.
#[derive(Default)]
struct Alarms(Vec<Option<What>>);

impl Reports for Alarms {
    fn report(&mut self, _: &Report) {}
    fn failing(&mut self, what: Option<What>) {
        self.0.push(what);
    }
}

type Pin = Mock;
type Board<'a> = App<'static, Taker<'a>, Outputs<Pin, Pin, Pin, Pin, Pin>, Alarms, (), Store<Slow<'a>>>;

/// Power comes to a board whose flash holds these bytes.
fn board<'a>(flash: Slow<'a>, taker: Taker<'a>, every: Span, factory: &Settings) -> (Board<'a>, Begun) {
    let (line, places) = (flash.line, places(&flash.part));
    let (store, begun) = Store::mount(flash, &places, every).unwrap();
    line.on.set(true);
    let parts = (taker, testing::outputs(), Alarms::default(), ());
    let settings = begun.settings.here().unwrap_or(*factory);
    let monitor = Box::leak(Box::new(Monitor::new(&settings).unwrap())); // it stays where it was made
    (App::kept(store, &begun, monitor, parts), begun)
}

fn new_flash() -> Ram {
    Ram(vec![0; 15 * PAGE])
}

/// So many milliseconds.
fn run(line: &Line<'_>, app: &mut Board<'_>, ms: u32) {
    for turn in 0..ms * 1_000 / FRAME_US {
        // Sometimes late by part of a frame, so that a step begins anywhere in a block.
        line.pass(FRAME_US + turn % 7);
        while app.poll() != Poll::Idle {}
    }
}

/// What a board would find if the power went now.
fn found(app: &Board<'_>) -> Begun {
    let flash = app.keeper().flash();
    Store::mount(flash.ram.clone(), &places(&flash.part), Span(0)).unwrap().1
}

/// Twenty seconds with totals kept all the time: the fault, if any, and how many pages were erased meanwhile.
fn busy<const N: usize>() -> (Option<Fault>, u32) {
    let mut blocks = Blocks::<N>::new();
    let (filler, taker) = blocks.split();
    let (line, health) = (Line::new(filler), Cell::new(Health::Good));
    let flash = Slow { line: &line, health: &health, part: STM32G4, ram: new_flash(), erases: 0 };
    let (mut app, begun) = board(flash, taker, Span(1 << 16), &Settings::example());
    assert_eq!(begun.kept, Read::Nothing);
    run(&line, &mut app, 20_000);
    (app.fault(), app.keeper().flash().erases)
}

#[test]
fn an_erase_costs_no_sample() {
    let (fault, erases) = busy::<QUEUE>();
    assert_eq!(fault, None);
    assert!(erases > 50, "{erases}");
    let (fault, _) = busy::<{ QUEUE - 1 }>();
    assert!(matches!(fault, Some(Fault::Missing(_))), "one block less does not do: {fault:?}");
    const { assert!(STM32G4.queue(BLOCK_US) == 14) };
}

/// The most that is lost in a run of so many milliseconds when power goes at any moment, in seconds of the power that was taken.
fn lost(part: Part, policy: Policy, ms: u32, look: u32) -> f64 {
    let mut blocks = Blocks::<QUEUE>::new();
    let (filler, taker) = blocks.split();
    let (line, health) = (Line::new(filler), Cell::new(Health::Good));
    let flash = Slow { line: &line, health: &health, part, ram: new_flash(), erases: 0 };
    let settings = Settings::example();
    let (mut app, _) = board(flash, taker, policy.every(settings.sampling.rate_mhz), &settings);
    let energy = |totals: &Totals| totals.electrical.joules as u32;
    let mut most = 0;
    for _ in 0..ms / look {
        run(&line, &mut app, look);
        let now = energy(&app.keeper().totals(app.monitor()));
        if policy == Policy::HoldUp {
            app.power_fails();
        }
        let kept = found(&app).kept.here().map_or(0, |Kept { totals, .. }| energy(&totals));
        most = most.max(now - kept);
    }
    assert_eq!(app.fault(), if policy == Policy::HoldUp { Some(Fault::Supply) } else { None });
    let seconds = f64::from(line.frames.get()) * f64::from(FRAME_US) / 1e6;
    f64::from(most) / f64::from(energy(app.monitor().totals())) * seconds
}

#[test]
fn no_more_energy_is_lost_than_is_said() {
    for (part, policy, ms, look) in [(FRAM, Policy::Fram, 4_000, 10), (STM32G4, Policy::Plain, 61_000, 40)] {
        let lost = lost(part, policy, ms, look);
        assert!(lost <= f64::from(policy.lost_s()), "{policy:?}: {lost} s");
        assert!(lost >= f64::from(policy.every_ms()) / 1_050.0, "{policy:?}: it was waited for, {lost} s");
    }
    let held = lost(STM32G4, Policy::HoldUp, 3_000, 700);
    assert!(held < 0.02, "nothing but the half cycle under way: {held} s");
}

#[test]
fn acknowledged_settings_and_a_trip_outlast_a_power_cut() {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 0;
    let mut ram = new_flash();
    for turn in 0..3 {
        let mut blocks = Blocks::<QUEUE>::new();
        let (filler, taker) = blocks.split();
        let (line, health) = (Line::new(filler), Cell::new(Health::Good));
        let flash = Slow { line: &line, health: &health, part: STM32G4, ram, erases: 0 };
        let every = Policy::Plain.every(settings.sampling.rate_mhz);
        let (mut app, begun) = board(flash, taker, every, &Settings::example());
        match turn {
            0 => {
                let mut wrong = settings;
                wrong.motor.rated_current_ma = 0;
                assert!(app.keeper_mut().set(&wrong).is_err(), "what no board could begin with");
                assert_eq!(app.keeper_mut().set(&settings), Ok(()));
                assert_eq!(app.keeper().change(), Change::Busy);
                run(&line, &mut app, 1_000);
                assert_eq!(app.keeper().change(), Change::Kept);
            }
            1 => {
                assert_eq!(begun.settings, Read::Here(settings));
                run(&line, &mut app, 3_000);
                line.amps.set(500.0);
                run(&line, &mut app, 1_000);
                assert_eq!(app.monitor().decision().trip, Some(Cause::Jam));
            }
            _ => {
                line.amps.set(0.0);
                assert_eq!(app.monitor().decision().trip, Some(Cause::Jam), "before the first block");
                run(&line, &mut app, 1_000);
                assert!(!app.outputs().pins().relay.high, "nor does the relay close");
                assert_eq!(app.reset(), Ok(()), "the settings that were kept know of no coast-down");
            }
        }
        ram = app.into_keeper().into_flash().ram;
    }
}

#[test]
fn a_flash_that_takes_nothing_costs_an_alarm_and_nothing_else() {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 0;
    let mut blocks = Blocks::<QUEUE>::new();
    let (filler, taker) = blocks.split();
    let (line, health) = (Line::new(filler), Cell::new(Health::Good));
    let flash = Slow { line: &line, health: &health, part: STM32G4, ram: new_flash(), erases: 0 };
    let (mut app, _) = board(flash, taker, Policy::Plain.every(4_000_000), &settings);
    assert_eq!(app.keeper_mut().set(&settings), Ok(()));
    run(&line, &mut app, 2_000);
    let before = found(&app);
    assert_eq!((before.settings, app.keeper().change()), (Read::Here(settings), Change::Kept));
    assert!(app.healthy() && app.reports().0.is_empty());

    health.set(Health::Stuck);
    let newer = Settings::example();
    assert_eq!(app.keeper_mut().set(&newer), Ok(()));
    run(&line, &mut app, 500);
    assert_eq!(app.keeper().change(), Change::Lost, "nobody takes them for kept");
    assert!(!app.healthy() && app.fault().is_none(), "an alarm, and no stop");
    line.amps.set(500.0);
    run(&line, &mut app, 1_000);
    assert_eq!(app.reports().0.last(), Some(&Some(What::Kept)), "told: {:?}", app.reports().0);
    assert_eq!(app.monitor().decision().trip, Some(Cause::Jam));
    assert!(!app.outputs().pins().relay.high, "the trip opens the relay");
    assert_eq!(app.fault(), None, "no sample is missing");
    let joules = app.keeper().totals(app.monitor()).electrical.joules;
    assert!(joules > before.kept.here().unwrap().totals.electrical.joules + 20_000, "metering goes on: {joules} J");
    assert!(app.keeper().missed() > 0, "the trip's event is counted as missed");
    let meanwhile = found(&app);
    assert_eq!((meanwhile.kept, meanwhile.settings), (before.kept, before.settings), "what was acknowledged is there");

    health.set(Health::Good);
    line.amps.set(0.0);
    run(&line, &mut app, 10_000);
    assert_eq!(found(&app).kept.here().unwrap().saved.trip, Some(Cause::Jam), "tried again before the minute is over");
    // Settings and the event were given up: the alarm tells of them until the like is kept.
    assert_eq!(app.reports().0.last(), Some(&Some(What::Settings)));
    assert_eq!(app.keeper_mut().set(&newer), Ok(()));
    assert_eq!(app.reset(), Ok(()));
    run(&line, &mut app, 1_000);
    assert_eq!(app.reports().0.last(), Some(&None), "{:?}", app.reports().0);
    assert_eq!(found(&app).settings, Read::Here(newer));
}

#[test]
fn where_nothing_can_be_read_the_board_waits_for_a_person() {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 0;
    let mut blocks = Blocks::<QUEUE>::new();
    let (filler, taker) = blocks.split();
    let (line, health) = (Line::new(filler), Cell::new(Health::Dead));
    line.amps.set(0.0);
    let flash = Slow { line: &line, health: &health, part: STM32G4, ram: new_flash(), erases: 0 };
    let (mut app, begun) = board(flash, taker, Policy::Plain.every(4_000_000), &settings);
    assert_eq!((begun.kept, begun.settings, begun.failed()), (Read::Failed, Read::Failed, true));
    run(&line, &mut app, 1_000);
    assert_eq!((app.fault(), app.outputs().pins().relay.high), (Some(Fault::Forgotten), false));
    assert_eq!(app.reports().0, [Some(What::Kept)]);
    assert_eq!(app.reset(), Err(Hindrance::Hot), "nobody knows how hot it is");
    assert_eq!(app.fault(), Some(Fault::Forgotten));
}
