//! The configuration (.cfg) of a COMTRADE record, revisions 1991, 1999/2001 and 2013.
//!
//! ```text
//! station,device[,revision]          TT,##A,##D         one line a channel
//! lf      nrates      rate,endsamp (nrates lines; one line 0,endsamp when nrates is 0)
//! first stamp         trigger stamp      encoding      [timemult  [zones  [quality]]]
//! ```

use super::channel::{Analog, analog, is_digital, shown};
use super::record::Encoding;
use super::stamp;
use crate::error::Fault;
use crate::trace::{Rate, number};

/// Which edition of the standard a file follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Revision {
    Y1991,
    Y1999,
    Y2013,
}

/// A configuration that was understood.
#[derive(Debug)]
pub(super) struct Config {
    pub station: String,
    pub revision: Revision,
    pub analogs: Vec<Analog>,
    pub digital: usize,
    /// The names of the status channels.
    pub states: Vec<String>,
    pub nominal_hz: Option<f64>,
    /// Empty when time comes from the stamps.
    pub rates: Vec<Rate>,
    /// Frames that the file announces.
    pub frames: u64,
    /// ISO 8601.
    pub start: Option<String>,
    pub encoding: Encoding,
    /// Seconds that a stamp of 1 is worth.
    pub tick_s: f64,
    pub warnings: Vec<String>,
}

/// Analog channels that a record may have: enough for any plant, and few enough to hold a block of each.
const MOST_ANALOGS: usize = 50_000;

/// Stamps that count more than a quarter of an hour are no stamps of waveforms.
const MOST_MULTIPLIER: f64 = 1e9;

/// The cure where a file ends too early or announces what is not there.
const COPY: &str = "copy the configuration again; as many channel lines must follow line 2 as it announces";

/// The lines of a configuration, taken one after the other, with their numbers for faults.
struct Lines<'a> {
    file: &'a str,
    rest: std::iter::Enumerate<std::str::Split<'a, char>>,
    skip_blank: bool,
    /// The line taken last, counted from 1.
    number: usize,
}

impl<'a> Lines<'a> {
    fn new(file: &'a str, text: &'a str) -> Self {
        let text = text.trim_end();
        let rest = text.split(if text.contains('\n') { '\n' } else { '\r' }).enumerate();
        // Some writers put a blank line after each; a single blank one may be an empty field.
        let skip_blank = rest.clone().nth(1).is_some_and(|(_, line)| line.trim().is_empty());
        Self { file, rest, skip_blank, number: 0 }
    }

    /// The next line, if there is one.
    fn maybe(&mut self) -> Option<&'a str> {
        let skip_blank = self.skip_blank;
        let (number, line) = self.rest.by_ref().find(|(_, line)| !(skip_blank && line.trim().is_empty()))?;
        self.number = number + 1;
        Some(line.trim())
    }

    fn next(&mut self, wanted: &str) -> Result<&'a str, Fault> {
        self.maybe().ok_or_else(|| self.fault("the configuration ends too early").wanted(wanted).mend(COPY))
    }

    /// A fault in the line that was just taken.
    fn fault(&self, found: impl Into<String>) -> Fault {
        Fault::new(self.file, found).at(format!("line {}", self.number))
    }
}

