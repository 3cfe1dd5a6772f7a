//! CSV traces: one line of names, then a line a frame.
//!
//! ```text
//! # start = 2026-03-02T06:00:00+01:00
//! t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,note
//! 0.000000,310.741,-72.120,-238.621,191.067,-44.336,-146.716,
//! ```
//! Comments, blank lines, blanks around cells, a byte-order mark, CRLF and a missing last line end
//! are fine. Cells are parsed where they lie in the buffer, in one pass.

mod header;

use super::cells::Cells;
use super::even::{Evenness, Step};
use super::number::{self, NoNumber, Printed};
use super::source::{Line, Source};
use super::{Kind, Meta, Options, Reader, Rows, block_rows};
use crate::error::Fault;
use header::Column;

/// The byte-order mark of UTF-8.
const MARK: &[u8] = b"\xef\xbb\xbf";

/// A CSV trace that is being read.
pub struct Csv {
    source: Source,
    meta: Meta,
    layout: Layout,
    even: Evenness,
    accept_short: bool,
    frames: u64,
    done: bool,
    warnings: Vec<String>,
}

/// How a line is laid out, and what must hold from line to line.
struct Layout {
    file: String,
    columns: Vec<Column>,
    names: Vec<String>,
    /// The column of mass among the channels, and the mass so far, kg.
    mass: Option<usize>,
    mass_kg: f64,
}

impl Csv {
    /// Reads up to the line of names.
    ///
    /// # Errors
    /// A [`Fault`] when there is none or it is no such line.
    pub fn new(mut source: Source, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let file = source.name().to_owned();
        if source.peek(MARK.len())? == MARK {
            source.take(MARK.len());
        }
        let mut start = None;
        let header = loop {
            let Some(line) = source.line()? else {
                return Err(Fault::new(file, "ends before the line of names")
                    .at(format!("line {}", source.lines()))
                    .wanted("a first line of names such as t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a")
                    .mend("record or copy the trace again")
                    .into());
            };
            let place = format!("line {}", line.number);
            let bytes = line.bytes.trim_ascii();
            match bytes.first() {
                None => {}
                Some(b'#') => start = header::start(&file, bytes, &place)?.or(start),
                Some(_) => break header::header(&file, bytes, &place)?,
            }
        };
        let warnings = match header.skipped.as_slice() {
            [] => vec![],
            names => vec![format!("{file}: columns that are not ours are left out: {}", names.join(", "))],
        };
        let mass = header.channels.iter().position(|c| c.kind == Kind::Mass && c.name.eq_ignore_ascii_case("mass_kg"));
        let meta = Meta {
            path: file.clone(),
            format: "CSV".into(),
            station: String::new(),
            start,
            nominal_hz: None,
            rates: vec![],
            stamps_hz: options.rate_hz,
            channels: header.channels,
            digital: 0,
            frames: None,
        };
        let even = Evenness::new(&file, "line", options.rate_hz, options.gaps_split, lenient);
        let layout = Layout { file, columns: header.columns, names: header.names, mass, mass_kg: f64::NEG_INFINITY };
        let accept_short = options.accept_short;
        Ok(Self { source, meta, layout, even, accept_short, frames: 0, done: false, warnings })
    }

    fn finish(&mut self) -> Result<(), Fault> {
        self.done = true;
        if self.frames == 0 {
            return Err(Fault::new(&*self.layout.file, "holds no frames")
                .at(format!("line {}", self.source.lines()))
                .wanted("at least one line of figures below the names")
                .mend("record or copy the trace again"));
        }
        self.meta.stamps_hz = self.even.finish()?.or(self.meta.stamps_hz);
        self.meta.frames = Some(self.frames);
        if let Some(complaint) = self.even.complaint() {
            self.warnings.push(complaint.to_string());
        }
        Ok(())
    }
}

impl Reader for Csv {
    fn meta(&self) -> &Meta {
        &self.meta
    }

    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize> {
        rows.reset(self.meta.channels.len());
        if self.done {
            return Ok(0);
        }
        let most = block_rows(rows.columns.len());
        while rows.len < most {
            let Some(line) = self.source.line()? else {
                self.finish()?;
                break;
            };
            // A blank line and a comment hold no frame.
            if matches!(line.bytes.trim_ascii_start().first(), None | Some(b'#')) {
                continue;
            }
            match self.layout.frame(&line, rows, &mut self.even) {
                Ok(()) => {}
                Err(_) if self.accept_short && !line.ended && self.frames > 0 => {
                    let words =
                        format!("{}, line {}: cut inside a line, which is left out", self.layout.file, line.number);
                    self.warnings.push(words);
                    let whole = rows.len;
                    for column in &mut rows.columns {
                        column.truncate(whole);
                    }
                    self.finish()?;
                    break;
                }
                // Whatever a cut has made of the last line: the cut is what is wrong with it.
                Err(fault) if !line.ended => return Err(fault.mend(CUT).into()),
                Err(fault) => return Err(fault.into()),
            }
            self.frames += 1;
        }
        for (column, channel) in rows.columns.iter_mut().zip(&self.meta.channels) {
            if channel.to_si.to_bits() != 1.0_f64.to_bits() {
                for x in column {
                    *x *= channel.to_si;
                }
            }
        }
        Ok(rows.len)
    }

