//! The loop against scripts of frames, with pins that can be broken.

use super::*;
use crate::outputs::Outputs;
use crate::outputs::testing::{self, Mock};
use shaftwork_core::judge::notice::Answer;
use shaftwork_core::recorder::{self, Capture, Lead, Point, Recorder, Shape, Trend};
use shaftwork_core::{Cause, EventKind, FeedInputs, FeedMode, Settings};

/// Asks a closure for every block.
struct Script<F: FnMut() -> (Source, [Frame; BLOCK])>(F);

impl<F: FnMut() -> (Source, [Frame; BLOCK])> FrameSource for Script<F> {
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source {
        let (source, frames) = (self.0)();
        *into = frames;
        source
    }
}

#[derive(Default)]
struct Log(Vec<Report>);

impl Reports for Log {
    fn report(&mut self, report: &Report) {
        self.0.push(*report);
    }
}

type Mocks = Outputs<Mock, Mock, Mock, Mock, Mock>;

fn app<F: FnMut() -> (Source, [Frame; BLOCK])>(script: F) -> App<'static, Script<F>, Mocks, Log> {
    // A rotor that stands at once: resets are not refused for it.
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 0;
    with(&settings, script)
}

/// A monitor that stays where it was made.
fn lent(settings: &Settings) -> &'static mut Monitor {
    Box::leak(Box::new(Monitor::new(settings).unwrap()))
}

/// The same with settings of one's own.
fn with<F: FnMut() -> (Source, [Frame; BLOCK])>(settings: &Settings, script: F) -> App<'static, Script<F>, Mocks, Log> {
    App::new(lent(settings), Script(script), testing::outputs(), Log::default(), ())
}

const QUIET: [Frame; BLOCK] = [Frame([0; CHANNELS]); BLOCK];
const BLOCKS_OF_A_CYCLE: usize = 10; // 80 frames at 4 kHz and 50 Hz

fn relay<S: FrameSource, R: Reports>(app: &App<'_, S, Mocks, R>) -> bool {
    app.outputs().pins().relay.high
}

#[test]
fn no_current_for_the_relay_before_a_half_cycle_is_measured() {
    let mut app = app(|| (Source::Block(Beside::default()), QUIET));
    assert!(!relay(&app));
    assert_eq!(app.poll(), Poll::Worked);
    assert!(!relay(&app), "one block is no half cycle");
    for _ in 0..3 * BLOCKS_OF_A_CYCLE {
        app.poll();
    }
    assert!(relay(&app), "measured, nothing wrong");
    assert!(app.outputs().pins().start.high, "it stands, and may be started");
    assert!(app.outputs().pins().stop.high, "a mill at rest gets no feed");
}

#[test]
fn missing_frames_and_silence_open_the_relay_until_a_person_comes() {
    let missing = Span(24 << 16);
    let gap = Source::Gap(Beside::default(), 0, missing);
    for (what, fault) in [(gap, Fault::Missing(missing)), (Source::Silent, Fault::Silent)] {
        let mut calls = 0;
        let mut app = app(move || {
            calls += 1;
            (if calls == 50 { what } else { Source::Block(Beside::default()) }, QUIET)
        });
        for _ in 0..49 {
            app.poll();
        }
        assert!(relay(&app));
        app.poll();
        assert_eq!((relay(&app), app.fault()), (false, Some(fault)));
        for _ in 0..100 {
            app.poll();
        }
        assert!(!relay(&app), "does not heal by itself");
        assert_eq!(app.reset(), Ok(()));
        assert!(!relay(&app), "not before it has measured again");
        for _ in 0..2 * BLOCKS_OF_A_CYCLE {
            app.poll();
        }
        assert!(relay(&app));
    }
}

#[test]
fn nothing_to_do_changes_nothing() {
    let mut app = app(|| (Source::Nothing, QUIET));
    assert_eq!(app.poll(), Poll::Idle);
    assert!(app.reports().0.is_empty());
}

#[test]
fn an_ended_source_gives_the_totals_once_and_ends_safe() {
    let mut calls = 0;
    let mut app = app(move || {
        calls += 1;
        if calls <= 30 { (Source::Block(Beside::default()), QUIET) } else { (Source::End(Beside::default(), 3), QUIET) }
    });
    while app.poll() != Poll::Ended {}
    assert_eq!(app.poll(), Poll::Ended);
    let totals = app.reports().0.iter().filter(|report| matches!(report, Report::Totals(_))).count();
    assert_eq!((totals, relay(&app)), (1, false));
    assert!(matches!(app.reports().0.last(), Some(Report::Totals(_))));
}