/// Understands a configuration; `file` is named in faults.
pub(super) fn parse(file: &str, text: &str) -> Result<Config, Fault> {
    let mut lines = Lines::new(file, text);
    let mut warnings = Vec::new();
    let (station, revision) = identity(lines.next("station,device,revision")?);
    let (analogs, digital) = counts(&mut lines, &mut warnings)?;
    let mut analog_channels = Vec::new();
    for _ in 0..analogs {
        let line = lines.next("a line for each analog channel that line 2 announces")?;
        let channel = analog(line, revision == Revision::Y1991)
            .map_err(|bad| lines.fault(bad.found).wanted(bad.wanted).mend(bad.mend))?;
        analog_channels.push(channel);
    }
    let mut states = Vec::new();
    for _ in 0..digital {
        let line = lines.next("a line for each status channel that line 2 announces")?;
        if !is_digital(line) {
            return Err(lines
                .fault(format!("'{}' is no status channel", shown(line)))
                .wanted("n,id,ph,ccbm,y as line 2 announces")
                .mend(COPY));
        }
        states.push(line.split(',').nth(1).unwrap_or_default().trim().to_owned());
    }
    let line = lines.next("the line frequency")?;
    let nominal_hz = match line.trim_end_matches(',').trim() {
        "" => None,
        text => {
            let bad = |_| {
                lines
                    .fault(format!("the line frequency is '{}'", shown(text)))
                    .wanted("50 or 60, as many channels above as line 2 announces")
                    .mend("correct the line, or the counts in line 2")
            };
            Some(number::number(text.as_bytes()).map_err(bad)?).filter(|hz| *hz > 0.0)
        }
    };
    let (rates, frames) = rates(&mut lines)?;
    let month_first = revision == Revision::Y1991;
    let first = stamp::stamp(lines.next("the date and time of the first frame")?, month_first);
    let trigger = stamp::stamp(lines.next("the date and time of the trigger")?, month_first);
    if first.is_none() {
        warnings.push(format!("{file}: the date and time of the first frame cannot be read"));
    }
    let word = lines.next("the encoding: ASCII, BINARY, BINARY32 or FLOAT32")?;
    let encoding = Encoding::named(word).ok_or_else(|| {
        lines
            .fault(format!("the encoding is '{}'", shown(word)))
            .wanted("ASCII, BINARY, BINARY32 or FLOAT32")
            .mend("write the one in which the data are; text can be read with the eye")
    })?;
    let multiplier = match lines.maybe() {
        None | Some("") => 1.0,
        Some(text) => match number::number(text.trim_end_matches(',').as_bytes()) {
            Ok(m) if m > 0.0 && m <= MOST_MULTIPLIER => m,
            // Zero would put all frames into one moment.
            found if found.is_ok_and(|m| m.to_bits() << 1 == 0) || rates.is_empty() => {
                return Err(lines
                    .fault(format!("the time multiplier is '{}'", shown(text)))
                    .wanted(format!("a number above 0, at most {MOST_MULTIPLIER}"))
                    .mend("write 1 where the stamps count microseconds"));
            }
            _ => {
                warnings.push(format!(
                    "{file}: the time multiplier '{}' cannot be read; the rate gives the time",
                    shown(text)
                ));
                1.0
            }
        },
    };
    let code = lines.maybe().and_then(|line| line.split(',').next()).and_then(stamp::zone);
    // More than six digits in a stamp say that the stamps of the data count nanoseconds.
    let nano = [&first, &trigger].into_iter().flatten().any(|s| s.digits > 6);
    Ok(Config {
        station,
        revision,
        analogs: analog_channels,
        digital,
        states,
        nominal_hz,
        rates,
        frames,
        start: first.map(|s| s.iso + code.as_deref().unwrap_or("")),
        encoding,
        tick_s: if nano { 1e-9 } else { 1e-6 } * multiplier,
        warnings,
    })
}

/// Station and revision of the first line.
fn identity(line: &str) -> (String, Revision) {
    let fields: Vec<&str> = line.split(',').map(str::trim).collect();
    // The year may be any: it is absent or empty in 1991, and recorders write drafts' years too.
    let year = fields.iter().skip(2).rev().find(|f| !f.is_empty()).and_then(|f| f.parse::<u32>().ok());
    let revision = match year {
        None | Some(..1995) => Revision::Y1991,
        Some(1995..2013) => Revision::Y1999,
        Some(2013..) => Revision::Y2013,
    };
    (fields.first().map_or(String::new(), |s| (*s).to_owned()), revision)
}

