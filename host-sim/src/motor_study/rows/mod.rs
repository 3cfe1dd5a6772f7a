//! The recorded load: rows of `intervals.csv` or `intervals.parquet`, as a replay writes them.

mod csv;
mod parquet;

use std::path::{Path, PathBuf};

use shaftwork_core::judge::event::State;

use crate::error::Fault;
use crate::report::interval::state_name;

/// Rows that are handed out at once.
const CHUNK: usize = 8_192;
/// A longer row hides surges, s.
const LONGEST_S: f64 = 1.0;
/// Files of a replay's folder that are read, the first that is there.
const NAMES: [&str; 2] = ["intervals.parquet", "intervals.csv"];
/// Columns of numbers.
const COLUMNS: [&str; 10] = [
    "t_s",
    "shaft_w",
    "torque_nm",
    "load_torque_nm",
    "active_w",
    "mass_kg",
    "voltage_v_1",
    "voltage_v_2",
    "voltage_v_3",
    "length_s",
];
const T: usize = 0;
const SHAFT: usize = 1;
const TORQUE: usize = 2;
const LOAD: usize = 3;
const ACTIVE: usize = 4;
const MASS: usize = 5;
const VOLTS: usize = 6;
const LENGTH: usize = 9;
/// Without these nothing can be said.
const NEEDED: [usize; 4] = [T, SHAFT, TORQUE, LOAD];
const STATES: [State; 6] =
    [State::Stopped, State::Starting, State::Idle, State::Breaking, State::Coasting, State::Unknown];

/// An interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Its begin and its end, s from the log's start.
    pub from_s: f64,
    /// See `from_s`.
    pub to_s: f64,
    /// What the mill did.
    pub state: State,
    /// Mean of the three voltages, V, as they were measured; `None`: they were not.
    pub volts: Option<f64>,
    /// Power at the motor's shaft, W.
    pub shaft_w: f64,
    /// Torque there, N m.
    pub torque_nm: f64,
    /// Torque of the mill there: without what the rotor took or gave; `None`: the speed could not be told.
    pub load_nm: Option<f64>,
    /// Taken in, W.
    pub active_w: Option<f64>,
    /// Fed so far, kg.
    pub mass_kg: Option<f64>,
}

/// The logs that names mean: files, or those of the folders that replays wrote.
///
/// # Errors
/// There are none.
pub fn named(names: &[PathBuf]) -> anyhow::Result<Vec<PathBuf>> {
    let mut all = Vec::new();
    for name in names {
        let shown = name.display().to_string();
        let about = std::fs::metadata(name)
            .map_err(|error| Fault::unreadable(shown.as_str(), &error, "intervals of a replay, or a folder of them"))?;
        if !about.is_dir() {
            all.push(name.clone());
            continue;
        }
        let before = all.len();
        folder(name, &mut all)?;
        if all.len() == before {
            return Err(Fault::new(shown, "holds no intervals of a replay")
                .wanted("intervals.parquet or intervals.csv, in it or in its folders")
                .mend("replay the traces first: shaftwork replay TRACE --settings FILE --out DIR")
                .into());
        }
    }
    let mut known: Vec<PathBuf> = Vec::new();
    for path in &all {
        // Both tables of a replay tell the same.
        let whole = std::fs::canonicalize(path).unwrap_or_else(|_| path.clone());
        let of_a_replay = whole.file_name().is_some_and(|own| NAMES.iter().any(|name| own == *name));
        let place = whole.parent().filter(|_| of_a_replay).map_or(whole.clone(), Path::to_owned);
        if known.contains(&place) {
            return Err(Fault::new(path.display().to_string(), "is named twice, or its other table is named as well")
                .wanted("each log once")
                .mend("name a folder, or a file, but not both")
                .into());
        }
        known.push(place);
    }
    Ok(all)
}

/// Logs by their starts, where all of them tell it.
///
/// # Errors
/// One cannot be opened, or two are of one time.
pub fn ordered(logs: Vec<PathBuf>) -> anyhow::Result<Vec<PathBuf>> {
    if logs.len() < 2 {
        return Ok(logs);
    }
    let mut all = Vec::new();
    for path in logs {
        let start_s = Log::open(&path)?.start_s;
        all.push((start_s, path));
    }
    if all.iter().all(|(start, _)| start.is_some()) {
        all.sort_by(|(a, x), (b, y)| a.unwrap_or(0.0).total_cmp(&b.unwrap_or(0.0)).then_with(|| x.cmp(y)));
    }
    Ok(all.into_iter().map(|(_, path)| path).collect())
}

