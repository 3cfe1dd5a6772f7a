//! The short table for people: the verdict, what happened, times, energy and mass, load, warnings.
//!
//! At most 80 columns, fewer on a narrow terminal. A figure that cannot be had is `-` with its reason.

mod table;

use std::io::{self, Write};

use shaftwork_core::judge::report::Interval;

use super::clock::Clock;
use super::course::Course;
use super::event::Detail;
use super::figures;
use super::runs::{TREND, wide};
use super::story::{Limits, Story};
use super::verdict::verdict;
use super::words::{self, short, span, stamp};
use super::{EventRow, Summary};
use crate::settings::Settings;
use crate::terminal::{Screen, printable};
use table::Table;

/// How much of what happened is told.
pub(super) const TOLD: Limits = Limits { events: 60, spells: 6 };
/// Lines of a list without a natural end.
pub(super) const LINES: usize = 30;
/// Columns of the picture at most.
const PICTURE: usize = 60;
/// Columns before it.
const MARGIN: usize = 11;
/// Codes of weight and colour (ECMA-48, SGR).
pub(super) const BOLD: &str = "1";
pub(super) const RED: &str = "31";
pub(super) const GREEN: &str = "32";
pub(super) const YELLOW: &str = "33";

/// Gathers what the table tells; bounded, whatever the length of a trace.
#[derive(Debug)]
pub struct Text {
    /// What happened.
    pub story: Story,
    course: Course,
}

impl Default for Text {
    fn default() -> Self {
        Self { story: Story::new(TOLD), course: Course::default() }
    }
}

impl Text {
    /// Takes an event.
    pub fn event(&mut self, row: &EventRow) {
        self.story.event(row);
    }

    /// Takes an interval, at a rate in Hz.
    pub fn interval(&mut self, interval: &Interval, rate_hz: f64) {
        self.course.interval(interval, rate_hz);
    }

    /// Writes the table.
    ///
    /// # Errors
    /// `out` cannot be written.
    pub fn write(&self, end: &Summary, settings: &Settings, screen: Screen, out: &mut impl Write) -> io::Result<()> {
        let mut page = Page { text: self, end, settings, clock: end.trace.clock(), screen, out };
        page.head()?;
        page.story()?;
        page.times()?;
        page.energy()?;
        page.runs()?;
        page.load()?;
        page.picture()?;
        page.warnings()
    }
}

/// A table on its way out.
struct Page<'a, W> {
    text: &'a Text,
    end: &'a Summary,
    settings: &'a Settings,
    clock: Option<Clock>,
    screen: Screen,
    out: &'a mut W,
}

