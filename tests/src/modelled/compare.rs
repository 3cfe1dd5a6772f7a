//! What a replay says against what the model knows, within the bounds of this project's acceptance.
//!
//! The bounds: electrical energy 0.03 %, shaft energy 1 %, net energy 1.5 %, mass 0.05 % and a count of the scale, specific energy 1.5 %; a
//! start's duration 0.05 s and 2 %, peak current -5 to +1 % (elements renew each half cycle, truth slides by the
//! sample); of a motor that drives nothing, shaft energy 0.5 % of rated power for as long; where load and speed are steady, speed 0.15 %, shaft power 0.5 % and torque 0.6 % of rated.

use serde_json::Value;
use shaftwork_sim::plant::fault::{Fault, Kind};
use shaftwork_sim::settings::Settings;
use shaftwork_sim::synth::story::Story;

use super::exceptions;
use super::known::{Known, Rated, Start};
use super::row::Row;

const J_PER_KWH: f64 = 3.6e6;
/// Beginning of a steady span whose interval saw what was before it, s.
const SETTLES_S: f64 = 0.25;
/// Least mass for which a specific energy is told, kg.
const LEAST_KG: f64 = 1.0;
/// What cannot be had where a current is not measured, and its key.
const UNMEASURED: [(&str, &str); 3] = [
    ("shaft energy while running, kWh", "shaft_kwh"),
    ("net energy, kWh", "net_kwh"),
    ("net energy a tonne, kWh/t", "net_kwh_per_t"),
];
const STATES: [&str; 6] = ["stopped", "starting", "idle", "breaking", "coasting", "unknown"];

/// A replay beside the truth.
#[derive(Debug, Clone, Copy)]
pub struct Beside<'a> {
    /// The scenario.
    pub story: &'a Story,
    /// Its settings.
    pub settings: &'a Settings,
    /// What the model knows.
    pub known: &'a Known,
    /// What `replay --json` wrote.
    pub replayed: &'a Value,
}

