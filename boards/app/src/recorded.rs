//! A recorder beside the monitor: what led to its decisions is kept, then the reports go on to where they went.

use shaftwork_core::recorder::Recorder;
use shaftwork_core::{BLOCK, Frame, Monitor};
use shaftwork_report_bits::{Report, record};
use shaftwork_store::What;

use crate::{Actuators, App, FrameSource, Keeper, Probe, Reports};

/// Reports that pass a recorder.
pub struct Recorded<'m, R> {
    recorder: Recorder<'m>,
    reports: R,
}

impl<'m, R> Recorded<'m, R> {
    /// What it has recorded.
    pub const fn recorder(&self) -> &Recorder<'m> {
        &self.recorder
    }

    /// Where the reports go on to.
    pub const fn reports(&self) -> &R {
        &self.reports
    }

    /// The same, when the loop is over.
    pub fn into_reports(self) -> R {
        self.reports
    }
}

impl<R: Reports> Reports for Recorded<'_, R> {
    fn block(&mut self, block: &[Frame; BLOCK], monitor: &Monitor) {
        self.recorder.block(block, monitor);
        self.reports.block(block, monitor);
    }

    fn report(&mut self, report: &Report) {
        self.reports.report(report);
        record(&mut self.recorder, report);
    }

    fn told(&mut self) {
        let reports = &mut self.reports;
        if self.recorder.capture.record().is_some_and(|record| reports.capture(&record)) {
            self.recorder.capture.release();
        }
        self.reports.told();
    }

    fn failing(&mut self, what: Option<What>) {
        self.reports.failing(what);
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
    /// With a recorder beside the monitor.
    #[must_use]
    pub fn with_recorder(self, recorder: Recorder<'m>) -> App<'m, S, O, Recorded<'m, R>, P, K> {
        self.reporting(|reports| Recorded { recorder, reports })
    }
}
