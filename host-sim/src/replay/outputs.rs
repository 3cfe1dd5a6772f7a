//! Everything that a replay of one trace hands out, fed by the loop.

use std::path::Path;

use shaftwork_core::Frame;
use shaftwork_core::judge::event::Event;
use shaftwork_core::judge::report::{Interval, Moment, Totals};
use shaftwork_core::record::{Phasors, Window};
use shaftwork_core::recorder::Trend;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::wiring::Expected;
use shaftwork_report_bits::{Digest, Report};

use super::bits::Bits;
use super::drive::{Listener, News};
use super::expect::{self, Seen};
use super::ledger::Ledger;
use super::order::Order;
use super::source::Source;
use crate::fit;
use crate::report::csv::Csv;
use crate::report::empty::Empty;
use crate::report::inertia::Inertia;
use crate::report::json::Json;
use crate::report::load::Load;
use crate::report::page::Page;
use crate::report::tachometer::Tachometer;
use crate::report::text::Text;
use crate::report::tiers::Tiers;
use crate::report::wiring::Wiring;
use crate::report::{EventRow, Input, IntervalRow, Sink, Summary, Whole};
use crate::settings::Settings;

/// Where the outputs of one trace go.
#[derive(Debug, Clone, Copy, Default)]
pub struct Targets<'a> {
    /// The JSON document; `-` is standard output.
    pub json: Option<&'a Path>,
    /// The folder of the CSV files and the page.
    pub folder: Option<&'a Path>,
}

/// The files in the folder.
pub const FILES: [&str; 7] =
    ["report.html", "intervals.csv", "events.csv", "runs.csv", "intervals.parquet", "minutes.csv", "minutes.parquet"];

/// The outputs of one trace.
pub struct Outputs<'m> {
    rate_hz: f64,
    input: Input,
    order: Order,
    now: Instant,
    trend: Trend<'m>,
    sinks: Vec<Box<dyn Sink>>,
    bits: Option<Bits>,
    /// Sums by run.
    pub ledger: Ledger,
    /// How the motor was loaded.
    pub load: Load,
    /// A tachometer against the slip.
    pub tachometer: Tachometer,
    /// What turns, as the starts tell.
    pub inertia: Inertia,
    /// Signs of wrong wiring.
    pub wiring: Wiring,
    /// What the empty mill takes.
    pub empty: Empty,
    rated_a: f64,
    /// The table for people.
    pub text: Text,
    /// The trips, for expectations.
    pub trips: Vec<Seen>,
}

impl<'m> Outputs<'m> {
    /// Begins all outputs that are wanted.
    ///
    /// # Errors
    /// One of them cannot be written.
    pub fn create(
        targets: Targets<'_>,
        bits: Option<Bits>,
        settings: &Settings,
        source: &Source,
        input: Input,
        trend: Trend<'m>,
    ) -> anyhow::Result<Self> {
        let rate_hz = source.rate_hz;
        let mut sinks: Vec<Box<dyn Sink>> = Vec::new();
        if let Some(path) = targets.json {
            sinks.push(Box::new(Json::create((path != Path::new("-")).then_some(path))?));
        }
        if let Some(folder) = targets.folder {
            sinks.push(Box::new(Csv::create(folder)?));
            sinks.push(Box::new(Tiers::create(folder, source.start.as_deref())?));
            sinks.push(Box::new(Page::create(folder, settings, rate_hz)?));
        }
        let (order, now) = (Order::new(rate_hz), Instant::default());
        Ok(Self {
            rate_hz,
            input,
            order,
            now,
            trend,
            sinks,
            bits,
            ledger: Ledger::new(settings, &source.path, rate_hz),
            load: Load::default(),
            tachometer: Tachometer::new(settings),
            inertia: Inertia::new(rate_hz, settings.motor.synchronous_speed_rpm()),
            wiring: Wiring::new(settings, Expected::new(&fit::core_settings(settings, rate_hz)?), rate_hz),
            empty: Empty::new(settings, rate_hz),
            rated_a: settings.motor.rated_current_a,
            text: Text::default(),
            trips: Vec::new(),
        })
    }

