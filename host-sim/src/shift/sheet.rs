//! Tables that people keep by hand, as CSV: known columns, and each fault with its line and column.

use std::io::Read;
use std::path::Path;

use super::calendar::Calendar;
use crate::error::Fault;
use crate::settings::place::nearest;

/// A table.
pub struct Sheet {
    /// What faults call it.
    pub name: String,
    columns: &'static [&'static str],
    /// Its rows.
    pub rows: Vec<Line>,
}

/// A row: cells by the known columns; empty ones are not there.
pub struct Line {
    /// Its line in the file.
    pub line: u64,
    cells: Vec<Option<String>>,
}

impl Sheet {
    /// Reads a file; the first `needed` of the columns must be there.
    ///
    /// # Errors
    /// It cannot be read, has a column that is not known, or lacks one.
    pub fn read(
        path: &Path,
        columns: &'static [&'static str],
        needed: usize,
        wanted: &'static str,
    ) -> anyhow::Result<Self> {
        let name = path.display().to_string();
        let file = std::fs::File::open(path).map_err(|error| Fault::unreadable(name.as_str(), &error, wanted))?;
        Self::of(name, file, columns, needed, wanted)
    }

    /// Reads what is in a file.
    ///
    /// # Errors
    /// As [`Sheet::read`].
    pub fn of(
        name: String,
        file: impl Read,
        columns: &'static [&'static str],
        needed: usize,
        wanted: &'static str,
    ) -> anyhow::Result<Self> {
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(file);
        let bad = |error: &csv::Error| Fault::new(name.as_str(), error.to_string()).wanted(wanted);
        let header = reader.headers().map_err(|error| bad(&error))?.clone();
        let mut places = Vec::new();
        for own in header.iter().map(|own| own.trim_start_matches('\u{feff}')) {
            let at = columns.iter().position(|known| *known == own);
            places.push(at.ok_or_else(|| {
                let near = nearest(own, columns.iter().copied());
                let mend = match near {
                    _ if own.contains([';', '\t']) => "save it with commas between the columns".to_owned(),
                    Some(near) => format!("did you mean {near}?"),
                    None => "take the column out; is it the right file?".to_owned(),
                };
                let found = format!("column {own} is not known");
                Fault::new(name.as_str(), found).at("line 1").wanted(columns.join(", ")).mend(mend)
            })?);
        }
        if let Some(missing) = (0..needed).find(|need| !places.contains(need)) {
            let found = format!("no column {}", columns[missing]);
            return Err(Fault::new(name.as_str(), found).at("line 1").wanted(wanted).into());
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| bad(&error))?;
            let mut cells = vec![None; columns.len()];
            for (at, cell) in places.iter().zip(&record).filter(|(_, cell)| !cell.is_empty()) {
                cells[*at] = Some(cell.to_owned());
            }
            rows.push(Line { line: record.position().map_or(0, csv::Position::line), cells });
        }
        Ok(Self { name, columns, rows })
    }

    /// A cell.
    pub fn get<'a>(&self, row: &'a Line, column: &str) -> Option<&'a str> {
        self.columns.iter().position(|own| *own == column).and_then(|at| row.cells[at].as_deref())
    }

    /// A cell that must be there.
    ///
    /// # Errors
    /// It is empty.
    pub fn need<'a>(&self, row: &'a Line, column: &str) -> Result<&'a str, Fault> {
        let nothing = || self.fault(row, column, "there is nothing").wanted("a value in each row");
        self.get(row, column).ok_or_else(nothing)
    }

    /// A moment, µs of UTC.
    ///
    /// # Errors
    /// It is none.
    pub fn moment(&self, row: &Line, column: &str, calendar: &Calendar) -> Result<Option<i64>, Fault> {
        let Some(text) = self.get(row, column) else { return Ok(None) };
        super::moment(text, calendar).map(Some).map_err(|why| {
            self.fault(row, column, format!("'{text}' {why}"))
                .wanted("a time such as 2026-03-02T14:05, of the site's zone")
                .mend("where the clocks change write it with its offset: 2026-10-25T02:30+01:00")
        })
    }

    /// A fault in a cell.
    pub fn fault(&self, row: &Line, column: &str, found: impl Into<String>) -> Fault {
        Fault::new(self.name.as_str(), found).at(format!("line {}, column {column}", row.line))
    }
}
