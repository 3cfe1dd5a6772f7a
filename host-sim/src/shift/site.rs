//! What a site says of itself: `site.toml`.

use std::io::Read as _;
use std::path::Path;

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;
use toml::de::DeTable;

use super::calendar::{Calendar, DAYS, Rule, overlap};
use crate::error::Fault;
use crate::settings::Faults;
use crate::settings::document::Document;
use crate::settings::limits::Limits;
use crate::settings::place::nearest;
use crate::settings::raw::Table;
use crate::settings::read::syntax;

/// Everything the file says.
#[derive(Debug, Clone)]
pub struct Site {
    /// The file, as the user named it.
    pub file: String,
    /// What the site is called.
    pub name: String,
    /// Its shifts and its zone.
    pub calendar: Calendar,
    /// What the meter sees besides the mill's motor.
    pub boundary: Vec<Part>,
    /// Names that tickets may use; empty: any.
    pub materials: Vec<String>,
    /// The same of screens.
    pub screens: Vec<String>,
    /// The motor.
    pub motor: Motor,
    /// The meter.
    pub meter: Meter,
    /// How tonnes are known.
    pub mass: Mass,
    /// What energy costs; `None`: not said.
    pub tariff: Option<Tariff>,
    /// What the mill is held against; `None`: nothing.
    pub baseline: Option<Baseline>,
    /// What was changed and when, in order of time.
    pub changes: Vec<Change>,
}

/// A part of the plant inside the measurement's boundary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The mill's motor.
    Mill,
    /// The feeder.
    Feeder,
    /// The magnet.
    Magnet,
    /// The fan.
    Fan,
    /// A conveyor.
    Conveyor,
}

/// The motor as far as the audit needs it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motor {
    /// Rated power, kW.
    pub rated_kw: f64,
    /// What the empty mill takes from the mains, kW; `None`: what the logs tell.
    pub idle_kw: Option<f64>,
    /// How well that repeats, standard deviation, kW; `None`: its spread over the shifts.
    pub idle_repeatability_kw: Option<f64>,
    /// What a start takes, kWh; `None`: what the logs tell.
    pub start_kwh: Option<f64>,
    /// Starts an hour that the motor may do.
    pub starts_per_hour: Option<f64>,
}

/// The meter: limits of its error, % of what it shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// Its own.
    pub error_pct: Option<f64>,
    /// Of the current transformers.
    pub current_transformer_pct: f64,
    /// Of the voltage transformers.
    pub voltage_transformer_pct: f64,
    /// Digits of its register before it begins anew.
    pub register_digits: u32,
    /// Its smallest step, kWh.
    pub register_step_kwh: f64,
}

/// How tonnes are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mass {
    /// Where they come from.
    pub source: Source,
    /// Limit of the scale's error, % of the load.
    pub error_pct: Option<f64>,
    /// Verification interval of a scale for single weighings, kg.
    pub scale_e_kg: Option<f64>,
    /// Weighings a ticket stands for: two for gross and tare.
    pub weighings: u32,
    /// A ticket entered so many hours after its shift is late.
    pub late_after_h: f64,
}

/// Where tonnes come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Weigh tickets.
    Tickets,
    /// The logs' own mass.
    Log,
    /// Nowhere.
    Nothing,
}

/// What energy costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// The money's name.
    pub currency: String,
    /// A kWh outside of the bands.
    pub per_kwh: f64,
    /// Times at which a kWh costs something else; the first that holds counts.
    pub bands: Vec<Band>,
    /// What is billed as demand.
    pub demand: Unit,
    /// Length of a block, minutes.
    pub block_min: i64,
    /// A kW or kVA of the month's highest block.
    pub per_demand: f64,
    /// The rule for a poor power factor.
    pub power_factor: PowerFactor,
}

/// A band of the tariff, in legal time.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Its name.
    pub name: String,
    /// From this time of day on.
    pub from: Time,
    /// To this one, which is outside; not after `from`: over midnight.
    pub to: Time,
    /// On these days, Monday first.
    pub days: [bool; 7],
    /// A kWh.
    pub per_kwh: f64,
}

