//! An event as it is written: names and causes of the output, with the figures that belong to it.

use serde::Serialize;
use shaftwork_core::judge::event::{Cause, Event, EventKind, FeedCause, Figures, Warning};
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::recorder::Account;

use super::account::AccountRow;
use super::notice::notice_name;
use super::number::{amps, figure, frames_s, kilojoules, pct, seconds, volts, watts};
use super::{NOT_MEASURED, Why};

/// The name of a cause in every output.
pub const fn cause_name(cause: Cause) -> &'static str {
    match cause {
        Cause::ThermalOverload => "thermal-overload",
        Cause::Jam => "jam",
        Cause::LongStart => "long-start",
        Cause::PhaseLoss => "phase-loss",
        Cause::Undervoltage => "undervoltage",
        Cause::Overvoltage => "overvoltage",
        Cause::PhaseReversal => "phase-reversal",
        Cause::CurrentUnbalance => "current-unbalance",
        Cause::ResidualCurrent => "residual-current",
        Cause::Underload => "underload",
        Cause::SensorFault => "sensor-fault",
        Cause::StartsPerHour => "starts-per-hour",
        Cause::Wedge => "wedge",
        _ => "unnamed",
    }
}

/// The name of a warning in every output.
pub const fn warning_name(warning: Warning) -> &'static str {
    match warning {
        Warning::Clipped => "clipped",
        Warning::VoltageGone => "voltage-gone",
        Warning::PhaseOrder => "phase-order",
        _ => "unnamed",
    }
}

/// The name of what stopped a feed in every output.
pub const fn feed_cause_name(cause: FeedCause) -> &'static str {
    match cause {
        FeedCause::Mill => "mill",
        FeedCause::Trip => "trip",
        FeedCause::Element => "element",
        FeedCause::Input => "input",
        FeedCause::Permit => "permit",
        FeedCause::Mode => "mode",
        FeedCause::Load => "load",
        FeedCause::Surge => "surge",
        _ => "unnamed",
    }
}

/// The name in every output of what refuses a start or a reset.
pub const fn hindrance_name(hindrance: Hindrance) -> &'static str {
    match hindrance {
        Hindrance::Remote => "remote",
        Hindrance::Trip => "trip",
        Hindrance::Running => "running",
        Hindrance::MayTurn => "may-turn",
        Hindrance::Rest => "rest",
        Hindrance::Hot => "hot",
        Hindrance::Rotor => "rotor",
        Hindrance::Starts => "starts",
        _ => "unnamed",
    }
}

/// What an element saw: its cause and the figures of the moment; lists in phase order.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct Seen {
    pub cause: &'static str,
    pub current_a: [f64; 3],
    pub voltage_v: [Option<f64>; 3],
    pub shaft_w: f64,
    pub speed_rpm: Option<f64>,
    pub thermal_pct: Option<f64>,
    pub unbalance_pct: Option<f64>,
}

