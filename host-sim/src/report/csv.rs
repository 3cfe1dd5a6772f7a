//! `intervals.csv`, `events.csv` and `runs.csv`: the same names as in the JSON output, lists as `name_1`, `name_2`, `name_3`.
//!
//! A figure that cannot be had is an empty cell; its reason is in the JSON output.

use std::path::Path;

use csv::Writer;

use super::event::Detail;
use super::runs::RunRow;
use super::{EventRow, IntervalRow, Sink, Summary, Whole};
use crate::columnar::Cell;
use crate::whole;

/// The columns of `intervals.csv`; those with a trailing `*` are lists of three.
const INTERVALS: [&str; 24] = [
    "t_s",
    "frequency_hz",
    "voltage_v*",
    "current_a*",
    "active_w",
    "reactive_var",
    "apparent_va",
    "power_factor",
    "voltage_unbalance_pct",
    "current_unbalance_pct",
    "thd_v_pct*",
    "thd_i_pct*",
    "shaft_w",
    "torque_nm",
    "speed_rpm",
    "load_torque_nm",
    "load_pct",
    "rotor_w",
    "net_w",
    "kinetic_j",
    "thermal_pct",
    "mass_kg",
    "feeder_pct",
    "state",
];

/// The columns of `events.csv`, likewise.
const EVENTS: [&str; 15] = [
    "t_s",
    "event",
    "cause",
    "duration_s",
    "peak_current_a",
    "what",
    "length_s",
    "current_a*",
    "voltage_v*",
    "shaft_w",
    "speed_rpm",
    "thermal_pct",
    "unbalance_pct",
    "account",
    "rotor_heat_kj",
];

/// The columns of `runs.csv` besides `table`, which tells what a row belongs to: `runs`, `by_batch`, …, `whole`.
const RUNS: [&str; 26] = [
    "run",
    "batch",
    "material",
    "screen",
    "from_s",
    "to_s",
    "runs",
    "time_s",
    "idle_s",
    "breaking_s",
    "electrical_kwh",
    "exported_kwh",
    "reactive_kvarh",
    "start_kwh",
    "shaft_kwh",
    "net_kwh",
    "mass_t",
    "gross_kwh_per_t",
    "gross_model_band_kwh_per_t",
    "gross_field_band_kwh_per_t",
    "gross_band_kwh_per_t",
    "net_kwh_per_t",
    "net_model_band_kwh_per_t",
    "net_field_band_kwh_per_t",
    "net_band_kwh_per_t",
    "operating_work_index_kwh_per_t",
];

/// Writes the three files into a folder.
#[derive(Debug)]
pub struct Csv {
    intervals: Writer<Whole>,
    events: Writer<Whole>,
    runs: Writer<Whole>,
}

impl Csv {
    /// Begins both files; makes the folder.
    ///
    /// # Errors
    /// The folder cannot be made or written into.
    pub fn create(folder: &Path) -> anyhow::Result<Self> {
        whole::folder(folder)?;
        let begin = |name: &str, columns: &[&str]| -> anyhow::Result<Writer<Whole>> {
            let mut writer = Writer::from_writer(Whole::create(&folder.join(name))?);
            writer.write_record(columns.iter().flat_map(|c| expand(c)))?;
            Ok(writer)
        };
        let runs: Vec<&str> = ["table"].into_iter().chain(RUNS).collect();
        Ok(Self {
            intervals: begin("intervals.csv", &INTERVALS)?,
            events: begin("events.csv", &EVENTS)?,
            runs: begin("runs.csv", &runs)?,
        })
    }
}

fn expand(column: &str) -> Vec<String> {
    match column.strip_suffix('*') {
        Some(list) => (1..=3).map(|i| format!("{list}_{i}")).collect(),
        None => vec![column.to_owned()],
    }
}

/// A line that is put together cell by cell.
struct Line(Vec<String>);

