//! A scenario as it is written: a TOML file that says what differs from the usual mill, or from another scenario.
//!
//! ```toml
//! about = "fed by hand until a piece wedges at 25 s"
//! like = "hand-fed"                        # a scenario of the catalogue
//! mill.wedge = { at_s = 25.0, rise_s = 0.3, torque_nm = 1080.0 }
//! ```
//!
//! Tables are laid over those of the scenario that it is like, or of the usual mill, key by key; lists and the two
//! choices `work` and `starter` are replaced whole. Keys are the fields of [`Scenario`] and what it is made of.

use serde::{Deserialize, Serialize};
use std::io::Read as _;
use std::path::Path;
use toml::de::{DeTable, DeValue};
use toml::{Table, Value};

use super::catalogue;
use super::limits;
use super::plate::{Plate, Trips};
use crate::error::Fault;
use crate::plant::Scenario;
use crate::plant::circuit::Circuit;
use crate::plant::heating::Heating;
use crate::plant::mill::Mill;
use crate::plant::sensor::Sensor;
use crate::plant::supply::{Starter, Supply};

/// Time that a mill which is found running has had to start and settle, s.
const RUNNING_LEAD_S: f64 = 12.0;

/// Keys whose value is a choice: laid over, one choice replaces the other.
const CHOICES: [&str; 2] = ["work", "starter"];

/// The longest file that is read, bytes.
const LONGEST: u64 = 1 << 20;

/// A scenario with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// Its name, or that of its file.
    pub name: String,
    /// What happens, in a line.
    pub about: String,
    /// What the nameplate says the motor gives, W.
    pub rated_w: f64,
    /// Times of the trips in the settings that go with it.
    pub trips: Trips,
    /// What happens.
    pub scenario: Scenario,
}

/// The file with nothing left out.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    about: String,
    duration_s: f64,
    rate_hz: f64,
    /// Left out: what the contactor makes of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    lead_s: Option<f64>,
    rated_kw: f64,
    trips: Trips,
    motor: Circuit,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    heating: Option<Heating>,
    supply: Supply,
    mill: Mill,
    sensor: Sensor,
}

impl Default for File {
    fn default() -> Self {
        let Scenario { circuit, heating, supply, mill, sensor, rate_hz, .. } = Scenario::default();
        Self {
            about: String::new(),
            duration_s: 60.0,
            rate_hz,
            lead_s: None,
            rated_kw: 55.0,
            trips: Trips::default(),
            motor: circuit,
            heating,
            supply,
            mill,
            sensor,
        }
    }
}

impl Story {
    /// The story that a file tells.
    ///
    /// # Errors
    /// The file cannot be read, is no TOML, has a key that does not exist or a value that makes no sense.
    pub fn read(path: &Path) -> Result<Self, Fault> {
        let name = path.display().to_string();
        let wanted = "a scenario (TOML)";
        let file = std::fs::File::open(path).map_err(|error| Fault::unreadable(&name, &error, wanted))?;
        let mut text = String::new();
        match file.take(LONGEST + 1).read_to_string(&mut text) {
            Err(error) if error.kind() == std::io::ErrorKind::InvalidData => {
                Err(Fault::new(name, "it is no text").wanted(wanted).mend(CURE))
            }
            Err(error) => Err(Fault::unreadable(name, &error, wanted)),
            Ok(length) if length as u64 > LONGEST => {
                Err(Fault::new(name, "it is longer than a megabyte").wanted(wanted).mend(CURE))
            }
            Ok(_) => Self::parse(&name, &text),
        }
    }

    /// The story that a text tells; `name` is its file's or its own.
    ///
    /// # Errors
    /// As [`Story::read`].
    pub fn parse(name: &str, text: &str) -> Result<Self, Fault> {
        let own: Table = text.parse().map_err(|error| fault(name, text, &error))?;
        let whole = laid_over(name, own, 0)?;
        Self::of(name, File::deserialize(whole).map_err(|error| fault(name, text, &error))?)
    }

    /// The whole file, with nothing left out.
    ///
    /// # Panics
    /// Never: every field can be written as TOML.
    pub fn text(&self) -> String {
        let Self { about, rated_w, trips, scenario, .. } = self.clone();
        let Scenario { circuit: motor, heating, supply, mill, sensor, rate_hz, lead_s, duration_s } = scenario;
        let lead_s = Some(lead_s);
        let file = File {
            about,
            duration_s,
            rate_hz,
            lead_s,
            rated_kw: rated_w / 1000.0,
            trips,
            motor,
            heating,
            supply,
            mill,
            sensor,
        };
        toml::to_string(&file).expect("every field of a scenario can be written as TOML")
    }

    fn of(name: &str, file: File) -> Result<Self, Fault> {
        let File { about, duration_s, rate_hz, lead_s, rated_kw, trips, motor, heating, supply, mill, sensor } = file;
        let runs = supply.closed.iter().any(|span| span.from_s <= 0.0 && span.until_s > 0.0);
        let lead_s = lead_s.unwrap_or(if runs { RUNNING_LEAD_S } else { 0.0 });
        let scenario = Scenario { circuit: motor, heating, supply, mill, sensor, rate_hz, lead_s, duration_s };
        let story = Self { name: name.to_owned(), about, rated_w: rated_kw * 1000.0, trips, scenario };
        limits::check(&story).map_err(|slip| {
            let fault = Fault::new(name, slip.found).at(format!("key {}", slip.key)).wanted(slip.wanted);
            fault.mend("correct the value; 'shaftwork synth NAME --show' shows those of a scenario that runs")
        })?;
        Ok(story)
    }

