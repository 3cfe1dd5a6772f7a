//! Which keys of the settings take which values: a file with the settings' own tables and keys.
//!
//! ```toml
//! [trip.jam]
//! pickup_pct = { from = 150, to = 300, step = 25 }
//! delay_s = [0.2, 0.35, 0.5]
//! ```
//!
//! All combinations are tried, the last key changing first.

use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml_edit::{DocumentMut, Item, TableLike, Value};

use crate::error::Fault;
use crate::report::number::figure;
use crate::settings::{keys, nearest};

/// Settings that are compared at most.
pub const MOST: usize = 10_000;
/// Values of a key at most.
const MOST_VALUES: usize = 1_000;
/// A longer file is something else, bytes.
const LONGEST: u64 = 1 << 20;
/// Tables whose keys may be varied.
const TABLES: [&str; 3] = ["trip", "motor", "mill"];

/// A key with the values that it takes.
#[derive(Debug, Clone)]
pub struct Key {
    /// Its full name.
    pub name: String,
    /// Where it stands in the file.
    pub place: String,
    /// What it takes, in order.
    pub values: Vec<Value>,
}

impl Key {
    /// A value as it is written.
    pub fn shown(&self, at: usize) -> String {
        match self.values.get(at) {
            Some(Value::Float(x)) => x.value().to_string(),
            Some(value) => value.to_string().trim().to_owned(),
            None => String::new(),
        }
    }

    /// Whether it is a trip element's.
    pub fn is_trip(&self) -> bool {
        self.name.starts_with("trip.")
    }
}

/// The whole file.
#[derive(Debug, Clone)]
pub struct Vary {
    /// As the user named it.
    pub file: String,
    /// The keys in the order of the file.
    pub keys: Vec<Key>,
}

impl Vary {
    /// Reads it.
    ///
    /// # Errors
    /// It cannot be read, is no TOML, has a key that settings do not have or that cannot be varied, or makes too many settings.
    pub fn load(path: &Path) -> Result<Self, Fault> {
        let name = path.display().to_string();
        let wanted = "a file in TOML that says which keys take which values";
        match std::fs::metadata(path) {
            Ok(about) if about.len() > LONGEST => {
                Err(Fault::new(name, "longer than 1 MiB").wanted(wanted).mend("is this a trace?"))
            }
            _ => {
                let text = std::fs::read_to_string(path).map_err(|error| Fault::unreadable(&*name, &error, wanted))?;
                Self::parse(&name, &text)
            }
        }
    }

    /// Reads its text.
    ///
    /// # Errors
    /// As [`Vary::load`].
    pub fn parse(file: &str, text: &str) -> Result<Self, Fault> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let reader = Reader { file, text };
        let root = DeTable::parse(text).map_err(|error| {
            let found = error.message().lines().collect::<Vec<_>>().join(", ");
            Fault::new(file, found)
                .at(reader.line(error.span().map_or(0, |span| span.start)))
                .wanted(FORM)
                .mend("correct the line; examples/trip-study/vary.toml shows how they look")
        })?;
        let mut keys = Vec::new();
        reader.table("", root.get_ref(), &mut keys)?;
        // The file's order: tables of a document are sorted by name.
        keys.sort_by_key(|(at, _)| *at);
        let vary = Self { file: file.to_owned(), keys: keys.into_iter().map(|(_, key)| key).collect() };
        if vary.keys.is_empty() {
            return Err(Fault::new(file, "nothing is varied in it")
                .wanted(FORM)
                .mend("see examples/trip-study/vary.toml"));
        }
        let all = vary.keys.iter().try_fold(1usize, |all, key| all.checked_mul(key.values.len()));
        if all.is_none_or(|all| all > MOST) {
            let each: Vec<String> =
                vary.keys.iter().map(|key| format!("{} ({})", key.values.len(), key.name)).collect();
            let product = all.map_or_else(|| "more than can be counted".to_owned(), |all| all.to_string());
            return Err(Fault::new(file, format!("{product} settings: {}", each.join(" x ")))
                .wanted(format!("{MOST} at most"))
                .mend("take larger steps, or vary some keys now and the others with the best of them"));
        }
        Ok(vary)
    }

    /// How many combinations there are.
    pub fn count(&self) -> usize {
        self.keys.iter().map(|key| key.values.len()).product()
    }

    /// Which value each key has in a combination.
    pub fn picks(&self, mut combination: usize) -> Vec<usize> {
        let mut picks = vec![0; self.keys.len()];
        for (pick, key) in picks.iter_mut().zip(&self.keys).rev() {
            *pick = combination % key.values.len();
            combination /= key.values.len();
        }
        picks
    }

    /// A settings document with these values; false where a table's name is that of something else.
    pub fn lay(&self, document: &mut DocumentMut, picks: &[usize]) -> bool {
        self.keys.iter().zip(picks).all(|(key, pick)| {
            let Some(value) = key.values.get(*pick) else { return false };
            let mut parts = key.name.split('.').peekable();
            let mut table: &mut dyn TableLike = document.as_table_mut();
            while let Some(part) = parts.next() {
                if parts.peek().is_none() {
                    table.insert(part, Item::Value(value.clone()));
                    break;
                }
                let Some(inner) = table.entry(part).or_insert(toml_edit::table()).as_table_like_mut() else {
                    return false;
                };
                table = inner;
            }
            true
        })
    }
}

