//! The table against the page, the lamp as a person counts it, and what outlasts a reset.

use core::convert::Infallible;

use super::*;
use shaftwork_app::{Actuators, Outputs, Pins};
use shaftwork_core::time::Span;
use shaftwork_report_bits::settings::Wrong;

const PAGE: &str = include_str!("../../../../docs/board-stm32g474.md");
const FAULTS: &str = include_str!("../../../../docs/faults.md");

#[derive(Default)]
struct Pin {
    high: bool,
}

impl ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.high = false;
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.high = true;
        Ok(())
    }
}

/// The page's table: number and words of each row.
fn rows() -> Vec<(u8, &'static str)> {
    let table = PAGE.split("## What the lamp tells").nth(1).expect("the page has it").split("\n## ").next().unwrap();
    let row = |line: &'static str| {
        let mut cells = line.strip_prefix("| ")?.split(" | ");
        Some((cells.next()?.parse().ok()?, cells.next()?))
    };
    table.lines().filter_map(row).collect()
}

#[test]
fn the_page_has_every_cause_in_its_order() {
    let causes: Vec<_> = Cause::ALL.iter().map(|cause| (cause.number(), cause.words())).collect();
    assert_eq!(rows(), causes);
    assert!(causes.is_sorted_by_key(|(number, _)| *number) && causes.len() > 9);
    assert!(causes.iter().all(|(number, _)| (1..=6).contains(&(number % 10)) && (1..=5).contains(&(number / 10))));
}

/// As a person counts: flashes, closer than a second or further apart.
#[test]
fn flashes_are_the_numbers_figures() {
    for cause in Cause::ALL {
        let telling: &'static Telling = Box::leak(Box::new(Telling::new()));
        let pins = Pins {
            relay: Pin::default(),
            start: Pin::default(),
            feed: Pin::default(),
            wait: Pin::default(),
            stop: StopLamp::new(Pin::default(), telling),
        };
        let mut outputs = Outputs::new(pins).unwrap();
        assert!(outputs.pins().stop.pin.high, "nothing is told yet: lit");
        telling.tell(Some(*cause));
        let (mut counts, mut dark, mut was, mut others) = (vec![0_u32], 0, false, false);
        for _ in 0..30_000 {
            outputs.safe().unwrap();
            let high = outputs.pins().stop.pin.high;
            others |=
                [&outputs.pins().relay, &outputs.pins().start, &outputs.pins().feed].map(|pin| pin.high) != [false; 3];
            if high && !was {
                if dark > 1_000 {
                    counts.push(0);
                }
                *counts.last_mut().unwrap() += 1;
                dark = 0;
            }
            dark += u32::from(!high);
            was = high;
            telling.tell(Some(*cause)); // again and again, as the loop does
            telling.tick();
        }
        assert!(!others, "nothing else ever has current");
        counts.pop(); // cut off
        let figures = [cause.number() / 10, cause.number() % 10].map(u32::from);
        assert!(counts.len() > 4);
        for (n, count) in counts.iter().enumerate() {
            assert_eq!(*count, figures[n % 2], "{cause:?}: {counts:?}");
        }
        telling.tell(None);
        outputs.safe().unwrap();
        assert!(outputs.pins().stop.pin.high, "lit, and nothing flashes");
    }
}

#[test]
fn what_is_left_outlasts_a_reset_and_what_power_leaves_is_nothing() {
    for cause in Cause::ALL {
        assert_eq!(left(words(Some(*cause))), Some(*cause));
        for bit in 0..32 {
            let [word, complement] = words(Some(*cause));
            assert_eq!(left([word ^ 1 << bit, complement]), None);
        }
    }
    assert_eq!(left(words(None)), None);
    assert_eq!([[0; 2], [u32::MAX; 2], [0, u32::MAX], [u32::MAX, 0]].map(left), [None; 4]);
}

