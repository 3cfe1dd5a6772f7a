//! Intervals as Parquet: the same columns, the start beside the table.

use std::collections::VecDeque;
use std::path::Path;

use super::{COLUMNS, Cells, EMPTY, Opened, Place, Table, places, state, words};
use crate::columnar::{Column, Reader};
use crate::error::Fault;

/// A file that is being read.
struct Parquet {
    name: String,
    reader: Reader,
    columns: Vec<Place>,
    left: VecDeque<Cells>,
    /// Rows so far.
    row: u64,
}

/// Opens a file.
///
/// # Errors
/// It is no table.
pub fn open(path: &Path) -> anyhow::Result<Opened> {
    let wanted: Vec<&str> = COLUMNS.into_iter().chain(["state"]).collect();
    let reader = Reader::open(path, &wanted)?;
    let (names, start) = (reader.names().to_vec(), reader.about("start").map(str::to_owned));
    let name = path.display().to_string();
    let table = Parquet { name, reader, columns: places(&names), left: VecDeque::new(), row: 0 };
    Ok(Opened { table: Box::new(table), names, start })
}

impl Table for Parquet {
    fn place(&self) -> String {
        format!("row {}", self.row)
    }

    /// Not told: rows are read in groups.
    fn read(&self) -> u64 {
        0
    }

    fn next(&mut self) -> anyhow::Result<Option<Cells>> {
        while self.left.is_empty() {
            let Some(batch) = self.reader.batch()? else { return Ok(None) };
            self.left = turned(&self.name, &self.columns, &batch)?;
        }
        self.row += 1;
        Ok(self.left.pop_front())
    }
}

/// Columns of a batch as rows.
fn turned(name: &str, columns: &[Place], batch: &[Column]) -> anyhow::Result<VecDeque<Cells>> {
    let mut all: VecDeque<Cells> = VecDeque::new();
    for (at, column) in columns.iter().zip(batch) {
        all.resize(column.count(), EMPTY);
        match (at, column) {
            (Place::Number(at), Column::Numbers(numbers)) => {
                all.iter_mut().zip(numbers).for_each(|(cells, x)| cells.0[*at] = *x);
            }
            (Place::State, Column::Words(states)) => {
                for (cells, word) in all.iter_mut().zip(states) {
                    let word = word.as_deref().unwrap_or("");
                    let fault = || {
                        Fault::new(name, format!("'{word}' in column state"))
                            .wanted(words())
                            .mend("replay the trace anew")
                    };
                    cells.1 = Some(state(word).ok_or_else(fault)?);
                }
            }
            _ => {
                return Err(Fault::new(name, "a column holds something else")
                    .wanted("numbers; words in state")
                    .mend("replay the trace anew")
                    .into());
            }
        }
    }
    Ok(all)
}
