//! From the document to [`Settings`], table by table: names, types, ranges and defaults of every key.
//!
//! All keys of a table are read before the first `?`, so that one fault does not hide the next.

use std::collections::{BTreeMap, BTreeSet};

use toml::de::DeTable;

use super::document::{Document, join};
use super::limits::Limits;
use super::raw::Table;
use super::{
    CurrentTap, Curve, Faults, Gaps, Mass, MassSource, Mill, Motor, Point, Sampling, Settings, Starter, StrayLoadLoss,
    Supply, Transmission, Values, VoltageTap, Winding, Wiring, full_scale_count,
};
use super::{MOST_RUNS, accuracy, elements, feed, limits, nameplate, pulses, run, template, trips};
use crate::error::Fault;

/// Reads a text into settings whose single keys are valid; cross-checks come after.
pub(super) fn read(text: &str, file: &str) -> Result<Settings, Faults> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let document = Document::new(file, text);
    let root = DeTable::parse(text).map_err(|error| Faults(vec![syntax(file, text, &error)]))?;
    let settings = document.read(root.get_ref(), tables);
    let (faults, given) = document.close();
    match settings {
        Some(settings) if faults.is_empty() => Ok(Settings { file: file.to_owned(), given, ..settings }),
        _ if faults.is_empty() => Err(Faults(vec![Fault::new(file, "the settings are not complete")])),
        _ => Err(Faults(faults)),
    }
}

/// Tables that are read only where they are there; with them all keys are asked for.
const OPTIONAL: &str = "[winding]\n[feeder]\n[trip.overvoltage]\n[trip.phase_reversal]\n[trip.current_unbalance]\n\
    [trip.residual_current]\n[trip.underload]\n[trip.sensor_fault]\n[trip.starts_per_hour]\n[trip.wedge]\n\
    [supply]\n[sampling]\n[motor]\n[trip.thermal]\n[trip.jam]\n[trip.long_start]\n[trip.phase_loss]\n[trip.undervoltage]\n";

/// Full names of the keys that a file may have, tables aside and but for those of lists of tables.
pub(crate) fn keys() -> BTreeSet<String> {
    let document = Document::new("", OPTIONAL);
    let Ok(root) = DeTable::parse(OPTIONAL) else { return BTreeSet::new() };
    document.read(root.get_ref(), tables);
    let known = document.log.take().known;
    let all: BTreeSet<String> = known.iter().map(|(table, key)| join(table, key)).collect();
    let holds = |name: &String| known.iter().any(|(table, _)| table == name);
    all.iter().filter(|name| name.contains('.') && !holds(name)).cloned().collect()
}

pub(crate) fn syntax(file: &str, text: &str, error: &toml::de::Error) -> Fault {
    let at = error.span().map_or(0, |span| span.start.min(text.len()));
    let lines = super::place::Lines::new(text);
    let message: Vec<&str> = error.message().lines().collect();
    Fault::new(file, message.join(", "))
        .at(format!("line {}, column {}", lines.line(at), lines.column(text, at)))
        .wanted("TOML: [table] lines and key = value lines")
}

fn tables(root: &mut Table<'_>) -> Option<Settings> {
    let supply = root.need_table("supply", template::SUPPLY, supply);
    let wiring = supply.map(|supply| supply.wiring);
    let sampling = root.need_table("sampling", template::SAMPLING, |t| sampling(t, wiring));
    let channels = root.table("channels", |t| Some(channels(t, wiring)));
    let winding = if root.has("winding") { root.table("winding", |t| Some(Some(winding(t)?))) } else { Some(None) };
    let warm_c = winding.flatten().map(|w: Winding| w.ambient_c + w.rise_k);
    let motor = root.need_table("motor", template::MOTOR, |t| motor(t, warm_c));
    let transmission = root.table("transmission", |t| {
        let efficiency_pct = t.number("efficiency_pct", &limits::SHARE_PCT).unwrap_or(100.0);
        let speed_ratio = t.number("speed_ratio", &limits::SPEED_RATIO).unwrap_or(1.0);
        Some(Transmission { efficiency_pct, speed_ratio })
    });
    let mill = root.table("mill", |t| {
        Some(Mill {
            rotor_inertia_kg_m2: t.number("rotor_inertia_kg_m2", &limits::INERTIA_KG_M2),
            idle_power_kw: t.number("idle_power_kw", &limits::IDLE_POWER_KW),
            coast_down_s: t.number("coast_down_s", &limits::TIME_S).unwrap_or(300.0),
        })
    });
    let mass = root.table("mass", |t| {
        let source = t.word("source", MASS_SOURCES);
        let delay_s = t.number("delay_s", &limits::TRANSPORT_S).unwrap_or(0.0);
        let rms = sampling.as_ref().is_some_and(|sampling| sampling.values == Values::Rms);
        Some(Mass { source, delay_s, pulses: pulses::read(t, source == Some(MassSource::Pulse), rms) })
    });
    // An absent table is asked for as well, so that a key of it in another place is told where it belongs.
    let said = root.has("accuracy");
    let accuracy = root.table("accuracy", |t| Some(accuracy::read(t))).filter(|_| said);
    let runs = root.tables("run", MOST_RUNS, |t| Some(run::read(t)));
    let rated_current_a = motor.as_ref().map(|motor| motor.rated_current_a);
    let trips = root.need_table("trip", template::TRIP, |t| Some(trips::read(t, rated_current_a)));
    let restart = root.table("restart", |t| Some(elements::restart(t)));
    let feed = root.table("feed", |t| Some(feed::feed(t)));
    let feeder = if root.has("feeder") {
        root.table("feeder", |t| feed::feeder(t).map(Some))
    } else {
        Some(root.know("feeder"))
    };
    Some(Settings {
        file: String::new(),
        supply: supply?,
        sampling: sampling?,
        channels: channels?,
        motor: motor?,
        winding: winding?,
        transmission: transmission?,
        mill: mill?,
        mass: mass?,
        accuracy,
        runs,
        trips: trips?,
        restart: restart?,
        feed: feed?,
        feeder: feeder?,
        given: BTreeMap::new(),
    })
}

