//! The motors that are compared: a file with a nameplate each, laid over the settings of the recorded one.
//!
//! ```toml
//! [[motor]]
//! name = "45 kW, new"
//! rated_power_kw = 45
//! # ... the keys of [motor] of the settings
//!
//! [motor.trip.thermal]            # what else is another motor's own
//! heating_time_constant_s = 500
//! ```
//!
//! Pick-ups are shares of rated current, so that they go with the motor; a base current of the thermal image in amperes is the
//! recorded motor's and becomes the other's rated current.

use std::path::Path;

use anyhow::Context as _;
use shaftwork_core::settings::JudgeCoefficients;
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, value};

use crate::error::{Fault, Usage};
use crate::fit::{self, circuit};
use crate::plant::circuit::Circuit;
use crate::settings::{self, Faults, Settings};

/// Any rate that the core takes, Hz: no sample is made.
pub const RATE_HZ: f64 = 4_000.0;
/// Motors at most.
const MOST: usize = 100;
/// Tables of a motor that are laid over the settings' own.
const OVER: [&str; 2] = ["trip", "mill"];

/// A motor.
#[derive(Debug, Clone)]
pub struct Motor {
    /// What it is called.
    pub name: String,
    /// The settings with it.
    pub settings: Settings,
    /// Its circuit.
    pub circuit: Circuit,
    /// What the core judges it by.
    pub judge: JudgeCoefficients,
    /// All that turns, seen from the motor's shaft, kg m².
    pub inertia_kg_m2: f64,
}

/// Reads the settings and the motors; the recorded one comes first.
///
/// # Errors
/// One of the files is at fault, or a motor does not go with the mill.
pub fn load(base: &Path, motors: &Path) -> anyhow::Result<Vec<Motor>> {
    if base == Path::new("-") || motors == Path::new("-") {
        return Err(Usage("motor-study reads both files by name: give them as files, not '-'".to_owned()).into());
    }
    let (settings, _) = settings::load(base)?;
    let name = base.display().to_string();
    let text = std::fs::read_to_string(base).with_context(|| format!("cannot read {name}"))?;
    let file = motors.display().to_string();
    let listed = std::fs::read_to_string(motors)
        .map_err(|error| Fault::unreadable(file.as_str(), &error, "a file of motors in TOML"))?;
    all(&settings, &text, &file, &listed)
}

/// The same of texts.
///
/// # Errors
/// As [`load`].
pub fn all(base: &Settings, text: &str, file: &str, listed: &str) -> anyhow::Result<Vec<Motor>> {
    let own = Motor::new(format!("{} kW, as recorded", base.motor.rated_power_kw), base.clone())?;
    let parse = |text: &str, file: &str| {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        text.parse::<DocumentMut>().map_err(|error| {
            let line = error.span().map_or(1, |span| text[..span.start.min(text.len())].matches('\n').count() + 1);
            Fault::new(file, error.message().replace('\n', ", "))
                .at(format!("line {line}"))
                .wanted("TOML: a table [[motor]] for each motor, key = value lines below it")
                .mend("numbers have a point, words stand in quotes; docs/formats.md has an example")
        })
    };
    let (document, listed) = (parse(text, &base.file)?, parse(listed, file)?);
    if let Some((other, _)) = listed.iter().find(|(key, _)| *key != "motor") {
        return Err(Fault::new(file, format!("'{other}' outside of a [[motor]]"))
            .wanted("tables [[motor]] alone")
            .into());
    }
    let tables = listed.get("motor").and_then(Item::as_array_of_tables).map_or(0, ArrayOfTables::len);
    if !(1..=MOST).contains(&tables) {
        return Err(Fault::new(file, format!("{tables} tables [[motor]]"))
            .wanted(format!("1 to {MOST}: the keys of [motor] of the settings, and a name"))
            .mend("write [[motor]] above each nameplate; docs/formats.md has an example")
            .into());
    }
    let mut motors = vec![own];
    for (n, table) in listed.get("motor").and_then(Item::as_array_of_tables).into_iter().flatten().enumerate() {
        let motor = laid(base, &document, table, file, n + 1)?;
        if motors.iter().any(|other| other.name == motor.name) {
            return Err(Fault::new(file, format!("two motors called '{}'", motor.name))
                .wanted("names that differ")
                .into());
        }
        motors.push(motor);
    }
    Ok(motors)
}