/// Eight frames from the `n`-th on of a motor on 230 V that takes so many amperes.
fn running(n: &mut u32, amps: f64) -> [Frame; BLOCK] {
    core::array::from_fn(|_| {
        let phase = f64::from(*n) / 80.0 * core::f64::consts::TAU;
        *n += 1;
        Frame(core::array::from_fn(|channel| {
            let turn = -f64::from((channel % 3) as u32) / 3.0 * core::f64::consts::TAU;
            let (peak, full, lag) =
                if channel < 3 { (325.3, 800.0, 0.0) } else { (amps * core::f64::consts::SQRT_2, 1_400.0, 0.6) };
            ((phase + turn - lag).sin() * peak / full * 32_767.0).round() as i32
        }))
    })
}

fn governed() -> Settings {
    let mut settings = Settings::example();
    settings.feed.feeder = Some(shaftwork_core::settings::Feeder::default());
    settings
}

#[test]
fn a_feeder_stands_when_the_board_is_in_its_safe_state() {
    let inputs = |release| FeedInputs { permit: Some(true), mode: FeedMode::Automatic, release };
    let missing = Span(24 << 16);
    let block = Source::Block(Beside::default());
    for (what, fault) in [
        (Source::Silent, Some(Fault::Silent)),
        (Source::Gap(Beside::default(), 0, missing), Some(Fault::Missing(missing))),
        (Source::End(Beside::default(), 0), None),
        (block, Some(Fault::Pin)),
    ] {
        // Released after a second; after 20 s comes what takes the board into its safe state.
        let (mut n, mut calls) = (0_u32, 0);
        let script = move || {
            calls += 1;
            let feed = (calls == 1 || calls == 500).then(|| inputs(calls == 500));
            let source = if calls == 10_000 { what } else { Source::Block(Beside { feed, ..Beside::default() }) };
            (source, running(&mut n, if calls < 10_000 { 40.0 } else { 250.0 }))
        };
        let mut app = with(&governed(), script);
        for _ in 0..9_999 {
            app.poll();
        }
        assert!(app.feeder().permille > 0 && app.outputs().pins().feed.high, "it feeds");
        if fault == Some(Fault::Pin) {
            app.outputs().pins().wait.broken.set(true);
        }
        // A pin shows that it is broken when it is written: at the jam.
        for _ in 0..if fault == Some(Fault::Pin) { 500 } else { 1 } {
            app.poll();
        }
        let pins = app.outputs().pins();
        assert_eq!((app.feeder(), app.fault()), (Feeder::default(), fault), "{what:?}");
        assert_eq!([pins.relay.high, pins.feed.high, pins.stop.high], [false, false, true], "{what:?}");
        let told = matches!(what, Source::Gap(..)) || fault == Some(Fault::Pin);
        assert_eq!(app.monitor().decision().feeder.permille > 0, !told, "{what:?}: what the core knows of it");
    }
}

#[test]
fn what_was_saved_stands_after_a_power_cut() {
    let app = |saved: Saved| {
        let mut app = with(&governed(), || (Source::Block(Beside::default()), QUIET)).resumed(&saved);
        assert_eq!(app.feeder(), Feeder::default(), "nothing measured yet");
        for _ in 0..3 * BLOCKS_OF_A_CYCLE {
            app.poll();
        }
        app
    };
    let called = app(Saved { called: true, ..Saved::default() });
    assert_eq!((called.feeder(), relay(&called)), (Feeder { call: true, ..Feeder::default() }, true));
    let tripped = app(Saved { trip: Some(Cause::Jam), ..Saved::default() });
    assert_eq!((tripped.feeder(), relay(&tripped)), (Feeder::default(), false));
}

