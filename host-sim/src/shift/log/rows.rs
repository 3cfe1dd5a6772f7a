//! From the cells of a row to what it says of its time; the same for every format.

use std::path::{Path, PathBuf};

use jiff::civil::DateTime;

use super::bins::{BREAKING, Bins, IDLE, Row, STARTING, STATES, UNKNOWN};
use super::{About, Log, Span, Stretch};
use crate::audit::register;
use crate::error::Fault;
use crate::shift::calendar::Told;

/// The columns of numbers that are looked at.
pub const NUMBERS: [&str; 24] = [
    "t_s",
    "length_s",
    "active_w",
    "exported_w",
    "reactive_var",
    "load_pct",
    "load_max_pct",
    "above_100_s",
    "mass_kg",
    "register_kwh",
    "feed_stopped_s",
    "starts",
    "trips",
    "stopped_s",
    "starting_s",
    "idle_s",
    "breaking_s",
    "coasting_s",
    "unknown_s",
    "stopped_kwh",
    "starting_kwh",
    "idle_kwh",
    "breaking_kwh",
    "coasting_kwh",
];
const T_S: usize = 0;
const LENGTH_S: usize = 1;
const ACTIVE: usize = 2;
const EXPORTED: usize = 3;
const REACTIVE: usize = 4;
const LOAD: usize = 5;
const LOAD_MAX: usize = 6;
const ABOVE: usize = 7;
const MASS: usize = 8;
const REGISTER: usize = 9;
const HELD: usize = 10;
const STARTS: usize = 11;
const TRIPS: usize = 12;
const STATE_S: usize = 13;
const STATE_KWH: usize = 19;

/// A row as it stands in the file; NaN is what is not there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cells {
    /// In the order of [`NUMBERS`].
    pub numbers: [f64; NUMBERS.len()],
    /// Its end, where a column `time` tells it.
    pub time: Option<Stamp>,
    /// The place of its state in [`STATES`].
    pub state: Option<usize>,
}

impl Cells {
    /// Nothing at all.
    pub const EMPTY: Self = Self { numbers: [f64::NAN; NUMBERS.len()], time: None, state: None };
}

/// A stamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stamp {
    /// µs of UTC.
    Utc(i64),
    /// Legal time of the site.
    Local(DateTime),
}

/// Reads a stamp.
pub fn stamp(text: &str) -> Option<Stamp> {
    let text = text.trim();
    if let Ok(at) = text.parse::<jiff::Timestamp>() {
        return Some(Stamp::Utc(at.as_microsecond()));
    }
    // jiff would read over an offset: what has one is no time without.
    let offset = text.get(10..).is_some_and(|time| time.contains(['+', '-', 'Z', 'z']));
    text.parse().ok().filter(|_| !offset).map(Stamp::Local)
}

/// Rows from which the usual length is told.
const LOOKED_AT: usize = 65;
/// Times that differ by less are the same: stamps are rounded.
const SAME_US: i64 = 1_000;
/// A row stands for at most so many usual lengths; what is longer is a gap.
const LONGEST: f64 = 1.5;
/// The longest time that a log may reach over.
const MOST_US: i64 = 5 * 366 * 86_400 * 1_000_000;
/// Power of more than so many times rated is a fault of the log: a start takes up to eight times the rated current.
const MOST_OF_RATED: f64 = 10.0;
/// Loads that a log may tell, %.
const LOADS_PCT: [f64; 2] = [-1_000.0, 2_000.0];
/// Power below this share of rated is none.
const NONE: f64 = 0.02;
/// Power up to so many times that of the empty mill is idling.
const EMPTY: f64 = 1.15;

/// Takes rows in their order and makes minutes of them.
pub struct Rows<'a> {
    path: PathBuf,
    about: About<'a>,
    without: &'a [Span],
    start: Option<Stamp>,
    /// Rows that wait until the usual length is known.
    waiting: Vec<(i64, Cells, u64)>,
    row_us: i64,
    log: Log,
    /// The end of the row before.
    last_us: Option<i64>,
    /// The row before had this state, mass and register.
    before: Option<usize>,
    mass_kg: f64,
    register: Option<(i64, f64)>,
}

