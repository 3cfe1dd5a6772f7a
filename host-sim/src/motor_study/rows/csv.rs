//! Intervals as CSV: names of columns in the first line that is no comment.

use std::fs::File;
use std::io::{BufRead as _, BufReader, Read as _, Seek as _, SeekFrom};
use std::path::Path;

use csv::{ByteRecord, ReaderBuilder};

use super::{Cells, EMPTY, Opened, Place, Table, places, state, words};
use crate::error::Fault;

/// A longer line is no line of a log.
const LONGEST_LINE: u64 = 64 * 1024;

/// A file that is being read.
struct Csv {
    name: String,
    reader: csv::Reader<BufReader<File>>,
    columns: Vec<Place>,
    line: u64,
}

/// Opens a file.
///
/// # Errors
/// It cannot be read.
pub fn open(path: &Path) -> anyhow::Result<Opened> {
    let name = path.display().to_string();
    let cannot = |error: &std::io::Error| Fault::unreadable(name.as_str(), error, "intervals of a replay");
    let mut file = BufReader::with_capacity(256 * 1024, File::open(path).map_err(|error| cannot(&error))?);
    let (mut start, mut line, mut at) = (None, 0u64, 0u64);
    let header = loop {
        let mut text = Vec::new();
        file.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut text).map_err(|error| cannot(&error))?;
        line += 1;
        at += text.len() as u64;
        let words = String::from_utf8_lossy(&text).trim_start_matches('\u{feff}').trim().to_owned();
        match words.strip_prefix('#') {
            Some(comment) => {
                let told = comment.split_once('=').filter(|(key, _)| key.trim() == "start");
                start = start.or_else(|| told.map(|(_, value)| value.trim().trim_matches('"').to_owned()));
            }
            None if !words.is_empty() || text.is_empty() => break words,
            None => {}
        }
    };
    let names: Vec<String> = header.split(',').map(|name| name.trim().trim_matches('"').to_owned()).collect();
    file.seek(SeekFrom::Start(at)).map_err(|error| cannot(&error))?;
    let reader = ReaderBuilder::new().has_headers(false).comment(Some(b'#')).flexible(true).from_reader(file);
    let table = Csv { name, reader, columns: places(&names), line };
    Ok(Opened { table: Box::new(table), names, start })
}

impl Table for Csv {
    fn place(&self) -> String {
        format!("line {}", self.line)
    }

    fn read(&self) -> u64 {
        self.reader.position().byte()
    }

    fn next(&mut self) -> anyhow::Result<Option<Cells>> {
        let mut record = ByteRecord::new();
        let more = self.reader.read_byte_record(&mut record).map_err(|error| {
            Fault::new(self.name.as_str(), format!("cannot be read on: {error}"))
                .wanted("intervals as CSV")
                .mend("check that the file was copied whole")
        })?;
        self.line += 1;
        if !more {
            return Ok(None);
        }
        if record.len() != self.columns.len() {
            let found = format!("{} cells, but {} columns have names", record.len(), self.columns.len());
            return Err(Fault::new(self.name.as_str(), found)
                .at(self.place())
                .wanted("a cell for each column")
                .mend("a file that ends in half a line was still being written: take the half line out")
                .into());
        }
        let mut cells = EMPTY;
        for (column, cell) in self.columns.iter().zip(&record) {
            let text = std::str::from_utf8(cell).unwrap_or("\u{fffd}").trim();
            let bad = |wanted: &str| {
                let shown: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
                Fault::new(self.name.as_str(), format!("'{shown}'"))
                    .at(self.place())
                    .wanted(wanted)
                    .mend("replay the trace anew: a file of a replay has no such cell")
            };
            match column {
                Place::State => cells.1 = Some(state(text).ok_or_else(|| bad(&words()))?),
                Place::Number(at) if !text.is_empty() => {
                    let number = text.parse::<f64>().ok().filter(|x| x.is_finite());
                    cells.0[*at] = number.ok_or_else(|| bad("a number, or nothing where there is none"))?;
                }
                Place::Number(_) | Place::Other => {}
            }
        }
        Ok(Some(cells))
    }
}
