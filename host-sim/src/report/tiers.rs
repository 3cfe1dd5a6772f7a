//! Logs that `shift` reads: every interval as Parquet, and a tier of whole minutes as CSV and Parquet.
//!
//! The start of the trace stands beside the rows, where the trace states it: in Parquet as `start` of the file's own, in CSV as a first
//! line `# start = `. A minute is one of the clock; the first and the last may be parts, as `length_s` tells.

use std::io::Write as _;
use std::path::Path;

use csv::Writer;

use super::csv::{interval_cells, interval_columns, written};
use super::{EventRow, IntervalRow, Sink, Summary, Whole};
use crate::columnar::{self, Cell, Kind};
use crate::minutes::{BREAKING, Bin, Bins, IDLE, MINUTE_US, Row, STARTING, STATES, Second, UNKNOWN, full};

/// The columns of a minute besides times and energies by state.
const COLUMNS: [&str; 11] = [
    "t_s",
    "length_s",
    "active_w",
    "exported_w",
    "reactive_var",
    "load_pct",
    "load_peak_1s_pct",
    "above_100_s",
    "feeder_pct",
    "feeder_100_s",
    "mass_kg",
];
/// A share of the running time for which a figure of a minute must be known: the first second of a run has no mean.
const NEARLY_ALL: f64 = 0.9;

fn minute_columns() -> Vec<String> {
    let times = STATES.iter().map(|state| format!("{state}_s"));
    let energies = STATES[..UNKNOWN].iter().map(|state| format!("{state}_kwh"));
    COLUMNS.iter().map(ToString::to_string).chain(["starts".to_owned()]).chain(times).chain(energies).collect()
}

/// What is known of minutes that are not yet written beside their sums.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Beside {
    /// The minute, as its sums count it.
    minute: i64,
    /// The end of its last row, µs of the trace.
    end_us: i64,
    /// The mass then, kg.
    mass_kg: Option<f64>,
}

/// Writes the tiers.
#[derive(Debug)]
pub struct Tiers {
    intervals: columnar::Writer,
    csv: Writer<Whole>,
    minutes: columnar::Writer,
    /// From the begin of the clock's minute to that of the trace, µs.
    into_us: i64,
    bins: Bins,
    beside: Vec<Beside>,
    before: &'static str,
    second: Second,
}

impl Tiers {
    /// Begins the files; their folder must be there.
    ///
    /// # Errors
    /// They cannot be written.
    pub fn create(folder: &Path, start: Option<&str>) -> anyhow::Result<Self> {
        let kind = |name: &String| match name.as_str() {
            "t_s" | "mass_kg" | "length_s" => Kind::Number,
            "state" => Kind::Word,
            name if name.ends_with("_kwh") => Kind::Number,
            _ => Kind::Single,
        };
        let kinds = |names: Vec<String>| names.into_iter().map(|name| (name.clone(), kind(&name))).collect::<Vec<_>>();
        let mut about = vec![("format", "shaftwork-intervals/1".to_owned())];
        about.extend(start.map(|start| ("start", start.to_owned())));
        let file = |name: &str| Whole::create(&folder.join(name));
        let mut columns = interval_columns();
        columns.push("length_s".to_owned());
        let mut csv = file("minutes.csv")?;
        if let Some(start) = start {
            writeln!(csv, "# start = {start}")?;
        }
        let mut csv = Writer::from_writer(csv);
        csv.write_record(minute_columns())?;
        Ok(Self {
            intervals: columnar::Writer::create(file("intervals.parquet")?, &kinds(columns), &about)?,
            csv,
            minutes: columnar::Writer::create(file("minutes.parquet")?, &kinds(minute_columns()), &about)?,
            into_us: into_minute_us(start),
            bins: Bins::default(),
            beside: Vec::new(),
            before: "",
            second: Second::default(),
        })
    }

