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

/// The lines of a configuration, with their numbers for faults.
struct Lines<'a> {
    file: &'a str,
    numbered: Vec<(usize, &'a str)>,
    at: usize,
}

impl<'a> Lines<'a> {
    fn new(file: &'a str, text: &'a str) -> Self {
        let text = text.trim_end();
        let ends: &[char] = if text.contains('\n') { &['\n'] } else { &['\r'] };
        let mut lines: Vec<_> = text.split(ends).map(str::trim).enumerate().map(|(n, l)| (n + 1, l)).collect();
        // Some writers put a blank line after each; a single blank one may be an empty field.
        if lines.get(1).is_some_and(|(_, l)| l.is_empty()) {
            lines.retain(|(_, l)| !l.is_empty());
        }
        Self { file, numbered: lines, at: 0 }
    }

    fn next(&mut self, wanted: &str) -> Result<&'a str, Fault> {
        let line = self.numbered.get(self.at).map(|(_, l)| *l);
        self.at += 1;
        line.ok_or_else(|| {
            let last = self.numbered.last().map_or(0, |(n, _)| *n);
            Fault::new(self.file, "the configuration ends too early").at(format!("line {last}")).wanted(wanted)
        })
    }

    /// A fault in the line that was just taken.
    fn fault(&self, found: impl Into<String>) -> Fault {
        let number = self.at.checked_sub(1).and_then(|at| self.numbered.get(at)).map_or(0, |(n, _)| *n);
        Fault::new(self.file, found).at(format!("line {number}"))
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
        let channel =
            analog(line, revision == Revision::Y1991).map_err(|(found, wanted)| lines.fault(found).wanted(wanted))?;
        analog_channels.push(channel);
    }
    for _ in 0..digital {
        let line = lines.next("a line for each status channel that line 2 announces")?;
        if !is_digital(line) {
            return Err(lines
                .fault(format!("'{}' is no status channel", shown(line)))
                .wanted("n,id,ph,ccbm,y as line 2 announces"));
        }
    }
    let line = lines.next("the line frequency")?;
    let nominal_hz = match line.trim_end_matches(',').trim() {
        "" => None,
        text => {
            let bad = |_| {
                lines
                    .fault(format!("the line frequency is '{}'", shown(text)))
                    .wanted("50 or 60, as many channels above as line 2 announces")
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
        lines.fault(format!("the encoding is '{}'", shown(word))).wanted("ASCII, BINARY, BINARY32 or FLOAT32")
    })?;
    let multiplier = match lines.next("") {
        Err(_) | Ok("") => 1.0,
        Ok(text) => match number::number(text.trim_end_matches(',').as_bytes()) {
            Ok(m) if m > 0.0 => m,
            // Zero would put all frames into one moment.
            found if found.is_ok_and(|m| m.to_bits() << 1 == 0) || rates.is_empty() => {
                return Err(lines
                    .fault(format!("the time multiplier is '{}'", shown(text)))
                    .wanted("a number above 0")
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
    let code = lines.next("").ok().and_then(|line| line.split(',').next()).and_then(stamp::zone);
    // More than six digits in a stamp say that the stamps of the data count nanoseconds.
    let nano = [&first, &trigger].into_iter().flatten().any(|s| s.digits > 6);
    Ok(Config {
        station,
        revision,
        analogs: analog_channels,
        digital,
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
        return Err(lines.fault("the record has no analog channels").wanted("voltages and currents"));
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
    })?;
    let mut rates: Vec<Rate> = Vec::new();
    for _ in 0..stretches.max(1) {
        let line = lines.next("a line rate,last frame for each rate")?;
        let mut fields = line.split(',').map(str::trim);
        let mut field = || fields.next().and_then(|f| number::number(f.as_bytes()).ok()).filter(|x| *x >= 0.0);
        let (Some(hz), Some(last)) = (field(), field()) else {
            return Err(lines
                .fault(format!("'{}' is no rate with its last frame", shown(line)))
                .wanted("for instance 4000,180000"));
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
            return Err(lines.fault(found).wanted("last frames that rise"));
        }
        rates.push(rate);
    }
    let frames = rates.last().map_or(0, |r| r.last_frame);
    no_empty(lines, rates, frames)
}

fn no_empty(lines: &Lines<'_>, rates: Vec<Rate>, frames: u64) -> Result<(Vec<Rate>, u64), Fault> {
    if frames == 0 {
        return Err(lines.fault("the record announces no frames").wanted("at least one frame"));
    }
    Ok((rates, frames))
}

#[cfg(test)]
mod tests;
