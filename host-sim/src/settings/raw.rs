//! Reads a TOML table key by key; every fault names line, key, what was found and what was wanted.
//!
//! A reading method returns `None` both for a key that is absent and for one that is at fault; the caller goes
//! on and [`Document::close`] decides.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::document::{Document, Unknown, join};
use super::limits::Limits;
use super::place::{excerpt, nearest};

/// One table while it is read.
pub(crate) struct Table<'d> {
    doc: &'d Document<'d>,
    path: String,
    entries: Option<&'d DeTable<'d>>,
    offset: usize,
    asked: Vec<&'static str>,
    missing: Vec<(&'static str, String)>,
}

impl<'d> Table<'d> {
    pub(crate) fn new(doc: &'d Document<'_>, path: String, entries: Option<&'d DeTable<'_>>, offset: usize) -> Self {
        Self { doc, path, entries, offset, asked: Vec::new(), missing: Vec::new() }
    }

    /// Reads with `read`, then looks for keys that it did not ask for and for missing ones.
    pub(crate) fn run<T>(mut self, read: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let out = read(&mut self);
        self.finish();
        out
    }

    /// Notes unknown keys, and missing ones unless an unknown key is plainly the same one misspelt.
    fn finish(self) {
        let mut log = self.doc.log.borrow_mut();
        let mut misspelt = Vec::new();
        for (key, value) in self.entries.into_iter().flatten() {
            if !self.asked.iter().any(|asked| *asked == key.get_ref()) {
                misspelt.extend(nearest(key.get_ref(), self.asked.iter().copied()));
                let kind = if matches!(value.get_ref(), DeValue::Table(_)) { "this table" } else { "this key" };
                log.unknown.push(Unknown {
                    offset: key.span().start,
                    table: self.path.clone(),
                    key: key.get_ref().to_string(),
                    found: kind.to_owned(),
                });
            }
        }
        log.known.extend(self.asked.iter().map(|key| (self.path.clone(), *key)));
        drop(log);
        for (key, wanted) in self.missing {
            if !misspelt.contains(&key) {
                self.doc.push(self.offset, &join(&self.path, key), "the key is missing", wanted, "");
            }
        }
    }

    /// The value of a key, noted as asked for and as given.
    fn value(&mut self, key: &'static str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.asked.push(key);
        let value = self.entries?.get(key)?;
        let line = self.doc.lines.line(value.span().start);
        self.doc.log.borrow_mut().given.insert(join(&self.path, key), line);
        Some(value)
    }

    /// Notes a fault of a key's value; always `None`.
    fn fault<T>(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: impl Into<String>, mend: &str) -> Option<T> {
        let found = excerpt(self.doc.text, value.span());
        let found = match value.get_ref() {
            DeValue::Integer(_) | DeValue::Float(_) => found,
            other => format!("{found} ({})", kind(other)),
        };
        self.doc.push(value.span().start, &join(&self.path, key), found, wanted, mend);
        None
    }

    /// Notes a fault of a key that has been read already.
    pub(crate) fn reject(&self, key: &'static str, wanted: impl Into<String>, mend: &str) {
        if let Some(value) = self.entries.and_then(|entries| entries.get(key)) {
            self.fault::<()>(key, value, wanted, mend);
        }
    }