    fn warnings(&self) -> &[String] {
        &self.warnings
    }

    fn progress(&self) -> (u64, Option<u64>) {
        (self.source.offset(), self.source.total())
    }
}

/// The cure for a last line without its end.
const CUT: &str = "the file ends inside this line: remove it, or use --accept-short; or end the line if it is whole";

/// The cure for a cell without a value.
const HOLE: &str = "fill in the value, or take the whole line out and set gaps = \"split\" in [sampling]";

/// What no instrument can have measured is a slip; among volts it would count as a clipped sample.
fn sane(x: f64) -> Result<(), NoNumber> {
    if x.abs() < 1e15 { Ok(()) } else { Err(NoNumber::TooLarge) }
}

/// A cell of figures.
fn figure(cell: &[u8]) -> Result<f64, NoNumber> {
    number::number(cell).and_then(|x| sane(x).map(|()| x))
}

/// A cell of time.
fn stamp(cell: &[u8]) -> Result<Printed, NoNumber> {
    number::printed(cell).and_then(|p| sane(p.value).map(|()| p))
}

impl Layout {
    /// Reads one line into the columns.
    fn frame(&mut self, line: &Line<'_>, rows: &mut Rows, even: &mut Evenness) -> Result<(), Fault> {
        let mut cells = Cells::new(line.bytes);
        let mut channel = 0;
        let last = self.columns.len() - 1;
        for (index, column) in self.columns.iter().enumerate() {
            match column {
                Column::Number => {
                    let value = match cells.number() {
                        Some(value) => value,
                        None => cells.figure(figure).map_err(|e| self.bad_cell(line, index, e))?,
                    };
                    if let Some(to) = rows.columns.get_mut(channel) {
                        to.push(value);
                    }
                    if self.mass == Some(channel) {
                        if value < self.mass_kg {
                            let found = format!("the mass falls from {} kg to {value} kg", self.mass_kg);
                            return Err(self
                                .fault(line, found)
                                .wanted("mass_kg, the total fed so far, which never falls")
                                .mend("add up the batches, or leave the column out"));
                        }
                        self.mass_kg = value;
                    }
                    channel += 1;
                }
                Column::Time => {
                    let stamp = match cells.plain() {
                        Some(plain) => plain.printed(),
                        None => cells.figure(stamp).map_err(|e| self.bad_cell(line, index, e))?,
                    };
                    if let Step::Gap(length) = even.stamp(stamp, line.number)? {
                        rows.restarts.push((rows.len, length));
                    }
                }
                Column::Note | Column::Skipped => {
                    let text = cells.text().map_err(|e| self.bad_cell(line, index, e))?;
                    if *column == Column::Note && !text.is_empty() {
                        rows.marks.push((rows.len, String::from_utf8_lossy(text).replace("\"\"", "\"")));
                    }
                }
            }
            if cells.rest().is_some() != (index < last) {
                return Err(self.bad_count(line));
            }
        }
        rows.len += 1;
        Ok(())
    }

    fn fault(&self, line: &Line<'_>, found: impl Into<String>) -> Fault {
        Fault::new(&*self.file, found).at(format!("line {}", line.number))
    }

    fn bad_cell(&self, line: &Line<'_>, index: usize, (error, text): (NoNumber, &[u8])) -> Fault {
        let have = memchr::memchr_iter(b',', line.bytes).count();
        let name = self.names.get(index).map_or("", |n| n);
        if have + 1 < self.columns.len() && error == NoNumber::Empty {
            return self.bad_count(line);
        }
        let fault = self.fault(line, format!("{name} is {}", error.found(text)));
        match error {
            NoNumber::Text if text.first() == Some(&b'"') => fault
                .wanted("a quoted cell that ends on its line")
                .mend("close the quotes; write a quote inside as \"\""),
            NoNumber::Text if text.contains(&b',') => {
                fault.wanted("a finite number").mend("write decimals with a point, without quotes around the figure")
            }
            NoNumber::Text => fault.wanted("a finite number").mend("write it in figures alone, with a decimal point"),
            NoNumber::TooLarge => {
                fault.wanted("a figure of at most 15 digits before the point").mend("correct the figure")
            }
            NoNumber::Empty | NoNumber::NotFinite => fault.wanted("a finite number").mend(HOLE),
        }
    }

    fn bad_count(&self, line: &Line<'_>) -> Fault {
        let have = memchr::memchr_iter(b',', line.bytes).count() + 1;
        let want = self.columns.len();
        let cells = if have == 1 { "cell" } else { "cells" };
        let fault =
            self.fault(line, format!("{have} {cells}")).wanted(format!("{want} cells, as the first line names"));
        if have > want {
            return fault.mend("quote a note that holds commas; write decimals with a point");
        }
        fault.mend(HOLE)
    }
}

#[cfg(test)]
mod tests;