/// What is billed as demand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Active power.
    Kw,
    /// Apparent power.
    Kva,
}

/// What a poor power factor costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PowerFactor {
    /// Nothing.
    Nothing,
    /// Demand is billed times target over power factor, where that is poorer.
    Adjust {
        /// The target.
        target: f64,
    },
    /// Reactive energy beyond what the target allows costs so much a kvarh.
    Reactive {
        /// The target.
        target: f64,
        /// A kvarh beyond it.
        per_kvarh: f64,
    },
}

/// What the mill is held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Baseline {
    /// Learnt from shifts that begin on these dates.
    Learnt {
        /// The first.
        from: Date,
        /// The last.
        to: Date,
    },
    /// Given.
    Given {
        /// Of the empty mill, kW.
        idle_kw: f64,
        /// To break a tonne.
        kwh_per_t: f64,
    },
}

/// Something that was changed at a known time.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// When, µs of UTC.
    pub at_us: i64,
    /// What.
    pub what: Changed,
    /// In words.
    pub note: Option<String>,
    /// Who says so.
    pub who: String,
    /// Why.
    pub why: Option<String>,
    /// For a meter: what the old one showed last and the new one first, kWh.
    pub readings: Option<[f64; 2]>,
}

/// What was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Changed {
    /// A set of hammers.
    Hammers,
    /// The screen.
    Screen,
    /// The meter, or its register was set.
    Meter,
    /// Something else.
    Other,
}

impl Changed {
    const WORDS: [(&'static str, Self); 4] =
        [("hammers", Self::Hammers), ("screen", Self::Screen), ("meter", Self::Meter), ("other", Self::Other)];

    /// As it is written.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, what)| *what == self).map_or("", |(word, _)| word)
    }
}

impl Part {
    const WORDS: [(&'static str, Self); 5] = [
        ("mill", Self::Mill),
        ("feeder", Self::Feeder),
        ("magnet", Self::Magnet),
        ("fan", Self::Fan),
        ("conveyor", Self::Conveyor),
    ];

    /// As it is written.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, part)| *part == self).map_or("", |(word, _)| word)
    }
}

impl Tariff {
    /// The price of a kWh at a moment of legal time, and the band's place.
    pub fn at(&self, local: DateTime) -> (Option<usize>, f64) {
        let (time, day) = (local.time(), local.date().weekday());
        let holds = |band: &Band| {
            if band.to > band.from {
                super::calendar::has(&band.days, day) && time >= band.from && time < band.to
            } else {
                let before = day.previous();
                super::calendar::has(&band.days, day) && time >= band.from
                    || super::calendar::has(&band.days, before) && time < band.to
            }
        };
        let band = self.bands.iter().position(holds);
        (band, band.map_or(self.per_kwh, |at| self.bands[at].per_kwh))
    }
}

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
    let at = t.need_parsed("at", AT, |text| super::moment(text, calendar).ok());
    let what = t.need_word("what", &Changed::WORDS);
    let note = t.text("note");
    let who = t.need_text("who", "who says so");
    let why = t.text("why");
    let last = t.number("last_kwh", &READING_KWH);
    let first = t.number("first_kwh", &READING_KWH);
    if what == Some(Changed::Meter) && (last.is_none() || first.is_none() || why.is_none()) {
        t.reject("what", "with \"meter\" also last_kwh (the old register), first_kwh (the new one) and why", "");
    }
    Some(Change { at_us: at?, what: what?, note, who: who?, why, readings: last.zip(first).map(|(a, b)| [a, b]) })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) const GOOD: &str = r#"