    /// Whether the key is there, at fault or not.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.entries.is_some_and(|entries| entries.contains_key(key))
    }

    /// An optional number within limits.
    pub(crate) fn number(&mut self, key: &'static str, limits: &Limits) -> Option<f64> {
        self.number_or(key, limits, |_| "")
    }

    /// The same with a cure for a number that is outside.
    pub(crate) fn number_or(
        &mut self,
        key: &'static str,
        limits: &Limits,
        mend: impl Fn(f64) -> &'static str,
    ) -> Option<f64> {
        let value = self.value(key)?;
        match number(value.get_ref()) {
            Some(x) if limits.hold(x) => Some(x),
            Some(x) => self.fault(key, value, limits.to_string(), mend(x)),
            None => self.fault(key, value, format!("a number, {limits}"), unquote(value.get_ref())),
        }
    }

    /// A number that must be there.
    pub(crate) fn need_number(&mut self, key: &'static str, limits: &Limits) -> Option<f64> {
        self.need(key, limits);
        self.number(key, limits)
    }

    /// An optional whole number within limits.
    pub(crate) fn whole(&mut self, key: &'static str, limits: &Limits) -> Option<u32> {
        let x = self.number(key, limits)?;
        if x.fract() == 0.0 {
            return Some(x as u32); // within limits, all of which lie in 0..=48 for whole numbers
        }
        self.reject(key, format!("a whole number, {limits}"), "");
        None
    }

    /// A whole number that must be there.
    pub(crate) fn need_whole(&mut self, key: &'static str, limits: &Limits) -> Option<u32> {
        self.need(key, limits);
        self.whole(key, limits)
    }

    /// Forgets that required keys are missing: nothing is required of a table that is not wanted.
    pub(crate) fn require_nothing(&mut self) {
        self.missing.clear();
    }

    /// An optional truth value.
    pub(crate) fn flag(&mut self, key: &'static str) -> Option<bool> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            _ => self.fault(key, value, "true or false", "without quotation marks"),
        }
    }

    /// An optional word out of a closed list.
    pub(crate) fn word<T: Copy>(&mut self, key: &'static str, words: &[(&'static str, T)]) -> Option<T> {
        let value = self.value(key)?;
        let given = value.get_ref().as_str();
        if let Some((_, meaning)) = words.iter().find(|(word, _)| Some(*word) == given) {
            return Some(*meaning);
        }
        let near = given.and_then(|given| nearest(given, words.iter().map(|(word, _)| *word)));
        let mend = near.map(|near| format!("did you mean \"{near}\"?")).unwrap_or_default();
        self.fault(key, value, one_of(words), &mend)
    }

    /// A word that must be there.
    pub(crate) fn need_word<T: Copy>(&mut self, key: &'static str, words: &[(&'static str, T)]) -> Option<T> {
        self.need(key, &one_of(words));
        self.word(key, words)
    }

    /// An optional text that is not blank.
    pub(crate) fn text(&mut self, key: &'static str) -> Option<String> {
        let value = self.value(key)?;
        match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => Some(text.to_owned()),
            _ => self.fault(key, value, "a name between quotation marks", ""),
        }
    }

    /// An optional list of texts, each one of `known`; any text where nothing is known.
    pub(crate) fn texts(&mut self, key: &'static str, known: &[&str]) -> Option<Vec<String>> {
        let value = self.value(key)?;
        let wanted = match known {
            [] => "a list of names, each between quotation marks".to_owned(),
            known => format!("a list of {}", known.iter().map(|k| format!("\"{k}\"")).collect::<Vec<_>>().join(", ")),
        };
        let DeValue::Array(items) = value.get_ref() else { return self.fault(key, value, wanted, "") };
        let mut out = Vec::new();
        for item in items {
            match item.get_ref().as_str().filter(|text| !text.trim().is_empty()) {
                Some(text) if known.is_empty() || known.contains(&text) => out.push(text.to_owned()),
                given => {
                    let near = given.and_then(|given| nearest(given, known.iter().copied()));
                    let mend = near.map(|near| format!("did you mean \"{near}\"?")).unwrap_or_default();
                    return self.fault(key, item, wanted, &mend);
                }
            }
        }
        Some(out)
    }

    /// A text that must be there.
    pub(crate) fn need_text(&mut self, key: &'static str, wanted: &str) -> Option<String> {
        self.need(key, &wanted);
        self.text(key)
    }

    /// An optional text that `read` understands.
    pub(crate) fn parsed<T>(&mut self, key: &'static str, wanted: &str, read: impl Fn(&str) -> Option<T>) -> Option<T> {
        let value = self.value(key)?;
        match value.get_ref().as_str().and_then(read) {
            Some(parsed) => Some(parsed),
            None => self.fault(key, value, wanted, ""),
        }
    }

    /// The same, where it must be there.
    pub(crate) fn need_parsed<T>(
        &mut self,
        key: &'static str,
        wanted: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Option<T> {
        self.need(key, &wanted);
        self.parsed(key, wanted, read)
    }

    /// An optional list of numbers, each within limits by `hold`; `wanted` says what the list should be.
    pub(crate) fn list(&mut self, key: &'static str, wanted: &str, hold: impl Fn(f64) -> bool) -> Option<Vec<f64>> {
        let value = self.value(key)?;
        let DeValue::Array(items) = value.get_ref() else { return self.fault(key, value, wanted, "") };
        let mut out = Vec::new();
        for item in items {
            match number(item.get_ref()) {
                Some(x) if hold(x) => out.push(x),
                _ => return self.fault(key, item, wanted, ""),
            }
        }
        Some(out)
    }

    /// An optional list of pairs of numbers.
    pub(crate) fn pairs(&mut self, key: &'static str, wanted: &str, limits: [&Limits; 2]) -> Option<Vec<[f64; 2]>> {
        let value = self.value(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            return self.fault(key, value, wanted, &format!("rated_{key} takes a single figure"));
        };
        let mut out = Vec::new();
        for item in items {
            let inner = item.get_ref().as_array().map(|pair| pair.iter().collect::<Vec<_>>());
            let Some(&[load, share]) = inner.as_deref() else { return self.fault(key, item, wanted, "") };
            let mut pair = [0.0; 2];
            for ((slot, part), limits) in pair.iter_mut().zip([load, share]).zip(limits) {
                match number(part.get_ref()) {
                    Some(x) if limits.hold(x) => *slot = x,
                    _ => return self.fault(key, part, limits.to_string(), ""),
                }
            }
            out.push(pair);
        }
        Some(out)
    }

    /// A table that must be there; `lines` are those to write if it is not.
    pub(crate) fn need_table<T>(
        &mut self,
        key: &'static str,
        lines: &str,
        read: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Option<T> {
        if !self.has(key) {
            self.asked.push(key);
            let full = join(&self.path, key);
            let found = format!("the table [{full}] is missing");
            // Past the end of the text: a table that is not there is told of after the rest.
            self.doc.push(self.doc.text.len(), &full, found, "", lines);
            return None;
        }
        self.table(key, read)
    }

    /// A table that may be absent: it is then read as an empty one.
    pub(crate) fn table<T>(&mut self, key: &'static str, read: impl FnOnce(&mut Table<'_>) -> Option<T>) -> Option<T> {
        let path = join(&self.path, key);
        let Some(value) = self.value(key) else { return Table::new(self.doc, path, None, self.offset).run(read) };
        let DeValue::Table(entries) = value.get_ref() else {
            return self.fault(key, value, "a table", &format!("write [{path}] on a line of its own"));
        };
        Table::new(self.doc, path, Some(entries), value.span().start).run(read)
    }

    /// A table that is not there, but could be.
    pub(crate) fn know<T>(&mut self, key: &'static str) -> Option<T> {
        self.asked.push(key);
        None
    }

    /// An optional list of tables, `[[key]]`, each read as one of its own; what cannot be read is left out.
    pub(crate) fn tables<T>(
        &mut self,
        key: &'static str,
        most: usize,
        read: impl Fn(&mut Table<'_>) -> Option<T>,
    ) -> Vec<T> {
        let path = join(&self.path, key);
        let Some(value) = self.value(key) else { return Vec::new() };
        let wanted = format!("tables, each beginning with [[{path}]] on a line of its own");
        let DeValue::Array(items) = value.get_ref() else {
            return self.fault::<()>(key, value, wanted, "").map_or(Vec::new(), |()| Vec::new());
        };
        if items.len() > most {
            let found = format!("{} of them", items.len());
            self.doc.push(value.span().start, &path, found, format!("at most {most}"), "");
        }
        let one = |(at, item): (usize, &'d Spanned<DeValue<'d>>)| match item.get_ref() {
            DeValue::Table(entries) => {
                let path = format!("{path}[{}]", at + 1);
                Table::new(self.doc, path, Some(entries), item.span().start).run(&read)
            }
            _ => self.fault(key, item, wanted.clone(), ""),
        };
        items.iter().take(most).enumerate().filter_map(one).collect()
    }

    fn need(&mut self, key: &'static str, wanted: &impl ToString) {
        if !self.has(key) {
            self.missing.push((key, wanted.to_string()));
        }
    }
}

/// The number in a value; `None` if it is none. What f64 cannot hold becomes an infinity, outside every range.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => {
            let whole = i128::from_str_radix(i.as_str(), i.radix()).map_or(f64::INFINITY, |whole| whole as f64);
            Some(whole)
        }
        DeValue::Float(x) => Some(x.as_str().parse().unwrap_or(f64::NAN)),
        _ => None,
    }
}

fn unquote(value: &DeValue<'_>) -> &'static str {
    if value.as_str().is_some() { "without quotation marks or unit" } else { "" }
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "a truth value",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn one_of<T>(words: &[(&'static str, T)]) -> String {
    words.iter().map(|(word, _)| format!("\"{word}\"")).collect::<Vec<_>>().join(" or ")
}