/// A motor of the list under the settings.
fn laid(base: &Settings, document: &DocumentMut, table: &Table, file: &str, n: usize) -> anyhow::Result<Motor> {
    let mut document = document.clone();
    let mut plate = table.clone();
    let own = plate.remove("name");
    let name = own.as_ref().and_then(Item::as_str).map(str::trim).filter(|name| !name.is_empty()).map(str::to_owned);
    let shown = name.clone().unwrap_or_else(|| format!("motor {n}"));
    let place = format!("{file}, [[motor]] {n} ({shown})");
    if own.is_some() && name.is_none() {
        return Err(Fault::new(&*place, "its name is no text")
            .at("key name")
            .wanted("a name in quotes")
            .mend("name = \"45 kW\"")
            .into());
    }
    fits(base, table, &place)?;
    for over in OVER {
        let Some(item) = plate.remove(over) else { continue };
        if !item.is_table_like() {
            return Err(Fault::new(&*place, "is no table")
                .at(format!("key {over}"))
                .wanted(format!("a table [motor.{over}...]"))
                .mend("write its keys below the motor, as docs/formats.md shows")
                .into());
        }
        lay(document.entry(over).or_insert(Item::Table(Table::new())), &item);
    }
    let thermal = plate_thermal(table);
    // The tables of the list are no tables of the settings.
    plate.set_implicit(false);
    plate.set_position(None);
    document.insert("motor", Item::Table(plate));
    if !thermal && let Some(thermal) = document.get_mut("trip").and_then(|trip| trip.get_mut("thermal")) {
        thermal.as_table_like_mut().map(|thermal| thermal.remove("base_current_a"));
    }
    // No sample is made: the converter's range must only not be what refuses a larger motor.
    if let Some(range) = document.get_mut("sampling").and_then(|sampling| sampling.get_mut("current_full_scale_a")) {
        let rated = table.get("rated_current_a").and_then(number).unwrap_or(base.motor.rated_current_a);
        let full = base.sampling.current_full_scale_a * (rated / base.motor.rated_current_a).max(1.0);
        *range = value(full);
    }
    let settings = match settings::parse(&document.to_string(), &place) {
        Ok((settings, _)) => settings,
        Err(Faults(all)) => {
            // Lines are those of a document that nobody has: the key tells it.
            let faults = all.into_iter().map(|fault| match fault.place.find("key ") {
                Some(at) => Fault { place: fault.place[at..].to_owned(), ..fault },
                None => Fault { place: String::new(), ..fault },
            });
            return Err(Faults(faults.collect()).into());
        }
    };
    let name = name.unwrap_or_else(|| format!("{} kW", settings.motor.rated_power_kw));
    Motor::new(name, settings)
}

fn plate_thermal(table: &Table) -> bool {
    let thermal = table.get("trip").and_then(|trip| trip.get("thermal"));
    thermal.is_some_and(|thermal| thermal.get("base_current_a").is_some())
}

fn number(item: &Item) -> Option<f64> {
    item.as_float().or_else(|| item.as_integer().map(|n| n as f64))
}

/// Lays the keys of a table over another's, tables in it too.
fn lay(under: &mut Item, over: &Item) {
    let (Some(under), Some(over)) = (under.as_table_like_mut(), over.as_table_like()) else { return };
    for (key, item) in over.iter() {
        match under.get_mut(key).filter(|under| under.is_table_like() && item.is_table_like()) {
            Some(deeper) => lay(deeper, item),
            None => {
                under.insert(key, item.clone());
            }
        }
    }
}

/// Whether a motor can stand in the place of the recorded one.
fn fits(base: &Settings, table: &Table, place: &str) -> anyhow::Result<()> {
    let own = &base.motor;
    let wanted = [
        ("poles", f64::from(own.poles), 0.0, format!("{}, as the recorded motor has", own.poles)),
        ("rated_frequency_hz", own.rated_frequency_hz, 0.01, format!("{} Hz", own.rated_frequency_hz)),
        (
            "rated_voltage_v",
            base.supply.line_voltage_v,
            0.1,
            format!("within 10 % of the supply's {} V", base.supply.line_voltage_v),
        ),
    ];
    for (key, own, within, wanted) in wanted {
        let Some(found) = table.get(key).and_then(number) else { continue };
        if (found / own - 1.0).abs() > within + 1e-9 {
            return Err(Fault::new(place, found.to_string()).at(format!("key motor.{key}")).wanted(wanted).mend(
                "a motor of another speed, frequency or voltage turns the mill otherwise or hangs on another supply: what was recorded tells nothing of it",
            ).into());
        }
    }
    Ok(())
}

