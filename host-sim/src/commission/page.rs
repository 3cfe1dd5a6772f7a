//! The sheet as a page, to be printed and signed.

use askama::Template;

use super::document::Document;
use super::words::{CAUTION, bore, by_hand, name, operated, result, time, value, wanted};
use crate::check;

/// What the template shows.
#[derive(Template)]
#[template(path = "sheet.html")]
struct Page<'a> {
    document: &'a Document,
    result: String,
    rows: Vec<Row>,
    by_hand: Vec<String>,
    caution: &'static str,
    settings: String,
}

/// A row's cells.
struct Row {
    name: String,
    action: &'static str,
    cells: [String; 5],
    verdict: &'static str,
    why: &'static str,
}

/// The page.
///
/// # Errors
/// It cannot be made.
pub fn page(document: &Document, lines: &[check::Line]) -> anyhow::Result<String> {
    let row = |row| Row {
        name: name(row),
        action: row.action,
        cells: [value(row, row.set), bore(row), operated(row), time(row), wanted(row)],
        verdict: row.verdict,
        why: row.why,
    };
    let page = Page {
        document,
        result: result(document),
        rows: document.elements.iter().map(row).collect(),
        by_hand: by_hand(document),
        caution: CAUTION,
        settings: check::text(&document.file, lines),
    };
    Ok(page.render()?)
}
