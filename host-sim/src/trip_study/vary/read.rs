//! Reading a vary file: its keys are those of settings, and each has values, in lists or ranges.

use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml_edit::Value;

use super::Key;
use crate::error::Fault;
use crate::report::number::figure;
use crate::settings::{keys, nearest};

/// Values of a key at most.
const MOST_VALUES: usize = 1_000;
/// Tables whose keys may be varied.
const TABLES: [&str; 3] = ["trip", "motor", "mill"];

/// What a vary file looks like.
pub(super) const FORM: &str =
    "tables and keys of the settings, each with its values: delay_s = [0.2, 0.5] or { from = 0.2, to = 1, step = 0.1 }";

/// A file that is read.
pub(super) struct Reader<'a> {
    pub(super) file: &'a str,
    pub(super) text: &'a str,
}

impl Reader<'_> {
    pub(super) fn line(&self, offset: usize) -> String {
        format!("line {}", self.text[..offset.min(self.text.len())].matches('\n').count() + 1)
    }

    fn fault(&self, offset: usize, key: &str, found: impl Into<String>) -> Fault {
        Fault::new(self.file, found).at(format!("{}, key {key}", self.line(offset)))
    }

    pub(super) fn table(&self, path: &str, table: &DeTable<'_>, keys: &mut Vec<(usize, Key)>) -> Result<(), Fault> {
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
    use super::super::Vary;

    fn fault(text: &str) -> String {
        Vary::parse("vary.toml", text).unwrap_err().to_string()
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
