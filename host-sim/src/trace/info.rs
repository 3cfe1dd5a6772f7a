//! What a trace holds: gathered by reading all of it, however short, uneven or multi-rate it is.

use super::{Channel, Kind, Options, Rate, Reader, Rows, open_as};
use crate::terminal::printable;
use std::fmt;

/// What a trace holds; figures in the file's own units and on the side that it marks.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Info {
    /// As the user named it.
    pub path: String,
    /// `CSV`, `COMTRADE 1999 BINARY`, …
    pub format: String,
    /// Where it was recorded; may be empty.
    pub station: String,
    /// Time of the first frame, ISO 8601.
    pub start: Option<String>,
    /// Nominal frequency of the supply, Hz.
    pub nominal_hz: Option<f64>,
    /// The rates in order; one entry where the file's stamps were measured.
    pub rates: Vec<InfoRate>,
    /// Whether the rate was measured from stamps.
    pub rate_measured: bool,
    /// Frames read.
    pub frames: u64,
    /// Time that the frames cover, gaps included, s.
    pub duration_s: Option<f64>,
    /// Gaps in the stamps, and their length in all, s.
    pub gaps: u64,
    /// See `gaps`.
    pub gaps_s: f64,
    /// Markers.
    pub marks: u64,
    /// The analog channels.
    pub channels: Vec<InfoChannel>,
    /// Status channels.
    pub digital: usize,
    /// What a person should know.
    pub warnings: Vec<String>,
}

/// A stretch at one rate.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct InfoRate {
    /// Frames a second.
    pub hz: f64,
    /// The last frame at this rate, counted from 1.
    pub last_frame: u64,
}

/// One analog channel over the whole record.
#[derive(Clone, Debug, serde::Serialize)]
pub struct InfoChannel {
    /// Its name.
    pub name: String,
    /// Its phase as the file has it.
    pub phase: String,
    /// Its unit as the file has it.
    pub unit: String,
    /// What it measures.
    pub kind: Kind,
    /// Root of the mean square over all frames, DC included.
    pub rms: Option<f64>,
    /// Lowest value.
    pub min: Option<f64>,
    /// Highest value.
    pub max: Option<f64>,
    /// Missing values.
    pub missing: u64,
}

/// Sums of one channel, SI.
#[derive(Clone, Copy)]
struct Sums {
    squares: f64,
    low: f64,
    high: f64,
    count: u64,
}

impl Sums {
    const NONE: Self = Self { squares: 0.0, low: f64::INFINITY, high: f64::NEG_INFINITY, count: 0 };

    /// Adds a block; sums of a block first, so that rounding does not grow with the record.
    fn add(&mut self, values: &[f64]) {
        let mut squares = 0.0;
        for x in values.iter().filter(|x| !x.is_nan()) {
            squares += x * x;
            // Of what is a number: `min` would ask for more.
            self.low = if *x < self.low { *x } else { self.low };
            self.high = if *x > self.high { *x } else { self.high };
            self.count += 1;
        }
        self.squares += squares;
    }

    fn close(self, channel: &Channel, frames: u64) -> InfoChannel {
        let Channel { name, phase, unit, to_si, kind, .. } = channel;
        let known = |x: f64| Some(x / to_si).filter(|_| self.count > 0);
        InfoChannel {
            name: name.clone(),
            phase: phase.clone(),
            unit: unit.clone(),
            kind: *kind,
            rms: known((self.squares / self.count.max(1) as f64).sqrt()),
            min: known(self.low),
            max: known(self.high),
            missing: frames - self.count.min(frames),
        }
    }
}

/// Reads a trace for what it holds; `at` is told bytes done and bytes in all, block by block.
///
/// # Errors
/// A [`crate::error::Fault`] when it is no trace, or ends early and that is not accepted.
pub fn info(path: &str, accept_short: bool, at: &mut dyn FnMut((u64, Option<u64>))) -> anyhow::Result<Info> {
    let options = Options { accept_short, gaps_split: true, rate_hz: None };
    gather(open_as(path, &options, true)?, at)
}

