//! From what a row says of its time to a moment of UTC: offsets, legal time, a count from a start, and clocks that were wrong.
//!
//! A correction holds for a span of the time as it really was. A row is read as corrected if that lies in the span. Where both readings
//! of a row do, the order of the rows decides: a clock that was set right makes stamps step back (it was fast), and one that was set
//! wrong does so at the begin (it was slow), or comes after a gap. A log that begins while its clock was slow, with stamps before the span,
//! is read as right: nothing tells it from one that began earlier.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::civil::DateTime;
use jiff::fmt::temporal::{Pieces, PiecesOffset};
use jiff::tz::{Offset, TimeZone};

use super::Span;
use super::cells::{Cells, Stamp, T_S, stamp};
use crate::error::Fault;
use crate::shift::calendar::{Calendar, Told, timestamp};
use crate::shift::site::Change;

/// Rows that a correction was applied to.
pub type Corrected = BTreeMap<usize, (u64, Span)>;

/// The time of a log's rows.
pub struct Stamps<'a> {
    name: String,
    site: &'a Calendar,
    /// The zone that the log states.
    own: Option<Calendar>,
    start: Option<Stamp>,
    /// The offset of its start.
    start_offset: Option<Offset>,
    /// Corrections of this log's clock, with their places among the changes.
    clocks: Vec<(usize, &'a Change)>,
    /// Whether the row before was corrected, and by which.
    now: Option<usize>,
    /// The end of the row before, as written and as it was.
    written_us: Option<i64>,
    last_us: Option<i64>,
    /// Whether some row has legal time.
    legal: bool,
    /// What was corrected.
    pub corrected: Corrected,
}

impl<'a> Stamps<'a> {
    /// Of a file.
    pub fn new(path: &Path, site: &'a Calendar, changes: &'a [Change]) -> Self {
        let name = path.display().to_string();
        let own = |(_, change): &(usize, &Change)| change.clock.as_ref().is_some_and(|clock| clock.is_of(&name));
        let clocks = changes.iter().enumerate().filter(own).collect();
        let mut stamps = Self {
            name: String::new(),
            site,
            own: None,
            start: None,
            start_offset: None,
            clocks,
            now: None,
            written_us: None,
            last_us: None,
            legal: false,
            corrected: Corrected::new(),
        };
        stamps.name = name;
        stamps
    }

    fn fault(&self, place: &str, found: impl Into<String>) -> Fault {
        Fault::new(self.name.as_str(), found).at(place)
    }

    /// The log states something of itself: when it began, its zone. Other keys are passed over.
    ///
    /// # Errors
    /// It is no time, or no zone.
    pub fn state(&mut self, key: &str, value: &str, place: &str) -> Result<(), Fault> {
        let value = value.trim().trim_matches('"');
        match key.trim().to_ascii_lowercase().as_str() {
            "start" => {
                self.start = Some(stamp(value).ok_or_else(|| {
                    self.fault(place, format!("the start is '{value}'"))
                        .wanted("a time such as 2026-03-02T06:00:00+01:00")
                })?);
                // Z tells a moment, but nothing of the clock on the wall.
                let offset = Pieces::parse(value).ok().and_then(|pieces| pieces.offset());
                self.start_offset =
                    offset.filter(|offset| *offset != PiecesOffset::Zulu).map(|o| o.to_numeric_offset());
            }
            "zone" => {
                let zone = TimeZone::get(value).map_err(|_| {
                    self.fault(place, format!("the zone is '{value}'"))
                        .wanted("a zone of the IANA database such as Europe/Berlin, or UTC")
                })?;
                self.own = Some(Calendar { zone, rules: Vec::new() });
            }
            _ => {}
        }
        Ok(())
    }

    /// Whether the log states when it began.
    pub fn starts(&self) -> bool {
        self.start.is_some()
    }

    /// What its times without an offset are.
    fn calendar(&self) -> &Calendar {
        self.own.as_ref().unwrap_or(self.site)
    }

    fn zone(&self) -> &str {
        self.calendar().zone.iana_name().unwrap_or("UTC")
    }