impl Line {
    fn figure(&mut self, x: f64) {
        self.0.push(x.to_string());
    }

    fn maybe(&mut self, x: Option<f64>) {
        self.0.push(x.map(|x| x.to_string()).unwrap_or_default());
    }

    fn list(&mut self, x: impl IntoIterator<Item = Option<f64>>) {
        x.into_iter().for_each(|x| self.maybe(x));
    }

    fn text(&mut self, x: Option<&str>) {
        self.0.push(x.unwrap_or_default().to_owned());
    }
}

/// The columns of an interval's row, lists spread out.
pub(crate) fn interval_columns() -> Vec<String> {
    INTERVALS.iter().flat_map(|column| expand(column)).collect()
}

/// Its cells.
pub(super) fn interval_cells(r: &IntervalRow) -> Vec<Cell<'_>> {
    let mut cells = Vec::with_capacity(31);
    let mut maybe = |x: Option<f64>| cells.push(Cell::Number(x));
    maybe(Some(r.t_s));
    maybe(r.frequency_hz);
    r.voltage_v.into_iter().for_each(&mut maybe);
    r.current_a.map(Some).into_iter().for_each(&mut maybe);
    [r.active_w, r.reactive_var, r.apparent_va].map(Some).into_iter().for_each(&mut maybe);
    [r.power_factor, r.voltage_unbalance_pct, r.current_unbalance_pct].into_iter().for_each(&mut maybe);
    r.thd_v_pct.into_iter().chain(r.thd_i_pct).for_each(&mut maybe);
    [Some(r.shaft_w), Some(r.torque_nm), r.speed_rpm, r.load_torque_nm].into_iter().for_each(&mut maybe);
    [Some(r.load_pct), Some(r.rotor_w), r.net_w, r.kinetic_j].into_iter().for_each(&mut maybe);
    [r.thermal_pct, r.mass_kg, r.feeder_pct].into_iter().for_each(&mut maybe);
    cells.push(Cell::Word(r.state));
    cells
}

/// A cell as it is written.
pub(super) fn written(cell: &Cell<'_>) -> String {
    match cell {
        Cell::Number(x) => x.map(|x| x.to_string()).unwrap_or_default(),
        Cell::Word(word) => (*word).to_owned(),
    }
}

fn interval_line(r: &IntervalRow) -> Vec<String> {
    interval_cells(r).iter().map(written).collect()
}

fn event_line(r: &EventRow) -> Vec<String> {
    let mut line = Line(Vec::with_capacity(19));
    let (mut cause, mut start, mut what, mut length) = (None, [None; 3], None, None);
    let (mut currents, mut voltages) = ([None; 3], [None; 3]);
    let mut moment = [None; 4];
    match r.detail {
        Detail::Plain {} | Detail::FeedReverses { .. } => {}
        Detail::Start { duration_s, peak_current_a, rotor_heat_kj } => {
            start = [duration_s, peak_current_a, rotor_heat_kj];
        }
        Detail::Warning { what: name } | Detail::Board { what: name, .. } => what = Some(name),
        Detail::ResetRefused { hindrance } => what = Some(hindrance),
        Detail::Gap { length_s } => length = Some(length_s),
        Detail::AlarmEnds { cause: name } | Detail::FeedStops { cause: name, .. } => cause = Some(name),
        Detail::Trip(seen) | Detail::Alarm(seen) => {
            cause = Some(seen.cause);
            currents = seen.current_a.map(Some);
            voltages = seen.voltage_v;
            moment = [Some(seen.shaft_w), seen.speed_rpm, seen.thermal_pct, seen.unbalance_pct];
        }
    }
    line.figure(r.t_s);
    line.text(Some(r.event));
    line.text(cause);
    line.list([start[0], start[1]]);
    line.text(what);
    line.maybe(length);
    line.list(currents);
    line.list(voltages);
    line.list(moment);
    line.text(r.account.as_ref().map(|account| account.words.as_str()));
    line.maybe(start[2]);
    line.0
}

