//! Times for people: seconds where a trace is short, h:mm:ss where it is long, and the clock's where it is known.

use super::TraceRow;

/// From this length on a trace is long, s.
const LONG_S: f64 = 600.0;
/// Seconds in a day.
const DAY_S: u64 = 86_400;

/// How the times of one trace are shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stamp {
    long: bool,
    /// Time of day of the first frame, s.
    start_s: Option<f64>,
}

impl Stamp {
    /// As the trace's length and start want it.
    pub fn new(trace: &TraceRow) -> Self {
        let start_s = trace.start.as_deref().and_then(time_of_day);
        Self { long: trace.duration_s >= LONG_S, start_s }
    }

    /// A time or a length in the trace: `45.810 s`, or `2:05:13.4`.
    pub fn span(self, t_s: f64) -> String {
        if !self.long {
            return format!("{t_s:.3} s");
        }
        let tenths = (t_s * 10.0).round() as u64;
        let (s, tenths) = (tenths / 10, tenths % 10);
        format!("{}:{:02}:{:02}.{tenths}", s / 3600, s / 60 % 60, s % 60)
    }

    /// The time of day: `06:00:45`, with `+1` on the next day.
    pub fn day(self, t_s: f64) -> Option<String> {
        // Clocks show the second that has begun; a microsecond for decimals that have no exact double.
        let s = (self.start_s? + t_s + 1e-6) as u64;
        let days = if s >= DAY_S { format!("+{}", s / DAY_S) } else { String::new() };
        Some(format!("{:02}:{:02}:{:02}{days}", s / 3600 % 24, s / 60 % 60, s % 60))
    }

    /// A time within a sentence: `45.810 s (06:00:45)`.
    pub fn told(self, t_s: f64) -> String {
        self.day(t_s).map_or_else(|| self.span(t_s), |day| format!("{} ({day})", self.span(t_s)))
    }
}

/// The seconds since midnight of an ISO 8601 time, without its offset.
fn time_of_day(iso: &str) -> Option<f64> {
    let (_, time) = iso.split_once(['T', ' '])?;
    let time = time.split(['Z', '+', '-']).next()?;
    let mut parts = time.split(':');
    let mut part = |below: f64| parts.next()?.trim().parse().ok().filter(|x: &f64| (0.0..below).contains(x));
    // A minute may have a leap second.
    let (h, min) = (part(24.0)?, part(60.0)?);
    Some(h * 3600.0 + min * 60.0 + part(61.0).unwrap_or(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::summary;

    fn clock(duration_s: f64, start: &str) -> Stamp {
        Stamp::new(&TraceRow { duration_s, start: Some(start.to_owned()), ..summary().trace })
    }

    /// Own arithmetic.
    #[test]
    fn short_long_and_over_midnight() {
        let short = clock(54.0, "2026-03-02T06:00:00.250000");
        assert_eq!(short.told(45.81), "45.810 s (06:00:46)");
        let long = clock(30_000.0, "2026-03-02T22:00:00+01:00");
        assert_eq!(long.told(7_513.44), "2:05:13.4 (00:05:13+1)");
        assert_eq!(long.span(3_599.96), "1:00:00.0");
        assert_eq!(clock(2.0, "no time").told(1.0), "1.000 s");
    }

    #[test]
    fn times_of_day() {
        for (iso, want) in [
            ("2026-03-02T06:30:00.5Z", Some(23_400.5)),
            ("2026-03-02T23:59:60", Some(86_400.0)),
            ("2026-03-02 06:30", Some(23_400.0)),
            ("2026-03-02T25:00:00", None),
            ("2026-03-02", None),
            ("", None),
        ] {
            assert_eq!(time_of_day(iso), want, "{iso}");
        }
    }
}