/// Analog and status channels that the second line announces: `TT,##A,##D`.
fn counts(lines: &mut Lines<'_>, warnings: &mut Vec<String>) -> Result<(usize, usize), Fault> {
    let line = lines.next("TT,##A,##D")?;
    let upper = line.to_ascii_uppercase();
    let fields: Vec<&str> = upper.split(',').map(str::trim).collect();
    let count = |letter: char| {
        let field = fields.iter().skip(1).find_map(|f| f.strip_suffix(letter))?;
        field.trim().parse::<usize>().ok()
    };
    let (Some(analogs), Some(digital)) = (count('A'), count('D')) else {
        let fault = lines.fault(format!("'{}' tells no counts of channels", shown(line)));
        return Err(fault
            .wanted("TT,##A,##D, for instance 6,6A,0D")
            .mend("check that this is a COMTRADE configuration"));
    };
    if analogs == 0 {
        return Err(lines
            .fault("the record has no analog channels")
            .wanted("voltages and currents")
            .mend("export the record with its waveforms, not the events alone"));
    }
    if analogs > MOST_ANALOGS {
        return Err(lines
            .fault(format!("the record announces {analogs} analog channels"))
            .wanted(format!("at most {MOST_ANALOGS}"))
            .mend("correct the count, or export fewer channels"));
    }
    if fields[0].parse() != Ok(analogs.saturating_add(digital)) {
        warnings.push(format!(
            "{}: line 2 announces {} channels in all, but {analogs} and {digital}",
            lines.file,
            shown(fields[0])
        ));
    }
    Ok((analogs, digital))
}

/// Rates and the count of frames.
fn rates(lines: &mut Lines<'_>) -> Result<(Vec<Rate>, u64), Fault> {
    let line = lines.next("the number of rates")?;
    let stretches: u64 = line.trim_end_matches(',').trim().parse().map_err(|_| {
        lines
            .fault(format!("the number of rates is '{}'", shown(line)))
            .wanted("a whole number, 0 when time comes from the stamps")
            .mend("write 1 where the record has one rate, with rate,last frame in the line below")
    })?;
    let mut rates: Vec<Rate> = Vec::new();
    for _ in 0..stretches.max(1) {
        let line = lines.next("a line rate,last frame for each rate")?;
        let mut fields = line.split(',').map(str::trim);
        let mut field = || fields.next().and_then(|f| number::number(f.as_bytes()).ok()).filter(|x| *x >= 0.0);
        let (Some(hz), Some(last)) = (field(), field()) else {
            return Err(lines
                .fault(format!("'{}' is no rate with its last frame", shown(line)))
                .wanted("for instance 4000,180000")
                .mend("write as many such lines as the number of rates above says"));
        };
        // Whole and far below 2^53 in any real record; a fraction would be a slip of the pen.
        let rate = Rate { hz, last_frame: last as u64 };
        if stretches == 0 {
            return no_empty(lines, Vec::new(), rate.last_frame);
        }
        if hz == 0.0 {
            let fault =
                lines.fault("the rate is 0").wanted("a rate above 0; 0 is legal only where the number of rates is 0");
            return Err(fault.mend("write 0 in the line above if the time is to come from the stamps"));
        }
        if let Some(before) = rates.last()
            && before.last_frame > rate.last_frame
        {
            let found = format!("the last frame {} lies before the one above, {}", rate.last_frame, before.last_frame);
            return Err(lines
                .fault(found)
                .wanted("last frames that rise")
                .mend("count the last frame of each rate from the start of the record"));
        }
        rates.push(rate);
    }
    let frames = rates.last().map_or(0, |r| r.last_frame);
    no_empty(lines, rates, frames)
}

fn no_empty(lines: &Lines<'_>, rates: Vec<Rate>, frames: u64) -> Result<(Vec<Rate>, u64), Fault> {
    if frames == 0 {
        return Err(lines
            .fault("the record announces no frames")
            .wanted("at least one frame")
            .mend("write how many frames the data have as the last frame of the last rate"));
    }
    Ok((rates, frames))
}

#[cfg(test)]
mod tests;
