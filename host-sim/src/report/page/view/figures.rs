//! Figures of the page: in short, in full, by state, and where the energy went.

use std::collections::BTreeSet;

use crate::report::figures;
use crate::report::words::{short, span};
use crate::report::{Summary, TotalsRow};
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

impl From<figures::Figure> for Figure {
    fn from(f: figures::Figure) -> Self {
        let unit =
            if f.value.is_some() { format!("{} {}", f.unit, f.beside).trim_end().to_owned() } else { String::new() };
        Self { name: f.name, value: f.value.map_or_else(|| MISSING.to_owned(), short), unit, why: f.why }
    }
}

impl Figure {
    /// The same under another name.
    fn named(self, name: &'static str) -> Self {
        Self { name, ..self }
    }

    /// The same in another unit's words.
    fn in_unit(self, unit: &str) -> Self {
        let unit = if self.value == MISSING { String::new() } else { unit.to_owned() };
        Self { unit, ..self }
    }
}

fn text(name: &'static str, value: String, unit: &str) -> Figure {
    Figure { name, value, unit: unit.to_owned(), why: "" }
}

/// What most readers ask for.
pub fn tiles(end: &Summary, settings: &Settings) -> Vec<Figure> {
    let t = &end.totals;
    let running_s = t.idle_s + t.breaking_s;
    // Without an idle power nothing can be told idle.
    let idle = t.idle_power_kw.filter(|_| running_s > 0.0).map(|_| t.idle_kwh);
    let idle_unit = format!("kWh, {} % of the running time", short(t.idle_s / running_s * 100.0));
    let why = t.why.get("idle_power_kw").copied().unwrap_or("the motor did not run");
    let find = |all: Vec<figures::Figure>, name: &str| all.into_iter().find(|f| f.name == name).map(Figure::from);
    let energy = |name: &str| find(figures::energy(end, settings), name);
    let load = |name: &str| find(figures::load(end), name).map(|f| f.in_unit("% of rated"));
    let all = [
        Some(text("running", span(running_s), "")),
        Some(text("starts, trips", format!("{}, {}", t.starts, t.trips), "")),
        energy("taken in").map(|f| f.named("energy taken in")),
        Some(
            Figure::from(figures::Figure {
                name: "of it while idle",
                value: idle,
                unit: "",
                beside: String::new(),
                why,
            })
            .in_unit(&idle_unit),
        ),
        Some(figures::mass(end).into()),
        energy("gross per tonne").map(|f| f.named("gross, electrical").in_unit("kWh/t")),
        energy("net per tonne").map(|f| f.named("net of idle, at the shaft").in_unit("kWh/t")),
        load("mean").map(|f| f.named("load while running, mean")),
        load("95 % of time below").map(|f| f.named("load, 95 % of time below")),
        Some(Figure::from(figures::peak_current(end)).named("highest current of a cycle").in_unit("A rms")),
        Some(Figure::from(figures::thermal(end)).named("thermal image, highest").in_unit("% of trip")),
    ];
    // One reason is told once.
    let mut told = BTreeSet::new();
    all.into_iter().flatten().filter(|f| f.value != MISSING || told.insert(f.why)).collect()
}

/// Everything, by headings.
pub fn totals(end: &Summary, settings: &Settings) -> Vec<(&'static str, Vec<Figure>)> {
    let t = &end.totals;
    let load = figures::load(end).into_iter().map(|f| Figure::from(f).in_unit("% of rated"));
    let above = figures::above(end).into_iter().map(|(name, t_s)| text(name, span(t_s), ""));
    let all = vec![
        ("Energy and mass", figures::energy(end, settings).into_iter().map(Figure::from).collect()),
        ("Load while running", load.chain(above).collect()),
        (
            "Counts and peaks",
            vec![
                text("starts", t.starts.to_string(), ""),
                text("trips", t.trips.to_string(), ""),
                Figure::from(figures::peak_current(end)).in_unit("A rms of one cycle, starts included"),
                figures::thermal(end).into(),
            ],
        ),
        ("Tachometer", speeds(end)),
    ];
    all.into_iter().filter(|(_, rows)| !rows.is_empty()).collect()
}

/// Measured by the tachometer and told by the slip.
fn speeds(end: &Summary) -> Vec<Figure> {
    let mut rows: Vec<Figure> = figures::speeds(end).into_iter().map(Figure::from).collect();
    if end.tachometer.intervals > 0 {
        rows.push(text("compared", end.tachometer.intervals.to_string(), "intervals of steady running"));
    }
    rows
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
