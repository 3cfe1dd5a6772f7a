//! Stoppages: why the mill stood, as people tell it.
//!
//! A CSV file with the columns `from`, `to`, `reason`, `who`. Stopped time has one reason: stoppages do not overlap.

use std::path::PathBuf;

use super::calendar::Calendar;
use super::log::Span;
use super::sheet::Sheet;
use crate::error::Fault;

/// A stoppage.
#[derive(Debug, Clone, PartialEq)]
pub struct Stoppage {
    /// When.
    pub span: Span,
    /// Why.
    pub reason: String,
    /// Who says so.
    pub who: String,
}

/// All stoppages.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Stoppages {
    /// In order of time.
    pub all: Vec<Stoppage>,
    /// Whether a file of them was given at all.
    pub given: bool,
}

const COLUMNS: [&str; 4] = ["from", "to", "reason", "who"];
const WANTED: &str = "stoppages as CSV: from,to,reason,who";
/// What no one has told.
pub const NO_REASON: &str = "no reason given";

/// Reads files of stoppages.
///
/// # Errors
/// A file cannot be read, or the first fault in it.
pub fn read(paths: &[PathBuf], calendar: &Calendar) -> anyhow::Result<Stoppages> {
    let read = |path: &PathBuf| Sheet::read(path, &COLUMNS, COLUMNS.len(), WANTED);
    let sheets = paths.iter().map(read).collect::<anyhow::Result<Vec<_>>>()?;
    of(&sheets, calendar)
}

/// Reads stoppages that are there as text.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(name: &str, bytes: &[u8], calendar: &Calendar) -> anyhow::Result<Stoppages> {
    of(&[Sheet::of(name.to_owned(), bytes, &COLUMNS, COLUMNS.len(), WANTED)?], calendar)
}

fn of(sheets: &[Sheet], calendar: &Calendar) -> anyhow::Result<Stoppages> {
    let mut all: Vec<(Stoppage, String)> = Vec::new();
    for sheet in sheets {
        for row in &sheet.rows {
            let (reason, who) = (sheet.need(row, "reason")?.to_owned(), sheet.need(row, "who")?.to_owned());
            sheet.need(row, "from").and(sheet.need(row, "to"))?;
            let from_us = sheet.moment(row, "from", calendar)?.unwrap_or(0);
            let to_us = sheet.moment(row, "to", calendar)?.unwrap_or(0);
            if to_us <= from_us {
                return Err(sheet
                    .fault(row, "to", "it is not after from")
                    .wanted("the end of the stoppage, on the next day where it is over midnight")
                    .into());
            }
            if reason == NO_REASON {
                return Err(sheet
                    .fault(row, "reason", format!("'{reason}' is no reason"))
                    .mend("leave the row out")
                    .into());
            }
            let place = format!("{}, line {}", sheet.name, row.line);
            let same = |(own, _): &(Stoppage, String)| own.span.from_us < to_us && from_us < own.span.to_us;
            if let Some((_, other)) = all.iter().find(|own| same(own)) {
                return Err(Fault::new(sheet.name.as_str(), format!("the stoppage overlaps that of {other}"))
                    .at(format!("line {}", row.line))
                    .wanted("one reason for each time")
                    .mend("end the one where the other begins")
                    .into());
            }
            all.push((Stoppage { span: Span { from_us, to_us }, reason, who }, place));
        }
    }
    let mut all: Vec<Stoppage> = all.into_iter().map(|(stoppage, _)| stoppage).collect();
    all.sort_by_key(|stoppage| stoppage.span);
    Ok(Stoppages { all, given: !sheets.is_empty() })
}

#[cfg(test)]
mod tests {
    use super::super::site::tests::good;
    use super::*;

    fn stoppages(text: &str) -> anyhow::Result<Stoppages> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("stoppages.csv");
        std::fs::write(&path, text).unwrap();
        read(&[path], &good().calendar)
    }

    #[test]
    fn stoppages_are_read_in_order() {
        let text = "reason,from,to,who\nscreen,2026-03-02T12:00,2026-03-02T12:30,Wren\n\
                    # a comment\nlunch,2026-03-02T11:30,2026-03-02T12:00,Finch\n";
        let all = stoppages(text).unwrap();
        let told: Vec<_> = all.all.iter().map(|one| (one.reason.as_str(), one.who.as_str())).collect();
        assert_eq!(told, [("lunch", "Finch"), ("screen", "Wren")]);
        assert_eq!(all.all[0].span.to_us, all.all[1].span.from_us, "they touch");
        assert!(all.given && !Stoppages::default().given);
    }

    #[test]
    fn what_is_wrong_has_place_and_cure() {
        let row = "2026-03-02T12:00,2026-03-02T12:30,screen,Wren\n";
        for (text, parts) in [
            ("from,to,reason\n", ["line 1", "no column who"]),
            ("from,to,reasons,who\n", ["reasons is not known", "did you mean reason?"]),
            ("from,to,reason,who\n2026-03-02T12:00,2026-03-02T12:30,,Wren\n", ["line 2, column reason", "nothing"]),
            ("from,to,reason,who\n2026-03-02T12:00,2026-03-02T11:30,a,Wren\n", ["line 2, column to", "not after"]),
            ("from,to,reason,who\n2026-03-29T02:30,2026-03-29T04:00,a,Wren\n", ["column from", "with its offset"]),
            (&format!("from,to,reason,who\n{row}{}", row.replace("12:00", "12:29")), ["line 3", "csv, line 2"]),
            (&format!("from,to,reason,who\n{}", row.replace("screen", NO_REASON)), ["is no reason", "leave the row"]),
        ] {
            let words = stoppages(text).unwrap_err().to_string();
            assert!(parts.iter().all(|part| words.contains(part)), "{text}: {words}");
        }
    }
}
