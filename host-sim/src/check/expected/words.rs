//! The errors to expect as a table for people.

use std::fmt::Write as _;

use super::Expected;
use crate::check::model::Model;
use crate::check::{short, wrap};

/// The errors to expect, a table of its own.
pub fn text(out: &mut String, expected: &Expected, model: Model) {
    let _ = writeln!(out, "\n[expected error]");
    let _ = writeln!(out, "  {:<28}{:>14} {:<8}  shaft power, % of rated", "what may be off", "by how much", "");
    let _ = writeln!(out, "  {:<51}{:>12}{:>14}", "", "full load", "quarter load");
    let row = |out: &mut String, name: &str, limit: &str, from: &str, effects: [Option<f64>; 2], by: &str| {
        let [full, quarter] = effects.map(|pct| pct.map_or_else(|| "-".to_owned(), |pct| format!("{pct:.2}")));
        let row = format!("  {name:<28}{limit:>14} {from:<8}{full:>12}{quarter:>14}");
        let _ = writeln!(out, "{}", row.trim_end());
        if !by.is_empty() {
            wrap(out, "      ", "      ", by);
        }
    };
    for f in &expected.figures {
        let sign = if f.both {
            "±"
        } else if f.limit > 0.0 {
            "+"
        } else {
            "-"
        };
        let limit = format!("{sign}{} {}", short((f.limit.abs() * 1e2).round() / 1e2), f.unit);
        row(out, f.figure, &limit, f.from, [f.full_load_pct, f.quarter_load_pct], f.by);
    }
    let field = [expected.field_full_load_pct, expected.field_quarter_load_pct].map(Some);
    row(
        out,
        "field: all of them together",
        "k = 2",
        "",
        field,
        "root of squares of limits taken as rectangular (JCGM 100)",
    );
    row(out, "model: all figures right", "at most", "", [Some(model.warm_pct); 2], "");
    let cold = format!(
        "docs/accuracy.md, told '{}': {} % where the windings are as warm as told, {} % where they are cold",
        model.told, model.warm_pct, model.cold_pct
    );
    wrap(out, "      ", "      ", &cold);
    let speed =
        format!("Speed is off by up to {:.1} rpm at rated load, 20 % of slip (IEC 60034-1).", expected.speed_rpm);
    wrap(out, "  ", "  ", &speed);
    if !expected.instruments {
        wrap(out, "  ", "  ", "Current transformers are not among them: [accuracy] does not say what they are.");
    }
}
