//! Interval logs as CSV: names of columns in the first line that is no comment.

use std::io::{BufRead, BufReader, Read as _};
use std::path::Path;

use csv::{ByteRecord, ReaderBuilder};

use super::cells::{Cells, NUMBERS, stamp};
use super::rows::Rows;
use super::source::Source;
use crate::error::Fault;
use crate::minutes::STATES;

/// A longer line is no line of a log.
const LONGEST_LINE: u64 = 64 * 1024;

/// What a column is.
#[derive(Clone, Copy)]
enum Column {
    Number(usize),
    Time,
    State,
    Other,
}

/// Reads a file.
///
/// # Errors
/// It is no interval log, or its content is bad.
pub fn read(path: &Path, rows: &mut Rows<'_>) -> anyhow::Result<()> {
    let unreadable = |error| Fault::unreadable(path.display().to_string(), &error, "an interval log");
    let source = Source::open(path, rows.told()).map_err(unreadable)?;
    let mut file = BufReader::with_capacity(256 * 1024, source);
    lines(&mut file, rows)?;
    rows.was(file.get_ref().sum());
    Ok(())
}

/// Reads its lines.
///
/// # Errors
/// As [`read`].
pub fn lines(mut file: impl BufRead, rows: &mut Rows<'_>) -> anyhow::Result<()> {
    let name = rows.name();
    let cannot = |error: &std::io::Error| Fault::unreadable(name.as_str(), error, "an interval log");
    let mut line = 0u64;
    let header = loop {
        let mut text = Vec::new();
        file.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut text).map_err(|error| cannot(&error))?;
        line += 1;
        if text.is_empty() {
            return Err(Fault::new(name, "is empty")
                .wanted("an interval log")
                .mend("look for what became of it")
                .into());
        }
        let words = String::from_utf8_lossy(&text).trim_start_matches('\u{feff}').trim().to_owned();
        if let Some(comment) = words.strip_prefix('#') {
            if let Some((key, value)) = comment.split_once('=') {
                rows.stamps.state(key, value, &format!("line {line}"))?;
            }
        } else if !words.is_empty() {
            break words;
        }
    };
    let names: Vec<&str> = header.split(',').map(|name| name.trim().trim_matches('"')).collect();
    rows.columns(&names, &format!("line {line}"))?;
    let column = |name: &&str| match *name {
        "time" => Column::Time,
        "state" => Column::State,
        name => NUMBERS.iter().position(|known| *known == name).map_or(Column::Other, Column::Number),
    };
    let columns: Vec<Column> = names.iter().map(column).collect();
    let mut reader = ReaderBuilder::new().has_headers(false).comment(Some(b'#')).flexible(true).from_reader(file);
    let mut record = ByteRecord::new();
    loop {
        let more = reader.read_byte_record(&mut record).map_err(|error| {
            Fault::new(name.as_str(), format!("cannot be read on: {error}")).wanted("an interval log as CSV")
        })?;
        if !more {
            return Ok(());
        }
        let here = line + record.position().map_or(0, csv::Position::line);
        let place = || format!("line {here}");
        if record.len() != columns.len() {
            let found = format!("{} cells, but {} columns have names", record.len(), columns.len());
            return Err(Fault::new(name.as_str(), found)
                .at(place())
                .wanted("a cell for each column")
                .mend("a file that ends in half a line was still being written: take the half line out")
                .into());
        }
        let mut cells = Cells::EMPTY;
        for (column, cell) in columns.iter().zip(&record) {
            let cell = cell.trim_ascii();
            if cell.is_empty() {
                continue;
            }
            let bad = |what: &str, wanted: String| {
                let shown: String =
                    String::from_utf8_lossy(cell).chars().filter(|c| !c.is_control()).take(40).collect();
                Fault::new(name.as_str(), format!("'{shown}'")).at(format!("{}, column {what}", place())).wanted(wanted)
            };
            let text = std::str::from_utf8(cell).unwrap_or("\u{fffd}");
            match column {
                Column::Number(at) => {
                    let number = text.parse::<f64>().ok().filter(|x| x.is_finite());
                    cells.numbers[*at] = number
                        .ok_or_else(|| bad(NUMBERS[*at], "a number, or nothing where there is none".to_owned()))?;
                }
                Column::Time => {
                    let wanted = "a time such as 2026-03-02T06:00:00+01:00".to_owned();
                    cells.time = Some(stamp(text).ok_or_else(|| bad("time", wanted))?);
                }
                Column::State => {
                    let state = STATES.iter().position(|state| *state == text);
                    cells.state = Some(state.ok_or_else(|| bad("state", STATES.join(", ")))?);
                }
                Column::Other => {}
            }
        }
        if cells.time.is_none() && columns.iter().any(|column| matches!(column, Column::Time)) {
            let found = "the row has no time";
            return Err(Fault::new(name.as_str(), found).at(place()).wanted("a time in each row").into());
        }
        rows.take(cells, here)?;
    }
}