fn gather(mut reader: Box<dyn Reader>, at: &mut dyn FnMut((u64, Option<u64>))) -> anyhow::Result<Info> {
    let mut sums = vec![Sums::NONE; reader.meta().channels.len()];
    let mut rows = Rows::new();
    let (mut frames, mut marks, mut gaps, mut gaps_s) = (0, 0, 0, 0.0);
    loop {
        let count = reader.read(&mut rows)?;
        marks += rows.marks.len() as u64;
        gaps += rows.restarts.len() as u64;
        gaps_s += rows.restarts.iter().map(|(_, length)| length).sum::<f64>();
        if count == 0 {
            break;
        }
        frames += count as u64;
        at(reader.progress());
        for (sums, column) in sums.iter_mut().zip(&rows.columns) {
            sums.add(column);
        }
    }
    let meta = reader.meta();
    let measured = meta.stamps_hz.filter(|_| meta.rates.is_empty()).map(|hz| Rate { hz, last_frame: frames });
    let rates: Vec<Rate> = meta.rates.iter().copied().chain(measured).collect();
    let mut done = 0;
    let mut duration = 0.0;
    for rate in &rates {
        let last = rate.last_frame.min(frames);
        duration += last.saturating_sub(done) as f64 / rate.hz;
        done = last.max(done);
    }
    Ok(Info {
        path: meta.path.clone(),
        format: meta.format.clone(),
        station: meta.station.clone(),
        start: meta.start.clone(),
        nominal_hz: meta.nominal_hz,
        rates: rates.iter().map(|r| InfoRate { hz: r.hz, last_frame: r.last_frame }).collect(),
        rate_measured: measured.is_some(),
        frames,
        duration_s: (!rates.is_empty()).then_some(duration + gaps_s),
        gaps,
        gaps_s,
        marks,
        channels: sums.iter().zip(&meta.channels).map(|(s, c)| s.close(c, frames)).collect(),
        digital: meta.digital,
        warnings: reader.warnings().to_vec(),
    })
}

impl fmt::Display for Info {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", printable(&self.path))?;
        let mut line = |name: &str, text: String| writeln!(f, "  {name:<9} {}", fit(&text, 67));
        line("format", self.format.clone())?;
        if !self.station.is_empty() {
            line("station", self.station.clone())?;
        }
        line("start", self.start.clone().unwrap_or_else(|| "not given".into()))?;
        if let Some(hz) = self.nominal_hz {
            line("supply", format!("{hz} Hz"))?;
        }
        match self.rates.as_slice() {
            [] => line("rate", "not known".into())?,
            [one] => line(
                "rate",
                format!("{} Hz{}", figure(one.hz), if self.rate_measured { ", from the stamps" } else { "" }),
            )?,
            several => {
                let low = several.iter().map(|r| r.hz).fold(f64::INFINITY, f64::min);
                let high = several.iter().map(|r| r.hz).fold(0.0, f64::max);
                let (low, high) = (figure(low), figure(high));
                let span = if low == high { format!("at {low}") } else { format!("at {low} to {high}") };
                line("rates", format!("{} stretches {span} Hz: cannot be replayed", several.len()))?;
            }
        }
        let duration = self.duration_s.map_or("a time that is not known".into(), |s| {
            if s < 10.0 { format!("{} s", figure(s)) } else { format!("{s:.3} s") }
        });
        line("frames", format!("{} over {duration}", self.frames))?;
        if self.gaps > 0 {
            line("gaps", format!("{} of {:.3} s in all", self.gaps, self.gaps_s))?;
        }
        line("channels", format!("{} analog, {} status", self.channels.len(), self.digital))?;
        writeln!(
            f,
            "\n  {:<20} {:<4} {:<5} {:>11} {:>11} {:>11} {:>8}",
            "name", "ph", "unit", "rms", "min", "max", "missing"
        )?;
        for c in &self.channels {
            let cell = |x: Option<f64>| x.map_or_else(|| "-".into(), figure);
            let (name, phase, unit) = (pad(&c.name, 20), pad(&c.phase, 4), pad(&c.unit, 5));
            let (rms, min, max) = (cell(c.rms), cell(c.min), cell(c.max));
            writeln!(f, "  {name} {phase} {unit} {rms:>11} {min:>11} {max:>11} {:>8}", c.missing)?;
        }
        for warning in &self.warnings {
            writeln!(f, "\nwarning: {}", printable(warning))?;
        }
        Ok(())
    }
}

