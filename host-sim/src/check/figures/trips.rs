//! The elements, and what refuses a start.

use super::Lines;
use crate::settings::class::TripClass;
use crate::settings::derive::{Derived, Provenance};
use crate::settings::{CurrentTap, Undervoltage, Values, Wiring};

/// Drop-out of an element over its pick-up; of undervoltage its inverse.
const DROPOUT: f64 = 0.97;

/// All of them.
pub(super) fn all(out: &mut Lines<'_>, derived: &Derived) {
    thermal(out, derived);
    other_trips(out);
    further(out);
    restart(out);
}

fn thermal(out: &mut Lines<'_>, derived: &Derived) {
    out.section("trip.thermal");
    let Some(thermal) = &out.settings.trips.thermal else { return out.note(NOT_WANTED) };
    let base = thermal.base_current_a;
    out.key("base_current_a", base, "A");
    out.key("k", thermal.k, "");
    out.follows("pickup_a", thermal.k * base, "A", "k x base current");
    out.measured("pickup_winding_a", thermal.k * base, "");
    out.key("heating_time_constant_s", thermal.heating_time_constant_s, "s");
    out.key("cooling_time_constant_s", thermal.cooling_time_constant_s, "s");
    out.key("initial_pct", thermal.initial_pct, "%");
    out.key("negative_sequence_factor", thermal.negative_sequence_factor, "");
    if let Some(class) = thermal.trip_class {
        out.key("trip_class", class.word(), "");
    }
    if let Some([hot_s, cold_s]) = thermal.stall_s {
        out.key("hot_stall_s", hot_s, "s");
        out.key("cold_stall_s", cold_s, "s");
        let share = 100.0 * thermal.running_share();
        out.follows("running_share_pct", share, "%", "of the level that a current below the pick-up leads to");
    }
    let locked = derived.locked_rotor_current_a.value;
    let mut times = vec![
        ("cold_trip_at_150_pct_s", 1.5 * base, 0.0),
        ("cold_trip_at_600_pct_s", 6.0 * base, 0.0),
        ("cold_trip_at_locked_rotor_s", locked, 0.0),
        ("hot_trip_at_locked_rotor_s", locked, base),
    ];
    if thermal.trip_class.is_some() {
        times.extend([("cold_trip_at_720_pct_s", 7.2 * base, 0.0), ("hot_trip_at_150_pct_s", 1.5 * base, base)]);
    }
    for (name, current, before) in times {
        let time = thermal.trip_after_s(current, before);
        let never = if time.is_some() { "" } else { "never " };
        let from = if before > 0.0 { "after base current for long" } else { "from cold" };
        let kept = thermal.trip_class.map_or_else(String::new, |class| kept(class, name, time));
        out.push(name, time, "s", Provenance::Inferred, format!("{never}at {current:.1} A {from}{kept}"));
    }
}

/// Whether a time is within its bounds of a trip class, in words.
fn kept(class: TripClass, name: &str, time_s: Option<f64>) -> String {
    let ([earliest, latest], warm) = class.times_s();
    let (low, high) = match name {
        "cold_trip_at_720_pct_s" => (earliest, latest),
        "hot_trip_at_150_pct_s" => (0.0, warm),
        _ => return String::new(),
    };
    let word = class.word();
    if time_s.is_some_and(|time| time > low && time <= high) {
        format!(": class {word} wants {low} to {high} s")
    } else {
        format!(": NOT KEPT, class {word} wants {low} to {high} s")
    }
}

/// What stands for an element that is not wanted.
const NOT_WANTED: &str = "not wanted (enabled = false)";

fn other_trips(out: &mut Lines<'_>) {
    let trips = out.settings.trips;
    let rated = out.settings.motor.rated_current_a;
    out.section("trip.jam");
    if let Some(jam) = trips.jam {
        let pickup = jam.pickup_pct / 100.0 * rated;
        out.key("pickup_pct", jam.pickup_pct, "%");
        out.follows("pickup_a", pickup, "A", "once the motor runs");
        out.measured("pickup_winding_a", pickup, "");
        out.follows("dropout_a", DROPOUT * pickup, "A", "97 % of pick-up");
        out.key("delay_s", jam.delay_s, "s");
    } else {
        out.note(NOT_WANTED);
    }
    out.section("trip.long_start");
    if let Some(long_start) = trips.long_start {
        out.key("delay_s", long_start.delay_s, "s");
        let absent = "as delay_s: without a tachometer nothing shows it gaining";
        out.option("gaining_delay_s", long_start.gaining_delay_s, "s", absent);
    } else {
        out.note(NOT_WANTED);
    }
    out.section("trip.phase_loss");
    if let Some(phase_loss) = trips.phase_loss {
        out.key("pickup_pct", phase_loss.pickup_pct, "%");
        out.follows("armed_above_a", 0.15 * rated, "A", "15 % of rated");
        out.key("delay_s", phase_loss.delay_s, "s");
    } else {
        out.note(NOT_WANTED);
    }
    out.section("trip.undervoltage");
    if let Some(under) = trips.undervoltage {
        undervoltage(out, &under);
    } else {
        out.note(NOT_WANTED);
    }
}