    /// The settings that replay its trace: the nameplate is the model's own at rated load.
    pub fn settings(&self) -> String {
        let Scenario { circuit, mill, sensor, .. } = &self.scenario;
        let idle = circuit.settle(|speed| mill.windage_nm(speed));
        let plate = Plate {
            about: &["Settings for a trace of the plant model; the nameplate is the model's own at rated load."],
            circuit,
            rated_w: self.rated_w,
            wiring: "four-wire",
            tap: self.scenario.supply.tap,
            current_tap: sensor.current_tap,
            bits: sensor.voltage.bits,
            rate_hz: self.scenario.rate_hz,
            volts: sensor.voltage.full_scale,
            amps: sensor.current.full_scale,
            inertia_kg_m2: Some(circuit.inertia_kg_m2 + mill.inertia_kg_m2),
            // A motor that drives nothing has none.
            idle_w: idle.map(|point| point.shaft_w).filter(|watts| *watts >= 1.0),
            starter: match self.scenario.supply.starter {
                Starter::Direct => "direct",
                Starter::StarDelta { .. } => "star-delta",
                Starter::Soft { .. } => "soft",
            },
            mass: true,
            trips: Some(self.trips),
        };
        plate.text()
    }
}

const CURE: &str =
    "'shaftwork synth --list' tells scenarios, 'shaftwork synth NAME --show > my.toml' copies one to begin with";

/// A slip with its line: the parser's, or that of the key that it is in, or of the first word that it quotes.
fn fault(name: &str, text: &str, error: &toml::de::Error) -> Fault {
    let message: Vec<&str> = error.message().lines().collect();
    let message = message.join(", ");
    let quoted = message.split('`').nth(1).filter(|word| !word.is_empty());
    let key = key_of(error);
    let line = match error.span() {
        Some(span) => text.get(..span.start).map(|before| before.matches('\n').count() + 1),
        // A key that is not known stands below the one that it is in.
        None => quoted.and_then(|word| line_of(text, word)).or_else(|| line_at(text, key.as_deref()?)),
    };
    let line = line.map(|line| format!("line {line}"));
    let place: Vec<String> = line.into_iter().chain(key.map(|key| format!("key {key}"))).collect();
    let fault = Fault::new(name, message.clone()).wanted("a scenario (TOML)").mend(CURE);
    if place.is_empty() { fault } else { fault.at(place.join(", ")) }
}

/// The key that a slip is in. Tables are laid over each other before they are read, so that no place in a text is left; the
/// reader knows the key all the same, and tells it in its own words alone.
fn key_of(error: &toml::de::Error) -> Option<String> {
    let words = error.to_string();
    let (_, key) = words.trim_end().rsplit_once("\nin `")?;
    key.strip_suffix('`').map(str::to_owned)
}

/// The line of a key of the text itself, or of what it is in as far as that goes.
fn line_at(text: &str, key: &str) -> Option<usize> {
    let root = DeTable::parse(text).ok()?;
    let (mut table, mut start) = (root.get_ref(), None);
    for part in key.split('.') {
        let Some((name, value)) = table.iter().find(|(name, _)| name.get_ref() == part) else { break };
        start = Some(name.span().start);
        let DeValue::Table(inner) = value.get_ref() else { break };
        table = inner;
    }
    Some(text.get(..start?)?.matches('\n').count() + 1)
}

/// The line that has a word as a key or a part of one, or as a value; not in a comment.
fn line_of(text: &str, word: &str) -> Option<usize> {
    let has = |part: &str| part.split(|c: char| !(c.is_alphanumeric() || "_-".contains(c))).any(|each| each == word);
    let lines = || text.lines().map(|line| line.split('#').next().unwrap_or(""));
    let key = |line: &str| has(line.split('"').next().unwrap_or(""));
    lines().position(key).or_else(|| lines().position(has)).map(|line| line + 1)
}

/// The usual mill.
fn usual() -> Table {
    Table::try_from(File::default()).expect("every field of a scenario can be written as TOML")
}

/// The table laid over that of the scenario it is like, or of the usual mill.
fn laid_over(name: &str, mut own: Table, depth: usize) -> Result<Table, Fault> {
    let like = match own.remove("like") {
        None => {
            let mut base = usual();
            lay(&mut base, own);
            return Ok(base);
        }
        Some(Value::String(like)) => like,
        Some(other) => {
            let found = format!("like = {other}");
            return Err(Fault::new(name, found).at("key like").wanted("the name of a scenario").mend(CURE));
        }
    };
    // Those of the catalogue lean on each other once or twice.
    let text = catalogue::text(&like).filter(|_| depth < 4);
    let Some(text) = text else {
        let near = catalogue::near(&like).map(|near| format!("; '{near}' is near")).unwrap_or_default();
        let found = format!("there is no scenario '{like}'{near}");
        return Err(Fault::new(name, found)
            .at("key like")
            .wanted("the name of a scenario of ours, no file")
            .mend(CURE));
    };
    let base = text.parse().map_err(|error| fault(&like, text, &error))?;
    let mut base = laid_over(&like, base, depth + 1)?;
    lay(&mut base, own);
    Ok(base)
}

/// Lays a table over another, key by key.
pub(super) fn lay(base: &mut Table, own: Table) {
    for (key, value) in own {
        match (base.get_mut(&key), value) {
            (Some(Value::Table(under)), Value::Table(over)) if !CHOICES.contains(&key.as_str()) => lay(under, over),
            (_, value) => {
                base.insert(key, value);
            }
        }
    }
}

#[cfg(test)]
mod tests;
