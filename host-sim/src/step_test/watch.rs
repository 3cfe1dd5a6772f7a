//! What is kept of a trace while it passes: a slice for each window, and where the feed stopped for the load.

use shaftwork_core::judge::event::{Cause, Event, EventKind, FeedCause};
use shaftwork_core::judge::report::{Interval, Moment, Totals};
use shaftwork_core::time::{Instant, Span};

use crate::replay::drive::{Listener, News};
use crate::replay::ledger::Ledger;
use crate::report::number::frames_s;
use crate::report::sums::Sums;

/// A window of 10 or 12 cycles, or of a row of rms values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slice {
    /// Its end, s.
    pub to_s: f64,
    /// How long it is, s.
    pub length_s: f64,
    /// Shaft power over rated power.
    pub load: f64,
    /// How fast the governed feeder ran, share of full speed.
    pub feeder: Option<f64>,
    /// Energies, times and mass.
    pub sums: Sums,
}

/// Listens to a trace.
#[derive(Debug)]
pub struct Watch {
    rate_hz: f64,
    slow_rpm: f64,
    /// Who knows the runs.
    pub ledger: Ledger,
    /// All windows.
    pub slices: Vec<Slice>,
    /// When the load stopped the feed or tripped, s.
    pub stops_s: Vec<f64>,
    /// Where something is missing, s.
    pub gaps_s: Vec<f64>,
    sums: Sums,
    before: Totals,
    fed_kg: f64,
}

impl Watch {
    /// With the runs of the settings; `slow_rpm` is 10 % of slip.
    pub fn new(ledger: Ledger, rate_hz: f64, slow_rpm: f64) -> Self {
        let (slices, stops_s, gaps_s) = (Vec::new(), Vec::new(), Vec::new());
        let (sums, before) = (Sums::default(), Totals::default());
        Self { rate_hz, slow_rpm, ledger, slices, stops_s, gaps_s, sums, before, fed_kg: 0.0 }
    }
}

impl Listener for Watch {
    fn passes(&mut self, length: Span, news: &News) {
        self.ledger.passes(length, news.mass_mg);
        if let Some(mg) = news.mass_mg {
            let kg = mg as f64 / 1e6;
            self.sums.fed_kg += kg - self.fed_kg;
            self.fed_kg = kg;
        }
    }

    fn mark(&mut self, now: Instant, note: &str) -> anyhow::Result<()> {
        Ok(self.ledger.mark(now, note)?)
    }

    fn gap(&mut self, length: Span) -> anyhow::Result<()> {
        self.gaps_s.push(self.ledger.now_s());
        self.ledger.gap(length);
        Ok(())
    }

    fn moment(&mut self, moment: &Moment) -> anyhow::Result<()> {
        self.ledger.moment(moment);
        self.sums.moment(moment, self.rate_hz, self.slow_rpm);
        Ok(())
    }

    fn totals(&mut self, totals: &Totals) {
        self.ledger.totals(totals);
        self.sums.grown(&self.before, totals, self.rate_hz);
        self.before = *totals;
    }

    fn interval(&mut self, interval: &Interval) -> anyhow::Result<()> {
        self.slices.push(Slice {
            to_s: frames_s(interval.window.end.0, self.rate_hz),
            length_s: frames_s(interval.window.length.0, self.rate_hz),
            load: interval.load.0.to_num(),
            feeder: interval.feeder.map(|feeder| f64::from(feeder.permille) / 1000.0),
            sums: std::mem::take(&mut self.sums),
        });
        Ok(())
    }

    fn event(&mut self, event: &Event) -> anyhow::Result<()> {
        let by_load = matches!(
            event.kind,
            EventKind::FeedStops {
                cause: FeedCause::Load | FeedCause::Surge | FeedCause::Element | FeedCause::Trip,
                ..
            } | EventKind::Trip { cause: Cause::ThermalOverload | Cause::Jam | Cause::Wedge, .. }
        );
        if by_load {
            self.stops_s.push(frames_s(event.at.0, self.rate_hz));
        }
        Ok(())
    }
}