impl<W: Write> Page<'_, W> {
    fn head(&mut self) -> io::Result<()> {
        let (t, trips) = (&self.end.trace, self.text.story.trips());
        let words =
            verdict(&trips, &self.text.story.feed_stops(), &self.end.totals, self.settings, self.clock.as_ref());
        let colour = match (trips.is_empty(), self.text.story.feed_stops().is_empty()) {
            (true, true) => GREEN,
            (true, false) => YELLOW,
            (false, _) => RED,
        };
        self.painted(&format!("{BOLD};{colour}"), 2, &words)?;
        let from = t.start.as_ref().map(|start| format!(" from {}", date(start))).unwrap_or_default();
        let (path, length) = (printable(&t.path), stamp(t.duration_s));
        let rms = if self.end.rms { ", rms values" } else { "" };
        self.wrap(2, &format!("{path}: {length} at {} Hz{rms}{from}", t.rate_hz))
    }

    fn story(&mut self) -> io::Result<()> {
        self.heading("What happened")?;
        let story = &self.text.story;
        let told = story.events().iter();
        let mut lines: Vec<(f64, &str, String)> =
            told.map(|row| (row.t_s, colour(row), words::event(row, self.settings))).collect();
        for spell in story.spells() {
            lines.push((spell.from_s, "", format!("idle for {}", span(spell.length_s))));
        }
        for mark in self.end.marks.iter().take(LINES) {
            lines.push((mark.t_s, "", format!("note: {}", printable(&mark.note))));
        }
        if let Some((count, longest)) = story.many_spells() {
            let length = span(longest.length_s);
            lines.push((longest.from_s, "", format!("idle for {length}, the longest of {count} idle spells")));
        }
        let duration_s = self.end.trace.duration_s;
        let column = self.clock.as_ref().map_or(0, |clock| if clock.passes_midnight(duration_s) { 12 } else { 10 });
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (t_s, colour, words) in &lines {
            let day = self.clock.as_ref().map(|clock| clock.second_at(*t_s)).unwrap_or_default();
            let stamp = format!("{:>12}  {day:<column$}", stamp(*t_s));
            self.painted(colour, stamp.len() + 2, &format!("{stamp}{words}"))?;
        }
        if lines.is_empty() {
            writeln!(self.out, "  nothing: no start, no stop, no trip")?;
        }
        let others = story.others() + self.end.marks.len().saturating_sub(LINES) as u64;
        if others > 0 {
            self.wrap(4, &format!("  and {others} more: --json or --out lists every event"))?;
        }
        Ok(())
    }

    fn times(&mut self) -> io::Result<()> {
        let t = &self.end.totals;
        self.heading(&format!("Time, and energy taken in{}", self.estimated()))?;
        for ((name, t_s), kwh) in t.times().into_iter().zip(t.energies()).filter(|((_, t_s), _)| *t_s > 0.0) {
            let share = t_s / self.end.trace.duration_s * 100.0;
            self.wrap(4, &format!("  {name:<18}{:>14}   {share:>5.1} % {:>12} kWh", stamp(t_s), short(kwh)))?;
        }
        Ok(())
    }

    fn energy(&mut self) -> io::Result<()> {
        self.heading("Energy and mass")?;
        let figures = figures::energy(self.end, self.settings);
        let mut table = self.table();
        figures.iter().try_for_each(|f| table.line(f, format!("{} {}", f.unit, f.beside).trim_end()))
    }

    fn runs(&mut self) -> io::Result<()> {
        let end = self.end;
        let shown = end.runs.shown();
        for (at, (heading, rows)) in shown.iter().enumerate() {
            self.heading(&format!("{heading:<24}{:>14}{:>17}{:>17}", "mass", "gross kWh/t", "net kWh/t"))?;
            // The outside and the whole come last: they are always told.
            let (first, last) = rows.split_at(if at == 0 { rows.len() - 2 } else { rows.len() });
            let told = first.iter().take(LINES).chain(last);
            for row in told {
                let [gross, net] = row.specific().map(|figure| match figure {
                    Some((x, Some(band))) => format!("{} +-{:<6}", short(x), wide(band)),
                    Some((x, None)) => format!("{}{:<9}", short(x), ""),
                    None => format!("{:<9}", "-"),
                });
                let mass = row.mass_t.map_or("-".to_owned(), |t| format!("{} kg", short(t * 1000.0)));
                self.wrap(4, &format!("  {:<22}{mass:>14}{gross:>17}{net:>17}", printable(&row.title())))?;
                if let Some(index) = row.operating_work_index_kwh_per_t {
                    self.wrap(4, &format!("    operating work index {} kWh/t ({TREND})", short(index)))?;
                }
            }
            if first.len() > LINES {
                writeln!(self.out, "  and {} more: --json or --out lists them all", first.len() - LINES)?;
            }
        }
        if shown.is_empty() { Ok(()) } else { self.wrap(4, &format!("  {}", end.runs.about_bands())) }
    }

    fn load(&mut self) -> io::Result<()> {
        let (end, motor) = (self.end, &self.settings.motor);
        let rated_kw = motor.rated_power_kw;
        self.heading(&format!("Load while running, % of {rated_kw} kW at the shaft{}", self.estimated()))?;
        let mut table = self.table();
        for f in figures::load(end) {
            let kw = f.value.map(|pct| format!("{:>12} kW", short(pct / 100.0 * rated_kw))).unwrap_or_default();
            table.line(&f, &format!("% {kw}"))?;
        }
        for (name, t_s) in figures::above(end) {
            let share = short(t_s / end.load.measured_s * 100.0);
            table.text(&format!("  {name:<18}{:>14} {share:>12} % of time", stamp(t_s)))?;
        }
        let current = figures::peak_current(end);
        let share = current.value.map(|a| short(a / motor.rated_current_a * 100.0)).unwrap_or_default();
        table.line(&current, &format!("A {share:>12} % of rated"))?;
        let thermal = figures::thermal(end);
        table.line(&thermal, thermal.unit)?;
        let beside = [figures::tachometer(end), figures::inertia(end)];
        beside.iter().flatten().try_for_each(|f| table.line(f, format!("{} {}", f.unit, f.beside).trim_end()))
    }

    fn picture(&mut self) -> io::Result<()> {
        let (duration_s, columns) = (self.end.trace.duration_s, PICTURE.min(self.screen.width - MARGIN));
        let Some(picture) = self.text.course.picture(duration_s, columns, self.screen.blocks) else { return Ok(()) };
        self.heading("Load over time")?;
        let full = if self.screen.blocks { '█' } else { '@' };
        for (name, line) in [("highest", &picture.highest), ("mean", &picture.mean)] {
            writeln!(self.out, "  {name:<9}{}", line.trim_end())?;
        }
        let mut marks = vec![' '; picture.mean.chars().count()];
        let (last, mut legend) = (marks.len().saturating_sub(1), String::new());
        for (event, sign, words) in [("start", 'S', ", S start"), ("trip", 'T', ", T trip")] {
            let mut any = false;
            for row in self.text.story.events().iter().filter(|row| row.event == event) {
                let column = (row.t_s / picture.column_s) as usize;
                if let Some(mark) = marks.get_mut(column.min(last)) {
                    (*mark, any) = (sign, true);
                }
            }
            if any {
                legend.push_str(words);
            }
        }
        if !legend.is_empty() {
            writeln!(self.out, "{:MARGIN$}{}", "", String::from_iter(marks).trim_end())?;
        }
        let column = span(picture.column_s);
        let unknown = if picture.mean.contains('?') { ", ? not known" } else { "" };
        self.wrap(4, &format!("  a column {column}, {full} {} % or more{legend}{unknown}", picture.full_pct))
    }

    fn warnings(&mut self) -> io::Result<()> {
        let lines = &self.end.warnings;
        if lines.is_empty() {
            return Ok(());
        }
        writeln!(self.out, "\n{}", self.screen.paint(&format!("{BOLD};{YELLOW}"), "Warnings"))?;
        for words in lines.iter().take(LINES) {
            self.wrap(4, &format!("  {}", printable(words)))?;
        }
        if lines.len() > LINES {
            writeln!(self.out, "  and {} more: --json lists them all", lines.len() - LINES)?;
        }
        Ok(())
    }

    /// What a heading says of figures that are estimates.
    fn estimated(&self) -> &'static str {
        if self.end.estimates_power() { ", estimated" } else { "" }
    }

    fn heading(&mut self, text: &str) -> io::Result<()> {
        writeln!(self.out)?;
        self.painted(BOLD, 2, text)
    }

    fn table(&mut self) -> Table<'_, W> {
        Table::new(self.screen, self.out)
    }

    fn wrap(&mut self, indent: usize, text: &str) -> io::Result<()> {
        self.painted("", indent, text)
    }

    fn painted(&mut self, code: &str, indent: usize, text: &str) -> io::Result<()> {
        for line in self.screen.lines(indent, text) {
            let line = if code.is_empty() { line } else { self.screen.paint(code, &line) };
            writeln!(self.out, "{line}")?;
        }
        Ok(())
    }
}

/// The colour of an event.
fn colour(row: &EventRow) -> &'static str {
    match row.detail {
        Detail::Trip(_) => RED,
        Detail::Warning { .. }
        | Detail::Board { .. }
        | Detail::Alarm(_)
        | Detail::FeedStops { .. }
        | Detail::FeedReverses { .. } => YELLOW,
        _ => "",
    }
}

/// An ISO 8601 time for people: a blank for the T, no fraction of nought.
fn date(iso: &str) -> String {
    let text = printable(iso).replacen('T', " ", 1);
    match text.split_once('.') {
        Some((whole, zeros)) if zeros.bytes().all(|b| b == b'0') => whole.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests;