fn folder(path: &Path, all: &mut Vec<PathBuf>) -> anyhow::Result<()> {
    let cannot = |error: std::io::Error| Fault::unreadable(path.display().to_string(), &error, "a folder of logs");
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(path).map_err(cannot)? {
        paths.push(entry.map_err(cannot)?.path());
    }
    paths.sort();
    all.extend(NAMES.iter().map(|name| path.join(name)).find(|path| path.is_file()));
    paths.iter().filter(|path| path.is_dir() && !path.is_symlink()).try_for_each(|path| folder(path, all))
}

/// A log that is being read.
pub struct Log {
    path: PathBuf,
    table: Box<dyn Table>,
    /// Seconds from 1970 to its start, where it states it.
    pub start_s: Option<f64>,
    last_s: f64,
    /// The length of its first row: where none is told a row that ends later than half of one more begins after a gap.
    usual_s: Option<f64>,
}

/// A table of intervals.
trait Table {
    /// The next row; none at the end.
    fn next(&mut self) -> anyhow::Result<Option<Cells>>;
    /// Where the last row stands.
    fn place(&self) -> String;
    /// Bytes that were read, as far as the format tells.
    fn read(&self) -> u64;
}

/// A table that was opened.
struct Opened {
    table: Box<dyn Table>,
    names: Vec<String>,
    /// The trace's start, as the log states it.
    start: Option<String>,
}

/// What a column is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// One of [`COLUMNS`].
    Number(usize),
    State,
    Other,
}

fn places(names: &[String]) -> Vec<Place> {
    let place = |name: &String| match name.as_str() {
        "state" => Place::State,
        name => COLUMNS.iter().position(|known| *known == name).map_or(Place::Other, Place::Number),
    };
    names.iter().map(place).collect()
}

/// A row as it stands: numbers (NaN: none), the state.
type Cells = ([f64; COLUMNS.len()], Option<State>);

/// Nothing in it.
const EMPTY: Cells = ([f64::NAN; COLUMNS.len()], None);

impl Log {
    /// Opens a file.
    ///
    /// # Errors
    /// It is no log of intervals.
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        let name = path.display().to_string();
        if path.extension().is_some_and(|end| ["cfg", "cff", "dat"].iter().any(|known| end.eq_ignore_ascii_case(known)))
        {
            return Err(Fault::new(name, "is a trace")
                .wanted("intervals.csv or intervals.parquet of a replay")
                .mend("replay it first: shaftwork replay TRACE --settings FILE --out DIR")
                .into());
        }
        let parquet = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("parquet"));
        let Opened { table, names, start } = if parquet { parquet::open(path)? } else { csv::open(path)? };
        let needed = NEEDED.map(|at| COLUMNS[at]).into_iter().chain(["state"]);
        if let Some(missing) = needed.into_iter().find(|needed| !names.iter().any(|name| name == needed)) {
            return Err(Fault::new(name, format!("no column {missing}"))
                .wanted(
                    "intervals.csv or intervals.parquet of a replay: minutes do not show the surges that trip a motor",
                )
                .mend("replay the traces first: shaftwork replay TRACE --settings FILE --out DIR")
                .into());
        }
        let start_s = start.as_deref().and_then(moment_s);
        Ok(Self { path: path.to_owned(), table, start_s, last_s: 0.0, usual_s: None })
    }

    /// The next rows; none at the end.
    ///
    /// # Errors
    /// One of them is at fault.
    pub fn rows(&mut self) -> anyhow::Result<Vec<Row>> {
        let mut all = Vec::with_capacity(CHUNK);
        while all.len() < CHUNK {
            let Some(cells) = self.table.next()? else { break };
            all.push(self.row(cells)?);
        }
        Ok(all)
    }

    /// Bytes that were read, as far as the format tells.
    pub fn read(&self) -> u64 {
        self.table.read()
    }

    fn fault(&self, found: String) -> Fault {
        Fault::new(self.path.display().to_string(), found)
            .at(self.table.place())
            .mend("replay the trace anew: a file of a replay has each row whole and in order")
    }

    fn row(&mut self, (x, state): Cells) -> anyhow::Result<Row> {
        let some = |x: f64| Some(x).filter(|x| x.is_finite());
        let told = |at: usize| some(x[at]).ok_or_else(|| self.fault(format!("no {}", COLUMNS[at])).wanted("a number"));
        let (to_s, shaft_w, torque_nm) = (told(T)?, told(SHAFT)?, told(TORQUE)?);
        let since_s = to_s - self.last_s;
        let usual_s = *self.usual_s.get_or_insert(some(x[LENGTH]).unwrap_or(since_s));
        let follows = since_s <= 1.5 * usual_s;
        let length_s = some(x[LENGTH]).unwrap_or(if follows { since_s } else { usual_s });
        let from_s = (to_s - length_s).max(self.last_s);
        let state = state.ok_or_else(|| self.fault("no state".to_owned()).wanted(STATES.map(state_name).join(", ")))?;
        if to_s <= self.last_s {
            return Err(self
                .fault(format!("t_s is {to_s}, not after that of the row before, {}", self.last_s))
                .wanted("the ends of intervals, in order")
                .into());
        }
        if to_s - from_s > LONGEST_S + 1e-6 && state != State::Unknown {
            return Err(self
                .fault(format!("a row of {:.3} s", to_s - from_s))
                .wanted(format!("rows of {LONGEST_S} s or less: a longer mean hides the surges that trip a motor"))
                .mend("take intervals.csv or intervals.parquet of a replay of samples")
                .into());
        }
        self.last_s = to_s;
        let volts: Vec<f64> = x[VOLTS..VOLTS + 3].iter().copied().filter(|x| x.is_finite()).collect();
        let volts = (!volts.is_empty()).then(|| volts.iter().sum::<f64>() / volts.len() as f64);
        let [load_nm, active_w, mass_kg] = [LOAD, ACTIVE, MASS].map(|at| some(x[at]));
        Ok(Row { from_s, to_s, state, volts, shaft_w, torque_nm, load_nm, active_w, mass_kg })
    }
}

