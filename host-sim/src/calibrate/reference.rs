//! What a reference meter showed: a CSV file of readings beside a trace.
//!
//! ```text
//! from_s,to_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,active_w
//! 2,7,230.41,230.12,230.77,61.20,61.05,61.33,35810
//! ```
//!
//! Times count from the trace's start. Instead of from and to a row may have `t_s`: the second around it. Of the readings any
//! may be left out, a column or a cell.

use std::path::Path;

use crate::error::Fault;
use crate::settings::Wiring;

/// Readings over a stretch of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// From, s.
    pub from_s: f64,
    /// To, s.
    pub to_s: f64,
    /// By slot of a frame: V or A.
    pub rms: [Option<f64>; 6],
    /// All phases, W.
    pub active_w: Option<f64>,
    /// Each phase, W: four-wire only.
    pub phase_w: [Option<f64>; 3],
}

/// Names of the phases' powers.
const PHASES: [&str; 3] = ["active_a_w", "active_b_w", "active_c_w"];

/// Reads them all.
///
/// # Errors
/// The file cannot be read, a column is not known, or a cell is no number.
pub fn read(path: &Path, wiring: Wiring) -> Result<Vec<Row>, Fault> {
    let name = path.display().to_string();
    let wanted = wanted(wiring);
    let file =
        std::fs::File::open(path).map_err(|error| Fault::unreadable(&*name, &error, "reference readings in CSV"))?;
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(file);
    let odd = |error: &csv::Error| {
        let place = error.position().map_or_else(String::new, |at| format!("line {}", at.line()));
        Fault::new(&*name, error.to_string()).at(place).wanted(wanted.clone()).mend("correct the line")
    };
    let header = reader.headers().map_err(|error| odd(&error))?.clone();
    let columns: Vec<&str> = header.iter().map(|name| name.trim_start_matches('\u{feff}')).collect();
    let quantities = wiring.quantities();
    let known: Vec<String> = (0..6)
        .map(|k| {
            if quantities[k].is_empty() {
                String::new()
            } else {
                format!("{}_{}", quantities[k], if k < 3 { "v" } else { "a" })
            }
        })
        .collect();
    let phases = wiring == Wiring::FourWire;
    for column in &columns {
        let time = ["t_s", "from_s", "to_s", "active_w"].contains(column);
        if !(time || known.iter().any(|k| k == column) || phases && PHASES.contains(column)) {
            return Err(Fault::new(&*name, format!("the column '{column}' is not known"))
                .at("line 1")
                .wanted(wanted)
                .mend("rename it or take it out"));
        }
    }
    let place = |wanted: &str| columns.iter().position(|column| *column == wanted);
    if place("t_s").is_none() && (place("from_s").is_none() || place("to_s").is_none()) {
        return Err(Fault::new(&*name, "no time is among the columns")
            .at("line 1")
            .wanted(wanted)
            .mend("add from_s and to_s"));
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| odd(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        let number = |column: &str| -> Result<Option<f64>, Fault> {
            let cell = place(column).and_then(|at| record.get(at)).unwrap_or_default();
            if cell.is_empty() {
                return Ok(None);
            }
            cell.parse().ok().filter(|x: &f64| x.is_finite()).map(Some).ok_or_else(|| {
                Fault::new(&*name, format!("'{cell}' under {column}"))
                    .at(format!("line {line}"))
                    .wanted("a number with a decimal point, or nothing")
                    .mend("correct the cell")
            })
        };
        let span = match (number("from_s")?, number("to_s")?, number("t_s")?) {
            (Some(from), Some(to), _) => (from, to),
            (_, _, Some(at)) => (at - 0.5, at + 0.5),
            _ => (1.0, 0.0),
        };
        if span.1 - span.0 < 0.4 || span.0 < -0.5 {
            return Err(Fault::new(&*name, format!("a reading from {} s to {} s", span.0, span.1))
                .at(format!("line {line}"))
                .wanted("from_s 0 or more and to_s at least 0.4 s later, or t_s")
                .mend("correct the times; they count from the trace's start"));
        }
        let mut row =
            Row { from_s: span.0, to_s: span.1, rms: [None; 6], active_w: number("active_w")?, phase_w: [None; 3] };
        for (rms, column) in row.rms.iter_mut().zip(&known).filter(|(_, column)| !column.is_empty()) {
            *rms = number(column)?;
        }
        if phases {
            for (power, column) in row.phase_w.iter_mut().zip(PHASES) {
                *power = number(column)?;
            }
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(Fault::new(&*name, "holds no readings").wanted(wanted).mend("write a line for each reading"));
    }
    Ok(rows)
}

fn wanted(wiring: Wiring) -> String {
    let columns: Vec<&str> = wiring.columns().collect();
    let phases = if wiring == Wiring::FourWire { ", active_a_w, active_b_w, active_c_w" } else { "" };
    format!("from_s and to_s (or t_s), then any of {}, active_w{phases}", columns.join(", "))
}
