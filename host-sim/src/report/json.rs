//! The JSON output, streamed: memory does not grow with the length of a trace.
//!
//! Intervals and events go to two files without names as they come, one to a line. When the trace has ended and
//! its length is known the document is put together in the order in which it is read:
//! `{ format, trace, intervals, events, totals, load, tachometer, inertia, runs, by_batch, by_material, by_screen, whole, uncertainty, estimated,
//! marks, warnings }`.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Seek, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::{EventRow, IntervalRow, Sink, Summary, Whole};
use crate::error::Unshown;
use crate::whole;

/// The name and version of the format.
pub const FORMAT: &str = "shaftwork-replay/1";

/// Where the document goes.
#[derive(Debug)]
enum Target {
    /// Standard output.
    Standard,
    /// A file that is whole or not there.
    File(Whole),
}

/// Rows waiting on disk, separated by commas; the file has no name and goes with the process.
#[derive(Debug)]
struct Spool {
    file: BufWriter<File>,
    empty: bool,
    /// What faults call it.
    name: String,
}

impl Spool {
    fn new(folder: &Path) -> io::Result<Self> {
        let name = format!("a temporary file in {}", folder.display());
        let file = tempfile::tempfile_in(folder).map_err(|error| whole::unwritable(&name, &error))?;
        Ok(Self { file: BufWriter::with_capacity(64 * 1024, file), empty: true, name })
    }

    fn push(&mut self, row: &impl Serialize) -> io::Result<()> {
        let between: &[u8] = if self.empty { b"    " } else { b",\n    " };
        self.empty = false;
        let done = self.file.write_all(between).and_then(|()| Ok(serde_json::to_writer(&mut self.file, row)?));
        done.map_err(|error| whole::unwritable(&self.name, &error))
    }

    /// The rows from their beginning; `None` when there are none.
    fn rows(self) -> io::Result<Option<File>> {
        let done = self.file.into_inner().map_err(io::IntoInnerError::into_error);
        let rewound = done.and_then(|mut file| file.rewind().map(|()| file));
        rewound.map(|file| (!self.empty).then_some(file)).map_err(|error| whole::unwritable(&self.name, &error))
    }
}

/// Writes the whole replay as one JSON document.
#[derive(Debug)]
pub struct Json {
    target: Target,
    intervals: Spool,
    events: Spool,
}

impl Json {
    /// Begins a document; `None` is standard output.
    ///
    /// # Errors
    /// The target or a temporary file cannot be written.
    pub fn create(path: Option<&Path>) -> anyhow::Result<Self> {
        let (target, folder) = match path {
            None => (Target::Standard, std::env::temp_dir()),
            Some(path) => {
                let file = Whole::create(path)?;
                let folder: PathBuf = if file.is_device() { std::env::temp_dir() } else { file.folder().to_owned() };
                (Target::File(file), folder)
            }
        };
        Ok(Self { target, intervals: Spool::new(&folder)?, events: Spool::new(&folder)? })
    }
}

fn compose(out: &mut impl Write, [intervals, events]: [Option<File>; 2], end: &Summary) -> io::Result<()> {
    writeln!(out, "{{\n  \"format\": \"{FORMAT}\",")?;
    member(out, "trace", &end.trace, ",")?;
    list(out, "intervals", intervals)?;
    list(out, "events", events)?;
    member(out, "totals", &end.totals, ",")?;
    member(out, "load", &end.load, ",")?;
    member(out, "tachometer", &end.tachometer, ",")?;
    member(out, "inertia", &end.inertia, ",")?;
    member(out, "runs", &end.runs.runs, ",")?;
    member(out, "by_batch", &end.runs.by_batch, ",")?;
    member(out, "by_material", &end.runs.by_material, ",")?;
    member(out, "by_screen", &end.runs.by_screen, ",")?;
    member(out, "whole", &end.runs.whole, ",")?;
    member(out, "uncertainty", &end.runs.uncertainty, ",")?;
    member(out, "estimated", &end.estimated, ",")?;
    member(out, "marks", &end.marks, ",")?;
    member(out, "warnings", &end.warnings, "")?;
    writeln!(out, "}}")?;
    out.flush()
}