const FORM: &str =
    "tables and keys of the settings, each with its values: delay_s = [0.2, 0.5] or { from = 0.2, to = 1, step = 0.1 }";

struct Reader<'a> {
    file: &'a str,
    text: &'a str,
}

impl Reader<'_> {
    fn line(&self, offset: usize) -> String {
        format!("line {}", self.text[..offset.min(self.text.len())].matches('\n').count() + 1)
    }

    fn fault(&self, offset: usize, key: &str, found: impl Into<String>) -> Fault {
        Fault::new(self.file, found).at(format!("{}, key {key}", self.line(offset)))
    }

    fn table(&self, path: &str, table: &DeTable<'_>, keys: &mut Vec<(usize, Key)>) -> Result<(), Fault> {
        for (key, value) in table {
            let name = if path.is_empty() { key.get_ref().to_string() } else { format!("{path}.{}", key.get_ref()) };
            let at = key.span().start;
            match value.get_ref() {
                DeValue::Table(inner) if !["from", "to", "step"].iter().any(|part| inner.contains_key(*part)) => {
                    self.table(&name, inner, keys)?;
                }
                _ => {
                    self.known(at, &name)?;
                    let values = self.values(at, &name, value)?;
                    let place = format!("{}, key {name}", self.line(at));
                    keys.push((at, Key { name, place, values }));
                }
            }
        }
        Ok(())
    }

    /// Refuses a key that settings do not have, or that says how frames are metered.
    fn known(&self, at: usize, name: &str) -> Result<(), Fault> {
        let table = name.split('.').next().unwrap_or_default();
        let known = keys();
        if !known.contains(name) {
            let near = nearest_key(name, known.iter().map(String::as_str));
            let mend = near.map_or_else(
                || "'shaftwork check-settings FILE' shows the keys; docs/formats.md lists them all".to_owned(),
                |near| format!("did you mean {near}?"),
            );
            return Err(self.fault(at, name, "settings have no such key").wanted("a key of the settings").mend(mend));
        }
        if TABLES.contains(&table) {
            return Ok(());
        }
        let (found, mend) = match table {
            "supply" | "sampling" | "channels" | "winding" | "transmission" => (
                "it says how the trace is measured, which is one for all settings",
                "set it in the settings file: what was recorded does not change with it",
            ),
            _ => ("no trip depends on it", "leave it out"),
        };
        Err(self.fault(at, name, found).wanted("keys of [trip.*], [motor] or [mill]").mend(mend))
    }

    fn values(&self, at: usize, name: &str, value: &Spanned<DeValue<'_>>) -> Result<Vec<Value>, Fault> {
        let values = match value.get_ref() {
            DeValue::Table(range) => self.range(at, name, range)?,
            DeValue::Array(items) => {
                let all = items.iter().map(|item| scalar(item.get_ref()));
                let Some(all) = all.collect::<Option<Vec<_>>>().filter(|all| !all.is_empty()) else {
                    return Err(self
                        .fault(at, name, "no list of values")
                        .wanted(FORM)
                        .mend("write for example [0.2, 0.5]"));
                };
                all
            }
            one => {
                let one = scalar(one).ok_or_else(|| {
                    self.fault(at, name, "no value of a setting")
                        .wanted(FORM)
                        .mend("write a number, a word in quotes, true or false")
                })?;
                vec![one]
            }
        };
        let mut seen: Vec<String> = values.iter().map(|value| value.to_string().trim().to_owned()).collect();
        seen.sort();
        if let Some((twice, _)) = seen.iter().zip(seen.iter().skip(1)).find(|(one, next)| one == next) {
            return Err(self
                .fault(at, name, format!("{twice} is there twice"))
                .wanted("each value once")
                .mend("remove one"));
        }
        Ok(values)
    }

    fn range(&self, at: usize, name: &str, range: &DeTable<'_>) -> Result<Vec<Value>, Fault> {
        let wanted = "{ from = .., to = .., step = .. }: numbers, from at most to, step above 0";
        let refuse = |found: String| self.fault(at, name, found).wanted(wanted);
        if let Some((other, _)) =
            range.iter().find(|(key, _)| !["from", "to", "step"].contains(&key.get_ref().as_ref()))
        {
            return Err(refuse(format!("{} belongs to no range", other.get_ref())).mend("remove it"));
        }
        let number = |part: &str| {
            let value = range.get(part).and_then(|value| number(value.get_ref())).filter(|x| x.is_finite());
            value.ok_or_else(|| {
                refuse(format!("{part} is missing or no number")).mend(format!("write {part} = a number"))
            })
        };
        let (from, to, step) = (number("from")?, number("to")?, number("step")?);
        if from > to || step <= 0.0 {
            return Err(refuse(format!("from {from} to {to} in steps of {step}")).mend("correct the figures"));
        }
        // What is a whole number of steps but for rounding includes its end.
        let steps = ((to - from) / step + 1e-6).floor();
        if steps >= MOST_VALUES as f64 {
            return Err(refuse(format!("{} values", steps + 1.0))
                .wanted(format!("{MOST_VALUES} at most"))
                .mend("take larger steps"));
        }
        Ok((0..=steps as usize).map(|n| Value::from(figure(from + n as f64 * step))).collect())
    }
}