#[test]
fn a_jam_opens_the_relay_and_stops_the_feed() {
    // 230 V, and 70 A that become 250 A after 2 s: the example's jam element picks up at 2 x 96.5 A
    // and waits for 0.5 s.
    let mut n = 0_u32;
    let app = app(move || {
        let amps = if n < 8_000 { 70.0 } else { 250.0 };
        (Source::Block(Beside::default()), running(&mut n, amps))
    });
    let (mut entries, mut points, mut feeds) = ([None; 8], [Point::default(); 400], [0; 20]);
    let (mut frames, mut snapshots) = (vec![[0; CHANNELS]; 1_000], [None, None]);
    let mut app = app.with_recorder(Recorder {
        log: recorder::Log::new(&mut entries, 1),
        trend: Trend::new(&Settings::example().build().unwrap().judge, &mut points, &mut feeds, 1),
        capture: Capture::new(&mut frames, &mut snapshots, Shape::whole(16)),
    });
    for _ in 0..1_000 {
        app.poll();
    }
    assert!(relay(&app), "honest load for two seconds");
    for _ in 0..400 {
        app.poll();
    }
    assert!(!relay(&app), "0.8 s of jam");
    assert!(!app.outputs().pins().start.high, "no start before the reset");
    assert!(app.outputs().pins().stop.high);
    assert_eq!(app.monitor().decision().trip, Some(Cause::Jam));
    let jam = |report: &Report| matches!(report, Report::Event(event) if matches!(event.kind, EventKind::Trip { cause: Cause::Jam, .. }));
    assert!(app.reports().reports().0.iter().any(jam));
    assert_eq!(app.fault(), None, "a trip is no fault of the board");
    let recorder = app.reports().recorder();
    let logged = recorder.log.entries().find(|entry| matches!(entry.event.kind, EventKind::Trip { .. })).unwrap();
    assert_eq!(logged.account.map(|account| account.lead), Some(Lead::Strike), "{logged:?}");
    let record = recorder.capture.record().unwrap();
    assert_eq!((record.notes[0].sequence, record.frames().len()), (logged.sequence, 1_000));
}

/// What the board told of itself, in order.
fn told<S: FrameSource>(app: &App<'_, S, Mocks, Log>) -> Vec<Notice> {
    let notice = |report: &Report| match report {
        Report::Event(event) => match event.kind {
            EventKind::Board(notice) => Some(notice),
            _ => None,
        },
        _ => None,
    };
    app.reports().0.iter().filter_map(notice).collect()
}

#[test]
fn what_goes_wrong_is_told_once_each_time() {
    let mut calls = 0;
    let mut app = app(move || {
        calls += 1;
        let twice = Beside { repeated: 3, ..Beside::default() };
        match calls {
            50..60 | 90..95 => (Source::Silent, QUIET),
            70 => (Source::Block(twice), QUIET),
            _ => (Source::Block(Beside::default()), QUIET),
        }
    })
    .begun(Begin::Watchdog);
    for _ in 0..79 {
        app.poll();
    }
    let silent = Notice::ConverterSilent;
    let so_far = [Notice::Begins(Begin::Watchdog), silent, Notice::FramesRepeated { count: 3 }];
    assert_eq!(told(&app), so_far);
    app.reset().unwrap();
    for _ in 0..21 {
        app.poll();
    }
    assert_eq!(told(&app)[3..], [silent], "again after a reset");
    app.clock(1_700_000_000);
    app.clock(1_700_000_060);
    app.poll();
    assert_eq!(told(&app)[4..], [Notice::ClockSet { by_s: 60 }]);
}

#[test]
fn a_pin_that_fails_is_told_and_opens_the_relay() {
    let mut app = app(|| (Source::Block(Beside::default()), QUIET));
    for _ in 0..3 * BLOCKS_OF_A_CYCLE {
        app.poll();
    }
    assert!(relay(&app) && app.healthy());
    app.outputs().pins().wait.broken.set(true);
    app.outputs().pins().stop.broken.set(true);
    app.outputs.safe().unwrap_err(); // what the pins were told is forgotten: they are written again
    for _ in 0..5 {
        app.poll();
    }
    assert_eq!((app.fault(), told(&app)), (Some(Fault::Pin), vec![Notice::OutputFails]));
    assert!(!relay(&app) && !app.healthy());
}

/// A supply that dips and recovers does not close the relay by itself.
#[test]
fn a_supply_that_fails_opens_the_relay_at_once_and_for_good() {
    let mut app = app(|| (Source::Block(Beside::default()), QUIET));
    for _ in 0..3 * BLOCKS_OF_A_CYCLE {
        app.poll();
    }
    assert!(relay(&app));
    app.power_fails();
    assert!(!relay(&app));
    assert_eq!(told(&app), [Notice::SupplyFails], "told before the power is gone");
    for _ in 0..3 * BLOCKS_OF_A_CYCLE {
        app.poll();
    }
    assert!(!relay(&app));
}

