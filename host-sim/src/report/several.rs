//! Several traces in one replay: a line each as they are done, their sums, and the same as `summary.json`.
//!
//! The full table of one trace is had by replaying it alone; ten of them nobody would read.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::number::figure;
use super::story::Story;
use super::text::{BOLD, GREEN, LINES, RED, YELLOW};
use super::words::{counted, plain, short, stamp};
use super::{LoadRow, Reason, Summary, TotalsRow, TraceRow, Whole, Why};
use crate::terminal::{Screen, printable};

/// The file beside the folders of the traces.
pub const FILE: &str = "summary.json";
/// The name and version of its format.
const FORMAT: &str = "shaftwork-summary/1";
/// Columns of the figures: length up to 9999 h, energy, energy a tonne; a blank stands before each.
const FIGURES: [usize; 3] = [14, 12, 8];

/// A trip in the summary.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Trip {
    t_s: f64,
    cause: &'static str,
}

/// A trace that was replayed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Done {
    name: String,
    trace: TraceRow,
    trips: Vec<Trip>,
    totals: TotalsRow,
    load: LoadRow,
    warnings: Vec<String>,
}

/// What became of one trace.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
enum Entry {
    Done(Box<Done>),
    Fault { name: String, path: String, error: String },
}

/// Sums over the traces that were replayed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Sums {
    traces: usize,
    duration_s: f64,
    trips: u64,
    electrical_kwh: f64,
    mass_t: Option<f64>,
    gross_kwh_per_t: Option<f64>,
    #[serde(skip_serializing_if = "Why::is_empty")]
    why: Why,
}

/// Gathers what became of each trace and tells it.
#[derive(Debug)]
pub struct Several {
    screen: Screen,
    entries: Vec<Entry>,
}

impl Several {
    /// Nothing is done yet.
    pub fn new(screen: Screen) -> Self {
        Self { screen, entries: Vec::new() }
    }

    /// Writes the heading.
    ///
    /// # Errors
    /// `out` cannot be written.
    pub fn head(&self, out: &mut impl Write) -> io::Result<()> {
        self.row(BOLD, "trace", "trips", &["length", "taken in", "kWh/t"].map(str::to_owned), out)
    }

    /// Takes a trace that was replayed and writes its line.
    ///
    /// # Errors
    /// `out` cannot be written.
    pub fn done(&mut self, name: &str, end: &Summary, story: &Story, out: &mut impl Write) -> io::Result<()> {
        let trips: Vec<Trip> = story.trips().into_iter().map(|(t_s, cause)| Trip { t_s, cause }).collect();
        let told: Vec<String> = trips.iter().map(|t| format!("{} at {}", plain(t.cause), stamp(t.t_s))).collect();
        let (colour, words) = match end.totals.trips {
            0 if !end.totals.anything_known() => (YELLOW, "too short to judge".to_owned()),
            0 => (GREEN, "quiet".to_owned()),
            _ => (RED, told.join(", ")),
        };
        let t = &end.totals;
        let figures = [stamp(end.trace.duration_s), energy(t.electrical_kwh), specific(t.gross_kwh_per_t)];
        self.row(colour, &label(name, &end.trace.path), &words, &figures, out)?;
        self.entries.push(Entry::Done(Box::new(Done {
            name: name.to_owned(),
            trace: end.trace.clone(),
            trips,
            totals: end.totals.clone(),
            load: end.load.clone(),
            warnings: end.warnings.clone(),
        })));
        Ok(())
    }

    /// Takes a trace that could not be replayed and writes its line.
    ///
    /// # Errors
    /// `out` cannot be written.
    pub fn fault(&mut self, name: &str, path: &str, error: &str, out: &mut impl Write) -> io::Result<()> {
        self.row(RED, &label(name, path), "not replayed (below)", &[const { String::new() }; 3], out)?;
        self.entries.push(Entry::Fault { name: name.to_owned(), path: path.to_owned(), error: error.to_owned() });
        Ok(())
    }

    /// Writes the sums, the warnings and where the rest is.
    ///
    /// # Errors
    /// `out` cannot be written.
    pub fn end(&self, folder: &Path, out: &mut impl Write) -> io::Result<()> {
        let sums = self.sums();
        let words = if sums.trips == 0 { "quiet".to_owned() } else { counted(sums.trips, "trip") };
        let length = stamp(sums.duration_s);
        let figures = [length, energy(sums.electrical_kwh), specific(sums.gross_kwh_per_t)];
        self.row(BOLD, &counted(sums.traces as u64, "trace"), &words, &figures, out)?;
        let mut warnings: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for done in self.replayed() {
            for words in &done.warnings {
                warnings.entry(words).or_default().push(&done.name);
            }
        }
        if !warnings.is_empty() {
            writeln!(out, "\n{}", self.screen.paint(&format!("{BOLD};{YELLOW}"), "Warnings"))?;
        }
        for (words, names) in warnings.iter().take(LINES) {
            let whose = if names.len() == sums.traces { "all".to_owned() } else { names.join(", ") };
            self.lines(4, &format!("  {}: {}", printable(&whose), printable(words)), out)?;
        }
        if warnings.len() > LINES {
            self.lines(4, &format!("  and {} more: {FILE} lists them all", warnings.len() - LINES), out)?;
        }
        writeln!(out)?;
        let folder = printable(&folder.display().to_string());
        self.lines(2, &format!("Totals, load and trips of each are in {folder}/{FILE}; its rows in a folder of its name. Replay one alone for its full table."), out)
    }

