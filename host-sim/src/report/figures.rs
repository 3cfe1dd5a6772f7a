//! The figures of a trace with names and units for people: one list for the table and for the page.

use super::tachometer::NO_TACHOMETER;
use super::words::short;
use super::{Reason, Summary, Why};
use crate::settings::Settings;

/// A figure; where it cannot be had, the reason.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it is.
    pub name: &'static str,
    /// The figure.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: &'static str,
    /// What else there is to say of it, after its unit.
    pub beside: String,
    /// Why it cannot be had.
    pub why: Reason,
}

/// A figure whose reason stands under a key.
fn figure(name: &'static str, value: Option<f64>, unit: &'static str, why: &Why, key: &str) -> Figure {
    let why = why.get(key).copied().unwrap_or_default();
    Figure { name, value, unit, beside: String::new(), why }
}

/// Energy, mass, energy per tonne.
pub fn energy(end: &Summary, settings: &Settings) -> Vec<Figure> {
    /// Of what is taken in: less is the ripple of a motor that is switched off.
    const GIVEN_BACK: f64 = 0.001;
    let t = &end.totals;
    let idle = if settings.mill.idle_power_kw.is_some() { "kW, as set" } else { "kW, learnt" };
    let known = |name, kwh, unit| Figure { name, value: Some(kwh), unit, beside: String::new(), why: "" };
    let repeats = t.idle_spread_kw.map_or_else(String::new, |kw| format!("repeats within {kw:.2} kW (s)"));
    let [gross, net] = end.runs.whole.bands();
    let mut all = vec![known("taken in", t.electrical_kwh, "kWh")];
    if t.exported_kwh > GIVEN_BACK * t.electrical_kwh {
        all.push(known("given back", t.exported_kwh, "kWh"));
    }
    all.extend([
        known("reactive", t.reactive_kvarh, "kvarh"),
        figure("at the shaft", t.shaft_kwh, "kWh", &t.why, "shaft_kwh"),
        Figure { beside: repeats, ..figure("idle power", t.idle_power_kw, idle, &t.why, "idle_power_kw") },
        figure("net of idle", t.net_kwh, "kWh", &t.why, "net_kwh"),
        mass(end),
        Figure { beside: gross, ..figure("gross per tonne", t.gross_kwh_per_t, "kWh/t", &t.why, "gross_kwh_per_t") },
        Figure { beside: net, ..figure("net per tonne", t.net_kwh_per_t, "kWh/t", &t.why, "net_kwh_per_t") },
    ]);
    for f in all.iter_mut().filter(|f| f.name != "mass fed" && f.value.is_some()) {
        if settings.mill.idle_power_kw.is_none() || f.name != "idle power" {
            estimate(end, f);
        }
    }
    all
}

/// Says of a figure that it is an estimate, where power is.
fn estimate(end: &Summary, f: &mut Figure) {
    if end.estimates_power() {
        let blank = if f.beside.is_empty() { "" } else { " " };
        f.beside = format!("{}{blank}estimated", f.beside);
    }
}

/// The mass in a unit that suits it.
pub fn mass(end: &Summary) -> Figure {
    let t = &end.totals;
    let (value, unit) = match t.mass_t {
        Some(tonnes) if tonnes < 1.0 => (Some(tonnes * 1e3), "kg"),
        tonnes => (tonnes, "t"),
    };
    figure("mass fed", value, unit, &t.why, "mass_t")
}

/// Load while running, % of rated power; a motor that never ran has one reason for all.
pub fn load(end: &Summary) -> Vec<Figure> {
    let load = &end.load;
    let shown = if load.measured_s > 0.0 { 6 } else { 1 };
    [
        ("mean", load.mean_pct, "mean_pct"),
        ("rms", load.rms_pct, "rms_pct"),
        ("95 % of time below", load.p95_pct, "p95_pct"),
        ("highest, 10 s", load.highest_10s_pct, "highest_10s_pct"),
        ("highest, 1 s", load.highest_1s_pct, "highest_1s_pct"),
        (if end.rms { "highest interval" } else { "highest, 0.2 s" }, load.highest_pct, "highest_pct"),
    ]
    .into_iter()
    .take(shown)
    .map(|(name, pct, key)| figure(name, pct, "%", &load.why, key))
    .collect()
}

/// Time above a load, s; empty for a motor that never ran.
pub fn above(end: &Summary) -> Vec<(&'static str, f64)> {
    let load = &end.load;
    let all = [("above 100 %", load.above_100_s), ("above 110 %", load.above_110_s)];
    if load.measured_s > 0.0 { all.to_vec() } else { vec![] }
}

/// The highest current of a cycle, A rms, starts included.
pub fn peak_current(end: &Summary) -> Figure {
    figure("highest current", end.totals.peak_current_a, "A", &end.totals.why, "peak_current_a")
}

/// The highest level of the thermal image.
pub fn thermal(end: &Summary) -> Figure {
    figure("thermal image", end.totals.max_thermal_pct, "% of trip level, highest", &end.totals.why, "max_thermal_pct")
}

/// Tachometer less speed by slip, where there is a tachometer.
pub fn tachometer(end: &Summary) -> Option<Figure> {
    let t = &end.tachometer;
    let there = t.intervals > 0 || t.why.get("mean_rpm").is_some_and(|why| *why != NO_TACHOMETER);
    let slip = t.slip_ratio.map_or(String::new(), |ratio| format!(", {} times its slip", short(ratio)));
    let beside = format!("against the speed by slip{slip}");
    there
        .then(|| Figure { beside, ..figure("tachometer", t.mean_difference_rpm, "rpm", &t.why, "mean_difference_rpm") })
}

/// What turns, where a start tells it.
pub fn inertia(end: &Summary) -> Option<Figure> {
    let i = &end.inertia;
    let beside = "at most, by the start's torque".to_owned();
    i.highest_kg_m2.map(|_| Figure { beside, ..figure("inertia", i.highest_kg_m2, "kg m2", &i.why, "highest_kg_m2") })
}

/// What the tachometer measured beside what the slip tells; empty where there is no tachometer.
pub fn speeds(end: &Summary) -> Vec<Figure> {
    let t = &end.tachometer;
    let Some(difference) = tachometer(end) else { return vec![] };
    let mut all = vec![Figure { name: "measured, mean", value: t.mean_rpm, beside: String::new(), ..difference }];
    // One reason is told once.
    if t.intervals > 0 {
        let beside = "the one told".to_owned();
        all.extend([
            figure("told by the slip, mean", t.mean_by_slip_rpm, "rpm", &t.why, "mean_by_slip_rpm"),
            figure("difference", t.mean_difference_rpm, "rpm", &t.why, "mean_difference_rpm"),
            Figure { beside, ..figure("slip measured", t.slip_ratio, "times", &t.why, "slip_ratio") },
        ]);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::{settings, summary};

    #[test]
    fn what_is_missing_has_its_reason_and_small_masses_are_in_kilograms() {
        let mut end = summary();
        let all = [energy(&end, &settings()), load(&end), vec![peak_current(&end), thermal(&end)]].concat();
        for f in &all {
            assert_eq!(f.value.is_none(), !f.why.is_empty(), "{f:?}");
        }
        assert!(!all.iter().any(|f| f.name == "given back"), "nothing was");
        end.totals.mass_t = Some(0.25);
        assert_eq!((mass(&end).value, mass(&end).unit), (Some(250.0), "kg"));
        end.totals.exported_kwh = 0.5;
        assert!(energy(&end, &settings()).iter().any(|f| f.name == "given back"));
    }
}