/// The known key that is most alike: in the same table first.
fn nearest_key<'n>(name: &str, known: impl Iterator<Item = &'n str> + Clone) -> Option<&'n str> {
    let (table, key) = name.rsplit_once('.').unwrap_or(("", name));
    let own = known.clone().filter_map(|full| full.rsplit_once('.').filter(|(t, _)| *t == table).map(|(_, key)| key));
    match nearest(key, own) {
        Some(near) => known.into_iter().find(|full| full.rsplit_once('.') == Some((table, near))),
        None => nearest(name, known),
    }
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix()).ok().map(|whole| whole as f64),
        DeValue::Float(x) => x.as_str().parse().ok(),
        _ => None,
    }
}

fn scalar(value: &DeValue<'_>) -> Option<Value> {
    match value {
        DeValue::String(text) => Some(Value::from(text.as_ref())),
        DeValue::Boolean(flag) => Some(Value::from(*flag)),
        DeValue::Integer(i) => Some(Value::from(i64::from_str_radix(i.as_str(), i.radix()).ok()?)),
        DeValue::Float(_) => number(value).map(Value::from),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(text: &str) -> String {
        Vary::parse("vary.toml", text).unwrap_err().to_string()
    }

    #[test]
    fn lists_ranges_and_single_values_in_the_order_of_the_file() {
        let text = "[trip.wedge]\npickup_pct = { from = 1.1, to = 1.4, step = 0.1 }\nwindow_s = 0.1\n\
                    [trip.jam]\ndelay_s = [0.2, 0.5, 1]\nenabled = [true, false]\n";
        let vary = Vary::parse("vary.toml", text).unwrap();
        let shown: Vec<_> =
            vary.keys.iter().map(|k| (k.name.as_str(), k.values.len(), k.shown(k.values.len() - 1))).collect();
        let want = [
            ("trip.wedge.pickup_pct", 4, "1.4"),
            ("trip.wedge.window_s", 1, "0.1"),
            ("trip.jam.delay_s", 3, "1"),
            ("trip.jam.enabled", 2, "false"),
        ];
        assert_eq!(shown, want.map(|(name, count, last)| (name, count, last.to_owned())));
        assert_eq!(
            (vary.count(), vary.picks(0), vary.picks(1), vary.picks(23)),
            (24, vec![0; 4], vec![0, 0, 0, 1], vec![3, 0, 2, 1])
        );
    }

    #[test]
    fn values_are_laid_over_a_document_that_keeps_the_rest() {
        let vary = Vary::parse("v", "[trip.jam]\ndelay_s = [0.2]\n[trip.wedge]\npickup_pct = [150]").unwrap();
        let mut document: DocumentMut = "[trip]\njam = { delay_s = 1, pickup_pct = 200 } # here\n".parse().unwrap();
        assert!(vary.lay(&mut document, &[0, 0]));
        assert_eq!(
            document.to_string(),
            "[trip]\njam = { delay_s = 0.2, pickup_pct = 200 } # here\n\n[trip.wedge]\npickup_pct = 150\n"
        );
        let mut other: DocumentMut = "trip = 3".parse().unwrap();
        assert!(!vary.lay(&mut other, &[0, 0]));
    }

    #[test]
    fn what_cannot_be_varied_is_told_with_place_and_cure() {
        for (text, parts) in [
            ("[trip.jam]\ndelay = [1]", &["line 2, key trip.jam.delay", "did you mean trip.jam.delay_s?"][..]),
            ("[trip.jan]\ndelay_s = [1]", &["key trip.jan.delay_s", "did you mean trip.jam.delay_s?"]),
            ("[sampling]\nbits = [12, 16]", &["key sampling.bits", "how the trace is measured", "keys of [trip.*]"]),
            ("[feed]\nstop_pct = [110]", &["no trip depends on it"]),
            ("[trip.jam]\ndelay_s = []", &["no list of values"]),
            ("[trip.jam]\ndelay_s = [[1]]", &["no list of values"]),
            ("[trip.jam]\ndelay_s = [1, 1]", &["1 is there twice"]),
            ("[trip.jam]\ndelay_s = { from = 1, to = 2 }", &["step is missing"]),
            ("[trip.jam]\ndelay_s = { from = 3, to = 2, step = 1 }", &["from 3 to 2"]),
            ("[trip.jam]\ndelay_s = { from = 1, to = 2, step = 0 }", &["steps of 0"]),
            ("[trip.jam]\ndelay_s = { from = 1, to = 2, step = 1, by = 3 }", &["by belongs to no range"]),
            ("[trip.jam]\ndelay_s = { from = 0, to = 2, step = 0.0001 }", &["20001 values", "1000 at most"]),
            ("[trip.jam]\ndelay_s = 2026-03-02", &["no value of a setting", "a number, a word in quotes"]),
            ("", &["nothing is varied"]),
            ("[trip.jam", &["line 1"]),
            (
                "[trip.jam]\ndelay_s = { from = 0.1, to = 20, step = 0.1 }\npickup_pct = { from = 150, to = 250, step = 1 }",
                &["20200 settings: 200 (trip.jam.delay_s) x 101 (trip.jam.pickup_pct)", "10000 at most"],
            ),
        ] {
            let fault = fault(text);
            let whole = fault.contains("wanted: ") && fault.contains("to mend it: ");
            assert!(whole && parts.iter().all(|part| fault.contains(part)), "{text}:\n{fault}");
        }
    }
}
