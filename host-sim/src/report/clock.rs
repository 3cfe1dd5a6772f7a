//! The time of day of what happened, where a trace states when it began.

use jiff::SignedDuration;
use jiff::civil::DateTime;

/// The civil time of a trace's first frame, as the trace states it: its own zone, not the reader's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clock {
    start: DateTime,
    /// `+01:00`, `Z` or empty, as written.
    pub zone: String,
}

impl Clock {
    /// Reads `2026-03-02T06:00:00.25+01:00`; the zone may be missing. `None` when it is no such time.
    pub fn new(start: &str) -> Option<Self> {
        let (date, rest) = start.split_once(['T', ' '])?;
        let end = rest.find(['+', '-', 'Z']).unwrap_or(rest.len());
        let (time, zone) = rest.split_at(end);
        let start = format!("{date}T{time}").parse().ok()?;
        Some(Self { start, zone: zone.to_owned() })
    }

    /// The time so many seconds after the first frame.
    pub fn at(&self, t_s: f64) -> DateTime {
        let since = SignedDuration::try_from_secs_f64(t_s).unwrap_or(SignedDuration::ZERO);
        self.start.checked_add(since).unwrap_or(self.start)
    }

    /// Its time of day, to the millisecond, with `+1` on the next day.
    pub fn time_at(&self, t_s: f64) -> String {
        self.told(t_s, "%H:%M:%S%.3f")
    }

    /// The same to the second that has begun.
    pub fn second_at(&self, t_s: f64) -> String {
        self.told(t_s, "%H:%M:%S")
    }

    fn told(&self, t_s: f64, format: &str) -> String {
        let at = self.at(t_s);
        let days = at.date().since(self.start.date()).map_or(0, |span| span.get_days());
        let day = if days > 0 { format!("+{days}") } else { String::new() };
        format!("{}{day}", at.strftime(format))
    }

    /// The first frame's date.
    pub fn date(&self) -> String {
        self.start.date().to_string()
    }

    /// Seconds from midnight to the first frame.
    pub fn second_of_day(&self) -> f64 {
        let midnight = self.start.date().to_datetime(jiff::civil::Time::midnight());
        self.start.since(midnight).map_or(0.0, |span| span.total(jiff::Unit::Second).unwrap_or(0.0))
    }

    /// Whether the trace reaches into another day.
    pub fn passes_midnight(&self, t_s: f64) -> bool {
        self.at(t_s).date() > self.start.date()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand.
    #[test]
    fn the_time_of_day() {
        let clock = Clock::new("2026-03-02T23:59:50.5+01:00").unwrap();
        assert_eq!((clock.second_at(9.4), clock.second_at(9.5)), ("23:59:59".to_owned(), "00:00:00+1".to_owned()));
        assert_eq!(clock.time_at(0.0), "23:59:50.500");
        assert_eq!(clock.time_at(25.9), "00:00:16.400+1");
        assert_eq!((clock.date().as_str(), clock.zone.as_str()), ("2026-03-02", "+01:00"));
        assert!((clock.second_of_day() - 86_390.5).abs() < 1e-9);
        assert!(!clock.passes_midnight(9.0) && clock.passes_midnight(10.0));
        // A blank for the T is common practice, no source.
        assert_eq!(Clock::new("2026-03-02 23:59:50.5+01:00"), Some(clock));
        assert_eq!(Clock::new("2000-01-01T00:00:00.000000").unwrap().zone, "");
    }

    #[test]
    fn what_is_no_time() {
        for text in ["", "T", "2026-13-02T06:00:00", "06:00", "2026-03-02T99:00:00Z"] {
            assert_eq!(Clock::new(text), None, "{text}");
        }
    }
}
