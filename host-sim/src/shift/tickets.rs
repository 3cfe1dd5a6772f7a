//! Weigh tickets: what was broken, as it was weighed, and what was put right later.
//!
//! A CSV file with the columns `time`, `kg`, `who`, and as far as known `ticket`, `material`, `screen`, `entered`, `corrects`, `why`. A
//! row whose `corrects` names a ticket replaces that ticket's mass (0 strikes it out) and needs `why`. Nothing is lost: what was
//! there before is kept with who changed it and why.

use std::collections::BTreeMap;
use std::path::Path;

use super::calendar::Calendar;
use super::sheet::{Line, Sheet};
use super::site::Site;
use crate::error::Fault;
use crate::settings::place::nearest;

/// What was weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticket {
    /// Its number; empty: it has none.
    pub id: String,
    /// When it was weighed, µs of UTC.
    pub at_us: i64,
    /// What counts, kg.
    pub kg: f64,
    /// Of what.
    pub material: Option<String>,
    /// Through which screen.
    pub screen: Option<String>,
    /// Who weighed it.
    pub who: String,
    /// When it was written down, where that is told.
    pub entered_us: Option<i64>,
    /// Why it is late, where that is told.
    pub why: Option<String>,
    /// What was put right, in order.
    pub corrections: Vec<Correction>,
}

/// A correction of a ticket.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// What it was before, kg.
    pub from_kg: f64,
    /// What it is now, kg.
    pub to_kg: f64,
    /// Who says so.
    pub who: String,
    /// Why.
    pub why: String,
    /// When it was written down, µs of UTC.
    pub entered_us: Option<i64>,
}

/// All tickets of a period.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tickets {
    /// In order of time.
    pub all: Vec<Ticket>,
    /// What a reader should know.
    pub notes: Vec<String>,
    /// Whether a file of tickets was given at all.
    pub given: bool,
}

/// The heaviest load, kg.
const MOST_KG: f64 = 200_000.0;
const WANTED: &str = "weigh tickets as CSV: time,kg,who and more";
const COLUMNS: [&str; 9] = ["time", "kg", "who", "ticket", "material", "screen", "entered", "corrects", "why"];

/// One file while it is read.
struct File<'a> {
    sheet: &'a Sheet,
    site: &'a Site,
}

/// Reads files of tickets.
///
/// # Errors
/// A file cannot be read, or the first fault in it.
pub fn read(paths: &[std::path::PathBuf], site: &Site) -> anyhow::Result<Tickets> {
    let mut all = Tickets { given: !paths.is_empty(), ..Tickets::default() };
    let mut known = BTreeMap::new();
    for path in paths {
        file(path, site, &mut all, &mut known)?;
    }
    all.all.sort_by(|a, b| a.at_us.cmp(&b.at_us).then_with(|| a.id.cmp(&b.id)));
    Ok(all)
}

fn file(path: &Path, site: &Site, all: &mut Tickets, known: &mut BTreeMap<String, usize>) -> anyhow::Result<()> {
    take(&Sheet::read(path, &COLUMNS, 3, WANTED)?, site, all, known)
}

fn take(sheet: &Sheet, site: &Site, all: &mut Tickets, known: &mut BTreeMap<String, usize>) -> anyhow::Result<()> {
    let file = File { sheet, site };
    sheet.rows.iter().try_for_each(|row| file.take(row, all, known))?;
    Ok(())
}

/// Reads tickets that are there as text.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(name: &str, bytes: &[u8], site: &Site) -> anyhow::Result<Tickets> {
    let mut all = Tickets { given: true, ..Tickets::default() };
    take(&Sheet::of(name.to_owned(), bytes, &COLUMNS, 3, WANTED)?, site, &mut all, &mut BTreeMap::new())?;
    Ok(all)
}

