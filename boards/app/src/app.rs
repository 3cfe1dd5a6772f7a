//! The loop: blocks in, decisions out, reports beside.

use shaftwork_core::judge::notice::{Begin, Notice};
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::judge::saved::Saved;
use shaftwork_core::settings::CHANNELS;
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, FeedInputs, Feeder, Frame, Monitor};
use shaftwork_report_bits::{Report, Speed, each};
use shaftwork_store::What;

use crate::follow::{Answers, Delays};
use crate::keeper::Keeper;
use crate::outputs::Actuators;
use crate::panel::Read;
use crate::reports::Reports;
use crate::source::{Beside, FrameSource, Source};
use crate::watch::Watch;

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
    /// The supply is about to fail.
    Supply,
    /// The store does not give what it kept: settings may be the board's own and not those of the motor, and its heat is not known.
    Forgotten,
}

/// What a call of [`App::poll`] found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Poll {
    /// Nothing to do, or the converter is silent still: the loop may sleep until the next interrupt.
    Idle,
    /// A block was taken, or a fault was seen: call again soon.
    Worked,
    /// The source has ended.
    Ended,
}

/// A board's firmware. `S` gives frames, `O` are the outputs, `R` takes reports, `P` watches the load, `K` keeps what outlasts a power cut.
pub struct App<'m, S, O, R = (), P = (), K = ()> {
    monitor: &'m mut Monitor,
    source: S,
    outputs: O,
    reports: R,
    probe: P,
    watch: Watch,
    keeper: K,
    /// What the keeper could not keep, as it was told last.
    failing: Option<What>,
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
    /// The outputs are in the safe state already and stay there until the first half cycle is measured. The monitor is lent: it is the
    /// largest thing in a board's memory, and stays where it was made.
    pub fn new(monitor: &'m mut Monitor, source: S, outputs: O, reports: R, probe: P) -> Self {
        Self {
            watch: Watch::new(monitor.rate_mhz()),
            monitor,
            source,
            outputs,
            reports,
            probe,
            keeper: (),
            failing: None,
            fault: None,
            measured: false,
            ended: false,
        }
    }

    /// With a keeper, which gets a step whenever the queue is found empty. What it found is for [`App::resumed`]; [`App::kept`] does both for a store.
    #[must_use]
    pub fn with_keeper<K: Keeper>(self, keeper: K) -> App<'m, S, O, R, P, K> {
        let Self { monitor, source, outputs, reports, probe, watch, failing, fault, measured, ended, .. } = self;
        App { monitor, source, outputs, reports, probe, watch, keeper, failing, fault, measured, ended }
    }
}