    /// Writes the minutes that are over.
    fn write(&mut self, keep: usize) -> anyhow::Result<()> {
        let over = self.bins.bins.len().saturating_sub(keep);
        for bin in self.bins.bins.drain(..over) {
            let minute = self.bins.first;
            self.bins.first += 1;
            let at = self.beside.iter().position(|beside| beside.minute == minute);
            // A minute of a gap has no row.
            let Some(beside) = at.map(|at| self.beside.remove(at)).filter(|_| bin.us > 0) else { continue };
            let cells = cells(&bin, &beside, self.into_us);
            self.csv.write_record(cells.iter().map(written))?;
            self.minutes.push(cells)?;
        }
        Ok(())
    }
}

/// How far into a minute of the clock the trace begins, µs.
fn into_minute_us(start: Option<&str>) -> i64 {
    let clock = start.and_then(super::Clock::new);
    clock.map_or(0, |clock| (clock.second_of_day() * 1e6).round() as i64 % MINUTE_US)
}

fn cells(bin: &Bin, beside: &Beside, into_us: i64) -> Vec<Cell<'static>> {
    use super::number::{figure, seconds};
    let hours = bin.us as f64 / 3.6e9;
    let s = |us: f64| Some(seconds(us / 1e6));
    let (runs, fed) = (bin.load[1] > 0.0, bin.feed[1] > 0.0);
    let mut all = vec![
        s((beside.end_us - into_us) as f64),
        s(bin.us as f64),
        Some(figure(bin.total_kwh() / hours * 1e3)),
        Some(figure(bin.back_kwh / hours * 1e3)),
        Some(figure(bin.kvarh / hours * 1e3)),
        runs.then(|| figure(bin.load[0] / bin.load[1])),
        bin.peak_pct.filter(|_| bin.seconds_us >= NEARLY_ALL * bin.load[1]).map(figure),
        s(bin.above_us),
        fed.then(|| figure(bin.feed[0] / bin.feed[1])),
        s(bin.feed_full_us).filter(|_| fed),
        beside.mass_kg,
        Some(f64::from(bin.starts)),
    ];
    all.extend(bin.states_us.map(|us| s(us as f64)));
    all.extend(bin.kwh[..UNKNOWN].iter().map(|kwh| Some(figure(*kwh))));
    all.into_iter().map(Cell::Number).collect()
}

impl Sink for Tiers {
    fn interval(&mut self, row: &IntervalRow) -> anyhow::Result<()> {
        self.intervals.push(interval_cells(row).into_iter().chain([Cell::Number(Some(row.length_s))]))?;
        let us = |s: f64| (s * 1e6).round() as i64 + self.into_us;
        let (from_us, to_us) = (us((row.t_s - row.length_s).max(0.0)), us(row.t_s));
        if to_us <= from_us {
            return Ok(());
        }
        let state = STATES.iter().position(|state| *state == row.state).unwrap_or(UNKNOWN);
        let mut one = [0.0; 6];
        one[state] = 1.0;
        let runs = state == IDLE || state == BREAKING;
        let begins = state == STARTING && self.before != row.state;
        self.before = row.state;
        self.bins.add(&Row {
            from_us,
            to_us,
            kw: row.active_w.max(0.0) / 1e3,
            back_kw: (-row.active_w).max(0.0) / 1e3,
            kvar: Some(row.reactive_var / 1e3),
            states: one,
            energy: one,
            load_pct: Some(row.load_pct),
            peak_pct: self.second.push([from_us, to_us], runs.then_some(row.load_pct)),
            seconds: Second::told_by(to_us - from_us),
            feed: row.feeder_pct.map(|pct| [pct, full(pct)]),
            above: f64::from(u8::from(runs && row.load_pct > 100.0)),
            kg: 0.0,
            held: 0.0,
            starts: u32::from(begins),
            trips: 0,
        });
        // A row that reaches into the next minute ends this one's.
        for minute in from_us.div_euclid(MINUTE_US)..=(to_us - 1).div_euclid(MINUTE_US) {
            let end_us = to_us.min((minute + 1) * MINUTE_US);
            let now = Beside { minute, end_us, mass_kg: row.mass_kg };
            match self.beside.last_mut().filter(|last| last.minute == minute) {
                Some(last) => *last = now,
                None => self.beside.push(now),
            }
        }
        self.write(1)
    }

