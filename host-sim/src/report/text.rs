//! The short table for people: what happened, times, energy, mass, peaks, what is worth knowing.
//!
//! At most 80 columns. A figure that cannot be had is `-` with its reason.

use std::io::{self, Write};

use super::words::{self, short, time};
use super::{EventRow, Reason, Summary, Why};
use crate::settings::Settings;

/// Columns of a line at most.
const WIDTH: usize = 80;
/// Events that are told in full; trips are told beyond that.
const EVENTS: usize = 60;
/// Lines of any other list.
const LINES: usize = 30;

/// Headings and trips may stand out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paint(pub bool);

impl Paint {
    fn with(self, code: &str, text: &str) -> String {
        if self.0 { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
    }
}

/// Gathers what the table tells; bounded, whatever the length of a trace.
#[derive(Debug, Default)]
pub struct Text {
    told: Vec<EventRow>,
    others: u64,
}

impl Text {
    /// Takes an event.
    pub fn event(&mut self, row: &EventRow) {
        let most = if row.cause().is_some() { 2 * EVENTS } else { EVENTS };
        if self.told.len() < most { self.told.push(row.clone()) } else { self.others += 1 }
    }

    /// Writes the table.
    ///
    /// # Errors
    /// `out` cannot be written.
    pub fn write(&self, end: &Summary, settings: &Settings, paint: Paint, out: &mut impl Write) -> io::Result<()> {
        let t = &end.trace;
        let from = t.start.as_ref().map(|s| format!(", from {s}")).unwrap_or_default();
        wrap(out, 4, &format!("{}: {}, {} frames at {} Hz{from}", t.path, time(t.duration_s), t.frames, t.rate_hz))?;
        self.events(end, settings, paint, out)?;
        times(end, paint, out)?;
        energy(end, settings, paint, out)?;
        peaks(end, settings, paint, out)?;
        worth_knowing(end, paint, out)
    }

    fn events(&self, end: &Summary, settings: &Settings, paint: Paint, out: &mut impl Write) -> io::Result<()> {
        heading(out, paint, "What happened")?;
        let mut lines: Vec<(f64, bool, String)> =
            self.told.iter().map(|r| (r.t_s, r.cause().is_some(), words::event(r, settings))).collect();
        lines.extend(end.marks.iter().take(LINES).map(|m| (m.t_s, false, format!("note: {}", printable(&m.note)))));
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (t_s, trip, words) in &lines {
            let stamp = format!("{:>12}  ", time(*t_s));
            if *trip {
                for line in lines_of(stamp.len() + 2, &format!("{stamp}{words}")) {
                    writeln!(out, "{}", paint.with("31", &line))?;
                }
            } else {
                wrap(out, stamp.len() + 2, &format!("{stamp}{words}"))?;
            }
        }
        if lines.is_empty() {
            writeln!(out, "  nothing: no start, no stop, no trip")?;
        }
        if self.others > 0 {
            writeln!(out, "  and {} more events: --json or --out lists them all", self.others)?;
        }
        Ok(())
    }
}

fn times(end: &Summary, paint: Paint, out: &mut impl Write) -> io::Result<()> {
    heading(out, paint, "Time")?;
    for (name, t_s) in end.totals.times() {
        if t_s > 0.0 {
            let share = if end.trace.duration_s > 0.0 { t_s / end.trace.duration_s * 100.0 } else { 0.0 };
            writeln!(out, "  {name:<18}{t_s:>12.3} s   {share:>5.1} %")?;
        }
    }
    Ok(())
}

fn energy(end: &Summary, settings: &Settings, paint: Paint, out: &mut impl Write) -> io::Result<()> {
    let t = &end.totals;
    heading(out, paint, "Energy and mass")?;
    let mut table = Table { out, why: &t.why, last: "" };
    table.line("taken in", Some(t.electrical_kwh), "kWh", "")?;
    if t.exported_kwh > 0.0 {
        table.line("given back", Some(t.exported_kwh), "kWh", "")?;
    }
    table.line("reactive", Some(t.reactive_kvarh), "kvarh", "")?;
    table.line("while starting", Some(t.start_kwh), "kWh", "")?;
    table.line("at the shaft", Some(t.shaft_kwh), "kWh", "")?;
    let unit = if settings.mill.idle_power_kw.is_some() { "kW, as set" } else { "kW, learnt" };
    table.line("idle power", t.idle_power_kw, unit, "idle_power_kw")?;
    table.line("net of idle", t.net_kwh, "kWh", "net_kwh")?;
    match t.mass_t {
        Some(tonnes) if tonnes < 1.0 => table.line("mass fed", Some(tonnes * 1e3), "kg", "mass_t")?,
        tonnes => table.line("mass fed", tonnes, "t", "mass_t")?,
    }
    table.line("gross per tonne", t.gross_kwh_per_t, "kWh/t", "gross_kwh_per_t")?;
    table.line("net per tonne", t.net_kwh_per_t, "kWh/t", "net_kwh_per_t")
}

fn peaks(end: &Summary, settings: &Settings, paint: Paint, out: &mut impl Write) -> io::Result<()> {
    let t = &end.totals;
    heading(out, paint, "Peaks")?;
    let share = short(t.peak_current_a / settings.motor.rated_current_a * 100.0);
    let mut table = Table { out, why: &t.why, last: "" };
    table.line("shaft power", t.peak_shaft_kw, "kW", "peak_shaft_kw")?;
    table.line("current", Some(t.peak_current_a), &format!("A ({share} % of rated)"), "")?;
    table.line("thermal image", t.max_thermal_pct, "% of the trip level", "max_thermal_pct")?;
    writeln!(table.out, "  {:<18}{:>12}\n  {:<18}{:>12}", "starts", t.starts, "trips", t.trips)
}

fn worth_knowing(end: &Summary, paint: Paint, out: &mut impl Write) -> io::Result<()> {
    let t = &end.totals;
    let mut lines = Vec::new();
    if t.clipped_samples > 0 {
        lines.push(format!("{} samples were clipped: what they enter is \"at least\"", t.clipped_samples));
    }
    if t.bridged_samples > 0 {
        lines.push(format!("{} missing samples were bridged", t.bridged_samples));
    }
    lines.extend(end.warnings.iter().map(|w| printable(w)));
    if lines.is_empty() {
        return Ok(());
    }
    heading(out, paint, "Worth knowing")?;
    for words in lines.iter().take(LINES) {
        wrap(out, 4, &format!("  {words}"))?;
    }
    if lines.len() > LINES {
        writeln!(out, "  and {} more: --json lists them all", lines.len() - LINES)?;
    }
    Ok(())
}

fn heading(out: &mut impl Write, paint: Paint, text: &str) -> io::Result<()> {
    writeln!(out, "\n{}", paint.with("1", text))
}

/// Lines of a name, a figure and its unit.
struct Table<'a, W> {
    out: &'a mut W,
    why: &'a Why,
    /// The reason of the last figure that is missing: it is not told twice in a row.
    last: Reason,
}

