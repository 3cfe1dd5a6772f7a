//! The settings file with the calibration in `[sampling]`.

use std::path::Path;

use toml_edit::{Array, Value};

use super::Calibration;
use crate::settings::rewrite::rewritten;

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

/// The changed text.
///
/// # Errors
/// The file cannot be read, or would not be sound.
pub fn apply(path: &Path, calibration: &Calibration) -> anyhow::Result<String> {
    let value = |list: Vec<f64>| Value::Array(list.into_iter().collect::<Array>());
    rewritten(path, "sampling", lists(calibration).map(|(key, list)| (key, value(list))))
}