#[test]
fn the_life_before_is_told_where_a_person_is_waited_for() {
    use Begin::{BrownOut, Pin, PowerOn, Software, Unknown, Watchdog};
    let crystal = Some(Cause::Crystal);
    assert_eq!(Cause::of_life_before(Watchdog, crystal), crystal);
    assert_eq!(Cause::of_life_before(Watchdog, None), Some(Cause::LoopHung));
    assert_eq!(Cause::of_life_before(Unknown, crystal), Some(Cause::UnknownReset));
    for by_person in [Software, Pin] {
        assert_eq!(Cause::of_life_before(by_person, crystal), None);
    }
    for power in [PowerOn, BrownOut] {
        assert_eq!([None, Some(Cause::Supply)].map(|left| Cause::of_life_before(power, left)), [None; 2]);
        assert_eq!(Cause::of_life_before(power, crystal), crystal, "memory outlasted a dip");
    }
    assert_eq!(begin(PowerOn, Some(Cause::Supply)), BrownOut);
    assert_eq!((begin(PowerOn, crystal), begin(PowerOn, None)), (PowerOn, PowerOn));
    assert_eq!(begin(Watchdog, Some(Cause::Supply)), Watchdog);
}

/// As the start does it: what the life before left, and what this one leaves until the press.
#[test]
fn a_person_is_waited_for_whatever_the_supply_does_meanwhile() {
    let next = |reset, memory| {
        let left = left(memory);
        let before = Cause::of_life_before(begin(reset, left), left);
        (before, words(before.map(Cause::until_pressed)))
    };
    let causes = Cause::ALL.iter().copied().map(Some).chain([None]);
    for (cause, reset) in causes.flat_map(|cause| [Begin::Watchdog, Begin::Unknown].map(|reset| (cause, reset))) {
        let (before, mut memory) = next(reset, words(cause));
        assert!(before.is_some(), "{cause:?}");
        for again in [Begin::PowerOn, Begin::BrownOut, Begin::Watchdog, Begin::PowerOn] {
            let (told, kept) = next(again, memory);
            assert_eq!(told, before.map(Cause::until_pressed), "{cause:?}, {again:?}");
            memory = kept;
        }
        // Pressed, or memory lost, or the pin pulled: a supply that dips then begins by itself.
        for gone in [words(None), [0; 2], next(Begin::Pin, memory).1] {
            assert_eq!(next(Begin::PowerOn, gone).0, None);
        }
    }
    // A fault stood in the loop when power dipped; the supply alone is no such.
    assert_eq!(next(Begin::PowerOn, words(Some(Cause::FramesLost))).0, Some(Cause::FramesLost));
    assert_eq!(next(Begin::PowerOn, words(Some(Cause::Supply))).0, None);
}

/// Every row of the page about faults: which cause is told here. What is no fault to the loop tells none.
#[test]
fn every_fault_that_ends_in_the_safe_state_has_a_cause() {
    let gap = Cause::of_fault(Fault::Missing(Span(1)));
    let wanted = [
        ("the loop is away for 6 blocks", None),
        ("the loop is away for 20 blocks", Some(gap)),
        ("the interrupt misses", Some(gap)),
        ("5 frames come twice", None),
        ("the converter gives the same codes", None),
        ("the converter is silent", Some(Cause::of_fault(Fault::Silent))),
        ("the clock is set", None),
        ("the trip relay's output", Some(Cause::of_fault(Fault::Pin))),
        ("the store's flash takes nothing", None),
        ("the supply is about to fail", Some(Cause::of_fault(Fault::Supply))),
        ("the loop hangs", Cause::of_life_before(Begin::Watchdog, None)),
        ("the program panics", Cause::of_life_before(Begin::Watchdog, Some(Cause::Panicked))),
    ];
    let rows: Vec<_> = FAULTS.lines().filter(|line| line.starts_with("| the ") || line.starts_with("| 5 ")).collect();
    assert_eq!(rows.len(), wanted.len());
    for (row, (begins, cause)) in rows.iter().zip(wanted) {
        assert!(row[2..].starts_with(begins), "{row}");
        let outputs = row.split(" | ").nth(3).unwrap();
        let safe = outputs.contains("safe");
        assert_eq!(cause.is_some(), safe, "{row}");
    }
    assert_eq!(Cause::of_fault(Fault::Forgotten), Cause::StoreForgotten);
    let refused = [Refused::Blank, Refused::Unreadable(Wrong::Sum), Refused::OtherConverters];
    assert_eq!(refused.map(|why| Cause::of_settings(why).number()), [33, 34, 35]);
}