fn run_line(table: &str, r: &RunRow) -> Vec<String> {
    let mut line = Line(Vec::with_capacity(1 + RUNS.len()));
    line.text(Some(table));
    line.text(Some(&r.run));
    line.text(r.batch.as_deref());
    line.text(r.material.as_deref());
    line.text(r.screen.as_deref());
    line.list([r.from_s, r.to_s]);
    line.text(Some(&r.runs.to_string()));
    line.list([r.time_s, r.idle_s, r.breaking_s].map(Some));
    line.list([r.electrical_kwh, r.exported_kwh, r.reactive_kvarh, r.start_kwh].map(Some));
    line.list([r.shaft_kwh, r.net_kwh, r.mass_t]);
    line.list([r.gross_kwh_per_t, r.gross_model_band_kwh_per_t, r.gross_field_band_kwh_per_t, r.gross_band_kwh_per_t]);
    line.list([r.net_kwh_per_t, r.net_model_band_kwh_per_t, r.net_field_band_kwh_per_t, r.net_band_kwh_per_t]);
    line.maybe(r.operating_work_index_kwh_per_t);
    line.0
}

impl Sink for Csv {
    fn interval(&mut self, row: &IntervalRow) -> anyhow::Result<()> {
        Ok(self.intervals.write_record(interval_line(row))?)
    }

    fn event(&mut self, row: &EventRow) -> anyhow::Result<()> {
        Ok(self.events.write_record(event_line(row))?)
    }

    fn close(self: Box<Self>, summary: &Summary) -> anyhow::Result<Vec<Whole>> {
        let Self { intervals, events, mut runs } = *self;
        for (table, row) in summary.runs.rows() {
            runs.write_record(run_line(table, row))?;
        }
        let end = |writer: Writer<Whole>| writer.into_inner().map_err(|e| anyhow::anyhow!("{}", e.error()));
        Ok(vec![end(intervals)?, end(events)?, end(runs)?])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::{interval_row, summary};
    use shaftwork_core::judge::event::{Cause, Figures};

    fn read(path: &Path) -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(path).unwrap();
        reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
    }

    #[test]
    fn names_and_cells_agree_with_the_json_output() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("new");
        let mut csv = Box::new(Csv::create(&out).unwrap());
        let row = interval_row(0.2);
        csv.interval(&row).unwrap();
        csv.event(&EventRow::plain(1.0, "run_up")).unwrap();
        csv.event(&EventRow::trip(2.5, Cause::Jam, &Figures::default())).unwrap();
        assert!(!out.join("events.csv").exists());
        csv.close(&summary()).unwrap().into_iter().for_each(|f| f.commit().unwrap());

        let lines = read(&out.join("intervals.csv"));
        let mut json = serde_json::to_value(&row).unwrap();
        json.as_object_mut().unwrap().remove("why");
        let mut seen = 0;
        for (name, cell) in lines[0].iter().zip(&lines[1]) {
            let value = match name.rsplit_once('_') {
                Some((list, digit @ ("1" | "2" | "3"))) => &json[list][digit.parse::<usize>().unwrap() - 1],
                _ => json.get(name).unwrap_or_else(|| panic!("{name}")),
            };
            let want =
                value.as_str().map_or_else(|| value.as_f64().map(|x| x.to_string()).unwrap_or_default(), str::to_owned);
            assert_eq!(*cell, want, "{name}");
            seen += 1;
        }
        assert_eq!(seen, json.as_object().unwrap().len() + 2 * 4, "four lists");

        let lines = read(&out.join("events.csv"));
        assert_eq!(lines[0][..3], ["t_s", "event", "cause"]);
        assert_eq!(lines[2][..3], ["2.5", "trip", "jam"]);
        assert!(lines.iter().all(|l| l.len() == lines[0].len()));
    }
}