fn member(out: &mut impl Write, name: &str, value: &impl Serialize, after: &str) -> io::Result<()> {
    write!(out, "  \"{name}\": ")?;
    serde_json::to_writer(&mut *out, value)?;
    writeln!(out, "{after}")
}

/// Writes `  "name": [ rows ],`.
fn list(out: &mut impl Write, name: &str, rows: Option<File>) -> io::Result<()> {
    let Some(rows) = rows else { return writeln!(out, "  \"{name}\": [],") };
    writeln!(out, "  \"{name}\": [")?;
    io::copy(&mut BufReader::with_capacity(64 * 1024, rows), out)?;
    writeln!(out, "\n  ],")
}

impl Sink for Json {
    fn interval(&mut self, row: &IntervalRow) -> anyhow::Result<()> {
        Ok(self.intervals.push(row)?)
    }

    fn event(&mut self, row: &EventRow) -> anyhow::Result<()> {
        Ok(self.events.push(row)?)
    }

    fn close(self: Box<Self>, summary: &Summary) -> anyhow::Result<Vec<Whole>> {
        let rows = [self.intervals.rows()?, self.events.rows()?];
        match self.target {
            Target::Standard => {
                let mut out = BufWriter::with_capacity(64 * 1024, io::stdout().lock());
                match compose(&mut out, rows, summary).map_err(Unshown) {
                    // Whoever read it had enough; the other outputs are still wanted.
                    Err(error) if error.left() => {}
                    done => done?,
                }
                Ok(vec![])
            }
            Target::File(mut file) => {
                compose(&mut file, rows, summary)?;
                Ok(vec![file])
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::{interval_row, summary};

    fn write(intervals: usize) -> (tempfile::TempDir, serde_json::Value) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.json");
        let mut json = Box::new(Json::create(Some(&path)).unwrap());
        for i in 0..intervals {
            json.interval(&interval_row(0.2 * (i + 1) as f64)).unwrap();
        }
        for i in 0..intervals {
            json.event(&EventRow::plain(i as f64, "run_up")).unwrap();
        }
        assert!(!path.exists());
        for file in json.close(&summary()).unwrap() {
            file.commit().unwrap();
        }
        let value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        (folder, value)
    }

    #[test]
    fn the_document_is_valid_with_none_one_and_many_rows() {
        for n in [0, 1, 3] {
            let (folder, json) = write(n);
            assert_eq!(json["format"], FORMAT);
            assert_eq!(json["intervals"].as_array().unwrap().len(), n);
            assert_eq!(json["events"].as_array().unwrap().len(), n);
            assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no temporary file stays");
        }
    }

    /// The names that scripts rely on.
    #[test]
    fn every_name_is_there() {
        let (_folder, json) = write(1);
        for (object, names) in [
            (&json["trace"], "path start frames rate_hz duration_s"),
            (
                &json["intervals"][0],
                "t_s frequency_hz voltage_v current_a active_w reactive_var apparent_va power_factor voltage_unbalance_pct \
                 current_unbalance_pct thd_v_pct thd_i_pct shaft_w torque_nm speed_rpm load_torque_nm load_pct rotor_w net_w kinetic_j \
                 thermal_pct mass_kg feeder_pct state",
            ),
            (
                &json["totals"],
                "stopped_s starting_s idle_s breaking_s coasting_s unknown_s electrical_kwh exported_kwh reactive_kvarh \
                 start_kwh shaft_kwh net_kwh mass_t gross_kwh_per_t net_kwh_per_t starts trips peak_shaft_kw \
                 peak_current_a max_thermal_pct clipped_samples bridged_samples",
            ),
            (
                &json["load"],
                "measured_s mean_pct rms_pct p95_pct highest_pct highest_1s_pct highest_10s_pct above_100_s above_110_s",
            ),
            (&json["tachometer"], "mean_rpm mean_by_slip_rpm mean_difference_rpm slip_ratio intervals why"),
            (&json["inertia"], "highest_kg_m2 starts why"),
        ] {
            for name in names.split_whitespace() {
                assert!(object.get(name).is_some(), "{name}");
            }
        }
    }
}