[site]
name = "Quillbrook Yard"
zone = "Europe/Berlin"
boundary = ["mill", "feeder"]
materials = ["castings", "windings"]
screens = ["25 mm", "12 mm"]
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
[motor]
rated_kw = 55
idle_kw = 14
starts_per_hour = 4
[meter]
error_pct = 1
current_transformer_pct = 1
[mass]
error_pct = 1
[tariff]
currency = "EUR"
per_kwh = 0.20
demand_block_min = 15
per_demand_month = 10
[[tariff.band]]
name = "peak"
from = "08:00"
to = "20:00"
days = ["mon", "tue", "wed", "thu", "fri"]
per_kwh = 0.30
"#;

    pub(crate) fn good() -> Site {
        parse(GOOD, "site.toml").unwrap_or_else(|faults| panic!("{faults}"))
    }

    #[test]
    fn a_site_is_read() {
        let site = good();
        assert_eq!((site.name.as_str(), site.calendar.rules.len()), ("Quillbrook Yard", 3));
        assert_eq!(site.boundary, [Part::Mill, Part::Feeder]);
        assert_eq!((site.meter.register_digits, site.mass.weighings), (6, 2));
        let tariff = site.tariff.unwrap();
        let at = |text: &str| tariff.at(text.parse().unwrap());
        assert_eq!(at("2026-03-02T08:00"), (Some(0), 0.30));
        assert_eq!((at("2026-03-02T20:00"), at("2026-03-01T12:00")), ((None, 0.20), (None, 0.20)));
    }

    /// A band over midnight belongs to the day on which it begins.
    #[test]
    fn a_band_over_midnight() {
        let text = GOOD.replace("from = \"08:00\"\nto = \"20:00\"", "from = \"22:00\"\nto = \"06:00\"");
        let tariff = parse(&text, "s").unwrap().tariff.unwrap();
        let at = |text: &str| tariff.at(text.parse().unwrap()).0;
        assert_eq!((at("2026-03-06T23:00"), at("2026-03-07T05:59"), at("2026-03-07T06:00")), (Some(0), Some(0), None));
        assert_eq!((at("2026-03-07T23:00"), at("2026-03-02T03:00")), (None, None));
    }

    #[test]
    fn what_is_wrong_has_place_and_cure() {
        for (from, to, parts) in [
            ("Europe/Berlin", "Europe/Berlim", ["key site.zone", "did you mean \"Europe/Berlin\"?"]),
            ("start = \"06:00\"", "start = \"6\"", ["key shift[1].start", "a time of day"]),
            ("start = \"06:00\"", "start = \"05:00\"", ["overlap", "counted twice"]),
            ("rated_kw = 55", "rated_kw = 0", ["motor.rated_kw", "above 0"]),
            ("rated_kw = 55", "rated_kW = 55", ["motor.rated_kW", "did you mean rated_kw?"]),
            ("demand_block_min = 15", "demand_block_min = 7", ["demand_block_min: 7", "a divisor of 60"]),
            ("\"feeder\"", "\"feder\"", ["boundary", "did you mean \"feeder\"?"]),
            ("\"mon\", ", "\"monday\", ", ["band[1].days", "\"mon\""]),
            ("[mass]", "[baseline]\nfrom = \"2026-01-01\"\n[mass]", ["baseline.from", "from and to"]),
            ("[mass]", "[baseline]\n[mass]", ["baseline", "from and to"]),
            (
                "[mass]",
                "[[change]]\nat = \"2026-03-29T02:30\"\nwhat = \"hammers\"\nwho = \"A\"\n[mass]",
                ["change[1].at", "comes once"],
            ),
            (
                "[mass]",
                "[[change]]\nat = \"2026-03-28T02:30\"\nwhat = \"meter\"\nwho = \"A\"\n[mass]",
                ["change[1].what", "last_kwh"],
            ),
        ] {
            let faults = parse(&GOOD.replacen(from, to, 1), "site.toml").unwrap_err();
            assert_eq!(faults.0.len(), 1, "{to}: {faults}");
            for part in parts {
                assert!(faults.to_string().contains(part), "{part}: {faults}");
            }
        }
    }
}
