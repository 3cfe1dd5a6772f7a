//! Figures of each motor as CSV and JSON.

use csv::Writer;
use serde_json::{Map, Value, json};
use shaftwork_core::judge::event::Cause;

use super::{Found, words};
use crate::report::event::cause_name;
use crate::report::number::{figure, seconds};

/// A figure that may not be had, with why.
type Told = Result<f64, &'static str>;

/// Every figure of a motor by its name.
pub fn figures(found: &Found, n: usize) -> Vec<(&'static str, Told)> {
    const NEVER: &str = "the motor was never at speed";
    let (figures, motor) = (&found.figures[n], &found.motors[n]);
    let pct = |share: Option<f64>, why| share.map(|share| 100.0 * share).ok_or(why);
    let [short, long] = figures.peaks;
    let rated_a = motor.settings.motor.rated_current_a;
    vec![
        ("rated_power_kw", Ok(motor.settings.motor.rated_power_kw)),
        ("rms_load_pct", pct(figures.rms(), NEVER)),
        ("mean_load_pct", pct(figures.mean(), NEVER)),
        ("p95_load_pct", pct(figures.p95(), NEVER)),
        ("peak_1s_load_pct", pct(short, "it was never at speed for a second")),
        ("peak_10s_load_pct", pct(long, "it was never at speed for ten seconds")),
        ("peak_current_pct", (figures.running_s() > 0.0).then(|| 100.0 * figures.peak_a / rated_a).ok_or(NEVER)),
        ("max_thermal_pct", pct(figures.hottest.map(|(level, _)| level), "the thermal image is off")),
        ("starts", Ok(f64::from(figures.starts))),
        ("longest_run_up_s", figures.longest_run_up_s.ok_or("no start of it came to speed")),
        ("stalls", Ok(figures.pulled_out_s.len() as f64)),
        ("trips", Ok(figures.trips.len() as f64)),
        ("running_h", Ok(figures.running_s() / 3_600.0)),
        ("electrical_kwh", Ok(figures.electrical_j / 3.6e6)),
        ("start_kwh", Ok(figures.start_j / 3.6e6)),
        ("shaft_kwh", Ok(figures.shaft_j / 3.6e6)),
        ("reactive_kvarh", Ok(figures.reactive_vars / 3.6e6)),
        ("power_factor", figures.power_factor().ok_or("no current flowed")),
        (
            "idle_electrical_kw",
            (figures.idle_s > 0.0).then(|| figures.idle_j / figures.idle_s / 1e3).ok_or("the mill never ran empty"),
        ),
        ("gross_kwh_per_t", found.kwh_per_t(n).ok_or("less than 1 kg fed, or not told")),
    ]
}

/// A row for each motor.
///
/// # Errors
/// Never in memory.
pub fn csv(found: &Found) -> anyhow::Result<Vec<u8>> {
    let mut out = Writer::from_writer(Vec::new());
    let names = figures(found, 0).into_iter().map(|(name, _)| name);
    out.write_record(["motor"].into_iter().chain(names).chain(["would_have_done_it", "reasons"]))?;
    for n in 0..found.motors.len() {
        let mut row = vec![found.motors[n].name.clone()];
        row.extend(
            figures(found, n).into_iter().map(|(_, x)| x.map_or_else(|_| String::new(), |x| figure(x).to_string())),
        );
        row.push(if found.untold().is_some() { String::new() } else { found.outcomes[n].does().to_string() });
        row.push(words::reasons(found, n).join("; "));
        out.write_record(&row)?;
    }
    Ok(out.into_inner()?)
}

fn trips(found: &Found, all: &[(f64, Cause)]) -> Vec<Value> {
    let trip = |(t_s, cause): &(f64, Cause)| {
        let (log, in_log_s) = found.place(*t_s);
        let log = found.logs[log].display().to_string();
        json!({ "log": log, "t_s": seconds(in_log_s), "cause": cause_name(*cause) })
    };
    all.iter().map(trip).collect()
}

fn motor(found: &Found, n: usize) -> Value {
    let mut map = Map::new();
    map.insert("name".to_owned(), json!(found.motors[n].name));
    let mut why = Map::new();
    for (name, told) in figures(found, n) {
        let whole = matches!(name, "starts" | "stalls" | "trips");
        map.insert(
            name.to_owned(),
            match told {
                // Counts are far below 2^53.
                Ok(x) if whole => json!(x as u64),
                Ok(x) => json!(figure(x)),
                Err(_) => Value::Null,
            },
        );
        why.extend(told.err().map(|why| (name.to_owned(), json!(why))));
    }
    let own = &found.figures[n];
    map.insert("trips".to_owned(), json!(trips(found, &own.trips)));
    map.insert("stalls_s".to_owned(), json!(own.pulled_out_s.iter().map(|s| seconds(*s)).collect::<Vec<_>>()));
    map.insert("would_have_done_it".to_owned(), json!(found.untold().is_none().then(|| found.outcomes[n].does())));
    why.extend(found.untold().map(|why| ("would_have_done_it".to_owned(), json!(why))));
    map.insert("reasons".to_owned(), json!(words::reasons(found, n)));
    if !why.is_empty() {
        map.insert("why".to_owned(), Value::Object(why));
    }
    Value::Object(map)
}

/// The document.
pub fn json(found: &Found) -> Value {
    let recorded = &found.recorded;
    json!({
        "format": "shaftwork-motor-study/1",
        "logs": found.logs.iter().map(|path| path.display().to_string()).collect::<Vec<_>>(),
        "settings": found.motors[0].settings.file,
        "recorded": {
            "length_s": seconds(recorded.length_s),
            "running_s": seconds(recorded.running_s),
            "load_not_known_s": seconds(recorded.stalled_s),
            "after_trips_s": seconds(recorded.tripped_s()),
            "rms_shaft_kw": recorded.rms_w().map(|w| figure(w / 1e3)),
            "shaft_kwh": figure(recorded.shaft[0] / 3.6e6),
            "electrical_kwh": figure(recorded.electrical_j / 3.6e6),
            "mass_t": recorded.mass_kg.map(|kg| figure(kg / 1e3)),
        },
        "check_pct": found.off().map(|off| figure(100.0 * off)),
        "smallest": found.smallest().map(|n| found.motors[n].name.clone()),
        "motors": (0..found.motors.len()).map(|n| motor(found, n)).collect::<Vec<_>>(),
        "notes": found.notes,
    })
}