impl File<'_> {
    fn name(&self, row: &Line, column: &'static str, names: &[String]) -> Result<Option<String>, Fault> {
        let Some(text) = self.sheet.get(row, column) else { return Ok(None) };
        if names.is_empty() || names.iter().any(|name| name == text) {
            return Ok(Some(text.to_owned()));
        }
        let near = nearest(text, names.iter().map(String::as_str));
        let mend = near
            .map_or_else(|| format!("add it to {column}s of the site's file"), |near| format!("did you mean {near}?"));
        Err(self
            .sheet
            .fault(row, column, format!("'{text}' is none of the site's"))
            .wanted(names.join(", "))
            .mend(mend))
    }

    fn take(&self, row: &Line, all: &mut Tickets, known: &mut BTreeMap<String, usize>) -> Result<(), Fault> {
        let sheet = self.sheet;
        let need = |column| sheet.need(row, column);
        let moment = |column| sheet.moment(row, column, &self.site.calendar);
        let who = need("who")?.to_owned();
        let text = need("kg")?;
        let kg = text.parse::<f64>().ok().filter(|kg| (0.0..=MOST_KG).contains(kg));
        let kg =
            kg.ok_or_else(|| self.sheet.fault(row, "kg", format!("'{text}'")).wanted("a mass in kg, 0 to 200000"))?;
        let entered_us = moment("entered")?;
        if let Some(id) = sheet.get(row, "corrects") {
            let Some(at) = known.get(id).copied() else {
                return Err(self
                    .sheet
                    .fault(row, "corrects", format!("there is no ticket {id} before"))
                    .wanted("the number of a ticket above, as its column ticket has it"));
            };
            let why = need("why")?.to_owned();
            let entered_us = entered_us.or(moment("time")?);
            let ticket = &mut all.all[at];
            ticket.corrections.push(Correction { from_kg: ticket.kg, to_kg: kg, who, why, entered_us });
            ticket.kg = kg;
            return Ok(());
        }
        need("time")?;
        let at_us = moment("time")?.unwrap_or(0);
        let ticket = Ticket {
            id: sheet.get(row, "ticket").unwrap_or_default().to_owned(),
            at_us,
            kg,
            material: self.name(row, "material", &self.site.materials)?,
            screen: self.name(row, "screen", &self.site.screens)?,
            who,
            entered_us,
            why: sheet.get(row, "why").map(str::to_owned),
            corrections: Vec::new(),
        };
        if ticket.id.is_empty() {
            all.all.push(ticket);
            return Ok(());
        }
        if let Some(at) = known.get(&ticket.id) {
            // What was put right since does not make it another ticket.
            let before = &all.all[*at];
            let first_kg = before.corrections.first().map_or(before.kg, |first| first.from_kg);
            let same = before.at_us == ticket.at_us && (first_kg - ticket.kg).abs() < 1e-9;
            if !same {
                return Err(self
                    .sheet
                    .fault(row, "ticket", format!("{} is there already, with another time or mass", ticket.id))
                    .wanted("each number once")
                    .mend("to put it right, write a row whose column corrects has the number"));
            }
            all.notes.push(format!(
                "{}, line {}: ticket {} is there twice; it counts once",
                sheet.name, row.line, ticket.id
            ));
            return Ok(());
        }
        known.insert(ticket.id.clone(), all.all.len());
        all.all.push(ticket);
        Ok(())
    }
}

impl Ticket {
    /// Whether it was written down late for a shift that ended then.
    pub fn late(&self, shift_end_us: i64, after_h: f64) -> bool {
        self.entered_us.is_some_and(|us| (us - shift_end_us) as f64 > after_h * 3.6e9)
    }
}

/// A moment of UTC as legal time, for people.
pub fn told(us: i64, calendar: &Calendar) -> String {
    calendar.stamp(us.div_euclid(crate::minutes::MINUTE_US))
}

#[cfg(test)]
mod tests {
    use super::super::site::tests::good;
    use super::*;

    fn tickets(text: &str) -> anyhow::Result<Tickets> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("tickets.csv");
        std::fs::write(&path, text).unwrap();
        read(&[path], &good())
    }

    #[test]
    fn a_correction_keeps_what_was_before() {
        let text = "ticket,time,kg,material,who,entered,corrects,why\n\
                    T2,2026-03-02T14:05,310,castings,Wren,,,\n\
                    T1,2026-03-02T13:00,500,windings,Wren,2026-03-03T09:00,,found in the drawer\n\
                    ,,0,,Finch,2026-03-03T10:00,T2,weighed for another yard\n\
                    T1,2026-03-02T13:00,500,windings,Wren,,,\n";
        let all = tickets(text).unwrap();
        assert_eq!(all.all.iter().map(|t| t.id.as_str()).collect::<Vec<_>>(), ["T1", "T2"]);
        let struck = &all.all[1];
        assert_eq!((struck.kg, struck.corrections.len()), (0.0, 1));
        assert_eq!((struck.corrections[0].from_kg, struck.corrections[0].who.as_str()), (310.0, "Finch"));
        let end = super::super::moment("2026-03-02T14:00", &good().calendar).unwrap();
        assert!(all.all[0].late(end, 12.0) && !all.all[0].late(end, 24.0) && !struck.late(end, 0.0));
        assert!(all.notes.len() == 1 && all.notes[0].contains("T1 is there twice"), "{:?}", all.notes);
    }

    #[test]
    fn what_is_wrong_has_place_and_cure() {
        for (text, parts) in [
            ("time,kg\n", ["line 1", "no column who"]),
            ("time,kgs,who\n", ["column kgs is not known", "did you mean kg?"]),
            ("time,kg,who\n2026-03-02T14:05,-1,Wren\n", ["line 2, column kg", "0 to 200000"]),
            ("time,kg,who\n2026-03-29T02:30,1,Wren\n", ["line 2, column time", "with its offset"]),
            ("time,kg,who\n2026-10-25T02:30,1,Wren\n", ["line 2, column time", "comes twice"]),
            ("time,kg,who\n2026-03-02T14:05,1,\n", ["line 2, column who", "nothing"]),
            ("time,kg,who,material\n2026-03-02T14:05,1,Wren,casting\n", ["column material", "did you mean castings?"]),
            ("time,kg,who,corrects\n2026-03-02T14:05,1,Wren,T9\n", ["column corrects", "no ticket T9"]),
            (
                "time,kg,who,ticket,corrects\n2026-03-02T14:05,1,Wren,T9,\n2026-03-02T14:05,1,Wren,,T9\n",
                ["column why", ""],
            ),
            (
                "time,kg,who,ticket\n2026-03-02T14:05,1,A,T9\n2026-03-02T14:05,2,A,T9\n",
                ["line 3, column ticket", "corrects"],
            ),
        ] {
            let words = tickets(text).unwrap_err().to_string();
            // Line 2 lacks `why` as a column.
            assert!(parts.iter().all(|part| words.contains(part)), "{text}: {words}");
        }
    }
}
