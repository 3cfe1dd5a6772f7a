//! The scenarios by name. Mill, motor and scrap are invented; breaking work is of the order that scrap takes
//! (20 to 60 kWh/t, common practice, no source).

use super::story::Story;

/// Name and file of a scenario.
struct Entry(&'static str, &'static str);

/// An entry for a file of the folder `scenarios`.
macro_rules! entry {
    ($name:literal) => {
        Entry($name, include_str!(concat!("../../scenarios/", $name, ".toml")))
    };
}

/// All of them, in the order in which they are listed.
const ALL: [Entry; 22] = [
    entry!("cold-start"),
    entry!("hot-restart"),
    entry!("star-delta-start"),
    entry!("star-delta-inside"),
    entry!("soft-start"),
    entry!("idle"),
    entry!("no-load"),
    entry!("belt-fed"),
    entry!("hand-fed"),
    entry!("worn-hammers"),
    entry!("choke"),
    entry!("wedge"),
    entry!("lost-belt"),
    entry!("sag"),
    entry!("rough-mains"),
    entry!("lost-phase"),
    entry!("lost-phase-upstream"),
    entry!("dead-sensor"),
    entry!("shift"),
    entry!("demo"),
    entry!("light-start"),
    entry!("light-jam"),
];

/// The names, in the order in which they are listed.
pub fn names() -> impl Iterator<Item = &'static str> {
    ALL.iter().map(|entry| entry.0)
}

/// How alike two words must be to be offered (Jaro-Winkler: 1 is the same).
const ALIKE: f64 = 0.75;

/// The name that is most like a word, if any is.
pub fn near(word: &str) -> Option<&'static str> {
    let alike = |name: &str| strsim::jaro_winkler(name, word);
    names().max_by(|a, b| alike(a).total_cmp(&alike(b))).filter(|name| alike(name) >= ALIKE)
}

/// The file of a name.
pub fn text(name: &str) -> Option<&'static str> {
    ALL.iter().find(|entry| entry.0 == name).map(|entry| entry.1)
}

/// The scenario of a name.
///
/// # Panics
/// Never: a test reads them all.
pub fn find(name: &str) -> Option<Story> {
    text(name).map(|text| Story::parse(name, text).expect("a scenario of the catalogue is sound"))
}

/// All of them, in the order in which they are listed.
pub fn all() -> impl Iterator<Item = Story> {
    names().filter_map(find)
}
