//! `shift.html`.

use super::report::Report;
use super::site::Site;

/// The page.
///
/// # Errors
/// It cannot be made.
pub fn page(report: &Report, _site: &Site) -> anyhow::Result<String> {
    Ok(format!("<!doctype html><pre>{}</pre>", super::words::text(report)))
}
