//! From the cells of a row to what it says of its time; the same for every format.

use std::path::{Path, PathBuf};

use super::cells::{
    ABOVE, ACTIVE, Cells, EXPORTED, FEEDER, FEEDER_FULL, HELD, LENGTH_S, LOAD, MASS, NUMBERS, PEAK, REACTIVE, REGISTER,
    STARTS, TRIPS,
};
use super::register::{advanced, began_anew, possible};
use super::source::Sum;
use super::stamps::{Corrected, Stamps};
use super::states::{shares, unknown};
use super::{About, Loads, Log, Span, Stretch};
use crate::error::Fault;
use crate::minutes::{BREAKING, Bins, IDLE, Row, STARTING, STATES, Second, full};
use crate::report::csv::interval_columns;
use crate::report::words::counted;

/// Rows from which the usual length is told.
const LOOKED_AT: usize = 65;
/// Times that differ by less are the same: stamps are rounded.
const SAME_US: i64 = 1_000;
/// A row stands for at most so many usual lengths; what is longer is a gap.
const LONGEST: f64 = 1.5;
/// The longest row: a register that is read by hand once a month.
const LONGEST_US: i64 = 31 * 86_400 * 1_000_000;
/// The longest time that a log may reach over.
pub(super) const MOST_US: i64 = 5 * 366 * 86_400 * 1_000_000;
/// A step of the register over a row is too coarse above this share of the empty mill's power.
const COARSE: f64 = 0.1;
/// A reading this far from a whole number of steps tells a part of one.
const PART: f64 = 1e-6;
/// A load below this, %, while the motor takes in so much of rated power is none: the sign is wrong.
const BACKWARDS: (f64, f64) = (-10.0, 0.1);

/// Takes rows in their order and makes minutes of them.
pub struct Rows<'a> {
    path: PathBuf,
    about: About<'a>,
    without: &'a [Span],
    /// When its rows were.
    pub stamps: Stamps<'a>,
    /// Rows that wait until the usual length is known.
    waiting: Vec<(i64, Cells, u64)>,
    row_us: i64,
    log: Log,
    /// The end of the row before.
    last_us: Option<i64>,
    /// The row before had this state; mass and register, with the end of the row.
    before: Option<usize>,
    mass: Option<(i64, f64)>,
    register: Option<(i64, f64)>,
    /// Whether some reading told parts of the register's step.
    parts: bool,
    /// What the mass advanced by over gaps, kg.
    lost_kg: f64,
    second: Second,
    /// Rows whose load has the wrong sign.
    backwards: u64,
}

impl<'a> Rows<'a> {
    /// Of a file.
    pub fn new(path: &Path, about: About<'a>, without: &'a [Span]) -> Self {
        let log = Log {
            path: path.to_owned(),
            bins: Bins::default(),
            loads: Loads::default(),
            stretches: Vec::new(),
            happened: None,
            notes: Vec::new(),
            sum: Sum::default(),
            unknown: Vec::new(),
            rollovers: None,
            corrected: Corrected::new(),
            row_us: 0,
            rows: 0,
            by_power: false,
            by_register: false,
            counts: [false; 3],
            mass: false,
        };
        Self {
            path: path.to_owned(),
            about,
            without,
            stamps: Stamps::new(path, about.calendar, about.changes),
            waiting: Vec::new(),
            row_us: 0,
            log,
            last_us: None,
            before: None,
            mass: None,
            register: None,
            parts: false,
            lost_kg: 0.0,
            second: Second::default(),
            backwards: 0,
        }
    }

    /// What faults call the file.
    pub fn name(&self) -> String {
        self.path.display().to_string()
    }

    fn fault(&self, place: &str, found: impl Into<String>) -> Fault {
        Fault::new(self.name(), found).at(place)
    }

    /// The end of its last row so far, µs of UTC.
    pub fn end_us(&self) -> Option<i64> {
        self.last_us
    }

