//! A board whose power goes anywhere: what its store told a person stays true.

mod support;

use shaftwork_core::judge::saved::Saved;
use shaftwork_core::settings::{CHANNELS, Settings};
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, Cause, Event, EventKind, Frame, Monitor, Totals};
use shaftwork_store::kept::VERSION;
use shaftwork_store::{Begun, Done, Entry, MountError, Places, Read, Region, Ring, Store, What};
use support::{Draw, Flash};

const PAGE: usize = 2_048;
type Chip = Flash<8, PAGE>;

const fn places() -> Places {
    const fn region(page: u32) -> Region {
        Region { first: page * PAGE as u32, pages: 5, cell: 16, step: 8 }
    }
    Places { kept: region(0), settings: region(5), events: region(10) }
}

/// Settings that tell their number.
fn settings(n: u32) -> Settings {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = n;
    settings
}

/// Eight frames of a motor that takes 40 A at 230 V, in phase.
fn block(n: u32) -> [Frame; BLOCK] {
    core::array::from_fn(|k| {
        let phase = f64::from(n * BLOCK as u32 + k as u32) / 80.0 * core::f64::consts::TAU;
        Frame(core::array::from_fn(|channel| {
            let turn = f64::from((channel % 3) as u32) / 3.0 * core::f64::consts::TAU;
            let size = if channel < CHANNELS / 2 { 325.3 / 800.0 } else { 56.6 / 1_400.0 };
            ((phase - turn).sin() * size * 32_767.0) as i32
        }))
    })
}

/// What the store has said.
#[derive(Default)]
struct Said {
    totals: Totals,
    settings: u32,
    /// Offered, perhaps not kept.
    newer: u32,
    events: Vec<u64>,
    next: u64,
}

#[test]
fn what_was_told_stays_true() {
    let mut flash = Chip::new(15, 4);
    let mut draw = Draw(21);
    let mut said = Said::default();
    let mut most = 0;
    for session in 0..200 {
        flash.power_up();
        flash.cut_at = Some(flash.operations + draw.below(if session % 2 == 0 { 250 } else { 3_000 }));
        let (mut store, begun) = Store::mount(&mut flash, &places(), Span(400 << 16)).unwrap();
        if check(&mut store, &begun, &mut said) {
            run(&mut store, &begun, &mut said, &mut draw);
            most = most.max(said.totals.electrical.joules);
        }
    }
    assert!(most > 50_000, "energy was counted all along: {most} J");
    assert!(said.settings > 10 && said.next > 250, "{} settings, {} events", said.settings, said.next);
}

/// After a power-up. Whether the power lasted for all that was made sure of.
fn check(store: &mut Store<&mut Chip>, begun: &Begun, said: &mut Said) -> bool {
    // Where the power went meanwhile nobody is told anything.
    match begun.kept {
        Read::Here(kept) => {
            assert!(kept.totals.electrical.q20() >= said.totals.electrical.q20(), "a register went back");
            assert!(kept.totals.starts >= said.totals.starts);
            said.totals = kept.totals;
        }
        Read::Nothing => assert_eq!(said.totals, Totals::default()),
        Read::Failed => return false,
        Read::Other(version) => panic!("{version}"),
    }
    match begun.settings {
        Read::Here(found) => {
            let n = found.mill.coast_down_ms;
            assert_eq!(found, settings(n), "whole");
            assert!((said.settings..=said.newer).contains(&n), "{n} is neither old nor new");
            (said.settings, said.newer) = (n, n);
        }
        Read::Nothing => assert_eq!(said.settings, 0),
        Read::Failed => return false,
        Read::Other(version) => panic!("{version}"),
    }
    let (mut found, mut position) = (Vec::new(), 0);
    while let Some((entry, next)) = store.entry(position) {
        position = next;
        if let Read::Here(Entry::Event(Event { kind: EventKind::Gap { length }, .. })) = entry {
            found.push(length.0);
        }
    }
    // One page of five is sure, of 128 cells: 15 events of two cells, and what power-ups put between them.
    let sure = &said.events[said.events.len().saturating_sub(15)..];
    let there = sure.iter().all(|event| found.contains(event));
    if there {
        return true;
    }
    // The power may have gone before the log was read.
    assert!(store.flash().is_off(), "an event is gone: {sure:?} but {found:?}");
    false
}

