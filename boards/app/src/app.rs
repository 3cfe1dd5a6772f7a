//! The loop: blocks in, decisions out, reports beside.

use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::judge::saved::Saved;
use shaftwork_core::recorder::Recorder;
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, Feeder, Frame, Monitor, Settings, SettingsError};
use shaftwork_report_bits::{Report, Speed, each, record};

use crate::outputs::Actuators;
use crate::panel::Read;
use crate::reports::Reports;
use crate::source::{Beside, FrameSource, Source};

/// Called around every call into the core: a pin for an oscilloscope, a counter on an emulator.
pub trait Probe {
    /// Right before.
    fn begin(&mut self) {}
    /// Right after; `frames` were taken.
    fn end(&mut self, frames: usize) {
        let _ = frames;
    }
}

/// Nobody looks.
impl Probe for () {}

/// Why the outputs stay in the safe state until a person says otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// This much was missing, all gaps together: the loop was too slow, as a rule. The core counts it
    /// as unknown time.
    Missing(Span),
    /// The converter fell silent.
    Silent,
    /// A pin could not be set.
    Pin,
}

/// What a call of [`App::poll`] found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Poll {
    /// Nothing to do: the loop may sleep until the next interrupt.
    Idle,
    /// A block was taken, or a fault was seen: call again soon.
    Worked,
    /// The source has ended.
    Ended,
}

/// A board's firmware. `S` gives frames, `O` are the outputs, `R` takes reports, `P` watches the load.
pub struct App<'m, S, O, R = (), P = ()> {
    monitor: Monitor,
    recorder: Option<Recorder<'m>>,
    source: S,
    outputs: O,
    reports: R,
    probe: P,
    fault: Option<Fault>,
    measured: bool,
    ended: bool,
}

