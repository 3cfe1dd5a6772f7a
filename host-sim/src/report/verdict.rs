//! One sentence on a trace, before any figure.

use shaftwork_core::Cause;

use super::TotalsRow;
use super::clock::Clock;
use super::event::cause_name;
use super::words::{moment, plain};
use crate::settings::{Further, Settings};

/// The verdict on a trace: whether it tripped, on what and when, or why silence says little.
pub fn verdict(
    trips: &[(f64, &'static str)],
    feed_stops: &[(f64, &'static str)],
    totals: &TotalsRow,
    settings: &Settings,
    clock: Option<&Clock>,
) -> String {
    let held = feed_stops.first().map_or_else(String::new, |(t_s, cause)| {
        let more = feed_stops.len() - 1;
        let more = if more > 0 { format!(", {more} more") } else { String::new() };
        format!("; the feed was to stop: {} at {}{more}", plain(cause), moment(*t_s, clock))
    });
    verdict_of_trips(trips, totals, settings, clock) + &held
}

fn verdict_of_trips(
    trips: &[(f64, &'static str)],
    totals: &TotalsRow,
    settings: &Settings,
    clock: Option<&Clock>,
) -> String {
    const NAMED: usize = 4;
    let off = off(settings);
    if !trips.is_empty() {
        let named = trips.iter().take(NAMED);
        let mut named: Vec<String> =
            named.map(|(t_s, cause)| format!("{} at {}", plain(cause), moment(*t_s, clock))).collect();
        let more = u64::from(totals.trips).saturating_sub(named.len() as u64);
        if more > 0 {
            named.push(format!("{more} more"));
        }
        let times = match totals.trips {
            1 => "once".to_owned(),
            2 => "twice".to_owned(),
            n => format!("{n} times"),
        };
        return format!("tripped {times}: {}", named.join(", "));
    }
    if !totals.anything_known() {
        "too short to judge: no trip, and nothing is known".to_owned()
    } else if off.len() == MUST.len() && settings.trips.further == Further::default() {
        "no trip: all trips are off in the settings".to_owned()
    } else if off.is_empty() {
        "quiet: no trip".to_owned()
    } else {
        format!("quiet: no trip (off in the settings: {})", off.join(", "))
    }
}

/// The elements that every settings file must speak of.
const MUST: [Cause; 5] = [Cause::ThermalOverload, Cause::Jam, Cause::LongStart, Cause::PhaseLoss, Cause::Undervoltage];

/// Those of them that the settings do not want.
fn off(settings: &Settings) -> Vec<String> {
    let t = &settings.trips;
    let off = [
        t.thermal.is_none(),
        t.jam.is_none(),
        t.long_start.is_none(),
        t.phase_loss.is_none(),
        t.undervoltage.is_none(),
    ];
    MUST.into_iter().zip(off).filter(|(_, off)| *off).map(|(cause, _)| plain(cause_name(cause))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::{settings, summary};

    #[test]
    fn verdicts() {
        let known = TotalsRow { shaft_kwh: Some(0.0), ..summary().totals };
        let told = |trips: &[(f64, &'static str)], totals: &TotalsRow, settings: &Settings| {
            let count = trips.len() as u32;
            verdict(trips, &[], &TotalsRow { trips: count, ..totals.clone() }, settings, None)
        };
        let all = settings();
        assert_eq!(told(&[], &known, &all), "quiet: no trip");
        let held = [(10.08, "sensor-fault"), (12.0, "underload")];
        let words = "quiet: no trip; the feed was to stop: sensor fault at 10.080 s, 1 more";
        assert_eq!(verdict(&[], &held, &known, &all, None), words);
        assert_eq!(told(&[(1.5, "jam")], &known, &all), "tripped once: jam at 1.500 s");
        let two = [(1.5, "jam"), (1.75, "phase-loss")];
        assert_eq!(told(&two, &known, &all), "tripped twice: jam at 1.500 s, phase loss at 1.750 s");
        assert!(told(&[(1.0, "jam"); 9], &known, &all).ends_with("jam at 1.000 s, 5 more"));
        assert!(told(&[], &summary().totals, &all).starts_with("too short to judge"));
        let mut some = all.clone();
        some.trips.jam = None;
        assert_eq!(told(&[], &known, &some), "quiet: no trip (off in the settings: jam)");
        some.trips = crate::settings::Trips {
            thermal: None,
            jam: None,
            long_start: None,
            phase_loss: None,
            undervoltage: None,
            further: Further::default(),
        };
        assert_eq!(told(&[], &known, &some), "no trip: all trips are off in the settings");
    }
}
