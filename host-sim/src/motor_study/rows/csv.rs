//! Intervals as CSV: names of columns in the first line that is no comment.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use super::{Cells, EMPTY, Opened, Place, Table, places, state, words};
use crate::error::Fault;
use crate::interval_csv::{self, Rows, number, shown};

/// What a file should be.
const WHAT: &str = "intervals of a replay";

/// A file that is being read.
struct Csv {
    name: String,
    rows: Rows<BufReader<File>>,
    columns: Vec<Place>,
}

/// A file without a line.
struct Empty;

/// Opens a file.
///
/// # Errors
/// It cannot be read.
pub fn open(path: &Path) -> anyhow::Result<Opened> {
    let name = path.display().to_string();
    let file = File::open(path).map_err(|error| Fault::unreadable(name.as_str(), &error, WHAT))?;
    let file = BufReader::with_capacity(256 * 1024, file);
    let mut start = None;
    let opened = interval_csv::open(file, &name, WHAT, |key, value, _| {
        if key.trim() == "start" && start.is_none() {
            start = Some(value.trim().trim_matches('"').to_owned());
        }
        Ok(())
    })?;
    let Some(rows) = opened else {
        return Ok(Opened { table: Box::new(Empty), names: Vec::new(), start });
    };
    let names = rows.names().to_vec();
    let table = Csv { name, rows, columns: places(&names) };
    Ok(Opened { table: Box::new(table), names, start })
}

impl Table for Empty {
    fn place(&self) -> String {
        String::new()
    }

    fn read(&self) -> u64 {
        0
    }

    fn next(&mut self) -> anyhow::Result<Option<Cells>> {
        Ok(None)
    }
}

impl Table for Csv {
    fn place(&self) -> String {
        format!("line {}", self.rows.line())
    }

    fn read(&self) -> u64 {
        self.rows.read()
    }

    fn next(&mut self) -> anyhow::Result<Option<Cells>> {
        if !self.rows.advance()? {
            return Ok(None);
        }
        let mut cells = EMPTY;
        for (column, cell) in self.columns.iter().zip(self.rows.cells()) {
            let text = std::str::from_utf8(cell).unwrap_or("\u{fffd}").trim();
            let bad = |wanted: &str| {
                Fault::new(self.name.as_str(), format!("'{}'", shown(text)))
                    .at(self.place())
                    .wanted(wanted)
                    .mend("replay the trace anew: a file of a replay has no such cell")
            };
            match column {
                Place::State => cells.1 = Some(state(text).ok_or_else(|| bad(&words()))?),
                Place::Number(at) if !text.is_empty() => {
                    cells.0[*at] = number(text).ok_or_else(|| bad("a number, or nothing where there is none"))?;
                }
                Place::Number(_) | Place::Other => {}
            }
        }
        Ok(Some(cells))
    }
}
