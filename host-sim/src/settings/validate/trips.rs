//! The elements beside one another and the motor: what trips too early, too late or never.

use std::f64::consts::SQRT_2;

use super::Findings;
use crate::settings::derive::Derived;
use crate::settings::trips::COOLING_OVER_HEATING;
use crate::settings::{Settings, Thermal, limits};

/// All of them.
pub(super) fn check(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    let rated = settings.motor.rated_current_a;
    let largest = settings.sampling.current_full_scale_a / SQRT_2 * settings.supply.line_over_measured();
    if let Some(t) = &settings.trips.thermal {
        thermal(settings, t, derived.locked_rotor_current_a.value, findings);
        unreachable(findings, "trip.thermal.base_current_a", t.k * t.base_current_a, largest);
    }
    if let Some(gaining_s) = settings.trips.long_start.and_then(|start| start.gaining_delay_s) {
        gaining(settings, gaining_s, findings);
    }
    if settings.restart.rotor.is_some() && settings.mill.rotor_inertia_kg_m2.is_none() {
        let wanted = "[mill] rotor_inertia_kg_m2: a start's heat goes by what turns".to_owned();
        findings.fault("restart.rotor_starts", "no inertia".to_owned(), wanted);
    }
    if let Some(jam) = &settings.trips.jam {
        let pickup = jam.pickup_pct / 100.0 * rated;
        if pickup < rated {
            let text = format!("{} % of rated current is {pickup:.1} A: trips at ordinary load", jam.pickup_pct);
            findings.warn("trip.jam.pickup_pct", text);
        }
        unreachable(findings, "trip.jam.pickup_pct", pickup, largest);
    }
    if let Some(under) = settings.trips.undervoltage.filter(|under| under.start_delay_s < under.delay_s) {
        let text = format!("{} s while starting is shorter than delay_s, {} s", under.start_delay_s, under.delay_s);
        findings.warn("trip.undervoltage.start_delay_s", text);
    }
}

/// A pick-up beyond what an unclipped sine can show.
fn unreachable(findings: &mut Findings<'_>, key: &str, pickup_a: f64, largest_a: f64) {
    if pickup_a > largest_a {
        let text = format!(
            "picks up at {pickup_a:.1} A rms, but current_full_scale_a shows no more than {largest_a:.1} A rms unclipped"
        );
        findings.warn(key, text);
    }
}

fn thermal(settings: &Settings, t: &Thermal, locked_a: f64, findings: &mut Findings<'_>) {
    let (rated, pickup) = (settings.motor.rated_current_a, t.k * t.base_current_a);
    if pickup < rated {
        let text = format!("k x base current = {pickup:.1} A, below the rated {rated} A: trips at rated load");
        findings.warn("trip.thermal.base_current_a", text);
    }
    if !settings.given.contains_key("trip.thermal.cooling_time_constant_s")
        && COOLING_OVER_HEATING * t.heating_time_constant_s > limits::LONGEST_S
    {
        let text = format!("taken as {} s, the longest time there is", limits::LONGEST_S);
        findings.warn("trip.thermal.cooling_time_constant_s", text);
    }
    if let Some(class) = t.trip_class {
        for missed in class.missed(t.k, t.heating_time_constant_s, t.running_share()) {
            findings.warn("trip.thermal.trip_class", format!("class {} is not kept: {missed}", class.word()));
        }
    }
    let [cold_s, hot_s] = [0.0, t.base_current_a].map(|before_a| t.trip_after_s(locked_a, before_a));
    if let Some([hot_stall_s, cold_stall_s]) = t.stall_s {
        for (what, time_s, stall_s) in [("cold", cold_s, cold_stall_s), ("hot", hot_s, hot_stall_s)] {
            if time_s.is_none_or(|time_s| time_s > stall_s) {
                let after = time_s.map_or("never".to_owned(), |time_s| format!("after {time_s:.1} s"));
                let text = format!(
                    "with the rotor locked the image trips {after} when {what}, the motor bears {stall_s} s: a shorter \
                     heating_time_constant_s, or a long_start delay within the stall time, must catch it"
                );
                findings
                    .warn(if what == "hot" { "trip.thermal.hot_stall_s" } else { "trip.thermal.cold_stall_s" }, text);
            }
        }
    }
    if let (Some(cold_s), Some(start)) = (cold_s, settings.trips.long_start)
        && cold_s < start.delay_s
    {
        let text = format!(
            "at the locked rotor's {locked_a:.0} A the image trips after {cold_s:.1} s from cold, before long_start's delay_s, {} s: a \
             start that takes so long is cut off",
            start.delay_s
        );
        findings.warn("trip.thermal.heating_time_constant_s", text);
    }
}

/// A start that is seen gaining may take longer, but never past what the motor bears.
fn gaining(settings: &Settings, gaining_s: f64, findings: &mut Findings<'_>) {
    let key = "trip.long_start.gaining_delay_s";
    let delay_s = settings.trips.long_start.map_or(0.0, |start| start.delay_s);
    if gaining_s < delay_s {
        findings.fault(key, format!("{gaining_s} s"), format!("no less than delay_s, {delay_s} s"));
    }
    match settings.trips.thermal.and_then(|thermal| thermal.stall_s) {
        Some([hot_s, _]) if gaining_s > hot_s => {
            findings.fault(key, format!("{gaining_s} s"), format!("no more than trip.thermal.hot_stall_s, {hot_s} s"));
        }
        Some(_) => {}
        None => findings.warn(key, "it must not exceed the hot stall time, and hot_stall_s is not given".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::testing::{faults, parsed, with};

    fn warned(text: &str) -> Vec<String> {
        parsed(text).1.into_iter().map(|warning| warning.key).collect()
    }

    #[test]
    fn an_image_that_is_too_slow_or_too_fast_is_told() {
        assert_eq!(warned(&with("trip.thermal", "trip_class = \"20\"")), [""; 0], "600 s keep class 20");
        let class = |class: &str| warned(&with("trip.thermal", &format!("trip_class = \"{class}\"")));
        assert_eq!(class("10A"), ["trip.thermal.trip_class"; 2], "600 s are too long for two of its columns");
        let low = with("trip.thermal", "trip_class = \"20\"\nk = 1.05");
        assert_eq!(warned(&low), ["trip.thermal.trip_class"], "no trip at 1.05 cannot be kept with k = 1.05");
        let slow = warned(&with("trip.thermal", "hot_stall_s = 5\ncold_stall_s = 8"));
        assert_eq!(slow, ["trip.thermal.cold_stall_s", "trip.thermal.hot_stall_s"]);
        let fast =
            with("trip.thermal", "").replace("heating_time_constant_s = 600.0", "heating_time_constant_s = 60.0");
        assert_eq!(warned(&fast), ["trip.thermal.heating_time_constant_s"]);
    }

    #[test]
    fn a_gaining_start_stays_within_the_stall_time() {
        let long = |lines: &str| with("trip.long_start", lines);
        assert!(faults(&long("gaining_delay_s = 6"))[0].wanted.contains("no less than delay_s"));
        assert_eq!(warned(&long("gaining_delay_s = 20")), ["trip.long_start.gaining_delay_s"]);
        let stalls =
            |text: String| text.replace("[trip.thermal]", "[trip.thermal]\nhot_stall_s = 18\ncold_stall_s = 30");
        assert!(faults(&stalls(long("gaining_delay_s = 20")))[0].wanted.contains("hot_stall_s"));
        assert!(!warned(&stalls(long("gaining_delay_s = 17"))).contains(&"trip.long_start.gaining_delay_s".to_owned()));
    }
}
