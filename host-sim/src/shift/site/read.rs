//! Reads a site's file: every fault of it with its place and its cure.

use std::io::Read as _;
use std::path::Path;

use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use toml::de::DeTable;

use super::super::calendar::{Calendar, DAYS, Rule, overlap};
use super::{
    Band, Baseline, Change, Changed, Clock, Mass, Meter, Motor, Part, PowerFactor, Site, Source, Tariff, Unit,
};
use crate::error::Fault;
use crate::settings::Faults;
use crate::settings::document::Document;
use crate::settings::limits::Limits;
use crate::settings::place::nearest;
use crate::settings::raw::Table;
use crate::settings::read::syntax;

/// The longest file, bytes.
const LONGEST: u64 = 1 << 20;
const POWER_KW: Limits = Limits::above(0.0, 10_000.0, "kW");
const ENERGY_KWH: Limits = Limits::above(0.0, 1_000.0, "kWh");
const STARTS: Limits = Limits::from(1.0, 60.0, "starts an hour");
const ERROR_PCT: Limits = Limits::from(0.0, 20.0, "%");
const DIGITS: Limits = Limits::from(3.0, 12.0, "digits");
const STEP_KWH: Limits = Limits::from(0.000_1, 1_000.0, "kWh");
const E_KG: Limits = Limits::above(0.0, 1_000.0, "kg");
const WEIGHINGS: Limits = Limits::from(1.0, 2.0, "weighings");
const HOURS: Limits = Limits::from(0.0, 1_000.0, "h");
const MONEY: Limits = Limits::from(0.0, 1e6, "");
const BLOCK_MIN: Limits = Limits::from(1.0, 60.0, "min");
const FACTOR_PCT: Limits = Limits::above(0.0, 100.0, "%");
const KWH_PER_T: Limits = Limits::from(0.0, 10_000.0, "kWh/t");
/// Some eleven days.
const FAST_S: Limits = Limits::from(-1e6, 1e6, "s");
const READING_KWH: Limits = Limits::from(0.0, 1e12, "kWh");

/// Reads a site's file.
///
/// # Errors
/// It cannot be read, or its faults, all of them.
pub fn load(path: &Path) -> anyhow::Result<Site> {
    let name = path.display().to_string();
    let wanted = "a site's file in TOML: zone, shifts, meter, tariff";
    let mut text = String::new();
    let file = std::fs::File::open(path).map_err(|error| Fault::unreadable(name.as_str(), &error, wanted))?;
    file.take(LONGEST).read_to_string(&mut text).map_err(|error| Fault::unreadable(name.as_str(), &error, wanted))?;
    Ok(parse(&text, &name)?)
}

/// Reads its text; `file` is what faults call it.
///
/// # Errors
/// Its faults, all of them.
pub fn parse(text: &str, file: &str) -> Result<Site, Faults> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let document = Document::new(file, text);
    let root = DeTable::parse(text).map_err(|error| Faults(vec![syntax(file, text, &error)]))?;
    let site = document.read(root.get_ref(), tables);
    let (faults, _) = document.close();
    match site {
        Some(site) if faults.is_empty() => Ok(Site { file: file.to_owned(), ..site }),
        _ if faults.is_empty() => Err(Faults(vec![Fault::new(file, "the file is not complete")])),
        _ => Err(Faults(faults)),
    }
}

