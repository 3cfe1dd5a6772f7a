//! The sheet as a text, to be printed and signed.

use std::fmt::Write as _;

use super::document::{Document, ElementRow};
use crate::check;
use crate::report::words::{counted, short};

/// Outputs that a person proves by hand.
const OUTPUTS: [&str; 3] = [
    "Outputs proven one by one, the motor's supply locked out:",
    "trip relay ____  start contact ____  feed ____  wait ____  stop ____  alarm ____",
    "feeder at 0 % ____  50 % ____  100 % ____  direction ____  sounder ____",
];
/// What else a person proves, and signs.
const BY_HAND: [&str; 4] = [
    "Current transformers' ratio and polarity seen to (check-wiring): ____________________",
    "Remarks: ____________________________________________________________________",
    "Date: ____________________  Name: __________________________________________",
    "Signature: __________________________________________________________________",
];

/// Said below every sheet.
pub const CAUTION: &str = "Injection proves settings and firmware. It does not prove sensors, wiring, relay or contactor, nor that the \
    settings suit the motor. This is a monitor and protects nobody: overload relays, guards and emergency stops stay hard-wired.";

/// What is proven and signed by hand, a line each; of outputs what was said on the board, where they were walked there.
pub fn by_hand(document: &Document) -> Vec<String> {
    let mut lines: Vec<String> = OUTPUTS.iter().map(|line| (*line).to_owned()).collect();
    if !document.outputs.is_empty() {
        let said = document.outputs.iter().map(|row| {
            let said = match row.as_it_should {
                Some(true) => "as it should",
                Some(false) => "NOT AS IT SHOULD",
                None => "not shown",
            };
            format!("{}: {said}", row.output)
        });
        let said: Vec<String> = said.collect();
        lines = vec!["Outputs walked on the board, one by one, as a person said:".to_owned()];
        lines.extend(said.chunks(3).map(|some| some.join("; ")));
    }
    lines.extend(BY_HAND.iter().map(|line| (*line).to_owned()));
    lines
}

/// The text.
pub fn text(document: &Document, lines: &[check::Line]) -> String {
    let mut out = String::from("As-left sheet: trip elements tried by injection\n\n");
    let _ = writeln!(out, "  settings   {}, CRC-32 {}", document.file, document.settings_crc32);
    let _ = writeln!(out, "  core       {}, {} frames a second", document.version, document.rate_hz);
    let _ = writeln!(out, "  tried      {}", document.tried);
    let _ = writeln!(out, "  result     {}\n", result(document));
    let _ = writeln!(
        out,
        "  {:<32}{:>11}{:>11}{:>11}{:>9}  {:<16}verdict",
        "element", "set", "bore", "operated", "in s", "wanted, s"
    );
    for row in &document.elements {
        out.push_str(&element(row));
    }
    out.push('\n');
    for line in by_hand(document) {
        let _ = writeln!(out, "  {line}\n");
    }
    let _ = writeln!(out, "{CAUTION}\n");
    out.push_str(&check::text(&document.file, lines));
    out
}

/// The verdict in a sentence.
pub fn result(document: &Document) -> String {
    let count = |verdict| document.elements.iter().filter(|row| row.verdict == verdict).count();
    let [failed, untried] = ["failed", "not tried"].map(count);
    let wrong = document.outputs.iter().filter(|row| row.as_it_should == Some(false)).count();
    match (document.proven, failed, untried) {
        (true, ..) => "every element that is on and can be was proven".to_owned(),
        (false, 0, 0) if wrong > 0 => format!("NOT PROVEN: {} not as it should be", counted(wrong as u64, "output")),
        (false, 0, 0) => "NOT PROVEN".to_owned(),
        (false, 0, _) => format!("NOT PROVEN: {} not made", counted(untried as u64, "test")),
        (false, ..) => format!("NOT PROVEN: {} failed, {untried} not made", counted(failed as u64, "test")),
    }
}

/// An element's name with its test.
pub fn name(row: &ElementRow) -> String {
    if row.test.is_empty() { row.element.to_owned() } else { format!("{} ({})", row.element, row.test) }
}

/// A figure with its unit.
pub fn value(row: &ElementRow, value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |x| format!("{} {}", trimmed(x), row.unit))
}

/// What it bore, or that it did not.
pub fn bore(row: &ElementRow) -> String {
    if row.held == Some(false) { "OPERATED".to_owned() } else { value(row, row.short) }
}

/// What it operated at, or that it did not.
pub fn operated(row: &ElementRow) -> String {
    if row.time_s.is_none() { "SILENT".to_owned() } else { value(row, row.beyond) }
}

/// Its time, s.
pub fn time(row: &ElementRow) -> String {
    row.time_s.map_or_else(|| "-".to_owned(), trimmed)
}

/// From and to, s.
pub fn wanted(row: &ElementRow) -> String {
    row.wanted_s.map_or_else(String::new, |[least, most]| format!("{} to {}", trimmed(least), trimmed(most)))
}

fn trimmed(x: f64) -> String {
    let text = short(x);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn element(row: &ElementRow) -> String {
    let name = name(row);
    match row.verdict {
        "off" => format!("  {name:<32}{:>11}\n", "off"),
        "not tried" => format!("  {name:<32}{:>11}  {}\n", "not tried", row.why),
        verdict => format!(
            "  {name:<32}{:>11}{:>11}{:>11}{:>9}  {:<16}{verdict}\n",
            value(row, row.set),
            bore(row),
            operated(row),
            time(row),
            wanted(row)
        ),
    }
}