/// Five digits that count, in at most eleven characters.
fn figure(x: f64) -> String {
    let size = x.abs();
    if x == 0.0 {
        return "0".into();
    }
    if !(1e-3..1e7).contains(&size) {
        return format!("{x:.3e}");
    }
    // Between 10^-3 and 10^7: at most seven decimals.
    let decimals = (4 - size.log10().floor() as i32).clamp(0, 7) as usize;
    format!("{x:.decimals$}")
}

/// Columns that a character takes on a terminal: two for the wide ones of East Asia.
fn width(c: char) -> usize {
    let wide = matches!(c, '\u{1100}'..='\u{115f}' | '\u{2e80}'..='\u{a4cf}' | '\u{ac00}'..='\u{d7a3}' | '\u{f900}'..='\u{faff}' | '\u{fe30}'..='\u{fe6f}' | '\u{ff00}'..='\u{ff60}');
    if wide { 2 } else { 1 }
}

/// As much of a text as fits, without control characters.
fn fit(text: &str, columns: usize) -> String {
    let mut used = 0;
    let fits = |c: &char| {
        used += width(*c);
        used <= columns
    };
    text.trim().chars().filter(|c| !c.is_control()).take_while(fits).collect()
}

/// The same, filled up with blanks.
fn pad(text: &str, columns: usize) -> String {
    let mut text = fit(text, columns);
    let used: usize = text.chars().map(width).sum();
    text.extend(std::iter::repeat_n(' ', columns - used.min(columns)));
    text
}

#[cfg(test)]
mod tests {
    use super::super::{from_source, source::Source};
    use super::*;

    fn of(text: &str) -> Info {
        let source = Source::new("t.csv", Box::new(std::io::Cursor::new(text.as_bytes().to_vec())), None);
        let options = Options { gaps_split: true, ..Options::default() };
        gather(from_source(source, &options, true).unwrap(), &mut |_| ()).unwrap()
    }

    #[test]
    fn figures_of_a_sine() {
        // An amplitude of 325 V is 229.810 V rms over whole cycles.
        let rows = (0..800).map(|k| {
            let t = f64::from(k) / 4000.0;
            format!("{t:.6},{:.9},1\n", 325.0 * (t * std::f64::consts::TAU * 50.0).sin())
        });
        let text: String = std::iter::once("t_s,va_v,ia_a\n".to_owned()).chain(rows).collect();
        let i = of(&text);
        assert!((i.channels[0].rms.unwrap() - 325.0 / 2_f64.sqrt()).abs() < 1e-6);
        assert!((i.channels[0].max.unwrap() - 325.0).abs() < 1e-6);
        assert_eq!((i.frames, i.channels[0].missing, i.rate_measured), (800, 0, true));
        assert!((i.duration_s.unwrap() - 0.2).abs() < 1e-6);
    }

    #[test]
    fn one_frame_is_enough_and_uneven_stamps_are_told() {
        let i = of("t_s,ia_a\n0,1.5\n");
        assert_eq!((i.frames, i.channels[0].rms, i.duration_s), (1, Some(1.5), None));
        let i = of("t_s,ia_a\n0.0000,1\n0.0010,1\n0.0013,1\n0.0030,1\n");
        assert!(i.warnings[0].contains("even place"), "{:?}", i.warnings);
    }

    #[test]
    fn the_table_fits_a_terminal() {
        let text =
            of("t_s,a_very_long_name_that_goes_on_and_on_v,ia_a\n0,-123456.789,1e-9\n0.00025,9e14,0\n").to_string();
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.contains("-1.2346e5") || text.contains("-123457"), "{text}");
        assert_eq!(pad("短引线", 5).chars().count(), 3);
    }

    #[test]
    fn what_is_not_known_is_null() {
        let value = serde_json::to_value(of("t_s,ia_a\n0,1.5\n")).unwrap();
        assert!(value["duration_s"].is_null() && value["start"].is_null());
        assert_eq!(value["channels"][0]["kind"], "current");
    }
}