impl Motor {
    fn new(name: String, settings: Settings) -> anyhow::Result<Self> {
        let missing = |key: &str, mend: &str| {
            Fault::new(&*settings.file, format!("no {key}")).wanted("a number").mend(mend.to_owned())
        };
        let inertia_kg_m2 = settings.mill.rotor_inertia_kg_m2.ok_or_else(|| {
            missing(
                "mill.rotor_inertia_kg_m2",
                "state the inertia of all that turns, seen from the motor's shaft: it decides how long a surge is carried; replay tells an upper end by the start's torque",
            )
        })?;
        if settings.motor.locked_rotor_torque_pct.is_none() {
            let mend = "take it from the data sheet, % of rated torque: it decides how long a start takes";
            return Err(missing("motor.locked_rotor_torque_pct", mend).into());
        }
        let fitted = circuit::fit(&settings)?;
        let judge = fit::of_circuit(&settings, &fitted, RATE_HZ, false)?.build()?.judge;
        Ok(Self { name, circuit: fitted.solved(&settings), judge, inertia_kg_m2, settings })
    }

    /// Rated power, W.
    pub fn rated_w(&self) -> f64 {
        self.settings.motor.rated_power_kw * 1e3
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::testing::parsed;

    /// The demo's motor and mill.
    pub const BASE: &str = include_str!("../../../examples/demo/settings.toml");
    const PLATE: &str = "rated_power_kw = 45\nrated_voltage_v = 400\nrated_current_a = 79\nrated_frequency_hz = 50\n\
        rated_speed_rpm = 1477\npoles = 4\nrated_power_factor_pct = 87.5\nrated_efficiency_pct = 94.1\n\
        locked_rotor_current_a = 450\nlocked_rotor_torque_pct = 180\n";

    fn made(listed: &str) -> anyhow::Result<Vec<Motor>> {
        all(&parsed(BASE).0, BASE, "motors.toml", listed)
    }

    #[test]
    fn a_nameplate_is_laid_over_the_settings() {
        let listed =
            format!("[[motor]]\nname = \"small\"\n{PLATE}\n[motor.trip.thermal]\nheating_time_constant_s = 450\n");
        let motors = made(&listed).unwrap();
        let [own, small] = motors.as_slice() else { panic!("{}", motors.len()) };
        assert_eq!((own.name.as_str(), small.name.as_str()), ("55 kW, as recorded", "small"));
        let thermal = small.settings.trips.thermal.unwrap();
        assert!((thermal.base_current_a - 79.0).abs() < 1e-9, "the recorded motor's amperes are not this one's");
        assert!((thermal.heating_time_constant_s - 450.0).abs() < 1e-9);
        assert_eq!(small.settings.trips.jam, own.settings.trips.jam);
        // The circuit comes to the nameplate: rated power, current and speed.
        let rated = small.circuit.at_shaft_w(45e3).unwrap();
        assert!((rated.current_a / 79.0 - 1.0).abs() < 0.01, "{rated:?}");
        assert!((rated.speed_rpm - 1477.0).abs() < 1.0, "{rated:?}");
        assert!((rated.efficiency() - 0.941).abs() < 0.003, "{rated:?}");
        let locked = small.circuit.at_slip(1.0);
        assert!((locked.current_a / 450.0 - 1.0).abs() < 0.001, "{locked:?}");
        assert!((locked.shaft_nm / (1.8 * rated.shaft_nm) - 1.0).abs() < 0.002, "{locked:?}");
    }

    #[test]
    fn what_does_not_fit_is_refused_in_words() {
        for (listed, wanted) in [
            (String::new(), "0 tables [[motor]]"),
            ("[motor]\nrated_power_kw = 45\n".to_owned(), "0 tables [[motor]]"),
            (format!("[[motor]]\n{}", PLATE.replace("poles = 4", "poles = 6").replace("1477", "980")), "motor.poles"),
            (format!("[[motor]]\n{}", PLATE.replace("voltage_v = 400", "voltage_v = 690")), "motor.rated_voltage_v"),
            (format!("[[motor]]\n{}", PLATE.replace("power_kw", "power_kv")), "rated_power_kv"),
            (format!("[[motor]]\n{}", PLATE.replace("locked_rotor_torque_pct = 180\n", "")), "locked_rotor_torque_pct"),
            (format!("[[motor]]\n{PLATE}[[motor]]\n{PLATE}"), "two motors called '45 kW'"),
            ("[[motor\n".to_owned(), "motors.toml"),
        ] {
            let words = made(&listed).err().unwrap().to_string();
            assert!(words.contains(wanted) && words.contains("motors.toml"), "{wanted}: {words}");
        }
    }
}
