//! Goes through the tests: each on a fresh monitor, from its first frame.

use crate::plan::{Stage, TESTS, Test, plan};
use crate::sheet::{Figure, ROWS, Row, Sheet, Verdict, Way, Why};
use crate::source::Source;
use heapless::Vec;
use shaftwork_core::judge::saved::Saved;
use shaftwork_core::settings::{Action, Settings};
use shaftwork_core::{BLOCK, Cause, EventKind, Monitor};

const _: () = assert!(TESTS.len() <= ROWS, "a row a test");

/// Version of this core.
const VERSION: [u8; 3] = [
    number(env!("CARGO_PKG_VERSION_MAJOR")),
    number(env!("CARGO_PKG_VERSION_MINOR")),
    number(env!("CARGO_PKG_VERSION_PATCH")),
];

/// A number below 256, when this is compiled.
const fn number(digits: &str) -> u8 {
    let (bytes, mut at, mut number) = (digits.as_bytes(), 0, 0);
    while at < bytes.len() {
        number = number * 10 + (bytes[at] - b'0');
        at += 1;
    }
    number
}

/// How a course ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    /// The element operated so many frames after the step.
    Operated(u64),
    /// It did not.
    Silent,
    /// It operated before the step.
    Early,
    /// The converter cannot show a state.
    Reach,
    /// A person broke off.
    BrokenOff,
}

/// Tries every element of the settings. `sum` is the CRC-32 of their bytes, for the sheet. `go_on` is asked before each eight frames: a
/// board looks after its watchdog and its outputs there; false breaks off.
pub fn run(settings: &Settings, sum: u32, go_on: &mut dyn FnMut() -> bool) -> Sheet {
    prove(settings, settings, sum, go_on)
}

/// The same with tests that are made of other settings than those that are tried: each element that differs must fail.
pub fn prove(planned: &Settings, tried: &Settings, sum: u32, go_on: &mut dyn FnMut() -> bool) -> Sheet {
    let mut rows = Vec::new();
    for (cause, way) in TESTS {
        let row = match plan(planned, cause, way) {
            // Told by the element's first row.
            Err(Why::Off) if way != Way::PickUp => continue,
            Err(why) => left(cause, way, why),
            Ok(test) => tested(tried, cause, way, &test, go_on),
        };
        let _ = rows.push(row); // there is room
    }
    Sheet { version: VERSION, settings: sum, rate_mhz: planned.sampling.rate_mhz, rows, outputs: Vec::new() }
}

fn left(cause: Cause, way: Way, why: Why) -> Row {
    Row {
        cause,
        way,
        action: Action::Trip,
        figure: Figure::Condition,
        set: 0,
        short: 0,
        beyond: 0,
        held: false,
        time: None,
        wanted: [0; 2],
        verdict: Verdict::Left(why),
    }
}

fn tested(settings: &Settings, cause: Cause, way: Way, test: &Test, go_on: &mut dyn FnMut() -> bool) -> Row {
    let short = course(settings, cause, test, false, go_on);
    let beyond = course(settings, cause, test, true, go_on);
    let [least, most] = test.wanted;
    let held = short == End::Silent;
    let (time, in_time) = match beyond {
        End::Operated(time) => (u32::try_from(time).ok(), (least..=most).contains(&time)),
        _ => (None, false),
    };
    let verdict = match [short, beyond] {
        [End::BrokenOff, _] | [_, End::BrokenOff] => Verdict::Left(Why::BrokenOff),
        [End::Reach, _] | [_, End::Reach] => Verdict::Left(Why::Range),
        _ if held && in_time => Verdict::Passed,
        _ => Verdict::Failed,
    };
    let wanted = test.wanted.map(|frames| u32::try_from(frames).unwrap_or(u32::MAX));
    let Test { action, figure, set, short, beyond, .. } = *test;
    Row { cause, way, action, figure, set, short, beyond, held, time, wanted, verdict }
}

/// One course: up to the step and through what is short of the pick-up, or beyond it.
#[inline(never)] // its monitor is put together here and stays here, one at a time
fn course(settings: &Settings, cause: Cause, test: &Test, beyond: bool, go_on: &mut dyn FnMut() -> bool) -> End {
    let built = settings.build();
    let Ok(coefficients) = &built else { return End::Early }; // unusable settings: nothing passes
    let monitor = &mut Monitor::of(coefficients);
    if let Some(thermal_q32) = test.preset {
        monitor.resume(&Saved { thermal_q32, ..Saved::default() });
    }
    let mut bench = Bench { monitor, source: Source::new(settings), cause, go_on };
    for _ in 0..test.cycles {
        for stage in &test.cycle {
            match bench.stage(stage) {
                End::Silent => {}
                End::Operated(_) => return End::Early,
                end => return end,
            }
        }
    }
    match bench.stage(&test.before) {
        End::Silent => {}
        End::Operated(_) => return End::Early,
        end => return end,
    }
    if beyond {
        return bench.stage(&test.step);
    }
    for stage in &test.held {
        match bench.stage(stage) {
            End::Silent => {}
            end => return end,
        }
    }
    End::Silent
}

/// A monitor with the source in the converter's place.
struct Bench<'a> {
    monitor: &'a mut Monitor,
    source: Source,
    cause: Cause,
    go_on: &'a mut dyn FnMut() -> bool,
}

impl Bench<'_> {
    /// Shows a state until the element operates, or for as long as it lasts.
    fn stage(&mut self, stage: &Stage) -> End {
        if stage.frames == 0 {
            return End::Silent;
        }
        if self.source.set(&stage.state).is_err() {
            return End::Reach;
        }
        let mut frames = 0;
        while frames < stage.frames {
            if !(self.go_on)() {
                return End::BrokenOff;
            }
            self.monitor.ingest(&self.source.block());
            frames += BLOCK as u64;
            let _ = (self.monitor.take_moment(), self.monitor.take_interval()); // nobody looks at them
            let mut operated = false;
            while let Some(event) = self.monitor.pop_event() {
                operated |= match event.kind {
                    EventKind::Trip { cause, .. } | EventKind::Alarm { cause, .. } => cause == self.cause,
                    _ => false,
                };
            }
            if operated {
                return End::Operated(frames);
            }
        }
        End::Silent
    }
}