    /// The trace has ended: what waited is told.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn finish(&mut self, totals: &Totals) -> anyhow::Result<()> {
        if let Some(bits) = &mut self.bits {
            bits.report(&Report::Totals(*totals))?;
        }
        self.order.finish();
        self.tell()
    }

    /// Ends all outputs; gives back the files that are whole and wait for their names, and the digest.
    ///
    /// # Errors
    /// One of them cannot be written.
    pub fn close(&mut self, summary: &Summary) -> anyhow::Result<(Vec<Whole>, Option<Digest>)> {
        let (digest, mut files) = match self.bits.take() {
            Some(bits) => bits.close().map(|(digest, files)| (Some(digest), files))?,
            None => (None, Vec::new()),
        };
        for sink in self.sinks.drain(..) {
            files.extend(sink.close(summary)?);
        }
        Ok((files, digest))
    }

    fn tell(&mut self) -> anyhow::Result<()> {
        while let Some(row) = self.order.pop(self.now) {
            let row = if self.input.voltages.is_none() { row.without_voltage() } else { row };
            self.told(&row)?;
        }
        Ok(())
    }

    fn told(&mut self, row: &EventRow) -> anyhow::Result<()> {
        self.text.event(row);
        if self.trips.len() < expect::MOST {
            self.trips.extend(expect::seen(row));
        }
        self.sinks.iter_mut().try_for_each(|sink| sink.event(row))
    }
}

impl Listener for Outputs<'_> {
    fn frames(&mut self, frames: &[Frame], news: &News) -> anyhow::Result<()> {
        self.bits.as_mut().map_or(Ok(()), |bits| bits.frames(frames, news))
    }

    fn passes(&mut self, length: Span, news: &News) {
        self.ledger.passes(length, news.mass_mg);
        if let Some(speed) = news.speed {
            self.tachometer.reads(speed);
        }
    }

    fn mark(&mut self, now: Instant, note: &str) -> anyhow::Result<()> {
        Ok(self.ledger.mark(now, note)?)
    }

    fn gap(&mut self, length: Span) -> anyhow::Result<()> {
        self.ledger.gap(length);
        self.tachometer.gap();
        self.inertia.gap();
        self.bits.as_ref().map_or(Ok(()), Bits::gap)
    }

    fn moment(&mut self, moment: &Moment) -> anyhow::Result<()> {
        self.ledger.moment(moment);
        self.trend.moment(moment);
        self.tachometer.moment(moment);
        self.inertia.moment(moment);
        if let Some(bits) = &mut self.bits {
            bits.report(&Report::Moment(*moment))?;
        }
        self.sinks.iter_mut().try_for_each(|sink| sink.moment(moment))
    }

    fn totals(&mut self, totals: &Totals) {
        self.ledger.totals(totals);
    }

    fn phasors(&mut self, window: &Window, phasors: &Phasors) {
        self.wiring.phasors(window, phasors, self.rated_a);
    }

    fn interval(&mut self, interval: &Interval) -> anyhow::Result<()> {
        if let Some(bits) = &mut self.bits {
            bits.report(&Report::Interval(*interval))?;
        }
        self.trend.interval(interval);
        self.wiring.interval(interval, self.rated_a);
        self.empty.interval(interval);
        self.load.interval(interval, self.rate_hz);
        self.tachometer.interval(interval);
        self.text.interval(interval, self.rate_hz);
        if self.sinks.is_empty() {
            return Ok(());
        }
        let row = IntervalRow::new(interval, self.rate_hz, &self.input);
        self.sinks.iter_mut().try_for_each(|sink| sink.interval(&row))
    }

    fn event(&mut self, event: &Event) -> anyhow::Result<()> {
        if let Some(bits) = &mut self.bits {
            bits.report(&Report::Event(*event))?;
        }
        let account = self.trend.event(event);
        self.order.push(event, account.as_ref());
        self.sinks.iter_mut().try_for_each(|sink| sink.happened(event))
    }

    fn clock(&mut self, now: Instant) -> anyhow::Result<()> {
        self.now = now;
        self.tell()
    }
}
