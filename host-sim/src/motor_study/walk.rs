//! Through the logs: the mill's torque over time, gaps, and what the recorded motor's trips cut out.

use std::path::Path;

use shaftwork_core::judge::event::State;

use super::figures::Figures;
use super::motors::Motor;
use super::outcome::is_its_own;
use super::rows::Row;
use super::run::{Run, Step, Stretch};
use crate::error::Fault;
use crate::settings::Settings;

/// Logs whose starts follow on each other's ends so nearly are one, s.
const JOINED_S: f64 = 1.0;
/// Rows nearer than this follow on each other, s: times are rounded.
const TOUCH_S: f64 = 1e-3;

/// What the logs say of themselves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recorded {
    /// Their length, s.
    pub length_s: f64,
    /// Time at which the motor was at work, s.
    pub running_s: f64,
    /// Share of it for which the mill's torque is known only as far as the recorded motor carried it, s.
    pub stalled_s: f64,
    /// Shaft work over that time, J, and its squared power, W² s.
    pub shaft: [f64; 2],
    /// From trips of the recorded motor to when it was off or its load was back within its rating, s: what no mill would have gone
    /// through, and what counts for no motor.
    pub tripped: Vec<[f64; 2]>,
    /// Taken in while current flowed, J.
    pub electrical_j: f64,
    /// Fed while what happened counted, kg; `None`: it was not known.
    pub mass_kg: Option<f64>,
    /// Where each log begins, s since the first.
    pub begins_s: Vec<f64>,
    /// Whether the time between some logs is not known.
    pub loose: bool,
}

impl Recorded {
    fn add(&mut self, stretch: &Stretch, fed: Option<f64>) {
        let row = &stretch.row;
        let length_s = row.to_s - row.from_s;
        if stretch.tripped {
            let end_s = stretch.at_s + length_s;
            match self.tripped.last_mut().filter(|span| (span[1] - stretch.at_s).abs() < 1e-6) {
                Some(span) => span[1] = end_s,
                None => self.tripped.push([stretch.at_s, end_s]),
            }
            return;
        }
        if let Some(fed) = fed.filter(|_| row.state != State::Unknown) {
            self.mass_kg = Some(self.mass_kg.unwrap_or(0.0) + fed);
        }
        if at_work(row.state) {
            self.running_s += length_s;
            self.shaft[0] += row.shaft_w * length_s;
            self.shaft[1] += row.shaft_w.powi(2) * length_s;
            self.stalled_s += if row.load_nm.is_none() { length_s } else { 0.0 };
        }
        if stretch.line_v.is_some() {
            self.electrical_j += row.active_w.unwrap_or(0.0) * length_s;
        }
    }

    /// How long trips of the recorded motor were gone through, s.
    pub fn tripped_s(&self) -> f64 {
        self.tripped.iter().map(|[from, to]| to - from).sum()
    }

    /// Root of the mean square power at work, W.
    pub fn rms_w(&self) -> Option<f64> {
        (self.running_s > 0.0).then(|| (self.shaft[1] / self.running_s).sqrt())
    }
}

/// Where the logs are gone through, with the recorded motor in front.
pub struct Walk<'a> {
    own: Run<'a>,
    rated_w: f64,
    torque: Torque,
    recorded: Recorded,
    /// The log's begin since the first, and in s since 1970 where it is known.
    begin_s: f64,
    start_s: Option<f64>,
    /// The end of the last log, s since 1970; whether the motor was off then.
    end_s: Option<f64>,
    off: bool,
    /// The last row of this log, and its mass.
    last_s: Option<f64>,
    mass_kg: Option<f64>,
    tripped: bool,
}

impl<'a> Walk<'a> {
    /// Before the first log.
    pub fn new(own: &'a Motor) -> Self {
        Self {
            own: Run::new(own),
            rated_w: own.rated_w(),
            torque: Torque::new(&own.settings),
            recorded: Recorded::default(),
            begin_s: 0.0,
            start_s: None,
            end_s: None,
            off: false,
            last_s: None,
            mass_kg: None,
            tripped: false,
        }
    }

    /// A log begins, at a time where that is known, s since 1970.
    ///
    /// # Errors
    /// It begins before the last one ended.
    pub fn begin(&mut self, path: &Path, start_s: Option<f64>) -> Result<(), Fault> {
        if let Some((end, start)) = self.end_s.zip(start_s)
            && start < end - JOINED_S
        {
            let found = format!("begins {:.1} s before the log before it ends", end - start);
            return Err(Fault::new(path.display().to_string(), found)
                .wanted("logs of different times")
                .mend("name each log once; a copy counts as another one"));
        }
        self.begin_s = self.recorded.length_s;
        self.start_s = start_s;
        (self.last_s, self.mass_kg) = (None, None);
        self.recorded.begins_s.push(self.begin_s);
        Ok(())
    }

