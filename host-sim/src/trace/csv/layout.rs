//! A line of figures, read into the columns.

use super::header::Column;
use crate::error::Fault;
use crate::trace::Rows;
use crate::trace::cells::Cells;
use crate::trace::even::{Evenness, Step};
use crate::trace::number::{self, NoNumber, Printed};
use crate::trace::source::Line;

/// How a line is laid out, and what must hold from line to line.
pub(super) struct Layout {
    pub file: String,
    pub columns: Vec<Column>,
    pub names: Vec<String>,
    /// The column of mass among the channels, and the mass so far, kg.
    pub mass: Option<usize>,
    pub mass_kg: f64,
    /// The line of the first note that was cut.
    pub cut: Option<u64>,
}

/// Characters of a note that are kept: memory stays flat whatever a logger writes into it.
pub(super) const NOTE: usize = 200;

/// A note as far as it is kept, and whether that is all of it.
fn note(text: &[u8]) -> (String, bool) {
    // A character has four bytes at most, and a quote is written twice.
    let kept = &text[..text.len().min(2 * 4 * NOTE)];
    let full = String::from_utf8_lossy(kept).replace("\"\"", "\"");
    let note: String = full.chars().take(NOTE).collect();
    let whole = kept.len() == text.len() && note.len() == full.len();
    (note, whole)
}

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
    pub fn frame(&mut self, line: &Line<'_>, rows: &mut Rows, even: &mut Evenness) -> Result<(), Fault> {
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
                        let (note, whole) = note(text);
                        rows.marks.push((rows.len, note));
                        if !whole {
                            self.cut.get_or_insert(line.number);
                        }
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