impl<'m, S, O, R, P, K> App<'m, S, O, R, P, K>
where
    S: FrameSource,
    O: Actuators,
    R: Reports,
    P: Probe,
    K: Keeper,
{
    /// With reports that go elsewhere.
    pub(crate) fn reporting<T>(self, to: impl FnOnce(R) -> T) -> App<'m, S, O, T, P, K> {
        let Self { monitor, source, outputs, reports, probe, watch, keeper, failing, fault, measured, ended } = self;
        App { monitor, source, outputs, reports: to(reports), probe, watch, keeper, failing, fault, measured, ended }
    }

    /// Power is back: begins where `saved` was. To be called before the first [`App::poll`].
    #[must_use]
    pub fn resumed(self, saved: &Saved) -> Self {
        self.monitor.resume(saved);
        self
    }

    /// Tells why the program begins, for the log. To be called before the first [`App::poll`].
    #[must_use]
    pub fn begun(self, begin: Begin) -> Self {
        self.monitor.note(Notice::Begins(begin));
        self
    }

    /// With other delays for what the plant answers.
    #[must_use]
    pub fn with_delays(mut self, delays: Delays) -> Self {
        self.watch.delays = delays;
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
        let mut silent_before = false;
        match self.source.block(&mut block) {
            Source::Nothing => {
                self.keeper.step(self.monitor);
                let failing = self.keeper.failing();
                let before = core::mem::replace(&mut self.failing, failing);
                if before != failing {
                    self.reports.failing(failing);
                }
                if before.is_none() && failing.is_some() {
                    self.monitor.note(Notice::StoreFails);
                }
                return Poll::Idle;
            }
            Source::Block(beside) => {
                self.watch.silent = false;
                self.beside(beside);
                self.probe.begin();
                self.monitor.ingest(&block);
                self.probe.end(BLOCK);
                self.reports.block(&block, self.monitor);
            }
            Source::Gap(beside, count, length) => {
                self.beside(beside);
                self.monitor.finish(&block[..count.min(BLOCK - 1)]);
                self.report();
                self.monitor.gap(length);
                self.fail(Fault::Missing(length));
            }
            Source::Silent => {
                silent_before = core::mem::replace(&mut self.watch.silent, true);
                if !silent_before {
                    self.monitor.note(Notice::ConverterSilent);
                }
                self.fail(Fault::Silent);
            }
            Source::End(beside, count) => {
                self.beside(beside);
                self.monitor.finish(&block[..count.min(BLOCK - 1)]);
                self.ended = true;
            }
        }
        if !self.watch.silent {
            self.follow(); // answers are counted by blocks, not by calls
        }
        self.report();
        if self.ended {
            self.reports.report(&Report::Totals(*self.monitor.totals()));
            self.keeper.power_fails(self.monitor); // there will be no step any more
        }
        self.drive();
        if self.ended {
            Poll::Ended
        } else if silent_before {
            Poll::Idle
        } else {
            Poll::Worked
        }
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
        self.set_feed(read.feed);
        if read.reset { self.reset() } else { Ok(()) }
    }

    /// What the plant answers, now and until it answers something else.
    pub const fn answers(&mut self, answers: Answers) {
        self.watch.answers = answers;
    }

    /// What the clock tells, seconds since 1970: when it was set that stands in the log, and no measured time moves. To be told once an
    /// hour at least.
    pub fn clock(&mut self, unix_s: i64) {
        if let Some(by_s) = self.watch.clock.read(self.monitor.now(), unix_s) {
            self.monitor.note(Notice::ClockSet { by_s });
        }
    }

    /// The supply is about to fail, or has fallen too low: the outputs go into the safe state, and stay there should it recover, until
    /// a person resets. What is newest is kept, and nothing else, before it returns.
    pub fn power_fails(&mut self) {
        self.monitor.note(Notice::SupplyFails);
        self.fail(Fault::Supply);
        self.drive();
        self.keeper.power_fails(self.monitor);
        self.report();
    }

    /// Whether nothing is wrong: no fault, no trip, nobody called, the plant does as it is told, and the store takes what is to be kept. What an alarm output
    /// shows.
    pub fn healthy(&self) -> bool {
        let decision = self.monitor.decision();
        self.free() && decision.trip.is_none() && !decision.feeder.call && !self.watch.wrong() && self.failing.is_none()
    }

    /// The core, for what a board shows: totals, decision.
    pub const fn monitor(&self) -> &Monitor {
        self.monitor
    }

    /// What the feeder's drive should do: nothing while the outputs are in the safe state, whatever the core decided last.
    pub fn feeder(&self) -> Feeder {
        if self.free() { self.monitor.decision().feeder } else { Feeder::default() }
    }

    /// Where the frames come from.
    pub const fn source(&self) -> &S {
        &self.source
    }

    /// The store.
    pub const fn keeper(&self) -> &K {
        &self.keeper
    }

    /// The store, to be given new settings, or asked.
    pub const fn keeper_mut(&mut self) -> &mut K {
        &mut self.keeper
    }

    /// The store, when the loop is over.
    pub fn into_keeper(self) -> K {
        self.keeper
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
        let (reports, measured) = (&mut self.reports, &mut self.measured);
        let watch = &mut self.watch;
        let keeper = &mut self.keeper;
        each(self.monitor, &mut |report| {
            if let Report::Moment(moment) = report {
                *measured = true;
                watch.flows = moment.state.running();
            }
            reports.report(report);
            if let Report::Event(event) = report {
                keeper.event(event);
            }
        });
        self.reports.told();
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
            self.set_feed(inputs);
        }
        if beside.repeated > 0 {
            self.monitor.note(Notice::FramesRepeated { count: beside.repeated });
        }
    }

    #[inline(never)] // in two places
    fn set_feed(&mut self, inputs: FeedInputs) {
        self.watch.inputs = inputs;
        self.monitor.set_feed(self.watch.permitted());
    }

    /// Looks whether what is told happens.
    fn follow(&mut self) {
        let may_run = self.free() && self.monitor.decision().trip.is_none();
        let feeder = self.feeder();
        for notice in self.watch.follow(may_run, feeder.permille > 0 || feeder.reverse).into_iter().flatten() {
            self.monitor.note(notice);
            self.monitor.set_feed(self.watch.permitted());
        }
    }

    /// Latches a fault; the first one stays, but gaps add up.
    pub(crate) fn fail(&mut self, fault: Fault) {
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
        let set = if self.free() {
            self.outputs.apply(&self.monitor.decision())
        } else if self.fault.is_some() || self.ended {
            self.outputs.safe()
        } else {
            Ok(()) // until a half cycle is measured they stay as they begin, or as a fault has left them
        };
        let healthy = self.healthy() && set.is_ok();
        let failed = [set, self.outputs.alarm(!healthy)].iter().any(Result::is_err);
        if failed {
            if !core::mem::replace(&mut self.watch.output, true) {
                self.monitor.note(Notice::OutputFails);
            }
            self.fail(Fault::Pin);
        } else {
            self.watch.output = false;
        }
    }
}

#[cfg(test)]
mod tests;
