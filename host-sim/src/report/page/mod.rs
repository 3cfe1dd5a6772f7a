//! `report.html`: a page with pictures, whole in itself, that opens without a network.
//!
//! While the trace passes, its readings go into one [`track::Track`] of all of it and into
//! [`close_up::CloseUps`] around what happens; `view` makes of these and of the summary what the template
//! (`templates/report.html`) shows. The text is in the page as such; the script draws the pictures. At most 3 MB.

pub mod close_up;
pub mod lines;
pub mod reading;
pub mod track;
mod view;

use std::io::Write as _;
use std::path::Path;

use anyhow::Context as _;
use askama::Template as _;
use shaftwork_core::judge::event::{Event, EventKind};
use shaftwork_core::judge::report::Moment;

use super::story::{Limits, Story};
use super::{EventRow, IntervalRow, Sink, Summary, Whole};
use crate::settings::{Settings, Wiring};
use close_up::CloseUps;
use reading::Reading;
use track::Track;

/// Slots of the picture of the whole trace: more than a wide screen has dots.
const SLOTS: usize = 8_192;
/// Half cycles that an interval has at most: twelve cycles have 24, a log's row may be longer than nominal.
const LONGEST: usize = 64;
/// How much of what happened is told.
const TOLD: Limits = Limits { events: 500, spells: 400 };

/// Gathers what the page shows; bounded, whatever the length of a trace.
#[derive(Debug)]
pub struct Page {
    file: Whole,
    rate_hz: f64,
    settings: Settings,
    track: Track,
    close_ups: CloseUps,
    last: Option<IntervalRow>,
    /// The half cycles of the interval that is under way.
    under_way: Vec<Reading>,
    story: Story,
}

impl Page {
    /// Begins the page; its folder must be there.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn create(folder: &Path, settings: &Settings, rate_hz: f64) -> anyhow::Result<Self> {
        let jam = settings.trips.jam.as_ref();
        let pickup_a = jam.map_or(f64::INFINITY, |t| t.pickup_pct / 100.0 * settings.motor.rated_current_a);
        Ok(Self {
            file: Whole::create(&folder.join("report.html"))?,
            rate_hz,
            settings: settings.clone(),
            track: Track::new(0.0, SLOTS),
            close_ups: CloseUps::new(rate_hz, pickup_a),
            last: None,
            under_way: Vec::new(),
            story: Story::new(TOLD),
        })
    }
}

impl Sink for Page {
    fn moment(&mut self, moment: &Moment) -> anyhow::Result<()> {
        let mut reading = Reading::new(moment, self.last.as_ref(), self.rate_hz);
        if self.settings.supply.wiring == Wiring::CurrentsOnly {
            reading.without_voltage();
        }
        self.track.add(&reading);
        self.close_ups.add(&reading);
        if self.under_way.len() < LONGEST {
            self.under_way.push(reading);
        }
        Ok(())
    }

    fn happened(&mut self, event: &Event) -> anyhow::Result<()> {
        self.close_ups.event(event);
        if let EventKind::Gap { .. } = event.kind {
            self.under_way.clear();
        }
        Ok(())
    }

    fn interval(&mut self, row: &IntervalRow) -> anyhow::Result<()> {
        let half_cycles = self.under_way.drain(..);
        if let Some(net_w) = row.net_w {
            half_cycles.for_each(|reading| self.track.add(&reading.with_net_only(net_w)));
        }
        self.last = Some(row.clone());
        Ok(())
    }

    fn event(&mut self, row: &EventRow) -> anyhow::Result<()> {
        self.story.event(row);
        Ok(())
    }

    fn close(self: Box<Self>, summary: &Summary) -> anyhow::Result<Vec<Whole>> {
        let Self { mut file, settings, track, close_ups, mut story, .. } = *self;
        story.end(summary.trace.duration_s);
        let close_ups = close_ups.finish(summary.trace.duration_s);
        let gathered = view::Gathered { settings: &settings, track: &track, close_ups: &close_ups, story: &story };
        let page = view::Report::new(&gathered, summary);
        let text = page.render().context("cannot make the page")?;
        file.write_all(text.as_bytes())?;
        Ok(vec![file])
    }
}

#[cfg(test)]
mod tests;