    fn event(&mut self, _row: &EventRow) -> anyhow::Result<()> {
        Ok(())
    }

    fn close(mut self: Box<Self>, _summary: &Summary) -> anyhow::Result<Vec<Whole>> {
        self.write(0)?;
        let Self { intervals, csv, minutes, .. } = *self;
        let csv = csv.into_inner().map_err(|error| anyhow::anyhow!("{}", error.error()))?;
        Ok(vec![intervals.close()?, csv, minutes.close()?])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::{interval_row, summary};
    use crate::shift::calendar::tests::calendar;
    use crate::shift::log::{About, read};
    use crate::shift::site::Motor;

    /// What is written is what `shift` reads, in every tier: the same energy, times and starts.
    #[test]
    fn every_tier_tells_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let mut tiers = Box::new(Tiers::create(folder.path(), Some("2026-03-02T05:59:30.1+01:00")).unwrap());
        let mut csv = Box::new(crate::report::csv::Csv::create(folder.path()).unwrap());
        for n in 1..=900 {
            let state = ["stopped", "starting", "idle", "breaking"][n / 250];
            let feeder_pct = Some([40.0, 100.0][n % 2]);
            let row = IntervalRow {
                state,
                length_s: 0.2,
                feeder_pct,
                load_pct: (n % 70) as f64,
                active_w: 1e3 * (n % 50) as f64,
                ..interval_row(0.2 * n as f64)
            };
            tiers.interval(&row).unwrap();
            csv.interval(&row).unwrap();
        }
        let files = tiers.close(&summary()).unwrap().into_iter().chain(csv.close(&summary()).unwrap());
        files.for_each(|file| file.commit().unwrap());
        let berlin = calendar("Europe/Berlin", &[]);
        let motor = Motor {
            rated_kw: 55.0,
            idle_kw: None,
            idle_repeatability_kw: None,
            start_kwh: None,
            starts_per_hour: None,
        };
        let about = About {
            calendar: &berlin,
            changes: &[],
            motor: &motor,
            register: (1_000_000, 1.0),
            off_share: 0.02,
            read: &|_| (),
        };
        let logs: Vec<_> = ["intervals.parquet", "minutes.csv", "minutes.parquet"]
            .map(|name| read(&folder.path().join(name), &about, &[]).unwrap())
            .into_iter()
            .collect();
        assert_eq!(logs.iter().map(|log| log.rows).collect::<Vec<_>>(), [900, 4, 4]);
        let mut highest = 0.0f64;
        for log in &logs {
            assert_eq!(log.stretches.len(), 1, "{}", log.path.display());
            assert_eq!(log.bins.first, logs[0].bins.first);
            for (own, first) in log.bins.bins.iter().zip(&logs[0].bins.bins) {
                assert_eq!(
                    (own.us, own.starts, own.states_us),
                    (first.us, first.starts, first.states_us),
                    "{}",
                    log.path.display()
                );
                let near = |a: f64, b: f64| (a - b).abs() <= 1e-6 * b.abs();
                assert!(near(own.total_kwh(), first.total_kwh()) && near(own.kvarh, first.kvarh), "{own:?} {first:?}");
                assert!(near(own.kwh[3], first.kwh[3]) && near(own.load[0], first.load[0]), "{own:?} {first:?}");
                assert!(near(own.feed[0], first.feed[0]) && near(own.feed_full_us, first.feed_full_us), "{own:?}");
                let peaks = own.peak_pct.unwrap_or(-1.0);
                assert!(near(peaks, first.peak_pct.unwrap_or(-1.0)), "{own:?} {first:?}");
                highest = highest.max(peaks);
            }
        }
        // By hand: 65 to 69 % in a row.
        assert!((highest - 67.0).abs() < 1e-6, "{highest}");
        assert_eq!(logs[0].bins.bins.len(), 4, "from 05:59:30.1 to 06:02:30.1");
        let text = std::fs::read_to_string(folder.path().join("intervals.csv")).unwrap();
        assert!(text.starts_with("t_s,frequency_hz"), "as it always was");
    }
}