    /// What a reader should know of the log's zone.
    pub fn note(&self) -> Option<String> {
        let own = self.own.as_ref().filter(|own| self.legal && own.zone != self.site.zone)?;
        let [own, site] = [own, self.site].map(|calendar| calendar.zone.iana_name().unwrap_or("UTC"));
        Some(format!(
            "its times without an offset are read as those of {own}, the zone that it states; the site's is {site}"
        ))
    }

    /// When the log began, µs of UTC.
    pub fn start_us(&self) -> Option<i64> {
        match self.start? {
            Stamp::Utc(us) => Some(us),
            Stamp::Local(at) => match self.calendar().told(at) {
                Told::Once(us) => Some(us),
                Told::Never | Told::Twice(_) => None,
            },
        }
    }

    /// The end of a row, µs of UTC; `longest_us` is the length from which on there is a gap before it.
    ///
    /// # Errors
    /// It cannot be told.
    pub fn end_us(&mut self, cells: &Cells, place: &str, longest_us: i64) -> Result<i64, Fault> {
        let written_us = match cells.time {
            Some(Stamp::Utc(us)) => us,
            Some(Stamp::Local(at)) => self.legal(at, place)?,
            None => {
                let since = cells.numbers[T_S];
                if !(0.0..1e9).contains(&since) {
                    return Err(self
                        .fault(place, "t_s is no number of seconds")
                        .wanted("seconds since the log's start"));
                }
                let start_us = self.start_us().ok_or_else(|| {
                    self.fault(place, "the log's start is a time that the clocks skip or repeat that night")
                        .mend("write the start with its offset, such as 2026-10-25T02:30:00+01:00")
                })?;
                start_us + (since * 1e6).round() as i64
            }
        };
        self.now = self.clock(written_us, longest_us);
        let end_us = self.now.map_or(written_us, |at| self.clocks[at].1.right_us(written_us));
        if let Some(at) = self.now {
            let own = self.corrected.entry(self.clocks[at].0).or_insert((0, Span { from_us: end_us, to_us: end_us }));
            own.0 += 1;
            own.1.to_us = end_us;
        }
        (self.written_us, self.last_us) = (Some(written_us), Some(end_us));
        Ok(end_us)
    }

    /// The correction that holds for a row.
    fn clock(&self, written_us: i64, longest_us: i64) -> Option<usize> {
        self.clocks.iter().position(|(_, change)| {
            let right_us = change.right_us(written_us);
            let after = self.last_us.is_none_or(|last| right_us > last);
            if !change.holds(right_us) || !after {
                return false;
            }
            let on = self.now.is_some_and(|at| std::ptr::eq(self.clocks[at].1, *change));
            // What is read earlier than it was written cannot be a right row before the span.
            let fast = right_us < written_us;
            // The first row of a log that may be right and before the span is taken for that.
            let begins = self.last_us.map_or(written_us > change.at_us, |last| {
                written_us <= last || written_us.saturating_sub(last) > longest_us
            });
            on || fast || begins
        })
    }

    /// An event's time, µs of UTC, as it really was.
    pub fn event_us(&self, written_us: i64) -> i64 {
        let right = |(_, change): &(usize, &Change)| Some(change.right_us(written_us)).filter(|us| change.holds(*us));
        self.clocks.iter().find_map(right).unwrap_or(written_us)
    }

