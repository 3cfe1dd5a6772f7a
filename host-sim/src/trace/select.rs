//! Which channel of a trace serves which quantity.
//!
//! The settings' `[channels]` decide first. A CSV trace has the names of the format. In a
//! COMTRADE record the phase field decides together with the kind of unit, and the name where the
//! phase says nothing or is not unique.

use super::units::{bare, phase, phase_of_name};
use super::{Channel, Kind, Meta};
use crate::error::Fault;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// How voltages and currents are taken.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Wiring {
    /// Three phase-to-neutral voltages, three currents.
    FourWire,
    /// Three line voltages, three currents.
    ThreeWire,
    /// Two line voltages and two currents (Blondel); ib = -(ia + ic).
    TwoElement,
    /// Three currents and no voltage: the nominal one is assumed, power is estimated.
    CurrentsOnly,
}

impl Wiring {
    /// Its name in the settings.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::FourWire => "four-wire",
            Self::ThreeWire => "three-wire",
            Self::TwoElement => "two-element",
            Self::CurrentsOnly => "currents-only",
        }
    }

    /// The quantities of the six slots; empty where the wiring has none.
    pub fn quantities(self) -> [&'static str; 6] {
        match self {
            Self::FourWire => ["va", "vb", "vc", "ia", "ib", "ic"],
            Self::ThreeWire => ["vab", "vbc", "vca", "ia", "ib", "ic"],
            Self::TwoElement => ["vab", "vcb", "", "ia", "", "ic"],
            Self::CurrentsOnly => ["", "", "", "ia", "ib", "ic"],
        }
    }
}

/// Which column serves which quantity.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Selection {
    /// Voltages in slots 0 to 2, currents in 3 to 5, as [`Wiring::quantities`] names them.
    pub electrical: [Option<usize>; 6],
    /// Mass fed so far, kg.
    pub mass: Option<usize>,
    /// Feed rate, kg/s.
    pub feed: Option<usize>,
    /// Speed of the motor shaft, rpm.
    pub speed: Option<usize>,
    /// Total active power, W; of a log of rms values.
    pub active: Option<usize>,
    /// Total reactive power, var.
    pub reactive: Option<usize>,
    /// Frequency of the supply, Hz.
    pub frequency: Option<usize>,
    /// Pulses of a belt weigher; a value that is missing is none that could be bridged.
    pub pulse: Option<usize>,
}

impl Selection {
    /// The columns of samples and what goes with them; those of rms values alone, which never lack one, are apart.
    pub fn columns(&self) -> impl Iterator<Item = usize> + '_ {
        self.electrical.iter().chain([&self.mass, &self.feed, &self.speed]).filter_map(|c| *c)
    }
}

/// The optional quantities: names in `[channels]`, kind, name in CSV, name in COMTRADE.
const OPTIONAL: [([&str; 2], Kind, &str, &str); 7] = [
    (["mass", "mass_kg"], Kind::Mass, "mass_kg", "MASS"),
    (["feed", "feed_kg_s"], Kind::FeedRate, "feed_kg_s", "FEED"),
    (["speed", "speed_rpm"], Kind::Speed, "speed_rpm", "SPEED"),
    (["active", "active_w"], Kind::Active, "active_w", "P"),
    (["reactive", "reactive_var"], Kind::Reactive, "reactive_var", "Q"),
    (["frequency", "frequency_hz"], Kind::Frequency, "frequency_hz", "F"),
    (["pulse", "mass_pulse"], Kind::Pulse, "mass_pulse", "PULSE"),
];

