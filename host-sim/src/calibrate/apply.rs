//! The settings file with the calibration in `[sampling]`, everything else as it was, comments too.

use std::path::Path;

use toml_edit::{Array, DocumentMut, Item, Value};

use super::Calibration;
use crate::error::Fault;
use crate::settings;

/// The lists by name, as they stand in a file.
pub fn lists(calibration: &Calibration) -> [(&'static str, Vec<f64>); 3] {
    let round = |x: f64, to: f64| (x * to).round() / to + 0.0; // no -0
    let all = &calibration.channels;
    [
        ("gain", all.iter().map(|channel| round(channel.gain, 1e6)).collect()),
        ("offset_counts", all.iter().map(|channel| round(channel.offset_counts, 1e2)).collect()),
        ("phase_deg", all.iter().filter_map(|channel| channel.phase_deg).map(|deg| round(deg, 1e4)).collect()),
    ]
}

/// The changed text; it is validated before it is given back.
///
/// # Errors
/// The file cannot be read, or would not be sound.
pub fn apply(path: &Path, calibration: &Calibration) -> anyhow::Result<String> {
    let name = path.display().to_string();
    let text =
        std::fs::read_to_string(path).map_err(|error| Fault::unreadable(&*name, &error, "a settings file in TOML"))?;
    let fault = |found: String| Fault::new(&*name, found).wanted("a settings file in TOML with [sampling]");
    let mut document: DocumentMut = text.parse().map_err(|error: toml_edit::TomlError| fault(error.to_string()))?;
    let sampling = document.get_mut("sampling").and_then(Item::as_table_like_mut);
    let sampling = sampling.ok_or_else(|| fault("no [sampling]".to_owned()))?;
    for (key, values) in lists(calibration) {
        let list: Array = values.into_iter().collect();
        match sampling.get_mut(key) {
            // What stands beside it stays.
            Some(Item::Value(old)) => {
                let decor = old.decor().clone();
                *old = Value::Array(list);
                *old.decor_mut() = decor;
            }
            _ => {
                sampling.insert(key, Item::Value(Value::Array(list)));
            }
        }
    }
    let changed = document.to_string();
    settings::parse(&changed, &name)?;
    Ok(changed)
}