/// Rise of a winding at rated current where the file does not say it: thermal class 130 (80 K, IEC 60034-1, from memory).
const WINDING_RISE_K: f64 = 80.0;
/// Surroundings where the file does not say them: common practice, no source.
const AMBIENT_C: f64 = 25.0;

/// The words of `[motor] stray_load_loss`.
const STRAY_LOAD_LOSSES: &[(&str, StrayLoadLoss)] =
    &[("iec-60034-2-1", StrayLoadLoss::Iec), ("ieee-112", StrayLoadLoss::Ieee)];

/// The words of `[motor] starter`.
const STARTERS: &[(&str, Starter)] =
    &[("direct", Starter::Direct), ("star-delta", Starter::StarDelta), ("soft", Starter::Soft)];

/// The words of `[supply] current_tap`.
const CURRENT_TAPS: &[(&str, CurrentTap)] =
    &[("line", CurrentTap::Line), ("delta-ab", CurrentTap::DeltaAb), ("delta-ac", CurrentTap::DeltaAc)];

/// The words of `[mass] source`.
const MASS_SOURCES: &[(&str, MassSource)] = &[
    ("trace", MassSource::Trace),
    ("pulse", MassSource::Pulse),
    ("batch", MassSource::Batch),
    ("none", MassSource::Nothing),
];

fn supply(t: &mut Table<'_>) -> Option<Supply> {
    let frequency_hz = t.need_number("frequency_hz", &limits::FREQUENCY_HZ);
    let line_voltage_v = t.need_number("line_voltage_v", &limits::LINE_VOLTAGE_V);
    let wiring = t.need_word("wiring", &Wiring::ALL.map(|wiring| (wiring.as_str(), wiring)));
    let taps = [("line", VoltageTap::Line), ("motor", VoltageTap::Motor)];
    let voltage_tap = t.word("voltage_tap", &taps).unwrap_or(VoltageTap::Line);
    let current_tap = t.word("current_tap", CURRENT_TAPS).unwrap_or_default();
    Some(Supply {
        frequency_hz: frequency_hz?,
        line_voltage_v: line_voltage_v?,
        wiring: wiring?,
        voltage_tap,
        current_tap,
    })
}