/// Seconds since 1970 of a start. Legal time without its offset is read as UTC: what counts is how far logs of one clock lie apart.
fn moment_s(text: &str) -> Option<f64> {
    let of_clock = || jiff::tz::Offset::UTC.to_timestamp(text.parse().ok()?).ok();
    let at = text.parse::<jiff::Timestamp>().ok().or_else(of_clock)?;
    Some(at.as_microsecond() as f64 / 1e6)
}

fn state(word: &str) -> Option<State> {
    STATES.into_iter().find(|state| state_name(*state) == word)
}

fn words() -> String {
    STATES.map(state_name).join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "# start = 2026-03-02T06:00:00Z\nt_s,voltage_v_1,voltage_v_2,voltage_v_3,shaft_w,torque_nm,load_torque_nm,state\n";

    fn read(text: &str) -> anyhow::Result<Vec<Row>> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("intervals.csv");
        std::fs::write(&path, text).unwrap();
        Log::open(&path)?.rows()
    }

    #[test]
    fn rows_are_read() {
        let rows =
            read(&format!("{HEAD}0.2,230,231,232,5000,32,30,idle\n0.4,230,231,232,9000,58,,breaking\n")).unwrap();
        assert_eq!(rows.len(), 2);
        assert_eq!((rows[1].from_s, rows[1].to_s, rows[1].state, rows[1].load_nm), (0.2, 0.4, State::Breaking, None));
        assert!((rows[0].volts.unwrap() - 231.0).abs() < 1e-9 && rows[0].load_nm == Some(30.0));
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        for (text, wanted) in [
            ("t_s,active_w\n".to_owned(), "no column shaft_w"),
            (format!("{HEAD}0.2,230,231,232,x,32,30,idle\n"), "line 3: 'x'"),
            (format!("{HEAD}0.2,230,231,232,1,32,30,rolling\n"), "'rolling'"),
            (format!("{HEAD}0.2,1,1,1,1,1,1,idle\n0.2,1,1,1,1,1,1,idle\n"), "line 4: t_s is 0.2, not after"),
            (format!("{HEAD}60,1,1,1,1,1,1,idle\n"), "a row of 60.000 s"),
            (format!("{HEAD}0.2,1,1,1,1,1,1\n"), "line 3: 7 cells, but 8"),
        ] {
            let words = read(&text).unwrap_err().to_string();
            assert!(words.contains(wanted) && words.contains("wanted"), "{words}");
        }
    }
}