fn tables(root: &mut Table<'_>) -> Option<Site> {
    let site = root.need_table("site", "[site]\nname = \"The yard\"\nzone = \"Europe/Berlin\"", |t| {
        let name = t.need_text("name", "the site's name");
        let zone = zone(t);
        let words = Part::WORDS.map(|(word, _)| word);
        let boundary = t.texts("boundary", &words).unwrap_or_else(|| vec!["mill".to_owned()]);
        let boundary =
            boundary.iter().filter_map(|w| Part::WORDS.iter().find(|(word, _)| word == w)).map(|p| p.1).collect();
        let materials = t.texts("materials", &[]).unwrap_or_default();
        let screens = t.texts("screens", &[]).unwrap_or_default();
        Some((name?, zone?, boundary, materials, screens))
    });
    let zone = site.as_ref().map_or(TimeZone::UTC, |site| site.1.clone());
    let rules = root.tables("shift", 50, rule);
    if let Some((a, b)) = overlap(&rules) {
        let words =
            format!("\"{}\" and \"{}\" overlap: shifts that leave no minute twice", rules[a].name, rules[b].name);
        root.reject("shift", words, "an hour in two shifts would be counted twice: correct start, end or days");
    } else if rules.is_empty() && !root.has("shift") {
        let _: Option<()> =
            root.need_table("shift", "[[shift]]\nname = \"early\"\nstart = \"06:00\"\nend = \"14:00\"", |_| None);
    }
    let calendar = Calendar { zone, rules };
    let motor = root.need_table("motor", "[motor]\nrated_kw = 55", |t| {
        let rated_kw = t.need_number("rated_kw", &POWER_KW);
        let idle_kw = t.number("idle_kw", &POWER_KW);
        let idle_repeatability_kw = t.number("idle_repeatability_kw", &POWER_KW);
        let start_kwh = t.number("start_kwh", &ENERGY_KWH);
        let starts_per_hour = t.number("starts_per_hour", &STARTS);
        Some(Motor { rated_kw: rated_kw?, idle_kw, idle_repeatability_kw, start_kwh, starts_per_hour })
    });
    let meter = root.table("meter", |t| {
        Some(Meter {
            error_pct: t.number("error_pct", &ERROR_PCT),
            current_transformer_pct: t.number("current_transformer_pct", &ERROR_PCT).unwrap_or(0.0),
            voltage_transformer_pct: t.number("voltage_transformer_pct", &ERROR_PCT).unwrap_or(0.0),
            register_digits: t.whole("register_digits", &DIGITS).unwrap_or(6),
            register_step_kwh: t.number("register_step_kwh", &STEP_KWH).unwrap_or(1.0),
        })
    });
    let mass = root.table("mass", |t| {
        let words = [("tickets", Source::Tickets), ("log", Source::Log), ("none", Source::Nothing)];
        let source = t.word("source", &words).unwrap_or(Source::Tickets);
        let error_pct = t.number("error_pct", &ERROR_PCT);
        let scale_e_kg = t.number("scale_e_kg", &E_KG);
        let weighings = t.whole("weighings", &WEIGHINGS).unwrap_or(2);
        let late_after_h = t.number("late_after_h", &HOURS).unwrap_or(12.0);
        Some(Mass { source, error_pct, scale_e_kg, weighings, late_after_h })
    });
    let tariff = if root.has("tariff") { root.table("tariff", |t| Some(tariff(t))) } else { Some(root.know("tariff")) };
    let baseline =
        if root.has("baseline") { root.table("baseline", |t| Some(baseline(t))) } else { Some(root.know("baseline")) };
    let mut changes = root.tables("change", 10_000, |t| change(t, &calendar));
    changes.sort_by_key(|change| change.at_us);
    let (name, _, boundary, materials, screens) = site?;
    Some(Site {
        file: String::new(),
        name,
        calendar,
        boundary,
        materials,
        screens,
        motor: motor?,
        meter: meter?,
        mass: mass?,
        tariff: tariff?,
        baseline: baseline?,
        changes,
    })
}

fn zone(t: &mut Table<'_>) -> Option<TimeZone> {
    let name = t.need_text("zone", "a zone of the IANA database such as \"Europe/Berlin\"")?;
    if let Ok(zone) = TimeZone::get(&name) {
        return Some(zone);
    }
    let all: Vec<String> = jiff::tz::db().available().map(|name| name.to_string()).collect();
    let near = nearest(&name, all.iter().map(String::as_str));
    let mend = near.map(|near| format!("did you mean \"{near}\"?")).unwrap_or_default();
    t.reject("zone", "a zone of the IANA database such as \"Europe/Berlin\" or \"America/New_York\"", &mend);
    None
}

/// A time of day in whole minutes.
fn time(text: &str) -> Option<Time> {
    let at = if text == "24:00" { Time::midnight() } else { text.parse().ok()? };
    let shape = text.len() == 5 && text.as_bytes()[2] == b':';
    (shape && at.second() == 0).then_some(at)
}

const TIME: &str = "a time of day in whole minutes such as \"06:00\"";

fn days(t: &mut Table<'_>) -> [bool; 7] {
    match t.texts("days", &DAYS) {
        Some(given) => DAYS.map(|day| given.iter().any(|one| one == day)),
        None => [true; 7],
    }
}

fn rule(t: &mut Table<'_>) -> Option<Rule> {
    let name = t.need_text("name", "the shift's name");
    let crew = t.text("crew");
    let start = t.need_parsed("start", TIME, time);
    let end = t.need_parsed("end", TIME, time);
    let days = days(t);
    Some(Rule { name: name?, crew, start: start?, end: end?, days })
}