fn sampling(t: &mut Table<'_>, wiring: Option<Wiring>) -> Option<Sampling> {
    let values = t.word("values", &[("samples", Values::Samples), ("rms", Values::Rms)]).unwrap_or(Values::Samples);
    let rms = values == Values::Rms;
    let (rates, others, mend) = if rms {
        (&limits::ROW_RATE_HZ, &limits::RATE_HZ, "for samples of the waves take values = \"rms\" out")
    } else {
        (&limits::RATE_HZ, &limits::ROW_RATE_HZ, "where the rows are rms values, say values = \"rms\" in [sampling]")
    };
    let rate_hz = t.number_or("rate_hz", rates, |hz| if others.hold(hz) { mend } else { "" });
    let gaps = t.word("gaps", &[("error", Gaps::Error), ("split", Gaps::Split)]).unwrap_or(Gaps::Error);
    let bits = t.whole("bits", &limits::BITS).unwrap_or(16);
    // rms values come from no converter that is known here: nothing of it is asked, and all of it can be shown.
    let full_scale = |t: &mut Table<'_>, key, limits: &Limits, wanted: bool, most: f64| {
        if wanted { t.need_number(key, limits) } else { t.number(key, limits).or(Some(most)) }
    };
    let volts = !rms && wiring != Some(Wiring::CurrentsOnly);
    let voltage_full_scale_v = full_scale(t, "voltage_full_scale_v", &limits::VOLTAGE_FULL_SCALE_V, volts, 32_000.0);
    let current_full_scale_a = full_scale(t, "current_full_scale_a", &limits::CURRENT_FULL_SCALE_A, !rms, 16_000.0);
    // Without a wiring the length of the lists is not known; that fault has been noted.
    let columns: Vec<&str> = wiring.map(|wiring| wiring.columns().collect()).unwrap_or_default();
    let currents = wiring.map_or(&[][..], Wiring::currents);
    let most = f64::from(full_scale_count(bits) / limits::OFFSET_PART);
    let each = format!("{} or the same negative", limits::GAIN);
    let gain = per_channel(t, "gain", &columns, 1.0, &each, |x| limits::GAIN.hold(x.abs()));
    let each = format!("-{most} to {most} counts");
    let offset_counts = per_channel(t, "offset_counts", &columns, 0.0, &each, |x| x.abs() <= most);
    let each = limits::SKEW_US.to_string();
    let skew_us = per_channel(t, "skew_us", &columns, 0.0, &each, |x| limits::SKEW_US.hold(x));
    let each = limits::PHASE_DEG.to_string();
    let phase_deg = per_channel(t, "phase_deg", currents, 0.0, &each, |x| limits::PHASE_DEG.hold(x));
    for key in CONVERTER.into_iter().filter(|_| rms) {
        t.reject(key, "no such key where values = \"rms\"", "take the line out: it tells of a converter of samples");
    }
    Some(Sampling {
        values,
        rate_hz,
        gaps,
        bits,
        voltage_full_scale_v: voltage_full_scale_v?,
        current_full_scale_a: current_full_scale_a?,
        gain,
        offset_counts,
        skew_us,
        phase_deg,
    })
}

/// Keys that tell of the converter.
const CONVERTER: [&str; 7] =
    ["bits", "voltage_full_scale_v", "current_full_scale_a", "gain", "offset_counts", "skew_us", "phase_deg"];

/// A list with one number for each column, or that many times the default.
fn per_channel(
    t: &mut Table<'_>,
    key: &'static str,
    columns: &[&str],
    default: f64,
    each: &str,
    hold: impl Fn(f64) -> bool,
) -> Vec<f64> {
    let wanted = format!("a list of {} numbers, for {}; each {each}", columns.len(), columns.join(", "));
    match t.list(key, &wanted, hold) {
        Some(list) if list.len() == columns.len() => list,
        Some(_) if !columns.is_empty() => {
            t.reject(key, wanted, "");
            Vec::new()
        }
        _ => vec![default; columns.len()],
    }
}

/// Quantities that `[channels]` may name, with the column of each, which is taken as well.
const QUANTITIES: &[(&str, &str)] = &[
    ("va", "va_v"),
    ("vb", "vb_v"),
    ("vc", "vc_v"),
    ("vab", "vab_v"),
    ("vbc", "vbc_v"),
    ("vca", "vca_v"),
    ("vcb", "vcb_v"),
    ("ia", "ia_a"),
    ("ib", "ib_a"),
    ("ic", "ic_a"),
    ("mass", "mass_kg"),
    ("feed", "feed_kg_s"),
    ("speed", "speed_rpm"),
    ("active", "active_w"),
    ("reactive", "reactive_var"),
    ("frequency", "frequency_hz"),
    ("pulse", "mass_pulse"),
];

fn channels(t: &mut Table<'_>, wiring: Option<Wiring>) -> BTreeMap<String, String> {
    let mut names: BTreeMap<String, String> = BTreeMap::new();
    for &(quantity, column) in QUANTITIES {
        let electrical = column.ends_with("_v") || column.ends_with("_a");
        for key in [quantity, column] {
            let Some(name) = t.text(key) else { continue };
            if let Some(wiring) = wiring.filter(|wiring| electrical && !wiring.columns().any(|c| c == column)) {
                let own = QUANTITIES.iter().filter(|(_, c)| wiring.columns().any(|w| w == *c));
                let own: Vec<&str> = own.map(|(quantity, _)| *quantity).collect();
                t.reject(key, format!("a quantity that wiring \"{}\" has: {}", wiring.as_str(), own.join(", ")), "");
            } else if names.contains_key(quantity) {
                t.reject(key, format!("{quantity} or {column}, not both"), "");
            } else if let Some((other, _)) = names.iter().find(|(_, taken)| **taken == name) {
                t.reject(key, format!("a channel of its own; {other} has this one"), "");
            } else {
                names.insert(quantity.to_owned(), name);
            }
        }
    }
    names
}

