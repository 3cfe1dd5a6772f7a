//! When shifts begin and end: legal time in, UTC out.
//!
//! A shift belongs to the date on which it begins. Its begin and end are times of the wall clock, so that a night shift is an hour
//! shorter or longer when the clocks change; its length is elapsed time. A time that the clocks skip is read with the offset before the
//! change (02:30 becomes 03:30), one that comes twice is the first of the two: RFC 5545, 3.3.5. Where that makes a shift reach into
//! the next one, it ends where the next begins.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time, Weekday};
use jiff::tz::{AmbiguousOffset, TimeZone};

use crate::minutes::MINUTE_US;

/// A shift as the site plans it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    /// Its name.
    pub name: String,
    /// Who works it.
    pub crew: Option<String>,
    /// Its begin, wall clock.
    pub start: Time,
    /// Its end; not after the begin: on the next day.
    pub end: Time,
    /// The days on which it begins, Monday first.
    pub days: [bool; 7],
}

/// A shift that was, or should have been, worked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shift {
    /// Its name.
    pub name: String,
    /// Who works it.
    pub crew: Option<String>,
    /// The date on which it begins.
    pub date: Date,
    /// Its begin, minutes of UTC since 1970.
    pub from: i64,
    /// Its end.
    pub to: i64,
}

/// The shifts of a site and its zone.
#[derive(Debug, Clone)]
pub struct Calendar {
    /// Legal time.
    pub zone: TimeZone,
    /// The plan.
    pub rules: Vec<Rule>,
}

/// What legal time says of a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// There is one such moment, µs of UTC.
    Once(i64),
    /// The clocks skip it.
    Never,
    /// It comes twice.
    Twice([i64; 2]),
}

/// Days of a week, Monday first, as they are written.
pub const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// Whether a list of days has this one.
pub fn has(days: &[bool; 7], day: Weekday) -> bool {
    days[day.to_monday_zero_offset() as usize]
}

/// A moment, µs of UTC since 1970; what is out of jiff's range becomes its end.
pub fn timestamp(us: i64) -> Timestamp {
    Timestamp::from_microsecond(us).unwrap_or(if us < 0 { Timestamp::MIN } else { Timestamp::MAX })
}

impl Calendar {
    /// What a time of the wall clock is.
    pub fn told(&self, at: DateTime) -> Told {
        let ambiguous = self.zone.to_ambiguous_timestamp(at);
        let earlier = ambiguous.earlier().map_or(0, Timestamp::as_microsecond);
        match ambiguous.offset() {
            AmbiguousOffset::Unambiguous { .. } => Told::Once(earlier),
            AmbiguousOffset::Gap { .. } => Told::Never,
            AmbiguousOffset::Fold { .. } => {
                Told::Twice([earlier, ambiguous.later().map_or(earlier, Timestamp::as_microsecond)])
            }
        }
    }

    /// Where a planned time lies, µs of UTC: as RFC 5545 reads it.
    pub fn planned(&self, at: DateTime) -> i64 {
        self.zone.to_ambiguous_timestamp(at).compatible().map_or(0, Timestamp::as_microsecond)
    }

    /// Legal time at a minute of UTC.
    pub fn local(&self, minute: i64) -> DateTime {
        self.zone.to_datetime(timestamp(minute * MINUTE_US))
    }

    /// Minutes by which legal time is ahead of UTC.
    pub fn offset_min(&self, minute: i64) -> i64 {
        i64::from(self.zone.to_offset(timestamp(minute * MINUTE_US)).seconds() / 60)
    }

    /// Legal time with its offset, to the minute.
    pub fn stamp(&self, minute: i64) -> String {
        timestamp(minute * MINUTE_US).to_zoned_datetime(self.zone.clone()).strftime("%Y-%m-%d %H:%M %:z").to_string()
    }

    /// Where the books of a day begin: at its midnight, or where a shift that began the day before ends.
    pub fn border(&self, date: Date) -> i64 {
        let midnight = self.planned(date.to_datetime(Time::midnight())).div_euclid(MINUTE_US);
        let before = date.yesterday().unwrap_or(date);
        self.shifts(before, before).iter().map(|shift| shift.to).fold(midnight, i64::max)
    }