    /// A log is over.
    ///
    /// # Errors
    /// It had no rows.
    pub fn end(&mut self, path: &Path) -> Result<(), Fault> {
        let Some(last_s) = self.last_s else {
            let name = path.display().to_string();
            return Err(Fault::new(name, "has no rows").wanted("intervals of a replay").mend("take it out"));
        };
        self.end_s = self.start_s.map(|start| start + last_s);
        Ok(())
    }

    /// What was found of the recorded motor.
    pub fn close(self) -> (Figures, Recorded) {
        (self.own.figures, self.recorded)
    }

    /// What the others are to go through.
    pub fn steps(&mut self, rows: &[Row]) -> Vec<Step> {
        let mut steps = Vec::with_capacity(rows.len() + 1);
        for row in rows {
            if let Some(gap) = self.gap(row) {
                self.own.take(&gap);
                self.tripped = false;
                steps.push(gap);
            }
            self.last_s = Some(row.to_s);
            let mut stretch = self.torque.of(row, self.begin_s);
            self.tripped &= stretch.line_v.is_some() && (row.load_nm.is_none() || row.shaft_w > self.rated_w);
            stretch.tripped = self.tripped;
            let before = self.own.figures.trips.len();
            let step = Step::Row(stretch);
            self.own.take(&step);
            self.tripped |= self.own.figures.trips[before..].iter().any(|(_, cause)| !is_its_own(*cause));
            let fed = row.mass_kg.zip(self.mass_kg).map(|(now, before)| (now - before).max(0.0));
            self.recorded.add(&stretch, fed);
            self.mass_kg = row.mass_kg.or(self.mass_kg);
            self.recorded.length_s = self.begin_s + row.to_s;
            self.off = stretch.line_v.is_none();
            steps.push(step);
        }
        steps
    }

    /// What lies before a row that does not follow on the last.
    fn gap(&mut self, row: &Row) -> Option<Step> {
        if let Some(last_s) = self.last_s {
            let length_s = row.from_s - last_s;
            return (length_s > TOUCH_S).then_some(Step::Gap { length_s, stood: false });
        }
        if self.recorded.begins_s.len() < 2 {
            return None;
        }
        let Some(length_s) = self.end_s.zip(self.start_s).map(|(end, start)| start - end) else {
            self.recorded.loose = true;
            return Some(Step::Gap { length_s: 0.0, stood: false });
        };
        (length_s >= JOINED_S).then_some(Step::Gap { length_s, stood: self.off })
    }
}

/// The mill's torque over time.
struct Torque {
    /// Line to line over what is measured.
    line_over_measured: f64,
    nominal_v: f64,
    /// Of the empty mill at synchronous speed: as set, or the mean of what was seen.
    empty: [f64; 2],
    /// The last that was known of a mill at work, N m.
    last: f64,
}

impl Torque {
    fn new(settings: &Settings) -> Self {
        let sync_rad_s = settings.motor.synchronous_speed_rpm() / 60.0 * std::f64::consts::TAU;
        // As much weight as a minute of rows.
        let empty = settings.mill.idle_power_kw.map_or([0.0; 2], |kw| [kw * 1e3 / sync_rad_s * 60.0, 60.0]);
        let line_over_measured = if settings.supply.wiring.is_phase_to_neutral() { 3f64.sqrt() } else { 1.0 };
        Self { line_over_measured, nominal_v: settings.supply.line_voltage_v, empty, last: 0.0 }
    }

    fn of(&mut self, row: &Row, begin_s: f64) -> Stretch {
        let length_s = row.to_s - row.from_s;
        if row.state == State::Idle
            && let Some(nm) = row.load_nm
        {
            self.empty = [self.empty[0] + nm * length_s, self.empty[1] + length_s];
        }
        let empty = if self.empty[1] > 0.0 { self.empty[0] / self.empty[1] } else { 0.0 };
        // Where the recorded motor was too slow for its speed to be told the load was what it could not carry: no less than the last that
        // was known, and than what it gave.
        let runs = at_work(row.state);
        self.last = if runs { row.load_nm.unwrap_or(self.last.max(row.torque_nm)) } else { 0.0 };
        let on = runs || row.state == State::Starting;
        let volts = row.volts.map_or(self.nominal_v, |volts| volts * self.line_over_measured);
        Stretch {
            row: *row,
            nm: if runs { self.last } else { empty },
            line_v: on.then_some(volts),
            at_s: begin_s + row.from_s,
            tripped: false,
        }
    }
}

/// Whether the motor is at work.
pub fn at_work(state: State) -> bool {
    matches!(state, State::Idle | State::Breaking)
}