fn run(store: &mut Store<&mut Chip>, begun: &Begun, said: &mut Said, draw: &mut Draw) {
    let mut monitor = Monitor::new(&begun.settings.here().unwrap_or(settings(0))).unwrap();
    if let Read::Here(kept) = begun.kept {
        monitor.resume(&kept.saved);
    }
    let mut offered = Vec::new();
    // What is kept was taken after what was kept before: so much is sure of it.
    let mut sure = said.totals;
    for n in 0..600 {
        monitor.ingest(&block(n));
        while monitor.pop_event().is_some() {}
        if n % 20 == 0 {
            said.next += 1;
            offered.push(said.next);
            store.event(&Event { at: monitor.now(), kind: EventKind::Gap { length: Span(said.next) } });
        }
        if draw.below(200) == 0 && store.set(&settings(said.newer + 1)).is_ok() {
            said.newer += 1;
        }
        let totals = store.totals(&monitor);
        for _ in 0..8 {
            match store.step(&monitor) {
                Done::Kept(What::Kept) => said.totals = std::mem::replace(&mut sure, totals),
                Done::Kept(What::Settings) => said.settings = said.newer,
                Done::Kept(What::Entry) => said.events.push(offered.remove(0)),
                Done::Nothing => break,
                Done::Some | Done::Lost(_) => {}
            }
        }
        if store.flash().is_off() {
            return;
        }
    }
    if store.power_fails(&monitor) {
        said.totals = store.totals(&monitor);
    }
}

#[test]
fn a_trip_is_kept_at_once() {
    let mut flash = Chip::new(15, 4);
    let (mut store, _) = Store::mount(&mut flash, &places(), Span(u64::MAX)).unwrap();
    let mut monitor = Monitor::new(&settings(0)).unwrap();
    while store.step(&monitor) != Done::Nothing {}
    assert_eq!(store.step(&monitor), Done::Nothing, "not due for ages");
    let tripped = Saved { trip: Some(Cause::Jam), ..Saved::default() };
    monitor.resume(&tripped);
    let mut steps = (0..200).map(|_| store.step(&monitor));
    assert!(steps.any(|done| done == Done::Kept(What::Kept)));
    let (_, begun) = Store::mount(&mut flash, &places(), Span(0)).unwrap();
    assert_eq!(begun.kept.here().map(|kept| kept.saved.trip), Some(Some(Cause::Jam)));
    assert_eq!(begun.settings, Read::Nothing);
}

/// A record of another layout, the same with other places, and one of this layout that makes no sense: all is left as it is until a person has it forgotten.
#[test]
fn what_another_layout_wrote_is_refused_and_stays() {
    let write = |flash: &mut Chip, region: &Region, version: u8| {
        flash.power_up();
        let mut ring = Ring::<1_088>::mount(flash, region).unwrap();
        assert!(ring.prove(flash, &[1, 2, 3], version));
    };
    let other = VERSION + 1;
    let moved = Region { pages: 7, ..places().kept };
    for (what, region, version) in [
        (What::Kept, places().kept, other),
        (What::Settings, places().settings, other),
        (What::Entry, places().events, other),
        (What::Kept, moved, VERSION),
        (What::Settings, places().settings, VERSION),
    ] {
        let mut flash = Chip::new(17, 5);
        write(&mut flash, &region, version);
        if region == moved {
            // In its first turn a record of the larger region is where the smaller one would have it.
            (0..2).for_each(|_| write(&mut flash, &region, version));
        }
        let before = flash.operations;
        let refused = Store::mount(&mut flash, &places(), Span(0)).map(|_| ()).unwrap_err();
        assert_eq!(refused, MountError::Layout { what, version });
        assert_eq!(flash.operations, before, "nothing is written");
        assert!(refused.to_string().contains(&format!("layout {version}")), "{refused}");

        assert_eq!(Store::forget(&mut flash, &places()), Ok(()));
        let (_, begun) = Store::mount(&mut flash, &places(), Span(0)).unwrap();
        assert_eq!(begun, Begun::default());
    }
}