/// What an event has beside its time and name.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub enum Detail {
    /// Nothing.
    Plain {},
    /// Of `start`: `None` when the start did not reach speed.
    Start { duration_s: Option<f64>, peak_current_a: Option<f64>, rotor_heat_kj: Option<f64> },
    /// Of `trip`: latched.
    Trip(Seen),
    /// Of `feed_stop`, and of the `warning` of an element: it lasts until the element drops out.
    Alarm(Seen),
    /// Of `feed_stop_ends` and `warning_ends`.
    AlarmEnds { cause: &'static str },
    /// Of `warning`.
    Warning { what: &'static str },
    /// Of `feed_stops`: whether a person has to release it.
    FeedStops { cause: &'static str, locked: bool },
    /// Of `feed_reverses`: jams in a row.
    FeedReverses { jams: u8 },
    /// Of `reset_refused`.
    ResetRefused { hindrance: &'static str },
    /// Of `gap`.
    Gap { length_s: f64 },
    /// Of `board`: what it tells of itself, with a number or seconds where they belong to it.
    Board {
        what: &'static str,
        #[serde(skip_serializing_if = "Option::is_none")]
        count: Option<i64>,
    },
}

impl Detail {
    /// Of the start that a run-up ends; `None` of any other event.
    pub fn ran_up(event: &Event, rate_hz: f64) -> Option<Self> {
        let EventKind::RunUp { onset, peak, rotor_heat } = event.kind else { return None };
        Some(Self::Start {
            duration_s: Some(seconds(frames_s(event.at.since(onset).0, rate_hz))),
            peak_current_a: Some(amps(peak)),
            rotor_heat_kj: Some(kilojoules(rotor_heat)),
        })
    }
}

/// One event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventRow {
    /// When, seconds from the start of the trace.
    pub t_s: f64,
    /// Its name.
    pub event: &'static str,
    /// What belongs to it.
    #[serde(flatten)]
    pub detail: Detail,
    /// What came before it, of what an element decided.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub account: Option<AccountRow>,
    /// Why a figure is missing.
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

impl EventRow {
    /// An event without figures.
    pub fn plain(t_s: f64, event: &'static str) -> Self {
        Self { t_s, event, detail: Detail::Plain {}, account: None, why: Why::new() }
    }

    /// Of an event of the core, at this rate; a start without what only its run-up tells ([`Detail::ran_up`]).
    pub fn of(event: &Event, rate_hz: f64) -> Self {
        let t_s = seconds(frames_s(event.at.0, rate_hz));
        let with = |event, detail| Self { detail, ..Self::plain(t_s, event) };
        match event.kind {
            EventKind::Start => {
                with("start", Detail::Start { duration_s: None, peak_current_a: None, rotor_heat_kj: None })
            }
            EventKind::RunUp { .. } => Self::plain(t_s, "run_up"),
            EventKind::Stop => Self::plain(t_s, "stop"),
            EventKind::IdleBegins => Self::plain(t_s, "idle_begins"),
            EventKind::IdleEnds => Self::plain(t_s, "idle_ends"),
            EventKind::Warning(warning) => with("warning", Detail::Warning { what: warning_name(warning) }),
            EventKind::Trip { cause, ref figures } => Self::trip(t_s, cause, figures),
            EventKind::Alarm { cause, feed_stop, ref figures } => Self::alarm(t_s, cause, feed_stop, figures),
            EventKind::AlarmEnds { cause, feed_stop } => Self::alarm_ends(t_s, cause, feed_stop),
            EventKind::FeedBegins => Self::plain(t_s, "feed_begins"),
            EventKind::FeedStops { cause, locked } => {
                with("feed_stops", Detail::FeedStops { cause: feed_cause_name(cause), locked })
            }
            EventKind::FeedReverses { jams } => with("feed_reverses", Detail::FeedReverses { jams }),
            EventKind::FeedCalls => Self::plain(t_s, "feed_calls"),
            EventKind::Reset => Self::plain(t_s, "reset"),
            EventKind::ResetRefused(why) => {
                with("reset_refused", Detail::ResetRefused { hindrance: hindrance_name(why) })
            }
            EventKind::Gap { length } => with("gap", Detail::Gap { length_s: seconds(frames_s(length.0, rate_hz)) }),
            EventKind::Board(notice) => {
                let (what, count) = notice_name(notice);
                with("board", Detail::Board { what, count })
            }
            _ => with("warning", Detail::Warning { what: "unnamed" }),
        }
    }

    /// A trip with what it saw.
    pub fn trip(t_s: f64, cause: Cause, f: &Figures) -> Self {
        Self::element(t_s, "trip", Detail::Trip, cause, f)
    }

    /// A feed stop or a warning with what its element saw.
    pub fn alarm(t_s: f64, cause: Cause, feed_stop: bool, f: &Figures) -> Self {
        Self::element(t_s, if feed_stop { "feed_stop" } else { "warning" }, Detail::Alarm, cause, f)
    }

    /// Its end.
    pub fn alarm_ends(t_s: f64, cause: Cause, feed_stop: bool) -> Self {
        let event = if feed_stop { "feed_stop_ends" } else { "warning_ends" };
        Self { t_s, event, detail: Detail::AlarmEnds { cause: cause_name(cause) }, account: None, why: Why::new() }
    }

    fn element(t_s: f64, event: &'static str, detail: fn(Seen) -> Detail, cause: Cause, f: &Figures) -> Self {
        let seen = Seen {
            cause: cause_name(cause),
            current_a: f.current.map(amps),
            voltage_v: f.voltage.map(|v| Some(volts(v))),
            shaft_w: watts(f.shaft),
            speed_rpm: f.speed.map(|s| figure(s.0.to_num())),
            thermal_pct: f.thermal.map(pct),
            unbalance_pct: f.unbalance.map(pct),
        };
        let mut why = Why::new();
        for (missing, key, reason) in [
            (f.speed.is_none(), "speed_rpm", "the speed cannot be had without current or a tachometer"),
            (f.thermal.is_none(), "thermal_pct", "no thermal level came with the trip"),
            (f.unbalance.is_none(), "unbalance_pct", "there is too little current"),
        ] {
            if missing {
                why.insert(key, reason);
            }
        }
        Self { t_s, event, detail: detail(seen), account: None, why }
    }

    /// The same with what came before it; only a trip cuts anything out.
    #[must_use]
    pub fn after(self, account: Option<&Account>, rate_hz: f64) -> Self {
        let decision = match (&self.detail, self.event) {
            (Detail::Trip(_), _) => "cut-out",
            (_, "feed_stop") => "feed stop",
            _ => "warning",
        };
        Self { account: account.and_then(|account| AccountRow::new(account, decision, rate_hz)), ..self }
    }

    /// The same of a trace of currents alone: no voltage is told where none is measured.
    #[must_use]
    pub fn without_voltage(mut self) -> Self {
        if let Detail::Trip(seen) | Detail::Alarm(seen) = &mut self.detail {
            seen.voltage_v = [None; 3];
            self.why.insert("voltage_v", NOT_MEASURED);
        }
        self
    }

    /// The cause, of a trip.
    pub fn cause(&self) -> Option<&'static str> {
        match self.detail {
            Detail::Trip(seen) => Some(seen.cause),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::recorder::Lead;
    use shaftwork_core::time::{Instant, Span};
    use shaftwork_core::unit::Amps;

    #[test]
    fn a_trip_carries_cause_and_figures() {
        let figures = Figures { current: [Amps::from_bits(212 << 17); 3], ..Figures::default() };
        let json = serde_json::to_value(EventRow::trip(25.9, Cause::Jam, &figures)).unwrap();
        assert_eq!(json["event"], "trip");
        assert_eq!(json["cause"], "jam");
        assert_eq!(json["current_a"], serde_json::json!([212.0, 212.0, 212.0]));
        assert!(json["thermal_pct"].is_null());
        assert_eq!(json["why"]["thermal_pct"], "no thermal level came with the trip");
    }

    #[test]
    fn a_feed_stop_carries_the_same_and_is_no_trip() {
        let row = EventRow::alarm(3.0, Cause::SensorFault, true, &Figures::default());
        assert_eq!(row.cause(), None);
        let json = serde_json::to_value(row).unwrap();
        assert_eq!((&json["event"], &json["cause"]), (&"feed_stop".into(), &"sensor-fault".into()));
        assert!(json["current_a"].is_array());
        let ends = serde_json::to_string(&EventRow::alarm_ends(4.0, Cause::Underload, false)).unwrap();
        assert_eq!(ends, r#"{"t_s":4.0,"event":"warning_ends","cause":"underload"}"#);
    }

    /// Only a trip cuts out; a warning or a feed stop is called what it is.
    #[test]
    fn what_came_before_is_told_of_the_decision_by_its_name() {
        let account = Account {
            lead: Lead::Strike,
            before_pct: 80,
            after_pct: 110,
            last_pct: 111,
            ago: Span(2_000 << 16),
            within: Span(0),
            feed: None,
        };
        let f = Figures::default();
        for (row, at) in [
            (EventRow::trip(1.0, Cause::Jam, &f), "cut-out at 111 %"),
            (EventRow::alarm(1.0, Cause::Wedge, true, &f), "feed stop at 111 %"),
            (EventRow::alarm(1.0, Cause::Wedge, false, &f), "warning at 111 %"),
        ] {
            let words = row.after(Some(&account), 4_000.0).account.unwrap().words;
            assert_eq!(words, format!("power jumped from 80 % 0.5 s before, {at}"));
        }
    }

    #[test]
    fn a_reset_that_is_refused_says_why() {
        let event = Event { at: Instant(0), kind: EventKind::ResetRefused(Hindrance::MayTurn) };
        let row = EventRow::of(&event, 4_000.0);
        assert_eq!(
            serde_json::to_string(&row).unwrap(),
            r#"{"t_s":0.0,"event":"reset_refused","hindrance":"may-turn"}"#
        );
        let settings = crate::report::testing::settings();
        assert_eq!(crate::report::words::event(&row, &settings), "reset refused: the rotor may turn");
    }

    #[test]
    fn a_plain_event_is_time_and_name() {
        let text = serde_json::to_string(&EventRow::plain(5.4, "run_up")).unwrap();
        assert_eq!(text, r#"{"t_s":5.4,"event":"run_up"}"#);
    }
}