    /// Who hears how many bytes are read.
    pub fn told(&self) -> &'a (dyn Fn(u64) + Sync) {
        self.about.read
    }

    /// What the file was.
    pub fn was(&mut self, sum: Sum) {
        self.log.sum = sum;
    }

    /// Tells a reader something of the file.
    fn remark(&mut self, words: &str) {
        let words = format!("{}: {words}", self.name());
        self.log.notes.push(words);
    }

    /// The columns that are there.
    ///
    /// # Errors
    /// Some that are needed are not.
    pub fn columns(&mut self, names: &[&str], place: &str) -> Result<(), Fault> {
        let has = |name: &str| names.contains(&name);
        let time = has("time") || has("t_s");
        let power = has("active_w") || has("register_kwh");
        if !time || !power {
            let found = format!("no column {}", if time { "active_w or register_kwh" } else { "time or t_s" });
            return Err(self.fault(place, found)
                .wanted("an interval log: time (or t_s and a start), active_w (or register_kwh); state, reactive_var, mass_kg where known")
                .mend("name the columns so; a trace of waves is replayed first: shaftwork replay TRACE --settings FILE --out DIR"));
        }
        if !has("time") && !self.stamps.starts() {
            return Err(self.fault(place, "t_s counts from a start that the log does not state")
                .wanted("a first line such as # start = 2026-03-02T06:00:00+01:00, or a column time")
                .mend("write the line before the names; of a replay take minutes.parquet or intervals.parquet, which have the trace's start"));
        }
        let states = STATES.iter().all(|state| has(&format!("{state}_s")));
        self.log.by_power = !has("state") && !states;
        self.log.by_register = !has("active_w");
        if self.log.by_power && self.about.motor.idle_kw.is_none() {
            return Err(self.fault(place, "no column state, and no times by state either")
                .wanted("a state for each row (stopped, starting, idle, breaking, coasting, unknown), or the empty mill's power to tell it by")
                .mend("add a column state, or [motor] idle_kw to the site's file"));
        }
        self.log.counts = [has("starts") || has("state"), has("trips"), has("feed_stopped_s")];
        self.log.mass = has("mass_kg");
        self.log.rollovers = has("register_kwh").then(Vec::new);
        let of_a_replay = interval_columns();
        let known = |name: &str| {
            name.is_empty()
                || ["time", "state"].contains(&name)
                || NUMBERS.contains(&name)
                || of_a_replay.iter().any(|own| own == name)
        };
        self.log.unknown = names.iter().filter(|name| !known(name)).map(|name| (*name).to_owned()).collect();
        Ok(())
    }

    /// Takes a row; `line` is its place in the file.
    ///
    /// # Errors
    /// Its time cannot be told or goes back.
    pub fn take(&mut self, cells: Cells, line: u64) -> Result<(), Fault> {
        let place = format!("line {line}");
        if let Some((at, wanted)) = cells.beyond(self.about.motor.rated_kw) {
            let found = format!("{:e} is more than it can have", cells.numbers[at]);
            return Err(self
                .fault(&format!("{place}, column {}", NUMBERS[at]), found)
                .wanted(wanted)
                .mend("look at the column's unit and the logger; empty the cell where the reading is wrong"));
        }
        let (modulus, step) = self.about.register;
        let register = cells.numbers[REGISTER];
        if register < 0.0 || register >= modulus as f64 * step {
            let digits = modulus.ilog10();
            return Err(self
                .fault(&format!("{place}, column register_kwh"), format!("{register} kWh"))
                .wanted(format!("0 to below {}: the register has {digits} digits of {step} kWh", modulus as f64 * step))
                .mend("write its digits into the site's file: [meter] register_digits, register_step_kwh"));
        }
        self.parts |= (register / step - (register / step).round()).abs() > PART;
        let longest_us = if self.row_us > 0 { self.longest_us() } else { i64::MAX };
        let end_us = self.stamps.end_us(&cells, &place, longest_us)?;
        if let Some(last_us) = self.last_us
            && end_us <= last_us
        {
            return Err(self
                .fault(&place, "its time is not after that of the row before")
                .wanted("rows in order of time, each interval once")
                .mend("sort the rows and take out what is there twice; name two logs as two files; where the logger's clock was set say so: [[change]] what = \"clock\""));
        }
        let first_us = self.waiting.first().map(|row| row.0).or(self.log.stretches.first().map(|s| s.span.from_us));
        if end_us - first_us.unwrap_or(end_us) > MOST_US {
            return Err(self
                .fault(&place, "it is more than five years after the first row")
                .mend("check the stamps; split the log"));
        }
        self.last_us = Some(end_us);
        if self.row_us > 0 {
            return self.keep(end_us, &cells, line);
        }
        self.waiting.push((end_us, cells, line));
        if self.waiting.len() == LOOKED_AT { self.settle() } else { Ok(()) }
    }

    /// The usual length is the middle one of the distances between the first rows.
    fn settle(&mut self) -> Result<(), Fault> {
        let mut steps: Vec<i64> = self.waiting.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
        steps.sort_unstable();
        let told = self.waiting.first().map(|row| row.1.numbers[LENGTH_S]).filter(|s| *s > 0.0);
        self.row_us = match (steps.get(steps.len() / 2), told) {
            (Some(step), _) => *step,
            (None, Some(length_s)) => (length_s * 1e6) as i64,
            // A single row: what it stands for is told by its start alone.
            (None, None) => self.waiting.first().zip(self.stamps.start_us()).map_or(0, |(row, start)| row.0 - start),
        }
        .max(1);
        for (end_us, cells, line) in std::mem::take(&mut self.waiting) {
            self.keep(end_us, &cells, line)?;
        }
        Ok(())
    }

    /// A longer row is a gap, µs.
    fn longest_us(&self) -> i64 {
        (LONGEST * self.row_us as f64) as i64
    }

    fn keep(&mut self, end_us: i64, cells: &Cells, line: u64) -> Result<(), Fault> {
        let x = &cells.numbers;
        let last_us = self.log.stretches.last().map(|stretch| stretch.span.to_us);
        let longest = self.longest_us();
        let before_us =
            self.register.map(|(us, _)| us).max(last_us).or(self.stamps.start_us().filter(|_| cells.time.is_none()));
        let mut from_us = if x[LENGTH_S] > 0.0 {
            end_us.saturating_sub((x[LENGTH_S] * 1e6).round() as i64)
        } else {
            before_us.filter(|us| end_us - us <= longest).unwrap_or(end_us - self.row_us)
        };
        if end_us.saturating_sub(from_us) > LONGEST_US {
            return Err(self
                .fault(&format!("line {line}"), "the row stands for more than 31 days")
                .wanted("rows of a month at most, in seconds where length_s tells it")
                .mend("correct length_s, the start or the stamps"));
        }
        if let Some(last_us) = last_us {
            if from_us < last_us - SAME_US {
                return Err(self
                    .fault(&format!("line {line}"), "the row begins before the one before has ended")
                    .wanted("intervals that do not overlap")
                    .mend("correct length_s"));
            }
            // Stamps are rounded: a microsecond is no gap.
            if from_us - last_us < SAME_US {
                from_us = last_us;
            }
        }
        self.log.rows += 1;
        let register = Some(x[REGISTER]).filter(|kwh| kwh.is_finite());
        let kw =
            if x[ACTIVE].is_finite() { Some(x[ACTIVE] / 1e3) } else { self.by_register(end_us, register, longest) };
        let before = self.register;
        if let Some(kwh) = register {
            self.register = Some((end_us, kwh));
        }
        let Some(kw) = kw else { return Ok(()) };
        let (kg, starts) = (self.fed(x[MASS], [from_us, end_us]), self.starts(cells));
        if end_us <= from_us {
            return Ok(());
        }
        let begun = |((before_us, before), after)| began_anew([before, after], [before_us, end_us], &self.about);
        if before.zip(register).is_some_and(begun) {
            self.log.rollovers.get_or_insert_default().push(end_us);
        }
        let whole = self.row(from_us, end_us, kw, cells, kg, starts);
        // What is written twice is left out where it was written first; a row that reaches over it counts with the rest of its time.
        for [from_us, to_us] in outside([from_us, end_us], self.without) {
            let share = (to_us - from_us) as f64 / (whole.to_us - whole.from_us) as f64;
            let last = to_us == whole.to_us;
            let count = |n: u32| if last { n } else { 0 };
            let (starts, trips) = (count(whole.starts), count(whole.trips));
            let row = Row { from_us, to_us, kg: share * whole.kg, starts, trips, ..whole };
            self.log.bins.add(&row);
            self.log.loads.add(&row, self.about.calendar);
            // A reading stands at the row's own end.
            self.follow(&row, register.filter(|_| last));
        }
        Ok(())
    }

    /// A row comes to a stretch, or begins one.
    fn follow(&mut self, row: &Row, register: Option<f64>) {
        let kwh = row.kw * (row.to_us - row.from_us) as f64 / 3.6e9;
        match self.log.stretches.last_mut().filter(|stretch| stretch.span.to_us == row.from_us) {
            Some(stretch) => {
                stretch.span.to_us = row.to_us;
                stretch.kwh += kwh;
                stretch.last = register;
            }
            None => self.log.stretches.push(Stretch {
                span: Span { from_us: row.from_us, to_us: row.to_us },
                first: register.map(|reading| [reading, kwh]),
                last: register,
                kwh,
            }),
        }
    }

    /// Mean power since the reading before; a jump that no motor can have made leaves a gap.
    fn by_register(&mut self, end_us: i64, register: Option<f64>, longest: i64) -> Option<f64> {
        let (before_us, before) = self.register?;
        let after = register?;
        if end_us - before_us > longest {
            return None;
        }
        let elapsed_s = (end_us - before_us) as f64 / 1e6;
        let kwh = advanced(before, after, self.about.register);
        kwh.filter(|kwh| possible(*kwh, self.about, elapsed_s)).map(|kwh| kwh * 3_600.0 / elapsed_s)
    }

    /// What was fed in the row; a mass that falls begins anew. What it advanced by in a gap is nobody's: when it was fed is not known.
    fn fed(&mut self, mass_kg: f64, [from_us, end_us]: [i64; 2]) -> f64 {
        if !mass_kg.is_finite() {
            return 0.0;
        }
        // The first row of a log that counts from its start has fed what it shows.
        let begun = if self.stamps.starts() { Some(0.0) } else { None };
        let (follows, before) = match self.mass {
            Some((us, kg)) => (from_us - us <= SAME_US, Some(kg)),
            None => (true, begun),
        };
        self.mass = Some((end_us, mass_kg));
        let advance = before.map_or(0.0, |before| (mass_kg - before).max(0.0));
        if follows {
            return advance;
        }
        self.lost_kg += advance;
        0.0
    }

    /// Starts in the row, where its state tells them.
    fn starts(&mut self, cells: &Cells) -> u32 {
        let Some(state) = cells.state else { return 0 };
        let begins = state == STARTING && self.before != Some(STARTING);
        self.before = Some(state);
        u32::from(begins)
    }

    fn row(&mut self, from_us: i64, to_us: i64, kw: f64, cells: &Cells, kg: f64, starts: u32) -> Row {
        let x = &cells.numbers;
        let length_s = (to_us - from_us) as f64 / 1e6;
        let share = |s: f64| if s.is_finite() { (s / length_s).clamp(0.0, 1.0) } else { 0.0 };
        let or = |a: f64, b: f64| if a.is_finite() { a } else { b };
        let count = |x: f64| if x.is_finite() { x.clamp(0.0, 1e6) as u32 } else { 0 };
        let by_power = self.log.by_power.then_some(self.about.motor);
        let (states, energy) =
            if by_power.is_some() && self.coarse() { unknown() } else { shares(cells, kw, length_s, by_power) };
        let runs = states[IDLE] + states[BREAKING] > 0.0;
        let load = x[LOAD];
        // Rows of a second and less tell it themselves.
        let own = self.second.push([from_us, to_us], Some(load).filter(|load| runs && load.is_finite()));
        let taken = kw > BACKWARDS.1 * self.about.motor.rated_kw;
        self.backwards += u64::from(runs && load < BACKWARDS.0 && taken);
        let short = Second::told_by(to_us - from_us);
        let full = if x[FEEDER_FULL].is_finite() { share(x[FEEDER_FULL]) } else { full(x[FEEDER]) };
        Row {
            from_us,
            to_us,
            kw: kw.max(0.0),
            back_kw: or(x[EXPORTED] / 1e3, (-kw).max(0.0)),
            kvar: Some(x[REACTIVE] / 1e3).filter(|kvar| kvar.is_finite()),
            states,
            energy,
            load_pct: load.is_finite().then_some(load),
            peak_pct: if short { own } else { Some(x[PEAK]).filter(|pct| pct.is_finite()) },
            seconds: short || x[PEAK].is_finite(),
            feed: x[FEEDER].is_finite().then_some([x[FEEDER], full]),
            above: if x[ABOVE].is_finite() { share(x[ABOVE]) } else { f64::from(u8::from(runs && load > 100.0)) },
            kg,
            held: share(x[HELD]),
            // A count of its own tells what states tell as well.
            starts: if x[STARTS].is_finite() { count(x[STARTS]) } else { starts },
            trips: count(x[TRIPS]),
        }
    }

    /// Whether a step of the register over a row is so much power that it tells no state.
    fn coarse(&self) -> bool {
        let step_kw = self.about.register.1 * 3.6e9 / self.row_us.max(1) as f64;
        self.log.by_register
            && !self.parts
            && self.about.motor.idle_kw.is_some_and(|idle_kw| step_kw > COARSE * idle_kw)
    }

    /// All rows were taken.
    ///
    /// # Errors
    /// There were none.
    pub fn finish(mut self) -> Result<Log, Fault> {
        if self.row_us == 0 && !self.waiting.is_empty() {
            self.settle()?;
        }
        if self.log.rows == 0 {
            return Err(self
                .fault("", "has no rows")
                .wanted("an interval log")
                .mend("take it out, or look for what became of it"));
        }
        self.log.row_us = self.row_us;
        self.log.corrected = std::mem::take(&mut self.stamps.corrected);
        if let Some(words) = self.stamps.note() {
            self.remark(&words);
        }
        if self.log.by_power && self.coarse() {
            let (step_kwh, row_s) = (self.about.register.1, self.row_us as f64 / 1e6);
            self.remark(&format!(
                "steps of {step_kwh} kWh in rows of {row_s} s tell power too coarsely for states, which are not known; take longer rows, a register of smaller steps ([meter] register_step_kwh), or a column state"
            ));
        }
        if self.lost_kg > 0.0 {
            let kg = self.lost_kg;
            self.remark(&format!(
                "{kg:.1} kg were counted over gaps: when they were fed is not known, they belong to no shift"
            ));
        }
        if self.backwards > 0 {
            let rows = counted(self.backwards, "row");
            self.remark(&format!(
                "{rows} with a load below {} % while the motor takes power in: look at the sign of load_pct",
                BACKWARDS.0
            ));
        }
        Ok(self.log)
    }
}

/// The parts of a time that lie outside of others.
fn outside(whole: [i64; 2], others: &[Span]) -> Vec<[i64; 2]> {
    let mut left = vec![whole];
    for other in others {
        let parts = |[from, to]: [i64; 2]| {
            let (before, after) = ([from, to.min(other.from_us)], [from.max(other.to_us), to]);
            if other.to_us <= from || to <= other.from_us {
                [Some([from, to]), None]
            } else {
                [Some(before), Some(after)]
            }
        };
        left = left.into_iter().flat_map(parts).flatten().filter(|[from, to]| to > from).collect();
    }
    left
}
