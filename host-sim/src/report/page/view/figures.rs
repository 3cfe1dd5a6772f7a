//! Figures of the page: in short, in full, by state, and where the energy went.

use std::collections::BTreeSet;

use crate::report::words::{short, span};
use crate::report::{LoadRow, Summary, TotalsRow};
use crate::settings::Settings;

/// A figure with its name and unit; `–` with a reason where it cannot be had.
pub struct Figure {
    pub name: &'static str,
    pub value: String,
    pub unit: String,
    pub why: &'static str,
}

/// Time and energy of a state.
pub struct StateShare {
    pub name: &'static str,
    pub means: &'static str,
    pub seconds: String,
    pub time_pct: f64,
    pub energy: String,
    pub energy_pct: f64,
}

/// A part of the energy taken in.
pub struct Part {
    pub name: &'static str,
    pub energy: String,
    pub pct: f64,
    pub means: &'static str,
}

const MISSING: &str = "–";

fn figure(name: &'static str, value: Option<f64>, unit: &str, why: &'static str) -> Figure {
    let unit = if value.is_some() { unit.to_owned() } else { String::new() };
    Figure { name, value: value.map_or_else(|| MISSING.to_owned(), short), unit, why }
}

fn text(name: &'static str, value: String) -> Figure {
    Figure { name, value, unit: String::new(), why: "" }
}

/// The mass in a unit that suits it.
fn mass(t: &TotalsRow) -> Figure {
    let why = t.why.get("mass_t").copied().unwrap_or_default();
    match t.mass_t {
        Some(tonnes) if tonnes < 1.0 => figure("mass fed", Some(tonnes * 1e3), "kg", why),
        tonnes => figure("mass fed", tonnes, "t", why),
    }
}

/// What most readers ask for.
pub fn tiles(end: &Summary) -> Vec<Figure> {
    let (t, load) = (&end.totals, &end.load);
    let why = |key: &str| t.why.get(key).copied().unwrap_or_default();
    let running_s = t.idle_s + t.breaking_s;
    // Without an idle power nothing can be told idle.
    let idle = t.idle_power_kw.filter(|_| running_s > 0.0);
    let idle_unit = format!("kWh, {} % of the running time", short(t.idle_s / running_s * 100.0));
    let all = vec![
        text("running", span(running_s)),
        text("starts, trips", format!("{}, {}", t.starts, t.trips)),
        figure("energy taken in", Some(t.electrical_kwh), "kWh", ""),
        figure("of it while idle", idle.map(|_| t.idle_kwh), &idle_unit, why("idle_power_kw")),
        mass(t),
        figure("gross, electrical", t.gross_kwh_per_t, "kWh/t", why("gross_kwh_per_t")),
        figure("net of idle, at the shaft", t.net_kwh_per_t, "kWh/t", why("net_kwh_per_t")),
        figure("load while running, mean", load.mean_pct, "% of rated", "the motor did not run"),
        figure("load, 95 % of time below", load.p95_pct, "% of rated", "the motor did not run"),
        figure("highest current of a cycle", t.peak_current_a, "A rms", why("peak_current_a")),
        figure("thermal image, highest", t.max_thermal_pct, "% of trip", why("max_thermal_pct")),
    ];
    // One reason is told once.
    let mut told = BTreeSet::new();
    all.into_iter().filter(|f| f.value != MISSING || told.insert(f.why)).collect()
}

/// Everything.
pub fn totals(end: &Summary, settings: &Settings) -> Vec<Figure> {
    let (t, load) = (&end.totals, &end.load);
    let why = |key: &str| t.why.get(key).copied().unwrap_or_default();
    let of_load = |key: &str| load.why.get(key).copied().unwrap_or("the motor did not run");
    let idle = if settings.mill.idle_power_kw.is_some() { "kW, as set" } else { "kW, learnt" };
    let mut all = vec![
        figure("electrical energy taken in", Some(t.electrical_kwh), "kWh", ""),
        figure("electrical energy given back", Some(t.exported_kwh), "kWh", ""),
        figure("reactive energy", Some(t.reactive_kvarh), "kvarh", ""),
        figure("shaft energy, idle and breaking", t.shaft_kwh, "kWh", why("shaft_kwh")),
        figure("idle power at the shaft", t.idle_power_kw, idle, why("idle_power_kw")),
        figure("net of idle, at the shaft", t.net_kwh, "kWh", why("net_kwh")),
        mass(t),
        figure("gross energy per tonne: electrical, all of it", t.gross_kwh_per_t, "kWh/t", why("gross_kwh_per_t")),
        figure("net energy per tonne: shaft less idle, without starts", t.net_kwh_per_t, "kWh/t", why("net_kwh_per_t")),
        text("starts", t.starts.to_string()),
        text("trips", t.trips.to_string()),
        figure("highest current of a cycle", t.peak_current_a, "A rms", why("peak_current_a")),
        figure("highest thermal image", t.max_thermal_pct, "% of the trip level", why("max_thermal_pct")),
    ];
    all.extend(loads(load, of_load));
    all
}