    /// The stretch around a minute in which no shift and no day begins or ends; minutes.
    pub fn stretch(&self, minute: i64) -> [i64; 2] {
        let date = self.local(minute).date();
        let (before, after) = (date.yesterday().unwrap_or(date), date.tomorrow().unwrap_or(date));
        let midnight = |date: Date| self.planned(date.to_datetime(Time::midnight())).div_euclid(MINUTE_US);
        let mut borders: Vec<i64> =
            self.shifts(before, after).iter().flat_map(|shift| [shift.from, shift.to]).collect();
        borders.extend([date, after].map(midnight));
        let from = borders.iter().copied().filter(|border| *border <= minute).max();
        let to = borders.iter().copied().filter(|border| *border > minute).min();
        [from.unwrap_or(minute), to.unwrap_or(minute + 1)]
    }

    /// The shifts that begin on these days, in order of time.
    pub fn shifts(&self, from: Date, to: Date) -> Vec<Shift> {
        let mut all = Vec::new();
        let mut date = from;
        // One that begins the day after may cut the last one short.
        let after = to.tomorrow().unwrap_or(to);
        while date <= after {
            for rule in self.rules.iter().filter(|rule| has(&rule.days, date.weekday())) {
                let end_date = if rule.end > rule.start { date } else { date.tomorrow().unwrap_or(date) };
                let at = |date: Date, time| self.planned(date.to_datetime(time)).div_euclid(MINUTE_US);
                let (from, to) = (at(date, rule.start), at(end_date, rule.end));
                if to > from {
                    all.push(Shift { name: rule.name.clone(), crew: rule.crew.clone(), date, from, to });
                }
            }
            let Ok(next) = date.tomorrow() else { break };
            date = next;
        }
        all.sort_by_key(|shift| (shift.from, shift.to));
        for at in 1..all.len() {
            let next = all[at].from;
            let before = &mut all[at - 1];
            before.to = before.to.min(next);
        }
        all.retain(|shift| shift.date <= to);
        all
    }
}

