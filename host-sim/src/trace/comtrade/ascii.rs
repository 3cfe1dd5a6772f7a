//! A record of text data: `n,stamp,A1,A2,…,D1,D2,…`.

use super::channel::Analog;
use super::record::finite;
use crate::trace::cells::Cells;
use crate::trace::number::{self, NoNumber};

/// The code of a missing value in text, unless the channel's range holds it.
const MISSING: f64 = 99_999.0;

/// Number and stamp of a record, where they are given.
pub(super) struct Head {
    pub number: Option<f64>,
    pub stamp: Option<f64>,
}

/// Reads a record and appends its values to the columns, NaN where missing; what is wrong with it
/// in words otherwise (some columns may then be one longer than others).
pub(super) fn frame(
    line: &[u8],
    analogs: &[Analog],
    digital: usize,
    status: Option<usize>,
    columns: &mut [Vec<f64>],
) -> Result<Head, String> {
    let mut cells = Cells::new(line);
    let head = [next(&mut cells, line, analogs.len(), digital)?, next(&mut cells, line, analogs.len(), digital)?];
    for (analog, column) in analogs.iter().zip(&mut *columns) {
        let value = next(&mut cells, line, analogs.len(), digital)?.filter(|x| !is_missing(*x, analog));
        column.push(value.map_or(f64::NAN, |x| finite(x * analog.slope + analog.offset)));
    }
    let rest = cells.rest();
    let states = rest.map_or(0, |rest| memchr::memchr_iter(b',', rest).count() + 1);
    // Some writers end the line with a comma.
    let spare = rest.is_some_and(|rest| rest.is_empty() || rest.ends_with(b","));
    if states == digital || (spare && states == digital + 1) {
        let [number, stamp] = head;
        if let (Some(status), Some(column)) = (status, columns.get_mut(analogs.len())) {
            column.push(state(rest.and_then(|rest| rest.split(|byte| *byte == b',').nth(status)))?);
        }
        return Ok(Head { number, stamp });
    }
    Err(count(line, analogs.len(), digital))
}

/// A state in text: 0 or 1; NaN where the field is empty.
fn state(field: Option<&[u8]>) -> Result<f64, String> {
    match field.map(<[u8]>::trim_ascii) {
        Some(b"0") => Ok(0.0),
        Some(b"1") => Ok(1.0),
        None | Some(b"") => Ok(f64::NAN),
        Some(other) => Err(format!("a status value is '{}', not 0 or 1", String::from_utf8_lossy(other))),
    }
}

fn is_missing(x: f64, analog: &Analog) -> bool {
    // The code is a whole number: equality is meant.
    x.to_bits() == MISSING.to_bits() && analog.range.is_none_or(|(low, high)| x < low || x > high)
}

/// The next field: `None` when it is empty.
#[inline]
fn next(cells: &mut Cells<'_>, line: &[u8], analogs: usize, digital: usize) -> Result<Option<f64>, String> {
    if let Some(value) = cells.number() {
        return Ok(Some(value));
    }
    if cells.rest().is_none() {
        return Err(count(line, analogs, digital));
    }
    cells.figure(optional).map_err(|(error, text)| format!("a field is {}", error.found(text)))
}

fn optional(cell: &[u8]) -> Result<Option<f64>, NoNumber> {
    match number::number(cell) {
        Ok(value) => Ok(Some(value)),
        Err(NoNumber::Empty) => Ok(None),
        Err(error) => Err(error),
    }
}

fn count(line: &[u8], analogs: usize, digital: usize) -> String {
    let have = memchr::memchr_iter(b',', line).count() + 1;
    format!("a record has {have} fields, not the {} that the configuration announces", 2 + analogs + digital)
}

#[cfg(test)]
mod tests {
    use super::super::channel::analog;
    use super::*;

    fn read(line: &str, digital: usize) -> Result<(Option<f64>, String), String> {
        let narrow = analog("1,IA,A,,A,2,1,0,-32767,32767,1,1,P", false).unwrap();
        let wide = analog("2,IB,B,,A,1,0,0,-100000,100000,1,1,P", false).unwrap();
        let mut columns = vec![vec![], vec![]];
        let head = frame(line.as_bytes(), &[narrow, wide], digital, None, &mut columns)?;
        Ok((head.stamp, format!("{} {}", columns[0][0], columns[1][0])))
    }

    #[test]
    fn records_of_text() {
        // IEEE C37.111-1999, 6.4: 99999 is missing; an empty field is in 1991 and 2013.
        assert_eq!(read("1,250,-3,+000004,0", 1), Ok((Some(250.0), "-5 4".into())));
        assert_eq!(read("1,,99999,99999", 0), Ok((None, "NaN 99999".into())));
        assert_eq!(read("1,-77500, 2.5 ,,0,1,", 2), Ok((Some(-77500.0), "6 NaN".into())));
    }

    #[test]
    fn cut_and_overlong_records_are_refused() {
        for (line, digital) in
            [("1,250,-3", 0), ("1,250,-3,4", 1), ("1,250,-3,4,0,1", 1), ("1", 0), ("1,250,x,4", 0), ("1,250,nan,4", 0)]
        {
            assert!(read(line, digital).is_err(), "{line}");
        }
    }
}
