//! RECORDER: what led to an event. Beside the monitor, fed with what it takes and what it gives; all memory is lent.
//!
//! ```text
//! blocks ──── Capture: waveforms before and after, with a snapshot of what the monitor remembered
//! Moment ──┬─ Trend: load, current, speed, thermal level, half cycle by half cycle; the feed beside them
//! Interval ┘     └─ Account: what came before the decision ─┐
//! Event ───── Log: numbered ────────────────────────────────┘
//! ```
//!
//! Memory, for instance: a log of 64 events 8 kB, a trend of 20 s 8 kB, captures of 1.4 s each in two rings of 16 kB with three snapshots of 5 kB. Work: a half
//! cycle is packed and a block is copied, a snapshot is copied twice a ring's length, an account is made for each decision.

mod account;
mod capture;
mod change;
mod log;
mod point;
mod ring;
#[cfg(test)]
mod tests;
mod trend;

pub use account::{Account, FeedRise, Lead};
pub use capture::{Capture, Note, Record, Shape};
pub use log::{Entry, Log};
pub use point::Point;
pub use ring::Ring;
pub use trend::Trend;

use crate::frame::{BLOCK, Frame};
use crate::judge::event::{Event, EventKind};
use crate::judge::report::{Interval, Moment};
use crate::monitor::Monitor;

/// Log, trend and captures of one monitor.
///
/// After each block: [`Recorder::block`], then what the monitor gave, moments and intervals before events.
///
/// ```
/// use shaftwork_core::{Frame, Monitor, Settings, recorder::*};
/// let settings = Settings::example();
/// let c = settings.build().unwrap().judge;
/// let (mut entries, mut points, mut feeds) = ([None; 8], [Point::default(); 100], [0; 5]);
/// let (mut frames, mut snapshots) = ([[0; 6]; 64], [None, None]);
/// let mut recorder = Recorder {
///     log: Log::new(&mut entries, 1),
///     trend: Trend::new(&c, &mut points, &mut feeds, 1),
///     capture: Capture::new(&mut frames, &mut snapshots, Shape::thinned(16, settings.sampling.rate_mhz)),
/// };
/// let mut monitor = Monitor::new(&settings).unwrap();
/// for _ in 0..100 {
///     let block = [Frame::default(); 8];
///     monitor.ingest(&block);
///     recorder.block(&block, &monitor);
///     while let Some(moment) = monitor.take_moment() {
///         recorder.moment(&moment);
///     }
///     while let Some(interval) = monitor.take_interval() {
///         recorder.interval(&interval);
///     }
///     while let Some(event) = monitor.pop_event() {
///         recorder.event(&event);
///     }
/// }
/// assert_eq!((recorder.log.next(), recorder.trend.points().count()), (1, 19));
/// ```
#[derive(Debug)]
pub struct Recorder<'a> {
    /// What happened.
    pub log: Log<'a>,
    /// The last seconds.
    pub trend: Trend<'a>,
    /// Waveforms around decisions.
    pub capture: Capture<'a>,
}

impl Recorder<'_> {
    /// Takes a block; `monitor` has taken it just before.
    pub fn block(&mut self, block: &[Frame; BLOCK], monitor: &Monitor) {
        self.capture.push(block, monitor);
    }

    /// Takes a half cycle.
    pub fn moment(&mut self, moment: &Moment) {
        self.trend.moment(moment);
    }

    /// Takes a window.
    pub fn interval(&mut self, interval: &Interval) {
        self.trend.interval(interval);
    }

    /// Takes an event: logs it, and keeps the waveforms around a trip or a feed stop.
    pub fn event(&mut self, event: &Event) -> Entry {
        let account = self.trend.event(event);
        let entry = self.log.write(*event, account);
        match event.kind {
            EventKind::Gap { .. } => self.capture.gap(),
            // A warning is not worth a ring that a trip may need.
            EventKind::Trip { .. } | EventKind::Alarm { feed_stop: true, .. } => {
                self.capture.trigger(Note { sequence: entry.sequence, at: event.at });
            }
            _ => {}
        }
        entry
    }
}
