//! Interval logs as CSV: names of columns in the first line that is no comment.

use std::io::{BufRead, BufReader};
use std::path::Path;

use super::cells::{Cells, NUMBERS, stamp};
use super::rows::Rows;
use super::source::Source;
use crate::error::Fault;
use crate::interval_csv::{self, number, shown};
use crate::minutes::STATES;

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
pub fn lines(file: impl BufRead, rows: &mut Rows<'_>) -> anyhow::Result<()> {
    let name = rows.name();
    let state = |key: &str, value: &str, place: &str| rows.stamps.state(key, value, place);
    let Some(mut table) = interval_csv::open(file, &name, "an interval log", state)? else {
        return Err(Fault::new(name, "is empty").wanted("an interval log").mend("look for what became of it").into());
    };
    let names: Vec<&str> = table.names().iter().map(String::as_str).collect();
    rows.columns(&names, &format!("line {}", table.line()))?;
    let column = |name: &&str| match *name {
        "time" => Column::Time,
        "state" => Column::State,
        name => NUMBERS.iter().position(|known| *known == name).map_or(Column::Other, Column::Number),
    };
    let columns: Vec<Column> = names.iter().map(column).collect();
    while table.advance()? {
        let here = table.line();
        let place = || format!("line {here}");
        let mut cells = Cells::EMPTY;
        for (column, cell) in columns.iter().zip(table.cells()) {
            let cell = cell.trim_ascii();
            if cell.is_empty() {
                continue;
            }
            let bad = |what: &str, wanted: String| {
                let shown = shown(&String::from_utf8_lossy(cell));
                Fault::new(name.as_str(), format!("'{shown}'")).at(format!("{}, column {what}", place())).wanted(wanted)
            };
            let text = std::str::from_utf8(cell).unwrap_or("\u{fffd}");
            match column {
                Column::Number(at) => {
                    cells.numbers[*at] = number(text)
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
    Ok(())
}
