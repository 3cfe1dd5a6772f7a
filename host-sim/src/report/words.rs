//! Events in plain words, with the figures and settings that make them plain.

use super::EventRow;
use super::clock::Clock;
use super::event::{Detail, Seen};
use super::number::figure;
use crate::settings::Settings;

/// A figure for people: four significant digits, no exponent.
pub fn short(x: f64) -> String {
    if !x.is_finite() {
        return "-".to_owned();
    }
    if x == 0.0 {
        return "0".to_owned();
    }
    let places = (3 - x.abs().log10().floor() as i32).clamp(0, 6) as usize;
    let text = format!("{x:.places$}");
    // Rounding may have left nothing, or a minus before nothing.
    if text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) { "0".to_owned() } else { text }
}

/// Figures of one kind side by side: as many decimals as the largest needs.
fn side_by_side(all: [f64; 3]) -> String {
    let largest = all.iter().fold(0.0, |a: f64, x| a.max(x.abs()));
    let places = if largest > 0.0 { (3 - largest.log10().floor() as i32).clamp(0, 3) as usize } else { 0 };
    all.map(|x| format!("{x:.places$}")).join(" / ")
}

/// A number of things: `1 sample`, `2 samples`.
pub fn counted(n: u64, thing: &str) -> String {
    format!("{n} {thing}{}", if n == 1 { "" } else { "s" })
}

/// A name of the output in plain words.
pub fn plain(name: &str) -> String {
    name.replace('-', " ")
}

/// A moment of a trace for people: `25.900 s`, `12:05.900`, `6:02:05.250`; seconds up to ten minutes, as
/// `--expect` takes them.
pub fn stamp(t_s: f64) -> String {
    let ms = (t_s.max(0.0) * 1e3).round() as u64;
    let (h, m, s) = (ms / 3_600_000, ms / 60_000 % 60, ms % 60_000);
    let seconds = format!("{:02}.{:03}", s / 1000, s % 1000);
    match (h, m) {
        (0, ..10) => format!("{}.{:03} s", ms / 1000, ms % 1000),
        (0, m) => format!("{m}:{seconds}"),
        (h, m) => format!("{h}:{m:02}:{seconds}"),
    }
}

/// A length of time for people: `25.9 s`, `12 min 6 s`, `6 h 2 min`.
pub fn span(t_s: f64) -> String {
    if t_s < 59.95 {
        return format!("{} s", figure((t_s.max(0.0) * 10.0).round() / 10.0));
    }
    let s = t_s.round() as u64;
    match s {
        ..3_600 => format!("{} min {} s", s / 60, s % 60),
        _ => format!("{} h {} min", (s + 30) / 3_600, (s + 30) / 60 % 60),
    }
}

/// A moment in a sentence: `45.810 s (06:00:45)`.
pub fn moment(t_s: f64, clock: Option<&Clock>) -> String {
    clock.map_or_else(|| stamp(t_s), |clock| format!("{} ({})", stamp(t_s), clock.second_at(t_s)))
}

/// A setting as it was written.
fn set(x: f64) -> String {
    format!("{}", figure(x))
}

/// What happened, without its time; of a decision with what came before it.
pub fn event(row: &EventRow, settings: &Settings) -> String {
    let what = happened(row, settings);
    match &row.account {
        Some(account) => format!("{what}; {}", account.words),
        None => what,
    }
}

fn happened(row: &EventRow, settings: &Settings) -> String {
    match row.detail {
        Detail::Start { duration_s: Some(d), peak_current_a: Some(a), rotor_heat_kj } => {
            let share = short(a / settings.motor.rated_current_a * 100.0);
            let heat = rotor_heat_kj.map(|kj| format!(", {} kJ in the rotor", short(kj))).unwrap_or_default();
            format!("start: {} s to speed, at most {} A ({share} %){heat}", short(d), short(a))
        }
        Detail::Start { .. } => {
            let reason = row.why.get("duration_s").copied().unwrap_or("its run-up was not seen");
            format!("start: not at speed, {reason}")
        }
        Detail::Warning { what: "clipped" } => {
            "warning: samples at the converter's end while running: \"at least\"".to_owned()
        }
        Detail::Warning { what: "voltage-gone" } => "warning: no voltage: powers read zero".to_owned(),
        Detail::Warning { what } => format!("warning: {what}"),
        Detail::Board { what, count } => super::notice::words(what, count),
        Detail::FeedStops { cause, locked } => feed_stops(cause, locked),
        Detail::FeedReverses { jams } => format!("the feeder runs backwards: {}", counted(u64::from(jams), "jam")),
        Detail::ResetRefused { hindrance } => format!("reset refused: {}", refusal(hindrance)),
        Detail::Gap { length_s } => format!("gap of {} s: nothing is known of that time", short(length_s)),
        Detail::Trip(seen) => format!("trip: {}", element(&seen, settings)),
        Detail::Alarm(seen) => format!("{}: {}", row.event.replace('_', " "), element(&seen, settings)),
        Detail::AlarmEnds { cause } => {
            let what = if row.event == "feed_stop_ends" { "feed stop" } else { "warning" };
            format!("{what} ends: {}", plain(cause))
        }
        Detail::Plain {} => match row.event {
            "run_up" => "at speed",
            "stop" => "stop: the current is gone",
            "idle_begins" => "idle begins: shaft power near idle power",
            "idle_ends" => "idle ends: breaking",
            "reset" => "the trips are reset",
            "feed_begins" => "the feeder begins to feed",
            "feed_calls" => "the feed is jammed: a person is called",
            other => other,
        }
        .to_owned(),
    }
}