    /// Writes the summary into a file, which then waits for its name.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn write(&self, mut file: Whole) -> anyhow::Result<Whole> {
        let document = serde_json::json!({ "format": FORMAT, "traces": self.entries, "totals": self.sums() });
        serde_json::to_writer_pretty(&mut file, &document).map_err(io::Error::from)?;
        writeln!(file)?;
        Ok(file)
    }

    /// Whether any trace was replayed.
    pub fn any(&self) -> bool {
        self.replayed().next().is_some()
    }

    fn replayed(&self) -> impl Iterator<Item = &Done> {
        self.entries.iter().filter_map(|entry| match entry {
            Entry::Done(done) => Some(&**done),
            Entry::Fault { .. } => None,
        })
    }

    fn sums(&self) -> Sums {
        const MASS: Reason = "the mass of a trace is not known";
        let electrical_kwh: f64 = self.replayed().map(|done| done.totals.electrical_kwh).sum();
        let mass_t: Option<f64> = self.replayed().map(|done| done.totals.mass_t).sum();
        // A kilogram at least, as for a single trace.
        let gross = mass_t.filter(|t| *t >= 1e-3).map(|t| figure(electrical_kwh / t));
        let mut why = Why::new();
        for (missing, key, reason) in [
            (mass_t.is_none(), "mass_t", MASS),
            (gross.is_none(), "gross_kwh_per_t", if mass_t.is_none() { MASS } else { "less than 1 kg fed" }),
        ] {
            if missing {
                why.insert(key, reason);
            }
        }
        Sums {
            traces: self.replayed().count(),
            duration_s: self.replayed().map(|done| done.trace.duration_s).sum(),
            trips: self.replayed().map(|done| u64::from(done.totals.trips)).sum(),
            electrical_kwh: figure(electrical_kwh),
            mass_t: mass_t.map(figure),
            gross_kwh_per_t: gross,
            why,
        }
    }

    /// A line of the table: name and words are broken within their columns.
    fn row(
        &self,
        colour: &str,
        name: &str,
        words: &str,
        figures: &[String; 3],
        out: &mut impl Write,
    ) -> io::Result<()> {
        let room = self.screen.width - FIGURES.iter().map(|columns| columns + 1).sum::<usize>() - 1;
        let (left, right) = (room / 2, room - room / 2);
        let cell = |width, text: &str| Screen { width, ..self.screen }.lines(0, &printable(text));
        let (name, words) = (cell(left, name), cell(right, words));
        for i in 0..name.len().max(words.len()) {
            let part = |lines: &[String]| lines.get(i).cloned().unwrap_or_default();
            let (name, words) = (part(&name), self.screen.paint(colour, &format!("{:<right$}", part(&words))));
            let mut line = format!("{name:<left$} {words}");
            if i == 0 {
                let [length, energy, specific] = figures;
                let [a, b, c] = FIGURES;
                line = format!("{line} {length:>a$} {energy:>b$} {specific:>c$}");
            }
            writeln!(out, "{}", line.trim_end())?;
        }
        Ok(())
    }

    fn lines(&self, indent: usize, text: &str, out: &mut impl Write) -> io::Result<()> {
        self.screen.lines(indent, text).iter().try_for_each(|line| writeln!(out, "{line}"))
    }
}

/// A trace by its folder's name, and by its own where the folder had to be numbered.
fn label(name: &str, path: &str) -> String {
    let path = Path::new(path);
    if path.file_stem().is_none_or(|stem| stem == name) {
        return name.to_owned();
    }
    let folder = path.parent().and_then(Path::file_name).map_or_else(PathBuf::new, PathBuf::from);
    format!("{name}: {}", folder.join(path.file_name().unwrap_or_default()).display())
}

fn energy(kwh: f64) -> String {
    format!("{} kWh", short(kwh))
}

fn specific(kwh_per_t: Option<f64>) -> String {
    kwh_per_t.map_or_else(|| "-".to_owned(), short)
}

#[cfg(test)]
mod tests;