/// Those that are off unless their table is there.
fn further(out: &mut Lines<'_>) {
    let f = out.settings.trips.further;
    let rms = out.settings.sampling.values == Values::Rms;
    let wiring = out.settings.supply.wiring;
    let inside = out.settings.supply.current_tap != CurrentTap::Line;
    let off = |name: &str| match name {
        "trip.overvoltage" if wiring == Wiring::CurrentsOnly => Some("OFF: no voltage is measured"),
        "trip.residual_current" if wiring == Wiring::TwoElement => Some("OFF: the third current is not measured"),
        "trip.residual_current" if inside => Some("OFF: what the windings have in common is in no line"),
        "trip.residual_current" if rms => Some("OFF: rms values do not tell the sum of the currents"),
        "trip.phase_reversal" if rms => Some("OFF: rms values do not tell the order of phases"),
        _ => None,
    };
    for (name, element, of) in [
        ("trip.overvoltage", f.overvoltage, "of nominal voltage, highest phase"),
        ("trip.current_unbalance", f.current_unbalance, "negative over positive sequence"),
        ("trip.residual_current", f.residual_current, "of rated current; protects nobody from a live part"),
        ("trip.underload", f.underload, "of idle power, once that is sure"),
    ] {
        let Some(element) = element else { continue };
        out.section(name);
        if let Some(why) = off(name) {
            out.note(why);
        }
        out.push("pickup_pct", element.pickup_pct, "%", Provenance::Given, of.to_owned());
        out.key("delay_s", element.delay_s, "s");
        out.key("action", element.action.word(), "");
    }
    for (name, watch) in [("trip.phase_reversal", f.phase_reversal), ("trip.sensor_fault", f.sensor_fault)] {
        let Some(watch) = watch else { continue };
        out.section(name);
        if let Some(why) = off(name) {
            out.note(why);
        }
        out.key("delay_s", watch.delay_s, "s");
        out.key("action", watch.action.word(), "");
    }
    if let Some(starts) = f.starts_per_hour {
        out.section("trip.starts_per_hour");
        out.key("most", starts.most, "");
        out.key("action", starts.action.word(), "");
    }
    if let Some(wedge) = f.wedge {
        let rated_kw = out.settings.motor.rated_power_kw;
        out.section("trip.wedge");
        out.key("pickup_pct", wedge.pickup_pct, "%");
        out.key("window_s", wedge.window_s, "s");
        let needs = if out.settings.mill.rotor_inertia_kg_m2.is_some() {
            "work of a load that does not let go"
        } else {
            "work of the shaft that does not let go: without rotor_inertia_kg_m2 it is told later"
        };
        out.follows("standing_kj", wedge.pickup_pct / 100.0 * wedge.window_s * rated_kw, "kJ", needs);
        out.key("action", wedge.action.word(), "");
    }
}

/// What a start and a reset are refused for.
fn restart(out: &mut Lines<'_>) {
    let restart = out.settings.restart;
    out.section("restart");
    out.key("rest_s", restart.rest_s, "s");
    out.key("reset_level_pct", restart.reset_level_pct, "%");
    let Some(rotor) = restart.rotor else { return };
    out.key("rotor_starts", rotor.starts, "one after another from cold");
    out.key("rotor_cooling_s", rotor.cooling_s, "s");
    if let Some(j) = out.settings.mill.rotor_inertia_kg_m2 {
        let speed = out.settings.motor.synchronous_speed_rpm() * std::f64::consts::TAU / 60.0;
        let how = "kinetic energy at synchronous speed: what a start leaves in the rotor at least";
        out.follows("rotor_heat_kj", 0.5 * j * speed * speed / 1e3, "kJ", how);
    }
}

fn undervoltage(out: &mut Lines<'_>, under: &Undervoltage) {
    let supply = out.settings.supply;
    let (nominal, what) = if supply.wiring.is_phase_to_neutral() {
        (supply.line_voltage_v / 3f64.sqrt(), "phase to neutral")
    } else {
        (supply.line_voltage_v, "line to line")
    };
    let pickup = under.pickup_pct / 100.0 * nominal;
    out.key("pickup_pct", under.pickup_pct, "%");
    out.follows("pickup_v", pickup, "V", what);
    out.follows("dropout_v", pickup / DROPOUT, "V", "pick-up / 97 %");
    out.key("delay_s", under.delay_s, "s");
    out.key("start_delay_s", under.start_delay_s, "s");
}