/// Why a reset is refused.
fn refusal(hindrance: &str) -> &str {
    match hindrance {
        "remote" => "not asked for at the mill",
        "trip" => "a trip is latched",
        "running" => "the motor takes current",
        "may-turn" => "the rotor may turn",
        "rest" => "the rest is not over",
        "hot" => "the motor is hot",
        "rotor" => "the rotor is hot",
        "starts" => "too many starts within an hour",
        other => other,
    }
}

/// Why a feeder stops.
fn feed_stops(cause: &str, locked: bool) -> String {
    let why = match cause {
        "mill" => "the mill does not run",
        "trip" => "a trip",
        "element" => "an element holds the feed",
        "input" => "a voltage, a current or samples are missing",
        "permit" => "no permit: a guard is open, or its input tells nothing",
        "mode" => "the mode was changed while nothing was fed, or the speed set to nothing",
        "load" => "the load was above stop_pct for stop_delay_s",
        "surge" => "the load of a window was above surge_pct",
        other => other,
    };
    format!("the feeder stops: {why}{}", if locked { "; a person has to release it" } else { "" })
}

/// What an element saw, in words with its settings.
fn element(m: &Seen, settings: &Settings) -> String {
    let trips = &settings.trips;
    let highest = m.current_a.iter().copied().fold(0.0, f64::max);
    let current = format!("{} A ({} %)", short(highest), short(highest / settings.motor.rated_current_a * 100.0));
    let name = plain(m.cause);
    match m.cause {
        "jam" => match &trips.jam {
            Some(t) => format!("{name}: {current}, above {} % for {} s", set(t.pickup_pct), set(t.delay_s)),
            None => format!("{name}: {current}"),
        },
        "long-start" => match &trips.long_start {
            Some(t) => format!("{name}: not at speed after {} s, {current}", set(t.delay_s)),
            None => format!("{name}: {current}"),
        },
        "thermal-overload" => match m.thermal_pct {
            Some(pct) => format!("{name}: image at {} %, {current}", short(pct)),
            None => format!("{name}: {current}"),
        },
        "phase-loss" => {
            let currents = side_by_side(m.current_a);
            let unbalance = m.unbalance_pct.map(|u| format!("unbalance {} %, ", short(u))).unwrap_or_default();
            let limit = trips.phase_loss.map(|t| format!(", above {} % for {} s", set(t.pickup_pct), set(t.delay_s)));
            format!("{name}: {unbalance}{currents} A{}", limit.unwrap_or_default())
        }
        "undervoltage" => {
            let lowest = m.voltage_v.into_iter().flatten().fold(f64::INFINITY, f64::min);
            let nominal = nominal_v(settings);
            let limit = trips.undervoltage.map(|t| format!(", below {} %", set(t.pickup_pct))).unwrap_or_default();
            format!(
                "{name}: {} V ({} % of {} V){limit}",
                short(lowest),
                short(lowest / nominal * 100.0),
                short(nominal)
            )
        }
        "overvoltage" => {
            let highest = m.voltage_v.into_iter().flatten().fold(0.0, f64::max);
            let nominal = nominal_v(settings);
            let limit =
                trips.further.overvoltage.map(|t| format!(", above {} %", set(t.pickup_pct))).unwrap_or_default();
            let share = short(highest / nominal * 100.0);
            format!("{name}: {} V ({share} % of {} V){limit}", short(highest), short(nominal))
        }
        "current-unbalance" => {
            let unbalance = m.unbalance_pct.map(|u| format!("{} %, ", short(u))).unwrap_or_default();
            format!("{name}: {unbalance}{} A", side_by_side(m.current_a))
        }
        "phase-reversal" => format!("{name}: the phases come in reverse order"),
        "residual-current" => {
            let limit =
                trips.further.residual_current.map(|t| format!(", above {} % of rated current", set(t.pickup_pct)));
            format!("{name}: the three currents do not add up to nothing{}", limit.unwrap_or_default())
        }
        "underload" => {
            let limit = trips.further.underload.map(|t| format!(", below {} % of idle power", set(t.pickup_pct)));
            let kw = short(m.shaft_w / 1e3);
            format!("{name}: {kw} kW at the shaft{}: belt or coupling gone?", limit.unwrap_or_default())
        }
        "sensor-fault" => format!(
            "{name}: a channel is stuck, open or missing, or tells what cannot be; {} A",
            side_by_side(m.current_a)
        ),
        "starts-per-hour" => {
            let most = trips.further.starts_per_hour.map(|t| format!(": more than {} within an hour", t.most));
            format!("{name}{}", most.unwrap_or_default())
        }
        "wedge" => {
            let limit = trips.further.wedge.map(|t| {
                // One percent for a second is ten milliseconds of rated power.
                let work = set(t.pickup_pct / 100.0 * t.window_s * settings.motor.rated_power_kw);
                format!(", {work} kJ of a load that did not let go within {} s", set(t.window_s))
            });
            format!("{name}: {} kW at the shaft{}", short(m.shaft_w / 1e3), limit.unwrap_or_default())
        }
        _ => format!("{name}: {current}"),
    }
}

