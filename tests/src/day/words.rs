//! The log in words, one event a line: number, time of the day, what happened and what led to it.

use super::lived::Lived;
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::recorder::Entry;
use shaftwork_core::{Event, EventKind};
use shaftwork_sim::report::Why;
use shaftwork_sim::report::account::AccountRow;
use shaftwork_sim::report::event::{Detail, EventRow, warning_name};
use shaftwork_sim::report::number::{amps, frames_s, kilojoules};
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
    let seconds = |q16: u64| frames_s(q16, lived.rate_hz);
    let Event { at, kind } = entry.event;
    let t_s = seconds(at.0);
    let row = |event, detail| EventRow { detail, ..EventRow::plain(t_s, event) };
    let row = match kind {
        EventKind::Start => {
            let row = row("start", start(later, seconds));
            // What the replay says of it, too.
            EventRow { why: Why::from([("duration_s", "the motor stopped before run-up")]), ..row }
        }
        EventKind::RunUp { .. } => EventRow::plain(t_s, "run_up"),
        EventKind::Stop => EventRow::plain(t_s, "stop"),
        EventKind::IdleBegins => EventRow::plain(t_s, "idle_begins"),
        EventKind::IdleEnds => EventRow::plain(t_s, "idle_ends"),
        EventKind::Warning(warning) => row("warning", Detail::Warning { what: warning_name(warning) }),
        EventKind::Trip { cause, figures } => EventRow::trip(t_s, cause, &figures),
        EventKind::Alarm { cause, feed_stop, figures } => EventRow::alarm(t_s, cause, feed_stop, &figures),
        EventKind::AlarmEnds { cause, feed_stop } => EventRow::alarm_ends(t_s, cause, feed_stop),
        EventKind::Reset => EventRow::plain(t_s, "reset"),
        EventKind::ResetRefused(why) => return format!("reset refused: {}", refusal(why)),
        EventKind::Gap { length } => row("gap", Detail::Gap { length_s: seconds(length.0) }),
        _ => return format!("{kind:?}"),
    };
    let account = entry.account.as_ref().and_then(|account| AccountRow::new(account, lived.rate_hz));
    words::event(&row.after(account), &lived.settings)
}

/// A start with the run-up that it came to, where it did.
fn start<'a>(later: impl Iterator<Item = &'a Event>, seconds: impl Fn(u64) -> f64) -> Detail {
    let mut later = later.take_while(|event| !matches!(event.kind, EventKind::Start));
    let up = later.find_map(|event| match event.kind {
        EventKind::RunUp { onset, peak, rotor_heat } => Some(Detail::Start {
            duration_s: Some(seconds(event.at.since(onset).0)),
            peak_current_a: Some(amps(peak)),
            rotor_heat_kj: Some(kilojoules(rotor_heat)),
        }),
        _ => None,
    });
    up.unwrap_or(Detail::Start { duration_s: None, peak_current_a: None, rotor_heat_kj: None })
}

fn refusal(why: Hindrance) -> &'static str {
    match why {
        Hindrance::Remote => "not asked for at the mill",
        Hindrance::Trip => "a trip is latched",
        Hindrance::Running => "the motor takes current",
        Hindrance::MayTurn => "the rotor may turn",
        Hindrance::Rest => "the rest is not over",
        Hindrance::Hot => "the motor is hot",
        Hindrance::Rotor => "the rotor is hot",
        Hindrance::Starts => "too many starts within an hour",
        _ => "unnamed",
    }
}