impl<'a> Rows<'a> {
    /// Of a file.
    pub fn new(path: &Path, about: About<'a>, without: &'a [Span]) -> Self {
        let log = Log {
            path: path.to_owned(),
            bins: Bins::default(),
            stretches: Vec::new(),
            happened: None,
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
            start: None,
            waiting: Vec::new(),
            row_us: 0,
            log,
            last_us: None,
            before: None,
            mass_kg: f64::NAN,
            register: None,
        }
    }

    /// What faults call the file.
    pub fn name(&self) -> String {
        self.path.display().to_string()
    }

    fn fault(&self, place: &str, found: impl Into<String>) -> Fault {
        Fault::new(self.name(), found).at(place)
    }

    /// The log states when it began.
    ///
    /// # Errors
    /// It is no time.
    pub fn begins(&mut self, text: &str, place: &str) -> Result<(), Fault> {
        self.start = Some(stamp(text).ok_or_else(|| {
            self.fault(place, format!("the start is '{text}'")).wanted("a time such as 2026-03-02T06:00:00+01:00")
        })?);
        Ok(())
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
        if !has("time") && self.start.is_none() {
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
        Ok(())
    }

    /// When the log began, µs of UTC.
    pub fn start_us(&self) -> Option<i64> {
        match self.start? {
            Stamp::Utc(us) => Some(us),
            Stamp::Local(at) => match self.about.calendar.told(at) {
                Told::Once(us) => Some(us),
                Told::Never | Told::Twice(_) => None,
            },
        }
    }

    /// Takes a row; `line` is its place in the file.
    ///
    /// # Errors
    /// Its time cannot be told or goes back.
    pub fn take(&mut self, cells: Cells, line: u64) -> Result<(), Fault> {
        let place = format!("line {line}");
        self.bounded(&cells, &place)?;
        let end_us = match cells.time {
            Some(Stamp::Utc(us)) => us,
            Some(Stamp::Local(at)) => self.legal(at, &place)?,
            None => {
                let since = cells.numbers[T_S];
                if !(0.0..1e9).contains(&since) {
                    return Err(self
                        .fault(&place, "t_s is no number of seconds")
                        .wanted("seconds since the log's start"));
                }
                let start_us = self.start_us().ok_or_else(|| {
                    self.fault(&place, "the log's start is a time that the clocks skip or repeat that night")
                        .mend("write the start with its offset, such as 2026-10-25T02:30:00+01:00")
                })?;
                start_us + (since * 1e6).round() as i64
            }
        };
        if let Some(last_us) = self.last_us
            && end_us <= last_us
        {
            return Err(self
                .fault(&place, "its time is not after that of the row before")
                .wanted("rows in order of time, each interval once")
                .mend("sort the rows and take out what is there twice; name two logs as two files"));
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

    /// Powers and loads are such as the motor can have.
    fn bounded(&self, cells: &Cells, place: &str) -> Result<(), Fault> {
        let most = MOST_OF_RATED * self.about.motor.rated_kw;
        let power =
            |unit| ([-1e3 * most, 1e3 * most], format!("up to 10 times motor.rated_kw, {most} {unit}, either way"));
        let load = || (LOADS_PCT, format!("{} to {} %", LOADS_PCT[0], LOADS_PCT[1]));
        for at in [ACTIVE, EXPORTED, REACTIVE, LOAD, LOAD_MAX] {
            let x = cells.numbers[at];
            let ([low, high], wanted) = match at {
                LOAD | LOAD_MAX => load(),
                REACTIVE => power("kvar"),
                _ => power("kW"),
            };
            // What is not there is no number.
            if !x.is_nan() && !(low..=high).contains(&x) {
                return Err(self
                    .fault(
                        &format!("{place}, column {}", NUMBERS[at]),
                        format!("{x:e} is more than the motor can have"),
                    )
                    .wanted(wanted)
                    .mend("look at the column's unit and the logger; empty the cell where the reading is wrong"));
            }
        }
        Ok(())
    }

    /// A time of the wall clock: of one that comes twice the first, until that has passed.
    fn legal(&self, at: DateTime, place: &str) -> Result<i64, Fault> {
        match self.about.calendar.told(at) {
            Told::Once(us) => Ok(us),
            Told::Twice([first, second]) => {
                Ok(if self.last_us.is_some_and(|last| first <= last) { second } else { first })
            }
            Told::Never => Err(self
                .fault(place, format!("{at} is a time that the clocks skip that night"))
                .wanted("times of the site's zone, or with their offset")
                .mend("correct the logger's clock or zone, or write each time with its offset")),
        }
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
            (None, None) => self.waiting.first().zip(self.start_us()).map_or(0, |(row, start)| row.0 - start),
        }
        .max(1);
        for (end_us, cells, line) in std::mem::take(&mut self.waiting) {
            self.keep(end_us, &cells, line)?;
        }
        Ok(())
    }

    fn keep(&mut self, end_us: i64, cells: &Cells, line: u64) -> Result<(), Fault> {
        let x = &cells.numbers;
        let last_us = self.log.stretches.last().map(|stretch| stretch.span.to_us);
        let longest = (LONGEST * self.row_us as f64) as i64;
        let before_us =
            self.register.map(|(us, _)| us).max(last_us).or(self.start_us().filter(|_| cells.time.is_none()));
        let mut from_us = if x[LENGTH_S] > 0.0 {
            end_us - (x[LENGTH_S] * 1e6).round() as i64
        } else {
            before_us.filter(|us| end_us - us <= longest).unwrap_or(end_us - self.row_us)
        };
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
        if let Some(kwh) = register {
            self.register = Some((end_us, kwh));
        }
        let (kg, starts) = (self.fed(x[MASS]), self.starts(cells));
        let Some(kw) = kw else { return Ok(()) };
        // What is written twice is left out where it was written first.
        let middle = from_us + (end_us - from_us) / 2;
        if self.without.iter().any(|span| (span.from_us..span.to_us).contains(&middle)) || end_us <= from_us {
            return Ok(());
        }
        let row = self.row(from_us, end_us, kw, cells, kg, starts);
        self.log.bins.add(&row);
        let kwh = row.kw * (end_us - from_us) as f64 / 3.6e9;
        match self.log.stretches.last_mut().filter(|stretch| stretch.span.to_us == from_us) {
            Some(stretch) => {
                stretch.span.to_us = end_us;
                stretch.kwh += kwh;
                stretch.last = register;
            }
            None => self.log.stretches.push(Stretch {
                span: Span { from_us, to_us: end_us },
                first: register.map(|reading| [reading, kwh]),
                last: register,
                kwh,
            }),
        }
        Ok(())
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

    /// What was fed in the row; a mass that falls begins anew.
    fn fed(&mut self, mass_kg: f64) -> f64 {
        if !mass_kg.is_finite() {
            return 0.0;
        }
        // The first row of a log that counts from its start has fed what it shows.
        let before =
            if self.mass_kg.is_nan() { if self.start.is_some() { 0.0 } else { mass_kg } } else { self.mass_kg };
        self.mass_kg = mass_kg;
        (mass_kg - before).max(0.0)
    }

    /// Starts in the row, where its state tells them.
    fn starts(&mut self, cells: &Cells) -> u32 {
        let Some(state) = cells.state else { return 0 };
        let begins = state == STARTING && self.before != Some(STARTING);
        self.before = Some(state);
        u32::from(begins)
    }

    fn row(&self, from_us: i64, to_us: i64, kw: f64, cells: &Cells, kg: f64, starts: u32) -> Row {
        let x = &cells.numbers;
        let length_s = (to_us - from_us) as f64 / 1e6;
        let share = |s: f64| if s.is_finite() { (s / length_s).clamp(0.0, 1.0) } else { 0.0 };
        let or = |a: f64, b: f64| if a.is_finite() { a } else { b };
        let count = |x: f64| if x.is_finite() { x.clamp(0.0, 1e6) as u32 } else { 0 };
        let (states, energy) = self.states(kw, cells, length_s);
        let runs = states[IDLE] + states[BREAKING] > 0.0;
        let load = x[LOAD];
        let most = or(x[LOAD_MAX], load);
        Row {
            from_us,
            to_us,
            kw: kw.max(0.0),
            back_kw: or(x[EXPORTED] / 1e3, (-kw).max(0.0)),
            kvar: Some(x[REACTIVE] / 1e3).filter(|kvar| kvar.is_finite()),
            states,
            energy,
            load_pct: load.is_finite().then_some([load, most]),
            above: if x[ABOVE].is_finite() { share(x[ABOVE]) } else { f64::from(u8::from(runs && load > 100.0)) },
            kg,
            held: share(x[HELD]),
            starts: starts + count(x[STARTS]),
            trips: count(x[TRIPS]),
        }
    }

    /// Shares of time and of energy by state.
    fn states(&self, kw: f64, cells: &Cells, length_s: f64) -> ([f64; 6], [f64; 6]) {
        let x = &cells.numbers;
        let one = |state: usize| {
            let mut all = [0.0; 6];
            all[state] = 1.0;
            (all, all)
        };
        if let Some(state) = cells.state {
            return one(state);
        }
        if self.log.by_power {
            let Some(idle_kw) = self.about.motor.idle_kw else { return one(UNKNOWN) };
            return one(match kw {
                kw if kw < NONE * self.about.motor.rated_kw => 0,
                kw if kw <= EMPTY * idle_kw => IDLE,
                _ => BREAKING,
            });
        }
        let seconds: [f64; 6] = std::array::from_fn(|at| x[STATE_S + at].max(0.0));
        let sum: f64 = seconds.iter().filter(|s| s.is_finite()).sum();
        if sum.is_nan() || sum <= 0.0 {
            return one(UNKNOWN);
        }
        let times = seconds.map(|s| if s.is_finite() { s / sum } else { 0.0 });
        let own: [f64; 6] = std::array::from_fn(|at| x.get(STATE_KWH + at).map_or(0.0, |kwh| kwh.max(0.0)));
        let own = own.map(|kwh| if kwh.is_finite() { kwh } else { 0.0 });
        let all: f64 = own.iter().sum();
        let taken = kw.max(0.0) * length_s / 3_600.0;
        // Without energies by state a row's energy goes with its time.
        if all <= 0.0 || taken <= 0.0 {
            return (times, times);
        }
        let whole = all.max(taken);
        let mut energy = own.map(|kwh| kwh / whole);
        energy[UNKNOWN] += 1.0 - energy.iter().sum::<f64>();
        (times, energy)
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
        Ok(self.log)
    }
}

/// What a register took between two readings, kWh, if it began anew once at most.
pub fn advanced(before: f64, after: f64, (modulus, step): (u64, f64)) -> Option<f64> {
    // Within 10^12 steps a reading keeps its place in f64; what is negative is none. A display shows whole steps; parts of one are counted beside.
    let steps = |kwh: f64| (kwh >= 0.0).then(|| (kwh / step).floor() as u64);
    let part = |kwh: f64| kwh / step - (kwh / step).floor();
    let fraction = part(after) - part(before);
    register::advance(steps(before)?, steps(after)?, modulus).map(|steps| ((steps as f64 + fraction) * step).max(0.0))
}

/// Whether the motor can have taken so much, a step of the register more or less.
pub fn possible(kwh: f64, about: About<'_>, elapsed_s: f64) -> bool {
    register::plausible((kwh - about.register.1).max(0.0), about.motor.rated_kw, elapsed_s)
}
