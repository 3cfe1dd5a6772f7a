//! Interval logs as Parquet: the same columns, the start beside the table.

use std::path::Path;

use super::cells::{Cells, NUMBERS, Stamp, stamp};
use super::rows::Rows;
use super::source::Source;
use crate::columnar::{Column, Reader};
use crate::error::Fault;
use crate::minutes::STATES;
use crate::shift::calendar::timestamp;

/// Reads a file.
///
/// # Errors
/// It is no interval log, or its content is bad.
pub fn read(path: &Path, rows: &mut Rows<'_>) -> anyhow::Result<()> {
    let wanted: Vec<&str> = NUMBERS.into_iter().chain(["time", "state"]).collect();
    let cannot = |error| Fault::unreadable(path.display().to_string(), &error, "an interval log");
    // The check sum's pass is short beside that of the rows, which is told.
    let sum = Source::whole(path, &|_| ()).map_err(cannot)?;
    rows.was(sum);
    let mut reader = Reader::open(path, &wanted)?;
    for key in ["start", "zone"] {
        if let Some(value) = reader.about(key) {
            rows.stamps.state(key, value, key)?;
        }
    }
    let names = reader.names().to_vec();
    rows.columns(&reader.all().iter().map(String::as_str).collect::<Vec<_>>(), "")?;
    let name = path.display().to_string();
    let mut line = 0;
    while let Some(batch) = reader.batch()? {
        let count = batch.first().map_or(0, Column::count);
        let mut all = vec![Cells::EMPTY; count];
        for (column_name, column) in names.iter().zip(&batch) {
            let bad = |at: usize, found: &str, wanted: &str| {
                Fault::new(name.as_str(), found)
                    .at(format!("row {}, column {column_name}", line + at + 1))
                    .wanted(wanted)
            };
            let number = NUMBERS.iter().position(|known| known == column_name);
            match (column_name.as_str(), column) {
                ("time", Column::Moments(moments, utc)) => {
                    for (at, moment) in moments.iter().enumerate() {
                        let us = moment.ok_or_else(|| bad(at, "the row has no time", "a time in each row"))?;
                        let local = || Stamp::Local(jiff::tz::Offset::UTC.to_datetime(timestamp(us)));
                        all[at].time = Some(if *utc { Stamp::Utc(us) } else { local() });
                    }
                }
                ("time", Column::Words(words)) => {
                    for (at, word) in words.iter().enumerate() {
                        let time = word.as_deref().and_then(stamp);
                        let wanted = "a time such as 2026-03-02T06:00:00+01:00";
                        all[at].time = Some(time.ok_or_else(|| bad(at, word.as_deref().unwrap_or("no time"), wanted))?);
                    }
                }
                ("state", Column::Words(words)) => {
                    for (at, word) in words.iter().enumerate() {
                        let Some(word) = word else { continue };
                        let state = STATES.iter().position(|state| state == word);
                        all[at].state = Some(state.ok_or_else(|| bad(at, word, &STATES.join(", ")))?);
                    }
                }
                (_, Column::Numbers(numbers)) if number.is_some() => {
                    let place = number.unwrap_or(0);
                    all.iter_mut().zip(numbers).for_each(|(cells, x)| cells.numbers[place] = *x);
                }
                _ => {
                    return Err(
                        bad(0, "the column holds something else", "numbers; times in time, words in state").into()
                    );
                }
            }
        }
        for cells in all {
            line += 1;
            rows.take(cells, line as u64)?;
        }
        rows.told()((sum.bytes as f64 * count as f64 / reader.rows().max(1) as f64) as u64);
    }
    Ok(())
}