impl<W: Write> Table<'_, W> {
    fn line(&mut self, name: &str, x: Option<f64>, unit: &str, key: &str) -> io::Result<()> {
        let Some(x) = x else {
            let reason = self.why.get(key).copied().unwrap_or_default();
            let words = if reason == self.last { "as above" } else { reason };
            self.last = reason;
            return wrap(self.out, 33, &format!("  {name:<18}{:>12} {words}", "-"));
        };
        writeln!(self.out, "  {name:<18}{:>12} {unit}", short(x))
    }
}

/// Nothing that moves the cursor or rings: a note may hold anything.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn wrap(out: &mut impl Write, indent: usize, text: &str) -> io::Result<()> {
    lines_of(indent, text).iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// Breaks at blanks; later lines are indented. A word that is too long is broken where the line ends.
fn lines_of(indent: usize, text: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut rest: Vec<char> = text.chars().collect();
    let mut before = 0; // the indent of the present line must not count as a place to break
    while rest.len() > WIDTH {
        let blank = rest[..=WIDTH].iter().rposition(|c| *c == ' ').filter(|at| *at > before);
        let cut = blank.unwrap_or(WIDTH);
        let tail = rest.split_off(cut);
        lines.push(rest.iter().collect());
        let tail = tail.into_iter().skip_while(|c| *c == ' ');
        rest = std::iter::repeat_n(' ', indent).chain(tail).collect();
        before = indent;
    }
    lines.push(rest.into_iter().collect());
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::Mark;
    use crate::report::testing::{settings, summary};
    use shaftwork_core::judge::event::{Cause, Figures};

    fn table(text: &Text, end: &Summary, paint: bool) -> String {
        let mut out = Vec::new();
        text.write(end, &settings(), Paint(paint), &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    fn filled() -> (Text, Summary) {
        let mut text = Text::default();
        for _ in 0..100 {
            text.event(&EventRow::plain(1.0, "run_up"));
        }
        text.event(&EventRow::trip(2.0, Cause::PhaseLoss, &Figures::default()));
        let mut end = summary();
        end.trace.path = "a/long/path/".repeat(12);
        end.warnings = vec!["word ".repeat(60), "x".repeat(200)];
        end.marks = vec![Mark { t_s: 0.5, note: "lump\x1b[2J of cast iron".into() }];
        (text, end)
    }

    #[test]
    fn never_wider_than_eighty_columns() {
        let (text, end) = filled();
        for line in table(&text, &end, false).lines() {
            assert!(line.chars().count() <= WIDTH, "{line}");
        }
    }

    #[test]
    fn tells_events_trips_notes_and_what_is_missing() {
        let (text, end) = filled();
        let shown = table(&text, &end, false);
        assert!(shown.contains("trip: phase loss"));
        assert!(shown.contains("and 40 more events"));
        assert!(shown.contains("note: lump [2J of cast iron"));
        assert!(shown.contains("- no mass was given"));
        assert!(!shown.contains("NaN") && !shown.contains('\x1b'));
    }

    #[test]
    fn colour_only_when_asked_for() {
        let (text, end) = filled();
        assert!(table(&text, &end, true).contains("\x1b[31m"));
    }
}