/// The relay opens, and the contactor's contact says that it stays closed: welded.
#[test]
fn a_contactor_that_does_not_open_is_told() {
    let mut n = 0_u32;
    let app = app(move || {
        let amps = if n < 8_000 { 70.0 } else { 250.0 };
        (Source::Block(Beside::default()), running(&mut n, amps))
    });
    let delays = Delays { contactor: 100, feeder: 100 };
    let mut app = app.with_delays(delays);
    app.answers(Answers { contactor: Some(true), feeder: None });
    while app.monitor().decision().trip.is_none() {
        app.poll();
        assert_eq!(told(&app), []);
    }
    for _ in 1..delays.contactor {
        app.poll();
    }
    assert_eq!(told(&app), []);
    app.poll();
    assert_eq!(told(&app), [Notice::Contactor(Answer::RunsOn)]);
    app.answers(Answers { contactor: Some(false), feeder: None });
    app.poll();
    assert_eq!(told(&app)[1..], [Notice::Contactor(Answer::Follows)]);
}

/// Delays are times of blocks: a loop that asks a silent converter a thousand times has not waited for the contactor.
#[test]
fn while_the_converter_is_silent_no_answer_is_late() {
    let mut calls = 0;
    let app = app(move || {
        calls += 1;
        (if (50..=2_000).contains(&calls) { Source::Silent } else { Source::Block(Beside::default()) }, QUIET)
    });
    let delays = Delays { contactor: 100, feeder: 100 };
    let mut app = app.with_delays(delays);
    for _ in 1..50 {
        app.poll();
    }
    assert!(relay(&app));
    // The relay opens; contactor and feeder take their time.
    app.answers(Answers { contactor: Some(true), feeder: Some(true) });
    assert_eq!(app.poll(), Poll::Worked, "a fault was seen");
    for _ in 51..2_000 {
        assert_eq!(app.poll(), Poll::Idle, "nothing new");
    }
    assert!(!relay(&app));
    app.reset().unwrap();
    assert_eq!((app.poll(), app.fault()), (Poll::Idle, Some(Fault::Silent)), "a reset finds it silent still");
    let silent = Notice::ConverterSilent;
    assert_eq!(told(&app), [silent]);
    for _ in 0..delays.contactor {
        app.poll();
    }
    assert_eq!(told(&app), [silent]);
    app.poll();
    let runs_on = [Notice::Contactor, Notice::FeederDrive].map(|of| of(Answer::RunsOn));
    assert_eq!(told(&app)[1..], runs_on, "blocks count");
}

/// A motor that runs and is fed, with what the plant answers; how often the drive was found otherwise is in the log.
#[test]
fn a_feeder_that_does_not_follow_loses_its_permit_until_a_person_comes() {
    let (mut n, mut calls) = (0_u32, 0);
    let script = move || {
        calls += 1;
        let release = calls == 500 || calls == 20_000;
        let inputs = FeedInputs { permit: Some(true), mode: FeedMode::Automatic, release };
        let feed = (calls == 1 || release || calls == 501).then_some(inputs);
        (Source::Block(Beside { feed, ..Beside::default() }), running(&mut n, 40.0))
    };
    let mut app = with(&governed(), script);
    let told_to_run = |app: &mut App<'_, _, Mocks, Log>, polls: u32, follows: bool| {
        for _ in 0..polls {
            let runs = app.feeder().permille > 0;
            app.answers(Answers { contactor: None, feeder: Some(runs && follows) });
            app.poll();
        }
        app.feeder().permille > 0
    };
    assert!(told_to_run(&mut app, 9_000, true), "it feeds");
    assert_eq!(told(&app), []);
    assert!(!told_to_run(&mut app, 5_000, false), "it stands though it was told to run");
    let [stands, follows] = [Answer::Stands, Answer::Follows].map(Notice::FeederDrive);
    assert_eq!(told(&app), [stands, follows], "stopped, it does as it is told");
    assert!(!told_to_run(&mut app, 5_000, true), "not by itself");
    assert!(told_to_run(&mut app, 9_000, true), "released anew");
}