fn loads(load: &LoadRow, why: impl Fn(&str) -> &'static str) -> Vec<Figure> {
    const UNIT: &str = "% of rated";
    let known = load.mean_pct.is_some();
    vec![
        figure("load while running, mean", load.mean_pct, UNIT, why("mean_pct")),
        figure("load, root of the mean square", load.rms_pct, UNIT, why("rms_pct")),
        figure("load, 95 % of time below", load.p95_pct, UNIT, why("p95_pct")),
        figure("highest load over 10 s", load.highest_10s_pct, UNIT, why("highest_10s_pct")),
        figure("highest load over 1 s", load.highest_1s_pct, UNIT, why("highest_1s_pct")),
        figure("highest load over 0.2 s", load.highest_pct, UNIT, why("highest_pct")),
        figure("time above rated load", known.then_some(load.above_100_s), "s", why("mean_pct")),
        figure("time above 110 %", known.then_some(load.above_110_s), "s", why("mean_pct")),
    ]
}

/// Figures that stand under each other: as many decimals as the whole needs.
fn aligned(x: f64, whole: f64) -> String {
    let places = if whole > 0.0 { (3 - whole.log10().floor() as i32).clamp(0, 6) as usize } else { 0 };
    let text = format!("{x:.places$}");
    // No minus before nothing.
    if text.bytes().any(|b| matches!(b, b'1'..=b'9')) { text } else { text.replace('-', "") }
}

fn share(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole * 100.0 } else { 0.0 }
}

/// Time and energy by state.
pub fn states(t: &TotalsRow, duration_s: f64) -> Vec<StateShare> {
    const MEANS: [&str; 6] = [
        "less than 10 % of rated current, rotor at rest",
        "from the onset of current to 95 % of synchronous speed",
        "running empty: shaft power near idle power",
        "running otherwise: a stall, and the second before idle is sure, are in here",
        "current gone, rotor may still turn: as long as the settings say, unless a tachometer tells",
        "not known: gaps, and the first cycle",
    ];
    t.times()
        .into_iter()
        .zip(t.energies())
        .zip(MEANS)
        .map(|(((name, time_s), kwh), means)| StateShare {
            name,
            means,
            seconds: span(time_s),
            time_pct: share(time_s, duration_s),
            energy: aligned(kwh, t.electrical_kwh),
            energy_pct: share(kwh, t.electrical_kwh),
        })
        .collect()
}

/// Where the energy went, the parts together all of it; empty where idle power or shaft energy is not known.
pub fn parts(t: &TotalsRow) -> Vec<Part> {
    let (Some(shaft), Some(net)) = (t.shaft_kwh, t.net_kwh) else { return vec![] };
    let running = t.idle_kwh + t.breaking_kwh;
    let part = |name, kwh, means| Part {
        name,
        energy: aligned(kwh, t.electrical_kwh),
        pct: share(kwh, t.electrical_kwh),
        means,
    };
    vec![
        part("starts", t.start_kwh, "electrical energy while starting"),
        part("motor's losses", running - shaft, "electrical less shaft energy, while running"),
        part("turning the mill", shaft - net, "idle power over all the running time"),
        part("net of idle", net, "shaft energy beyond that: the material's"),
        part("rest", t.electrical_kwh - running - t.start_kwh, "while stopped, coasting or not known"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::summary;

    /// By hand: 10 = 1 (starts) + 2 (losses) + 3 (idle power) + 3.5 (net) + 0.5 (rest).
    #[test]
    fn the_parts_are_all_of_it() {
        let t = TotalsRow {
            electrical_kwh: 10.0,
            start_kwh: 1.0,
            idle_kwh: 3.0,
            breaking_kwh: 5.5,
            shaft_kwh: Some(6.5),
            net_kwh: Some(3.5),
            ..summary().totals
        };
        let parts = parts(&t);
        let energies: Vec<&str> = parts.iter().map(|p| p.energy.as_str()).collect();
        assert_eq!(energies, ["1.00", "2.00", "3.00", "3.50", "0.50"]);
        assert!((parts.iter().map(|p| p.pct).sum::<f64>() - 100.0).abs() < 1e-9);
        assert!(super::parts(&summary().totals).is_empty(), "idle power is not known");
    }

    #[test]
    fn columns_have_one_count_of_decimals() {
        for (x, whole, want) in
            [(0.000_001, 0.7, "0.0000"), (0.539, 0.7, "0.5390"), (-0.01, 512.0, "0.0"), (2.0, 0.0, "2")]
        {
            assert_eq!(aligned(x, whole), want);
        }
    }
}