/// Two shifts of the plan that overlap, whatever the clocks do.
pub fn overlap(rules: &[Rule]) -> Option<(usize, usize)> {
    const DAY: i64 = 1_440;
    const WEEK: i64 = 7 * DAY;
    let minute = |time: Time| i64::from(time.hour()) * 60 + i64::from(time.minute());
    let mut spans = Vec::new();
    for (at, rule) in rules.iter().enumerate() {
        let (start, end) = (minute(rule.start), minute(rule.end));
        let length = if end > start { end - start } else { end + DAY - start };
        spans.extend((0..7).filter(|day| rule.days[*day as usize]).map(|day| (day * DAY + start, length, at)));
    }
    // The week goes round.
    spans.extend(spans.clone().into_iter().map(|(from, length, at)| (from + WEEK, length, at)));
    spans.sort_unstable();
    spans.windows(2).find(|pair| pair[0].0 + pair[0].1 > pair[1].0).map(|pair| (pair[0].2, pair[1].2))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn rule(name: &str, start: &str, end: &str) -> Rule {
        let time = |text: &str| text.parse().unwrap();
        Rule { name: name.to_owned(), crew: None, start: time(start), end: time(end), days: [true; 7] }
    }

    pub(crate) fn calendar(zone: &str, rules: &[(&str, &str, &str)]) -> Calendar {
        let rules = rules.iter().map(|(name, start, end)| rule(name, start, end)).collect();
        Calendar { zone: TimeZone::get(zone).unwrap(), rules }
    }

    fn hours(zone: &str, date: &str) -> f64 {
        let date = date.parse().unwrap();
        let all = calendar(zone, &[("night", "22:00", "06:00")]).shifts(date, date);
        (all[0].to - all[0].from) as f64 / 60.0
    }

    /// Elapsed hours of a shift from 22:00 to 06:00, worked out from the IANA time zone database.
    #[test]
    fn a_night_shift_is_as_long_as_the_clocks_make_it() {
        for (zone, date, wanted) in [
            ("America/New_York", "2026-03-07", 7.0),
            ("America/New_York", "2026-10-31", 9.0),
            ("America/New_York", "2026-06-10", 8.0),
            ("Europe/Berlin", "2026-03-28", 7.0),
            ("Europe/Berlin", "2026-10-24", 9.0),
            ("Australia/Sydney", "2026-04-04", 9.0),
            ("Australia/Sydney", "2026-10-03", 7.0),
        ] {
            assert!((hours(zone, date) - wanted).abs() < 1e-9, "{zone} {date}: {}", hours(zone, date));
        }
    }

    /// RFC 5545, 3.3.5: what the clocks skip is read with the offset before, what comes twice is the first.
    #[test]
    fn skipped_and_repeated_times() {
        let berlin = calendar("Europe/Berlin", &[]);
        let at = |text: &str| -> DateTime { text.parse().unwrap() };
        let utc = |text: &str| text.parse::<Timestamp>().unwrap().as_microsecond();
        assert_eq!(berlin.told(at("2026-03-29T02:30")), Told::Never);
        assert_eq!(berlin.planned(at("2026-03-29T02:30")), utc("2026-03-29T01:30:00Z"));
        let twice = [utc("2026-10-25T00:30:00Z"), utc("2026-10-25T01:30:00Z")];
        assert_eq!(berlin.told(at("2026-10-25T02:30")), Told::Twice(twice));
        assert_eq!(berlin.planned(at("2026-10-25T02:30")), twice[0]);
        assert_eq!(berlin.told(at("2026-06-01T12:00")), Told::Once(utc("2026-06-01T10:00:00Z")));
    }

    /// Shifts that follow each other leave no minute out and count none twice, on days when the clocks change as well.
    #[test]
    fn every_minute_is_in_one_shift() {
        for (zone, from, to) in [
            ("Europe/Berlin", "2026-03-25", "2026-04-02"),
            ("Europe/Berlin", "2026-10-20", "2026-10-28"),
            ("Australia/Lord_Howe", "2026-10-01", "2026-10-06"),
        ] {
            for end in ["06:00", "02:30"] {
                let rules = [("early", end, "14:00"), ("late", "14:00", "22:00"), ("night", "22:00", end)];
                let all = calendar(zone, &rules).shifts(from.parse().unwrap(), to.parse().unwrap());
                assert!(all.windows(2).all(|pair| pair[0].to == pair[1].from), "{zone} {end}");
                assert!(all.iter().all(|shift| shift.to > shift.from));
                // Shifts and days are made of whole stretches.
                let calendar = calendar(zone, &rules);
                for minute in (all[0].from..all[all.len() - 1].to).step_by(7) {
                    let [from, to] = calendar.stretch(minute);
                    assert!((from..to).contains(&minute));
                    let shift = all.iter().find(|shift| (shift.from..shift.to).contains(&minute)).unwrap();
                    assert!(from >= shift.from && to <= shift.to, "{zone} {end} {minute}");
                    let date = calendar.local(minute).date();
                    assert!(calendar.local(from).date() == date && calendar.local(to - 1).date() == date, "{minute}");
                }
            }
        }
        // One that ends in the skipped hour gives way to the next.
        let all = calendar("Europe/Berlin", &[("night", "22:00", "02:30"), ("dog", "03:00", "05:00")]);
        let all = all.shifts("2026-03-28".parse().unwrap(), "2026-03-29".parse().unwrap());
        let dog = all.iter().find(|shift| shift.name == "dog" && shift.date.day() == 29).unwrap();
        let night = all.iter().find(|shift| shift.name == "night" && shift.date.day() == 28).unwrap();
        assert_eq!(night.to, dog.from);
    }

    #[test]
    fn shifts_that_overlap_are_found() {
        let good = [rule("a", "06:00", "14:00"), rule("b", "14:00", "06:00")];
        assert_eq!(overlap(&good), None);
        let night = [rule("a", "05:59", "14:00"), rule("b", "14:00", "06:00")];
        assert!(overlap(&night).is_some());
        let mut week = [rule("sun", "20:00", "06:00"), rule("mon", "05:00", "10:00")];
        week[0].days = [false, false, false, false, false, false, true];
        week[1].days = [true, false, false, false, false, false, false];
        assert!(overlap(&week).is_some(), "from the end of the week into its begin");
        assert_eq!(overlap(&[rule("day", "06:00", "06:00")]), None, "round the clock");
    }
}