fn tariff(t: &mut Table<'_>) -> Option<Tariff> {
    let currency = t.need_text("currency", "the money's name such as \"EUR\"");
    let per_kwh = t.need_number("per_kwh", &MONEY);
    let bands = t.tables("band", 100, |t| {
        let name = t.need_text("name", "the band's name");
        let from = t.need_parsed("from", TIME, time);
        let to = t.need_parsed("to", TIME, time);
        let days = days(t);
        let per_kwh = t.need_number("per_kwh", &MONEY);
        Some(Band { name: name?, from: from?, to: to?, days, per_kwh: per_kwh? })
    });
    let demand = t.word("demand", &[("kW", Unit::Kw), ("kVA", Unit::Kva)]).unwrap_or(Unit::Kw);
    let block_min = t.whole("demand_block_min", &BLOCK_MIN).unwrap_or(15);
    if 60 % block_min.max(1) != 0 {
        t.reject("demand_block_min", "a divisor of 60, for blocks begin with the clock's hour", "");
    }
    let per_demand = t.number("per_demand_month", &MONEY).unwrap_or(0.0);
    let target = t.number("power_factor_target_pct", &FACTOR_PCT).map_or(0.9, |pct| pct / 100.0);
    let per_kvarh = t.number("per_kvarh", &MONEY);
    let words = [
        ("none", PowerFactor::Nothing),
        ("adjust-demand", PowerFactor::Adjust { target }),
        ("reactive-energy", PowerFactor::Reactive { target, per_kvarh: per_kvarh.unwrap_or(0.0) }),
    ];
    let power_factor = t.word("power_factor", &words).unwrap_or(PowerFactor::Nothing);
    if matches!(power_factor, PowerFactor::Reactive { .. }) && per_kvarh.is_none() {
        t.reject("power_factor", "per_kvarh beside it: what a kvarh beyond the target costs", "");
    }
    let block_min = i64::from(block_min);
    Some(Tariff { currency: currency?, per_kwh: per_kwh?, bands, demand, block_min, per_demand, power_factor })
}

fn baseline(t: &mut Table<'_>) -> Option<Baseline> {
    const DATE: &str = "a date such as \"2026-03-31\"";
    let date = |text: &str| text.parse::<Date>().ok();
    let from = t.parsed("from", DATE, date);
    let to = t.parsed("to", DATE, date);
    let idle_kw = t.number("idle_kw", &POWER_KW);
    let kwh_per_t = t.number("kwh_per_t", &KWH_PER_T);
    let wanted = "from and to (it is learnt), or idle_kw and kwh_per_t (it is given)";
    match (from, to, idle_kw, kwh_per_t) {
        (Some(from), Some(to), None, None) if from <= to => Some(Baseline::Learnt { from, to }),
        (None, None, Some(idle_kw), Some(kwh_per_t)) => Some(Baseline::Given { idle_kw, kwh_per_t }),
        _ => {
            let key = ["from", "to", "idle_kw", "kwh_per_t"].into_iter().find(|key| t.has(key));
            match key {
                Some(key) => t.reject(key, wanted, ""),
                None => {
                    t.need_text("from", wanted);
                }
            }
            None
        }
    }
}

fn change(t: &mut Table<'_>, calendar: &Calendar) -> Option<Change> {
    const AT: &str =
        "a time that comes once such as \"2026-03-02T06:00\", in the hour that comes twice with its offset";
    let at = t.need_parsed("at", AT, |text| super::super::moment(text, calendar).ok());
    let what = t.need_word("what", &Changed::WORDS);
    let note = t.text("note");
    let who = t.need_text("who", "who says so");
    let why = t.text("why");
    let to = t.parsed("to", AT, |text| super::super::moment(text, calendar).ok());
    let fast_s = t.number("fast_s", &FAST_S);
    let log = t.text("log");
    let sound = to.zip(at).is_some_and(|(to, at)| to > at) && fast_s.is_some_and(|s| s != 0.0) && why.is_some();
    if what == Some(Changed::Clock) && !sound {
        let wanted = "with \"clock\" also to (after at), fast_s (not 0; negative: slow) and why; log (a part of its path) where not every logger's was wrong";
        t.reject("what", wanted, "");
    }
    let clock = to.zip(fast_s).filter(|_| what == Some(Changed::Clock));
    let clock = clock.map(|(to_us, s)| Clock { to_us, fast_us: (s * 1e6).round() as i64, log });
    let last = t.number("last_kwh", &READING_KWH);
    let first = t.number("first_kwh", &READING_KWH);
    if what == Some(Changed::Meter) && (last.is_none() || first.is_none() || why.is_none()) {
        t.reject("what", "with \"meter\" also last_kwh (the old register), first_kwh (the new one) and why", "");
    }
    let readings = last.zip(first).map(|(a, b)| [a, b]);
    Some(Change { at_us: at?, what: what?, note, who: who?, why, clock, readings })
}
