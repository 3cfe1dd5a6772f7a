//! Which keys of the settings take which values: a file with the settings' own tables and keys.
//!
//! ```toml
//! [trip.jam]
//! pickup_pct = { from = 150, to = 300, step = 25 }
//! delay_s = [0.2, 0.35, 0.5]
//! ```
//!
//! All combinations are tried, the last key changing first.

mod read;

use std::path::Path;

use toml::de::DeTable;
use toml_edit::{DocumentMut, Item, TableLike, Value};

use crate::error::Fault;
use read::{FORM, Reader};

/// Settings that are compared at most.
pub const MOST: usize = 10_000;
/// A longer file is something else, bytes.
const LONGEST: u64 = 1 << 20;

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

#[cfg(test)]
mod tests {
    use super::*;

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
}
