//! Tables of intervals as CSV, as every verb reads them: comments first, then the names of the columns, then a cell for each.

use std::io::{BufRead, Read as _};

use csv::{ByteRecord, ReaderBuilder};

use crate::error::Fault;

/// A longer line is no line of a log.
const LONGEST_LINE: u64 = 64 * 1024;

/// The rows of a file whose names of columns were read.
pub struct Rows<R> {
    name: String,
    what: &'static str,
    names: Vec<String>,
    reader: csv::Reader<R>,
    record: ByteRecord,
    /// The line of the names.
    line: u64,
}

/// A file whose names of columns are read; `None`: it is empty. `what` it should be is for faults; `comment` takes key, value and
/// place of each `# key = value`.
///
/// # Errors
/// It cannot be read, or a comment is refused.
pub fn open<R: BufRead>(
    mut file: R,
    name: &str,
    what: &'static str,
    mut comment: impl FnMut(&str, &str, &str) -> Result<(), Fault>,
) -> Result<Option<Rows<R>>, Fault> {
    let mut line = 0;
    let header = loop {
        let mut text = Vec::new();
        let read = file.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut text);
        read.map_err(|error| Fault::unreadable(name, &error, what))?;
        line += 1;
        if text.is_empty() {
            return Ok(None);
        }
        let words = String::from_utf8_lossy(&text).trim_start_matches('\u{feff}').trim().to_owned();
        if let Some(told) = words.strip_prefix('#') {
            if let Some((key, value)) = told.split_once('=') {
                comment(key, value, &format!("line {line}"))?;
            }
        } else if !words.is_empty() {
            break words;
        }
    };
    let names: Vec<String> = header.split(',').map(|name| name.trim().trim_matches('"').to_owned()).collect();
    let reader = ReaderBuilder::new().has_headers(false).comment(Some(b'#')).flexible(true).from_reader(file);
    Ok(Some(Rows { name: name.to_owned(), what, names, reader, record: ByteRecord::new(), line }))
}

impl<R: BufRead> Rows<R> {
    /// The names of the columns.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Goes to the next row; whether there is one.
    ///
    /// # Errors
    /// It cannot be read, or has not a cell for each column.
    pub fn advance(&mut self) -> Result<bool, Fault> {
        let more = self.reader.read_byte_record(&mut self.record).map_err(|error| {
            Fault::new(self.name.as_str(), format!("cannot be read on: {error}"))
                .wanted(format!("{} as CSV", self.what))
                .mend("check that the file was copied whole")
        })?;
        if !more {
            return Ok(false);
        }
        if self.record.len() != self.names.len() {
            let found = format!("{} cells, but {} columns have names", self.record.len(), self.names.len());
            return Err(Fault::new(self.name.as_str(), found)
                .at(format!("line {}", self.line()))
                .wanted("a cell for each column")
                .mend("a file that ends in half a line was still being written: take the half line out"));
        }
        Ok(true)
    }

    /// The cells of the row.
    pub fn cells(&self) -> &ByteRecord {
        &self.record
    }

    /// The line of the row; before the first that of the names.
    pub fn line(&self) -> u64 {
        self.line + self.record.position().map_or(0, csv::Position::line)
    }

    /// Bytes of rows that were read.
    pub fn read(&self) -> u64 {
        self.reader.position().byte()
    }
}

/// What a cell says as a number.
pub fn number(text: &str) -> Option<f64> {
    text.parse().ok().filter(|x: &f64| x.is_finite())
}

/// A cell for people: not more than fits a line.
pub fn shown(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}
