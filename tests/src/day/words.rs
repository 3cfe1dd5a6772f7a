//! The log in words, one event a line: number, time of the day, what happened and what led to it.

use super::lived::Lived;
use shaftwork_core::recorder::Entry;
use shaftwork_core::{Event, EventKind};
use shaftwork_sim::report::Why;
use shaftwork_sim::report::event::{Detail, EventRow};
use shaftwork_sim::report::number::frames_s;
use shaftwork_sim::report::words;

/// The whole log.
#[must_use]
pub fn log(lived: &Lived) -> Vec<String> {
    let line = |(place, entry): (usize, &Entry)| {
        let at_s = frames_s(entry.event.at.0, lived.rate_hz);
        let later = lived.entries[place + 1..].iter().map(|entry| &entry.event);
        format!("{:>3} {} {}", entry.sequence, clock(at_s), told(lived, entry, later))
    };
    lived.entries.iter().enumerate().map(line).collect()
}

/// h:mm:ss.s.
#[must_use]
pub fn clock(t_s: f64) -> String {
    let tenths = (t_s * 10.0).round() as u64;
    let (h, m, s) = (tenths / 36_000, tenths / 600 % 60, tenths / 10 % 60);
    format!("{h:>2}:{m:02}:{s:02}.{}", tenths % 10)
}

fn told<'a>(lived: &Lived, entry: &Entry, later: impl Iterator<Item = &'a Event>) -> String {
    let row = EventRow::of(&entry.event, lived.rate_hz);
    let row = match entry.event.kind {
        EventKind::Start => {
            // The run-up that it came to, where it did; else what the replay says of it, too.
            let mut later = later.take_while(|event| !matches!(event.kind, EventKind::Start));
            let up = later.find_map(|event| Detail::ran_up(event, lived.rate_hz));
            let why = Why::from([("duration_s", "the motor stopped before run-up")]);
            EventRow { detail: up.unwrap_or(row.detail), why, ..row }
        }
        _ => row,
    };
    words::event(&row.after(entry.account.as_ref(), lived.rate_hz), &lived.settings)
}
