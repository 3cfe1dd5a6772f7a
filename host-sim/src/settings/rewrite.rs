//! A settings file with some keys changed, everything else as it was, comments and order too.

use std::path::Path;

use toml_edit::{DocumentMut, Item, Value};

use super::parse;
use crate::error::Fault;

/// The text of the file with these keys of a table; it is validated before it is given back. A key that is there keeps its
/// place and what stands beside it; a new one comes last in its table, a new table last in the file.
///
/// # Errors
/// The file cannot be read, or would not be sound.
pub fn rewritten(
    path: &Path,
    table: &str,
    values: impl IntoIterator<Item = (&'static str, Value)>,
) -> anyhow::Result<String> {
    let name = path.display().to_string();
    let text =
        std::fs::read_to_string(path).map_err(|error| Fault::unreadable(&*name, &error, "a settings file in TOML"))?;
    let fault = |found: String| Fault::new(&*name, found).wanted(format!("a settings file in TOML with [{table}]"));
    let mut document: DocumentMut = text.parse().map_err(|error: toml_edit::TomlError| fault(error.to_string()))?;
    let entries = document.entry(table).or_insert(toml_edit::table());
    let entries = entries.as_table_like_mut().ok_or_else(|| fault(format!("{table} is no table")))?;
    for (key, mut value) in values {
        match entries.get_mut(key) {
            Some(Item::Value(old)) => {
                *value.decor_mut() = old.decor().clone();
                *old = value;
            }
            _ => {
                entries.insert(key, Item::Value(value));
            }
        }
    }
    let changed = document.to_string();
    parse(&changed, &name)?;
    Ok(changed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::testing::with;

    #[test]
    fn comments_and_order_stay() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mill.toml");
        let text = with("motor", "core_loss_w = 900 # of the maker") + "\n# the end\n";
        std::fs::write(&path, &text).unwrap();
        let keys = [("core_loss_w", Value::from(812.5)), ("friction_loss_w", Value::from(300.0))];
        let changed = rewritten(&path, "motor", keys).unwrap();
        let expected = text
            .replace("core_loss_w = 900 #", "core_loss_w = 812.5 #")
            .replace("rated_power_factor_pct = 87.7\n", "rated_power_factor_pct = 87.7\nfriction_loss_w = 300.0\n");
        assert_eq!(changed, expected);
        let new = rewritten(&path, "feed", [("stop_pct", Value::from(115.0))]).unwrap();
        assert_eq!(new, text.replace("\n# the end\n", "\n[feed]\nstop_pct = 115.0\n\n# the end\n"));
        let none = rewritten(&path, "no_such", [("rise_k", Value::from(80.0))]).unwrap_err().to_string();
        assert!(none.contains("no_such"), "{none}");
        let unsound = rewritten(&path, "motor", [("core_loss_w", Value::from(-1.0))]).unwrap_err().to_string();
        assert!(unsound.contains("motor.core_loss_w"), "{unsound}");
    }
}