impl<'m, S, O, R, P> App<'m, S, O, R, P>
where
    S: FrameSource,
    O: Actuators,
    R: Reports,
    P: Probe,
{
    /// The outputs are in the safe state already and stay there until the first half cycle is measured.
    ///
    /// # Errors
    ///
    /// When a setting cannot be used.
    pub fn new(settings: &Settings, source: S, outputs: O, reports: R, probe: P) -> Result<Self, SettingsError> {
        let monitor = Monitor::new(settings)?;
        Ok(Self {
            monitor,
            recorder: None,
            source,
            outputs,
            reports,
            probe,
            fault: None,
            measured: false,
            ended: false,
        })
    }

    /// With a recorder beside the monitor.
    #[must_use]
    pub fn with_recorder(self, recorder: Recorder<'m>) -> Self {
        Self { recorder: Some(recorder), ..self }
    }

    /// Power is back: begins where `saved` was. To be called before the first [`App::poll`].
    #[must_use]
    pub fn resumed(mut self, saved: &Saved) -> Self {
        self.monitor.resume(saved);
        self
    }

    /// Takes what the source has, at most one block, and brings the outputs up to date.
    ///
    /// Deadline: on average once a block (eight frames). The queue in front may lend some blocks.
    pub fn poll(&mut self) -> Poll {
        if self.ended {
            return Poll::Ended;
        }
        let mut block = [Frame([0; CHANNELS]); BLOCK];
        match self.source.block(&mut block) {
            Source::Nothing => return Poll::Idle,
            Source::Block(beside) => {
                self.beside(beside);
                self.probe.begin();
                self.monitor.ingest(&block);
                self.probe.end(BLOCK);
                if let Some(recorder) = &mut self.recorder {
                    recorder.block(&block, &self.monitor);
                }
            }
            Source::Gap(beside, count, length) => {
                self.beside(beside);
                self.monitor.finish(&block[..count.min(BLOCK - 1)]);
                self.report();
                self.monitor.gap(length);
                self.fail(Fault::Missing(length));
            }
            Source::Silent => self.fail(Fault::Silent),
            Source::End(beside, count) => {
                self.beside(beside);
                self.monitor.finish(&block[..count.min(BLOCK - 1)]);
                self.ended = true;
            }
        }
        self.report();
        if self.ended {
            self.reports.report(&Report::Totals(*self.monitor.totals()));
        }
        self.drive();
        if self.ended { Poll::Ended } else { Poll::Worked }
    }

    /// The fault that keeps the outputs in the safe state, if any.
    pub const fn fault(&self) -> Option<Fault> {
        self.fault
    }

    /// A person at the mill has seen to it: clears the fault and the latched trips. The motor stays as it is; to
    /// start it is another thing, and a person's.
    ///
    /// # Errors
    ///
    /// The core refuses it, as while the rotor may turn: all stays as it is.
    pub fn reset(&mut self) -> Result<(), Hindrance> {
        self.monitor.reset(true)?;
        self.fault = None;
        self.measured = false; // prove first that the converter is alive
        Ok(())
    }

    /// What the panel tells, once a block: the feed's inputs, and the reset where that was pressed.
    ///
    /// # Errors
    ///
    /// The core refuses the reset: see [`App::reset`].
    pub fn panel(&mut self, read: &Read) -> Result<(), Hindrance> {
        self.monitor.set_feed(read.feed);
        if read.reset { self.reset() } else { Ok(()) }
    }

    /// The core, for what a board shows: totals, decision.
    pub const fn monitor(&self) -> &Monitor {
        &self.monitor
    }

    /// What led to its decisions, where a recorder is there.
    pub const fn recorder(&self) -> Option<&Recorder<'m>> {
        self.recorder.as_ref()
    }

    /// What the feeder's drive should do: nothing while the outputs are in the safe state, whatever the core decided last.
    pub fn feeder(&self) -> Feeder {
        if self.free() { self.monitor.decision().feeder } else { Feeder::default() }
    }

    /// Where the frames come from.
    pub const fn source(&self) -> &S {
        &self.source
    }

    /// Where the reports went.
    pub const fn reports(&self) -> &R {
        &self.reports
    }

    /// Where the reports went, when the loop is over.
    pub fn into_reports(self) -> R {
        self.reports
    }

    /// Who watched the load.
    pub const fn probe(&self) -> &P {
        &self.probe
    }

    /// The outputs.
    pub const fn outputs(&self) -> &O {
        &self.outputs
    }

    fn report(&mut self) {
        let (reports, measured, recorder) = (&mut self.reports, &mut self.measured, &mut self.recorder);
        each(&mut self.monitor, &mut |report| {
            *measured |= matches!(report, Report::Moment(_));
            reports.report(report);
            if let Some(recorder) = recorder {
                record(recorder, report);
            }
        });
        if let Some(recorder) = recorder
            && recorder.capture.record().is_some_and(|record| reports.capture(&record))
        {
            recorder.capture.release();
        }
    }

    fn beside(&mut self, beside: Beside) {
        if let Some(mass_mg) = beside.mass_mg {
            self.monitor.set_mass(mass_mg);
        }
        match beside.speed {
            Speed::Unchanged => {}
            Speed::At(rpm) => self.monitor.set_speed(Some(rpm)),
            Speed::Lost => self.monitor.set_speed(None),
        }
        if let Some(inputs) = beside.feed {
            self.monitor.set_feed(inputs);
        }
    }

    /// Latches a fault; the first one stays, but gaps add up.
    fn fail(&mut self, fault: Fault) {
        self.fault = Some(match (self.fault, fault) {
            (Some(Fault::Missing(before)), Fault::Missing(more)) => Fault::Missing(before.plus(more)),
            (Some(first), _) => first,
            (None, fault) => fault,
        });
    }

    /// Whether the outputs do what the core decides.
    const fn free(&self) -> bool {
        self.fault.is_none() && self.measured && !self.ended
    }

    fn drive(&mut self) {
        let set = if self.free() { self.outputs.apply(&self.monitor.decision()) } else { self.outputs.safe() };
        if set.is_err() {
            self.fail(Fault::Pin);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing::Mock;
    use crate::outputs::{Outputs, Pins};
    use shaftwork_core::recorder::{self, Capture, Lead, Point, Shape, Trend};
    use shaftwork_core::{Cause, EventKind, FeedInputs, FeedMode};

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

    /// The same with settings of one's own.
    fn with<F: FnMut() -> (Source, [Frame; BLOCK])>(
        settings: &Settings,
        script: F,
    ) -> App<'static, Script<F>, Mocks, Log> {
        let pins = Pins {
            relay: Mock::default(),
            start: Mock::default(),
            feed: Mock::default(),
            wait: Mock::default(),
            stop: Mock::default(),
        };
        App::new(settings, Script(script), Outputs::new(pins).unwrap(), Log::default(), ()).unwrap()
    }

    const QUIET: [Frame; BLOCK] = [Frame([0; CHANNELS]); BLOCK];
    const BLOCKS_OF_A_CYCLE: usize = 10; // 80 frames at 4 kHz and 50 Hz

    fn relay<S: FrameSource>(app: &App<'_, S, Mocks, Log>) -> bool {
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
            if calls <= 30 {
                (Source::Block(Beside::default()), QUIET)
            } else {
                (Source::End(Beside::default(), 3), QUIET)
            }
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
        assert!(app.reports().0.iter().any(jam));
        assert_eq!(app.fault(), None, "a trip is no fault of the board");
        let recorder = app.recorder().unwrap();
        let logged = recorder.log.entries().find(|entry| matches!(entry.event.kind, EventKind::Trip { .. })).unwrap();
        assert_eq!(logged.account.map(|account| account.lead), Some(Lead::Strike), "{logged:?}");
        let record = recorder.capture.record().unwrap();
        assert_eq!((record.notes[0].sequence, record.frames().len()), (logged.sequence, 1_000));
    }
}