/// Finds the channels; `overrides` are the settings' `[channels]`, quantity to channel name.
///
/// # Errors
/// A [`Fault`] that lists the channels found and shows the lines to write, when a quantity is not
/// found, not unique, or not of its kind.
pub fn select(meta: &Meta, wiring: Wiring, overrides: &BTreeMap<String, String>) -> anyhow::Result<Selection> {
    let names = wiring.quantities();
    for key in overrides.keys() {
        let optional = OPTIONAL.iter().any(|(keys, ..)| keys.contains(&key.as_str()));
        if !optional && (key.is_empty() || !names.contains(&key.as_str())) {
            let known: Vec<&str> =
                names.iter().copied().filter(|n| !n.is_empty()).chain(OPTIONAL.map(|(keys, ..)| keys[0])).collect();
            return Err(Fault::new(&*meta.path, format!("[channels] in the settings names '{key}'"))
                .wanted(format!("quantities of {}: {}", wiring.as_str(), known.join(", ")))
                .mend(format!("remove the line of '{key}', or correct the wiring"))
                .into());
        }
    }
    let finder = Finder { meta, wiring, overrides };
    let mut selection = Selection::default();
    for (slot, quantity) in selection.electrical.iter_mut().zip(names) {
        if !quantity.is_empty() {
            *slot = Some(finder.electrical(quantity)?);
        }
    }
    selection.mass = finder.optional(0)?;
    selection.feed = finder.optional(1)?;
    selection.speed = finder.optional(2)?;
    selection.active = finder.optional(3)?;
    selection.reactive = finder.optional(4)?;
    selection.frequency = finder.optional(5)?;
    selection.pulse = finder.optional(6)?;
    let mut seen: Vec<usize> = Vec::new();
    for column in selection.columns().chain(selection.pulse) {
        if seen.contains(&column) {
            let name = &meta.channels[column].name;
            return Err(finder
                .fault(format!("the channel '{name}' would serve two quantities"), "a channel for each")
                .into());
        }
        seen.push(column);
    }
    for column in seen {
        if let Some(flaw) = &meta.channels[column].flaw {
            let found = format!("the channel '{}' {flaw}", meta.channels[column].name);
            return Err(Fault::new(&*meta.path, found)
                .wanted("a ratio primary/secondary above 0")
                .mend("put the transformer's ratio into the configuration of the record")
                .into());
        }
    }
    Ok(selection)
}

struct Finder<'a> {
    meta: &'a Meta,
    wiring: Wiring,
    overrides: &'a BTreeMap<String, String>,
}