    /// A time of the wall clock: of one that comes twice the first, until that has passed.
    fn legal(&mut self, at: DateTime, place: &str) -> Result<i64, Fault> {
        if let (None, Some(offset), Some(start_us), false) = (&self.own, self.start_offset, self.start_us(), self.legal)
        {
            let site = self.site.zone.to_offset(timestamp(start_us));
            if site != offset {
                let found = format!(
                    "times without an offset, but the log's start has the offset {offset} and the site's zone, {}, had {site} then",
                    self.zone()
                );
                return Err(self
                    .fault(place, found)
                    .wanted("times that tell of which zone they are")
                    .mend("write the logger's zone before the names, such as # zone = America/New_York or # zone = UTC, or each time with its offset"));
            }
        }
        self.legal = true;
        match self.calendar().told(at) {
            Told::Once(us) => Ok(us),
            Told::Twice([first, second]) => {
                Ok(if self.written_us.is_some_and(|last| first <= last) { second } else { first })
            }
            Told::Never => Err(self
                .fault(place, format!("{at} is a time that the clocks of {} skip that night", self.zone()))
                .wanted("times of that zone, or with their offset")
                .mend("where the logger's clock shows another zone's time write that before the names, such as # zone = UTC; or write each time with its offset")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shift::calendar::tests::calendar;
    use crate::shift::site::{Changed, Clock};

    fn utc(text: &str) -> i64 {
        format!("2026-03-02T{text}Z").parse::<jiff::Timestamp>().unwrap().as_microsecond()
    }

    fn change(from: &str, to: &str, fast_s: i64) -> Change {
        Change {
            at_us: utc(from),
            what: Changed::Clock,
            note: None,
            who: "Wren".to_owned(),
            why: Some("battery".to_owned()),
            readings: None,
            clock: Some(Clock { to_us: utc(to), fast_us: fast_s * 1_000_000, log: None }),
        }
    }

    /// What rows of a minute are read as.
    fn read(change: Change, written: &[&str]) -> Vec<i64> {
        let (utc_zone, changes) = (calendar("UTC", &[]), [change]);
        let mut stamps = Stamps::new(Path::new("a.csv"), &utc_zone, &changes);
        let row = |text: &&str| Cells { time: Some(Stamp::Utc(utc(text))), ..Cells::EMPTY };
        written.iter().map(|text| stamps.end_us(&row(text), "", 90_000_000).unwrap()).collect()
    }

    /// By hand: whatever a clock did at both ends of the span, rows of every minute come out.
    #[test]
    fn a_clock_that_was_wrong() {
        let wanted: Vec<i64> = (0..6).map(|minute| utc("10:00:00") + minute * 60_000_000).collect();
        // Two minutes and a half fast from 10:01 to 10:03: stamps jump on, then step back.
        let fast = ["10:00:00", "10:01:00", "10:04:30", "10:05:30", "10:04:00", "10:05:00"];
        assert_eq!(read(change("10:01:00", "10:03:00", 150), &fast), wanted);
        // The same set right at the end of the span, or never: the span tells.
        let fast = ["10:00:00", "10:01:00", "10:04:30", "10:05:30", "10:06:30", "10:07:30"];
        assert_eq!(read(change("10:01:00", "12:00:00", 150), &fast), wanted);
        // Slow: stamps step back, then jump on.
        let slow = ["10:00:00", "10:01:00", "09:59:30", "10:00:30", "10:04:00", "10:05:00"];
        assert_eq!(read(change("10:01:00", "10:03:00", -150), &slow), wanted);
        // The log begins inside the span.
        let inside = ["10:02:30", "10:03:30", "10:04:30", "10:05:30", "10:06:30", "10:07:30"];
        assert_eq!(read(change("09:00:00", "12:00:00", 150), &inside), wanted);
    }

    #[test]
    fn a_zone_that_a_log_states() {
        let berlin = calendar("Europe/Berlin", &[]);
        let mut stamps = Stamps::new(Path::new("a.csv"), &berlin, &[]);
        stamps.state(" Zone ", " \"America/New_York\"", "").unwrap();
        stamps.state("start", "2026-03-02T05:00:00-05:00", "").unwrap();
        let row = Cells { time: stamp("2026-03-02T05:00"), ..Cells::EMPTY };
        assert_eq!(stamps.end_us(&row, "", 0).unwrap(), utc("10:00:00"));
        assert!(stamps.note().unwrap().contains("those of America/New_York"));
        for (offset, fault) in [("-05:00", true), ("+00:00", true), ("Z", false), ("+01:00", false)] {
            let mut stamps = Stamps::new(Path::new("a.csv"), &berlin, &[]);
            stamps.state("start", &format!("2026-03-02T05:00:00{offset}"), "").unwrap();
            let found = stamps.end_us(&row, "line 3", 0);
            assert_eq!(found.is_err(), fault, "{offset}");
            if let Err(words) = found {
                assert!(words.to_string().contains("# zone = America/New_York") && words.to_string().contains("+01"));
            }
        }
        assert!(Stamps::new(Path::new("a.csv"), &berlin, &[]).state("zone", "Berlin", "line 1").is_err());
    }
}