/// `warm_c` is the temperature for which resistances are reckoned, where the file says it.
fn motor(t: &mut Table<'_>, warm_c: Option<f64>) -> Option<Motor> {
    let rated_power_kw = t.need_number("rated_power_kw", &limits::RATED_POWER_KW);
    let rated_voltage_v = t.need_number("rated_voltage_v", &limits::LINE_VOLTAGE_V);
    let rated_current_a = t.need_number("rated_current_a", &limits::RATED_CURRENT_A);
    let rated_frequency_hz = t.need_number("rated_frequency_hz", &limits::RATED_FREQUENCY_HZ);
    let rated_speed_rpm = t.need_number("rated_speed_rpm", &limits::RATED_SPEED_RPM);
    let poles = t.need_whole("poles", &limits::POLES);
    if poles.is_some_and(|poles| poles % 2 != 0) {
        t.reject("poles", "an even number, 2 to 48 poles", "count poles, not pairs");
    }
    let rated_power_factor_pct = t.number("rated_power_factor_pct", &limits::SHARE_PCT);
    let rated_efficiency_pct = t.number("rated_efficiency_pct", &limits::SHARE_PCT);
    let efficiency_pct = curve(t, "efficiency_pct");
    let power_factor_pct = curve(t, "power_factor_pct");
    let service_factor = t.number("service_factor", &limits::SERVICE_FACTOR).unwrap_or(1.0);
    let locked_rotor_current_a = t.number("locked_rotor_current_a", &limits::LOCKED_ROTOR_CURRENT_A);
    let locked_rotor_torque_pct = t.number("locked_rotor_torque_pct", &limits::LOCKED_ROTOR_TORQUE_PCT);
    let stator_resistance_ohm = nameplate::stator_resistance(t, warm_c);
    let core_loss_w = t.number("core_loss_w", &limits::LOSS_W);
    let friction_loss_w = t.number("friction_loss_w", &limits::LOSS_W);
    let stray_load_loss = t.word("stray_load_loss", STRAY_LOAD_LOSSES);
    let starter = t.word("starter", STARTERS).unwrap_or_default();
    Some(Motor {
        rated_power_kw: rated_power_kw?,
        rated_voltage_v: rated_voltage_v?,
        rated_current_a: rated_current_a?,
        rated_frequency_hz: rated_frequency_hz?,
        rated_speed_rpm: rated_speed_rpm?,
        poles: poles?,
        rated_power_factor_pct,
        rated_efficiency_pct,
        efficiency_pct,
        power_factor_pct,
        service_factor,
        locked_rotor_current_a,
        locked_rotor_torque_pct,
        stator_resistance_ohm,
        core_loss_w,
        friction_loss_w,
        stray_load_loss,
        starter,
    })
}

fn winding(t: &mut Table<'_>) -> Option<Winding> {
    let time_constant_s = t.need_number("time_constant_s", &limits::TIME_CONSTANT_S);
    let rise_k = t.number("rise_k", &limits::WINDING_RISE_K).unwrap_or(WINDING_RISE_K);
    let ambient_c = t.number("ambient_c", &limits::AMBIENT_C).unwrap_or(AMBIENT_C);
    let start_c = t.number("start_c", &limits::WINDING_START_C);
    if start_c.is_some_and(|start| start < ambient_c) {
        t.reject("start_c", format!("ambient_c, {ambient_c} degrees, or more"), "");
    }
    Some(Winding { time_constant_s: time_constant_s?, rise_k, ambient_c, start_c: start_c.unwrap_or(ambient_c) })
}

fn curve(t: &mut Table<'_>, key: &'static str) -> Option<Curve> {
    let wanted = "a list of pairs [[load %, value %], ...], at least one, loads rising";
    let pairs = t.pairs(key, wanted, [&limits::LOAD_PCT, &limits::SHARE_PCT])?;
    let many = pairs.len() > limits::CURVE_PAIRS;
    let points = pairs.into_iter().map(|[load_pct, value_pct]| Point { load_pct, value_pct }).collect();
    let curve = Curve::new(points);
    if many {
        t.reject(key, format!("at most {} pairs", limits::CURVE_PAIRS), "");
    } else if curve.is_none() {
        t.reject(key, wanted, "");
    }
    curve
}

#[cfg(test)]
mod tests;