/// Nominal voltage as the wiring measures it, V.
fn nominal_v(settings: &Settings) -> f64 {
    let line = settings.supply.line_voltage_v;
    if settings.supply.wiring.is_phase_to_neutral() { line / 3f64.sqrt() } else { line }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::event::cause_name;
    use crate::report::testing::settings;
    use shaftwork_core::judge::event::{Cause, Figures};
    use shaftwork_core::unit::{Amps, Ratio, Volts};

    #[test]
    fn figures_for_people() {
        for (x, want) in [
            (0.0, "0"),
            (212.345, "212.3"),
            (-0.000_000_1, "0"),
            (0.012_345_6, "0.01235"),
            (98_765.4, "98765"),
            (f64::NAN, "-"),
        ] {
            assert_eq!(short(x), want);
        }
    }

    /// By hand.
    #[test]
    fn times_for_people() {
        for (t_s, stamped, spanned) in [
            (0.0, "0.000 s", "0 s"),
            (25.9, "25.900 s", "25.9 s"),
            (59.999_6, "60.000 s", "1 min 0 s"),
            (599.9, "599.900 s", "10 min 0 s"),
            (725.9, "12:05.900", "12 min 6 s"),
            (21_725.25, "6:02:05.250", "6 h 2 min"),
            (86_400.0, "24:00:00.000", "24 h 0 min"),
        ] {
            assert_eq!((stamp(t_s).as_str(), span(t_s).as_str()), (stamped, spanned));
        }
    }

    /// 212 A at 100 A rated; 80 % of 400 V over the root of three (own arithmetic).
    #[test]
    fn trips_in_words() {
        let figures = Figures {
            current: [Amps::from_bits(212 << 17), Amps::ZERO, Amps::from_bits(5 << 17)],
            voltage: [Volts::from_bits(230 << 16), Volts::from_bits(120 << 16), Volts::from_bits(230 << 16)],
            thermal: Some(Ratio::from_bits(1 << 24)),
            unbalance: Some(Ratio::from_bits(1 << 23)),
            ..Figures::default()
        };
        for (cause, words) in [
            (Cause::Jam, "trip: jam: 212.0 A (212.0 %), above 200 % for 0.5 s"),
            (Cause::LongStart, "trip: long start: not at speed after 15 s, 212.0 A (212.0 %)"),
            (Cause::ThermalOverload, "trip: thermal overload: image at 100.0 %, 212.0 A (212.0 %)"),
            (Cause::PhaseLoss, "trip: phase loss: unbalance 50.00 %, 212.0 / 0.0 / 5.0 A, above 60 % for 1 s"),
            (Cause::Undervoltage, "trip: undervoltage: 120.0 V (51.96 % of 230.9 V), below 80 %"),
        ] {
            assert_eq!(event(&EventRow::trip(1.0, cause, &figures), &settings()), words);
        }
    }

    /// 260 V of 400 V over the root of three (own arithmetic).
    #[test]
    fn feed_stops_and_warnings_in_words() {
        let figures = Figures { voltage: [Volts::from_bits(260 << 16); 3], ..Figures::default() };
        let told = |cause, feed_stop| event(&EventRow::alarm(1.0, cause, feed_stop, &figures), &settings());
        assert_eq!(told(Cause::Overvoltage, false), "warning: overvoltage: 260.0 V (112.6 % of 230.9 V)");
        assert!(told(Cause::SensorFault, true).starts_with("feed stop: sensor fault: a channel is stuck"));
        for cause in Cause::ALL {
            assert!(told(cause, true).starts_with(&format!("feed stop: {}", plain(cause_name(cause)))));
        }
        let ends = EventRow::alarm_ends(2.0, Cause::Underload, true);
        assert_eq!(event(&ends, &settings()), "feed stop ends: underload");
    }
}