impl Beside<'_> {
    /// All rows.
    #[must_use]
    pub fn rows(&self) -> Vec<Row> {
        let mut rows = vec![self.balance()];
        rows.extend(self.energies());
        rows.extend(self.masses());
        rows.extend(self.starts());
        rows.push(self.peak());
        rows.extend(self.steady());
        rows.extend(self.held());
        rows.push(self.trips());
        rows.extend(self.sums());
        rows.push(self.warnings());
        if self.unmeasured() {
            rows = rows.into_iter().map(|row| self.cannot_be_had(row)).collect();
        }
        rows
    }

    /// Whether a current is not measured for a time.
    fn unmeasured(&self) -> bool {
        let dead = |fault: &Fault| fault.kind == Kind::Dead && (3..6).contains(&fault.channel);
        self.story.scenario.sensor.faults.iter().any(dead)
    }

    /// A figure that power not measured takes away: it must be null, with the reason.
    fn cannot_be_had(&self, row: Row) -> Row {
        let Some((_, key)) = UNMEASURED.iter().find(|(figure, _)| *figure == row.figure) else { return row };
        let totals = &self.replayed["totals"];
        let why = totals["why"][key].as_str().unwrap_or("no reason");
        let right = totals[key].is_null() && why.contains("dead");
        Row::without(row.figure, "it cannot be had, and the replay says so", format!("null: {why}"), right)
    }

    fn total(&self, name: &str) -> Option<f64> {
        self.replayed["totals"][name].as_f64()
    }

    fn events(&self, name: &str) -> impl Iterator<Item = &Value> {
        let name = name.to_owned();
        let all = self.replayed["events"].as_array().into_iter().flatten();
        all.filter(move |event| event["event"] == name.as_str())
    }

    /// A motor with nothing on its shaft: its settings have no idle power.
    fn drives_nothing(&self) -> bool {
        self.settings.mill.idle_power_kw.is_none()
    }

    /// Rated power for as long as it ran, kWh.
    fn rated_kwh(&self) -> f64 {
        let ran_s: f64 = self.known.ran_s.iter().map(|[from, until]| until - from).sum();
        Rated::new(self.settings).power_w * ran_s / J_PER_KWH
    }

    /// Work of the pieces: what the shaft did less what the empty mill takes, kWh.
    fn net_kwh(&self) -> f64 {
        let (known, idle_w) = (self.known, 1000.0 * self.settings.mill.idle_power_kw.unwrap_or(f64::NAN));
        let ran_s: f64 = known.ran_s.iter().map(|[from, until]| until - from).sum();
        (known.shaft_j(&known.ran_s) - idle_w * ran_s) / J_PER_KWH
    }

    /// When it ran if the run-ups are taken from the replay; `None` where it tells another number of them.
    fn ran_as_told(&self) -> Option<Vec<[f64; 2]>> {
        let cycle_s = 1.0 / self.story.scenario.supply.frequency_hz;
        let mut told = self.events("run_up").map(|event| event["t_s"].as_f64());
        let ends = |t: f64| move |s: &Start| s.lasts_s.is_some_and(|lasts| (s.at_s + lasts - t).abs() < cycle_s);
        let is_run_up = |t: f64| self.known.starts.iter().any(ends(t));
        let spans = self.known.ran_s.iter().map(|&[from, until]| {
            let from = if is_run_up(from) { told.next()?? } else { from };
            Some([from, until])
        });
        let spans = spans.collect::<Option<Vec<_>>>()?;
        told.next().is_none().then_some(spans)
    }

    /// The model's own: supply less losses, shaft and what is stored.
    fn balance(&self) -> Row {
        let balance = &self.known.end.balance;
        let whole = balance.electrical_j.abs().max(balance.kinetic_j.abs());
        let missing = Some(100.0 * balance.rest_j() / whole);
        Row::within("the model's energies add up: missing, %", 0.0, missing, 1.0, [-0.01, 0.01], "0.01 %", " %")
    }

    fn energies(&self) -> Vec<Row> {
        let known = self.known;
        let shaft = known.shaft_j(&known.ran_s) / J_PER_KWH;
        let electrical = known.end.electrical_j / J_PER_KWH;
        let given = self.total("electrical_kwh").zip(self.total("exported_kwh")).map(|(taken, given)| taken - given);
        let net = self.net_kwh();
        let mut rows = vec![
            Row::share("electrical energy less what was given back, kWh", electrical, given, electrical, 0.03, "%"),
            if self.drives_nothing() {
                let words = "% of rated power for as long: nothing is driven";
                Row::share(
                    "shaft energy while running, kWh",
                    shaft,
                    self.total("shaft_kwh"),
                    self.rated_kwh(),
                    0.5,
                    words,
                )
            } else {
                Row::share("shaft energy while running, kWh", shaft, self.total("shaft_kwh"), shaft, 1.0, "%")
            },
        ];
        if known.starts.iter().any(|start| start.lasts_s.is_some()) {
            let told = self.ran_as_told().map_or(f64::NAN, |spans| known.shaft_j(&spans) / J_PER_KWH);
            let figure = "shaft energy from the run-up as told, kWh";
            rows.push(Row::share(figure, told, self.total("shaft_kwh"), told, 1.0, "%"));
        }
        let (figure, replayed) = ("net energy, kWh", self.total("net_kwh"));
        rows.push(if self.drives_nothing() {
            let told = replayed.map_or("null".to_owned(), |kwh| format!("{kwh:.4}"));
            let right = replayed.is_some_and(|kwh| kwh.abs() < 0.005 * self.rated_kwh());
            Row::without(figure, "nothing is driven, and there is no idle power", told, right)
        } else if known.end.mass_kg > 0.0 {
            Row::share(figure, net, replayed, net, 1.5, "%")
        } else {
            Row::share(figure, net, replayed, shaft, 1.0, "% of shaft energy: nothing was broken")
        });
        rows
    }

    fn masses(&self) -> Vec<Row> {
        let fed = self.known.end.mass_kg;
        let mass = self.total("mass_t").map(|t| t * 1000.0);
        let specific = self.total("net_kwh_per_t");
        let figure = "net energy a tonne, kWh/t";
        let mass_pct = 0.05 + 100.0 * self.story.scenario.sensor.mass.step() / fed.max(LEAST_KG);
        vec![
            // A trace tells mass by the counts of its scale.
            Row::within(
                "mass fed, kg",
                fed,
                mass,
                100.0 / fed.max(LEAST_KG),
                [-mass_pct, mass_pct],
                "0.05 % and a count of the scale",
                " %",
            ),
            if fed >= LEAST_KG {
                let truth = self.net_kwh() / fed * 1000.0;
                Row::share(figure, truth, specific, truth, 1.5, "%")
            } else {
                let why = &self.replayed["totals"]["why"]["net_kwh_per_t"];
                let right = specific.is_none() && why.as_str().is_some_and(|why| why.contains("less than 1 kg"));
                Row::without(figure, "nothing was fed", format!("null: {}", why.as_str().unwrap_or("no reason")), right)
            },
        ]
    }

    fn starts(&self) -> Vec<Row> {
        let truth = &self.known.starts;
        let told: Vec<&Value> = self.events("start").collect();
        let stops = self.events("stop").count();
        let mut rows = vec![
            Row::fact("starts", truth.len().to_string(), told.len().to_string(), truth.len() == told.len()),
            Row::fact("stops", self.known.stops.to_string(), stops.to_string(), self.known.stops == stops),
        ];
        for (start, told) in truth.iter().zip(told) {
            let at = told["t_s"].as_f64();
            rows.push(Row::within("start at, s", start.at_s, at, 1.0, [-0.05, 0.05], "0.05 s", " s"));
            let (lasts, peak) = (told["duration_s"].as_f64(), told["peak_current_a"].as_f64());
            if let Some(truth) = start.lasts_s {
                let bound = 0.05 + 0.02 * truth;
                rows.push(Row::within("start takes, s", truth, lasts, 1.0, [-bound, bound], "0.05 s and 2 %", " s"));
            }
            rows.push(peak_row("start's peak current, A", start.peak_a, peak));
        }
        rows
    }

    fn peak(&self) -> Row {
        peak_row("peak current, A", self.known.peak_a, self.total("peak_current_a"))
    }

    fn steady(&self) -> Vec<Row> {
        let Some(steady) = self.known.steady else {
            let why = "the load is never steady for 2 s";
            return vec![Row::without("steady speed, power, torque", why, "-", true)];
        };
        let [from, until] = steady.span_s;
        let mean = |name: &str| {
            let all = self.replayed["intervals"].as_array()?.iter();
            let within = all.filter(|x| x["t_s"].as_f64().is_some_and(|t| t > from + SETTLES_S && t <= until));
            let values: Option<Vec<f64>> = within.map(|x| x[name].as_f64()).collect();
            values.filter(|values| !values.is_empty()).map(|x| x.iter().sum::<f64>() / x.len() as f64)
        };
        let rated = Rated::new(self.settings);
        let row = |figure, truth, name, of, bound| Row::share(figure, truth, mean(name), of, bound, "% of rated");
        vec![
            row("steady speed, rpm", steady.speed_rpm, "speed_rpm", rated.speed_rpm, 0.15),
            row("steady shaft power, W", steady.shaft_w, "shaft_w", rated.power_w, 0.5),
            row("steady torque, N m", steady.torque_nm, "torque_nm", rated.torque_nm, 0.6),
        ]
    }

    /// No speed is told while something holds the rotor: the current alone does not tell it.
    fn held(&self) -> Option<Row> {
        let [from, until] = self.known.held_s?;
        let all = self.replayed["intervals"].as_array().into_iter().flatten();
        let within = all.filter(|x| x["t_s"].as_f64().is_some_and(|t| t > from + SETTLES_S && t <= until));
        let speeds: Vec<&Value> = within.map(|x| &x["speed_rpm"]).collect();
        let right = !speeds.is_empty() && speeds.iter().all(|speed| speed.is_null());
        let told = if right { "null" } else { "told" };
        Some(Row::fact("speed while the rotor is held", "below half of synchronous", told, right))
    }

    /// Every trip that is due within its window, and no other.
    fn trips(&self) -> Row {
        let told: Vec<(&str, f64)> = self
            .events("trip")
            .map(|trip| (trip["cause"].as_str().unwrap_or(""), trip["t_s"].as_f64().unwrap_or(f64::NAN)))
            .collect();
        let due = &self.known.due;
        let right = told.len() == due.len()
            && due.iter().all(|due| {
                let [from, until] = due.within_s;
                told.iter().any(|(cause, t)| *cause == due.cause && (from..=until).contains(t))
            });
        let list = |all: Vec<String>| if all.is_empty() { "none".to_owned() } else { all.join(", ") };
        let wanted = due.iter().map(|due| {
            let [from, until] = due.within_s;
            format!("{} at {:.2} s ({from:.2} to {until:.2})", due.cause, due.at_s)
        });
        let found = told.iter().map(|(cause, t)| format!("{cause} at {t:.2} s"));
        Row::fact("trips", list(wanted.collect()), list(found.collect()), right)
    }

    /// What must add up.
    fn sums(&self) -> Vec<Row> {
        let sum = |unit: &str| {
            let name = |state: &&str| match (*state, unit) {
                ("starting", "kwh") => "start_kwh".to_owned(),
                (state, unit) => format!("{state}_{unit}"),
            };
            STATES.iter().map(|state| self.total(&name(state))).sum::<Option<f64>>()
        };
        let duration = self.story.scenario.duration_s;
        let electrical = self.total("electrical_kwh").unwrap_or(f64::NAN);
        let times = self.replayed["events"].as_array().into_iter().flatten().map(|event| event["t_s"].as_f64());
        let ordered = times.collect::<Option<Vec<f64>>>().is_some_and(|times| times.is_sorted());
        vec![
            Row::within("times of the states, s", duration, sum("s"), 1.0, [-0.01, 0.01], "0.01 s", " s"),
            Row::share("energies of the states, kWh", electrical, sum("kwh"), electrical, 0.001, "%"),
            Row::fact("events in order of time", "yes", if ordered { "yes" } else { "no" }, ordered),
        ]
    }

    fn warnings(&self) -> Row {
        let told: Vec<&str> =
            self.replayed["warnings"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        let wanted = exceptions::warning(&self.story.name);
        let right = wanted.map_or(told.is_empty(), |words| told.iter().any(|told| told.contains(words)));
        let found = if told.is_empty() { "none".to_owned() } else { told.join("; ").replace('|', "/") };
        Row::fact("warnings", wanted.map_or("none".to_owned(), |words| format!("'{words}'")), found, right)
    }
}

fn peak_row(figure: &'static str, truth: f64, replayed: Option<f64>) -> Row {
    Row::within(figure, truth, replayed, 100.0 / truth, [-5.0, 1.0], "-5 to +1 %", " %")
}