impl Finder<'_> {
    fn electrical(&self, quantity: &str) -> Result<usize, Fault> {
        let kind = if quantity.starts_with('v') { Kind::Voltage } else { Kind::Current };
        if let Some(name) = self.overrides.get(quantity) {
            return self.named(quantity, name, kind);
        }
        let letters = quantity[1..].to_ascii_uppercase();
        let channels = || self.meta.channels.iter().enumerate().filter(|(_, c)| c.kind == kind);
        let by_name: Vec<usize> = if self.meta.format == "CSV" {
            let name = format!("{quantity}_");
            channels()
                .filter(|(_, c)| !c.unit.is_empty() && csv_stem(c).is_some_and(|s| s == name))
                .map(|(i, _)| i)
                .collect()
        } else {
            channels()
                .filter(|(_, c)| phase_of_name(&c.name) == letters && compatible(c, &letters))
                .map(|(i, _)| i)
                .collect()
        };
        let by_phase: Vec<usize> = if self.meta.format == "CSV" {
            vec![]
        } else {
            channels().filter(|(_, c)| phase(&c.phase) == letters && plain(c, &letters)).map(|(i, _)| i).collect()
        };
        match (by_phase.as_slice(), by_name.as_slice()) {
            ([one], _) | ([], [one]) => Ok(*one),
            ([], []) => Err(self.fault(format!("no channel was found for {quantity}"), &self.wants())),
            // Several of that phase: the one with the plain name, if there is just one.
            (several, [one]) if several.contains(one) => Ok(*one),
            (several, by_name) => {
                let which = if several.is_empty() { by_name } else { several };
                let list: Vec<String> =
                    which.iter().take(6).map(|i| format!("'{}'", self.meta.channels[*i].name)).collect();
                Err(self
                    .fault(format!("{} channels could be {quantity}: {}", which.len(), list.join(", ")), &self.wants()))
            }
        }
    }

    fn optional(&self, which: usize) -> Result<Option<usize>, Fault> {
        let (keys, kind, csv, comtrade) = OPTIONAL[which];
        if let Some((key, name)) = keys.iter().find_map(|k| self.overrides.get_key_value(*k)) {
            return self.named(key, name, kind).map(Some);
        }
        let wanted = if self.meta.format == "CSV" { csv } else { comtrade };
        // `active_kw` serves as `active_w` does.
        let kilo = wanted.replacen('_', "_k", 1);
        let found = |c: &&(usize, &Channel)| {
            let name = c.1.name.trim();
            fits(c.1, kind) && (name.eq_ignore_ascii_case(wanted) || name.eq_ignore_ascii_case(&kilo))
        };
        let all: Vec<(usize, &Channel)> = self.meta.channels.iter().enumerate().collect();
        let found: Vec<usize> = all.iter().filter(found).map(|(i, _)| *i).collect();
        match found.as_slice() {
            [] => Ok(None),
            [one] => Ok(Some(*one)),
            several => Err(self.fault(format!("{} channels are named {wanted}", several.len()), "one of that name")),
        }
    }

    /// The channel that the settings name.
    fn named(&self, quantity: &str, name: &str, kind: Kind) -> Result<usize, Fault> {
        let find = |same: &dyn Fn(&str) -> bool| -> Vec<usize> {
            self.meta.channels.iter().enumerate().filter(|(_, c)| same(c.name.trim())).map(|(i, _)| i).collect()
        };
        let mut found = find(&|n| n == name.trim());
        if found.is_empty() {
            found = find(&|n| n.eq_ignore_ascii_case(name.trim()));
        }
        match found.as_slice() {
            [one] => {
                let channel = &self.meta.channels[*one];
                if fits(channel, kind) || (channel.kind == Kind::Other && channel.unit.is_empty()) {
                    return Ok(*one);
                }
                let found = format!("[channels] {quantity} = \"{name}\" is in '{}'", channel.unit);
                Err(self.fault(found, "a channel in a unit of that quantity"))
            }
            [] => Err(self.fault(
                format!("[channels] {quantity} = \"{name}\" is not among the channels"),
                "the name of a channel",
            )),
            several => {
                Err(self.fault(format!("{} channels are named '{name}'", several.len()), "a name that is there once"))
            }
        }
    }

    fn wants(&self) -> String {
        let names: Vec<&str> = self.wiring.quantities().into_iter().filter(|n| !n.is_empty()).collect();
        if self.meta.format == "CSV" {
            let units = names.iter().map(|n| format!("{n}_{}", &n[..1].replace('i', "a")));
            return format!("the columns of {}: {}", self.wiring.as_str(), units.collect::<Vec<_>>().join(","));
        }
        format!("one channel for each quantity of {}: {}", self.wiring.as_str(), names.join(", "))
    }

    /// A fault with the channels found and the lines to write.
    fn fault(&self, found: impl Into<String>, wanted: &str) -> Fault {
        let mut mend = String::from(if self.meta.format == "CSV" {
            "rename the columns, or name them in the settings (without a unit they are in V or A):\n    [channels]"
        } else {
            "name the channels in the settings:\n    [channels]"
        });
        for (slot, quantity) in self.wiring.quantities().iter().enumerate().filter(|(_, q)| !q.is_empty()) {
            let kind = if slot < 3 { Kind::Voltage } else { Kind::Current };
            let letters = quantity[1..].to_ascii_uppercase();
            let fits =
                |c: &&Channel| c.kind == kind && (phase(&c.phase) == letters || phase_of_name(&c.name) == letters);
            let name = match self.overrides.get(*quantity) {
                Some(name) => name.as_str(),
                None => self.meta.channels.iter().find(fits).map_or("...", |c| c.name.trim()),
            };
            let _ = write!(mend, "\n    {quantity} = \"{name}\"");
        }
        mend.push_str("\n  channels in the file:");
        for channel in self.meta.channels.iter().take(40) {
            let Channel { name, phase, unit, .. } = channel;
            let _ = write!(mend, "\n    \"{}\"", name.trim());
            if !phase.trim().is_empty() {
                let _ = write!(mend, " phase {}", phase.trim());
            }
            let _ = write!(mend, " in {}", if unit.is_empty() { "no unit" } else { unit });
        }
        if let Some(more) = self.meta.channels.len().checked_sub(41) {
            let _ = write!(mend, "\n    and {} more", more + 1);
        }
        Fault::new(&*self.meta.path, found).wanted(wanted).mend(mend)
    }
}

/// Whether a channel is of a kind; a level that tells of pulses may be in any unit.
fn fits(channel: &Channel, kind: Kind) -> bool {
    channel.kind == kind || kind == Kind::Pulse
}

/// `va_` of `va_v`: the name of a CSV column up to and with its first underscore.
fn csv_stem(channel: &Channel) -> Option<String> {
    let at = channel.name.find('_')?;
    // Only names such as `va_v`: nothing between quantity and unit.
    (channel.name[at + 1..].find('_').is_none()).then(|| channel.name[..=at].to_ascii_lowercase())
}

/// Whether the phase field does not contradict the name's phase.
fn compatible(channel: &Channel, letters: &str) -> bool {
    let told = phase(&channel.phase);
    told.is_empty() || told == letters || letters.len() == 2
}

/// Whether the name does not tell of another voltage than the phase field: `VAB` with phase A is
/// no phase voltage, `3U0` none of a phase.
fn plain(channel: &Channel, letters: &str) -> bool {
    let told = phase_of_name(&channel.name);
    (told.len() == 2) == (letters.len() == 2) || told.is_empty() && !bare(&channel.name).starts_with("3U")
}

#[cfg(test)]
mod tests;
