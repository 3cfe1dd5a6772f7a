//! A log of rms values through the core's judge: its rows stand in for the meter.
//!
//! A row holds over its interval, which begins at its stamp. It becomes records of half cycles, as many as fit, all alike: what the judge
//! counts in half cycles and windows keeps its meaning. Their times are ticks of a clock of about 8 kHz, a whole number
//! a row. An interval of the output is a row, or as many of them as make 0.2 s.

mod row;

use std::collections::VecDeque;

use shaftwork_core::judge::Judge;
use shaftwork_core::judge::event::Event;
use shaftwork_core::judge::report::{Interval, Moment, Totals};
use shaftwork_core::record::{HalfCycle, Window};
use shaftwork_core::settings::JudgeCoefficients;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Hertz, Joules, Ratio, Rpm};

use crate::settings::{Settings, Wiring};
pub use row::Row;

/// The shortest interval of the output, s: that of ten cycles at 50 Hz, for which the judge's counts of windows are made.
const INTERVAL_S: f64 = 0.2;
/// Share of rated current below which nothing is said of power factor and unbalance.
const SMALL: f64 = 0.002;
/// Share of rated apparent power that a meter may show at rest: noise, and what others take.
const NOISE: f64 = 0.01;
/// Share of rated current from which a motor turns: without load it takes a quarter and more (common practice, no source).
const TURNS: f64 = 0.1;
/// Power factor below which no motor turns: without load it has 0.05 and more (common practice, no source).
const LEAST_FACTOR: f64 = 0.02;
/// Share of nominal voltage below which nothing is said of its unbalance.
const GONE: f64 = 0.05;

/// The judge with the row that is being told.
#[derive(Debug)]
pub struct Rms {
    c: JudgeCoefficients,
    judge: Judge,
    wiring: Wiring,
    /// Line to line, V: taken where power is measured and no voltage.
    assumed_v: Option<f64>,
    rated_a: f64,
    rated_va: f64,
    /// Rows of a motor that turns, and those of them with next to no power.
    turning: (u64, u64),
    least_a: f64,
    least_v: f64,
    /// Length of a row, Q16 ticks, and the half cycles that it is cut into.
    row: u64,
    parts: u64,
    /// Rows of an interval.
    rows: u64,
    rate_hz: f64,
    nominal_hz: f64,
    now: Instant,
    /// The row that is being told, and how many of its parts have been.
    told: Option<(Row, HalfCycle, u64)>,
    sums: Sums,
    interval: Option<Interval>,
    moments: VecDeque<Moment>,
}

/// What an interval's figures are made of.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    rows: u64,
    /// Sums of squares.
    voltage: [f64; 3],
    current: [f64; 3],
    hertz: Option<f64>,
    /// Means of the records, as the judge has them.
    active: f64,
    reactive: f64,
}

impl Rms {
    /// Nothing seen yet. Rows and ticks a second, Hz.
    pub fn new(c: JudgeCoefficients, settings: &Settings, rows_hz: f64, rate_hz: f64) -> Self {
        let nominal_hz = settings.supply.frequency_hz;
        let assumed = settings.supply.wiring == Wiring::CurrentsOnly && c.curve.is_none();
        Self {
            assumed_v: assumed.then_some(settings.supply.line_voltage_v),
            judge: Judge::new(&c),
            c,
            wiring: settings.supply.wiring,
            rated_a: settings.motor.rated_current_a,
            rated_va: settings.motor.rated_apparent_va(),
            turning: (0, 0),
            least_a: SMALL * settings.motor.rated_current_a,
            least_v: GONE * settings.supply.line_voltage_v,
            row: ((rate_hz / rows_hz).round() as u64) << 16,
            parts: (2.0 * nominal_hz / rows_hz).round().max(1.0) as u64,
            rows: (INTERVAL_S * rows_hz - 1e-6).ceil().max(1.0) as u64,
            rate_hz,
            nominal_hz,
            now: Instant::default(),
            told: None,
            sums: Sums::default(),
            interval: None,
            moments: VecDeque::new(),
        }
    }

    /// What is wrong with a row: what was found, what was wanted, how to mend it.
    pub fn fault(&self, row: &Row) -> Option<(String, &'static str, &'static str)> {
        const SAMPLES: &str = "correct the row; for samples of the waves take values = \"rms\" out of the settings";
        const POWER: &str = "check the units and the ratios of power, voltages and currents, and which channel is which in [channels]; \
                             power in kW is in a column active_kw";
        if let Some((found, wanted)) = row.fault() {
            return Some((found, wanted, SAMPLES));
        }
        let found = row.power_fault(self.wiring, NOISE * self.rated_va)?;
        Some((found, "no more active power than apparent, within 2 %", POWER))
    }

    /// What there is to say of a log's power as a whole.
    pub fn warning(&self) -> Option<String> {
        let (turning, small) = self.turning;
        (2 * small > turning).then(|| {
            format!(
                "active power is below 2 % of the apparent at {small} of {turning} rows with current: no motor has so low a power factor. \
                 Where it is in kW, name its column active_kw, or write [kW] behind its name"
            )
        })
    }

    /// Takes a row; [`Rms::advance`] tells the judge of it.
    pub fn take(&mut self, row: &Row) {
        let voltage = self.assumed_v.map_or(row.voltage, |volts| [volts; 3]);
        let mut record = Row { voltage, ..*row }.record(self.wiring);
        // A cycle by the logged frequency; half a cycle is cut to fit the row, within 2 % of its length or so.
        let hertz = row.frequency_hz.unwrap_or(self.nominal_hz);
        record.cycle = Span((self.rate_hz / hertz * 65_536.0).round() as u64);
        if let Some(watts) = row.active_w
            && row.current.iter().sum::<f64>() >= 3.0 * TURNS * self.rated_a
        {
            let small = watts.abs() < LEAST_FACTOR * Row { voltage, ..*row }.apparent_va(self.wiring);
            self.turning = (self.turning.0 + 1, self.turning.1 + u64::from(small));
        }
        self.told = Some((*row, record, 0));
        let s = &mut self.sums;
        for (sum, x) in s.voltage.iter_mut().chain(&mut s.current).zip(row.voltage.into_iter().chain(row.current)) {
            *sum += x * x;
        }
        s.hertz = if s.rows == 0 { row.frequency_hz } else { s.hertz.zip(row.frequency_hz).map(|(sum, hz)| sum + hz) };
        s.rows += 1;
    }

    /// Tells the judge of the next half cycle; false when the row is over.
    pub fn advance(&mut self) -> bool {
        let Some((row, mut half, done)) = self.told.take() else { return false };
        let (begin, end) = (self.row * done / self.parts, self.row * (done + 1) / self.parts);
        half.length = Span(end - begin);
        self.now = self.now.after(half.length);
        half.end = self.now;
        let seconds = half.length.0 as f64 / 65_536.0 / self.rate_hz;
        half.energy = Joules::from_bits((row.active_w.unwrap_or(0.0) * seconds * 1_048_576.0).round() as i64);
        let last = done + 1 == self.parts;
        half.closes_window = last && self.sums.rows == self.rows;
        let moment = self.judge.half_cycle(&self.c, &half);
        let share = half.length.0 as f64 / (self.row * self.rows) as f64;
        self.sums.active += share * moment.half_cycle.active.0.to_num::<f64>();
        self.sums.reactive += share * moment.half_cycle.reactive.0.to_num::<f64>();
        self.moments.push_back(moment);
        if half.closes_window {
            let window = self.window();
            self.interval = Some(self.judge.window(window));
            self.sums = Sums::default();
        }
        if !last {
            self.told = Some((row, half, done + 1));
        }
        true
    }

    fn window(&self) -> Window {
        let s = &self.sums;
        let rms = |sums: [f64; 3]| sums.map(|sum| (sum / s.rows as f64).sqrt());
        let (voltage, current) = (rms(s.voltage), rms(s.current));
        let apparent = match self.wiring {
            Wiring::CurrentsOnly => s.active.hypot(s.reactive),
            wiring => row::star(voltage, wiring).iter().zip(current).map(|(v, i)| v * i).sum(),
        };
        let flows = current.iter().any(|a| *a > self.least_a);
        let lives = !self.wiring.is_phase_to_neutral() && voltage.iter().any(|v| *v > self.least_v);
        let unbalance = |sizes: [f64; 3]| {
            let (positive, negative) = row::sequences(sizes);
            ratio(negative / positive)
        };
        Window {
            end: self.now,
            length: Span(self.row * s.rows),
            frequency: s.hertz.map(|sum| Hertz::from_bits((sum / s.rows as f64 * f64::from(1 << 22)).round() as i32)),
            voltage: voltage.map(row::volts),
            current: current.map(row::amps),
            active: row::watts(s.active),
            reactive: row::watts(s.reactive),
            apparent: row::watts(apparent),
            power_factor: (flows && apparent > 0.0).then(|| ratio((s.active / apparent).clamp(-1.0, 1.0))),
            voltage_unbalance: lives.then(|| unbalance(voltage)),
            current_unbalance: flows.then(|| unbalance(current)),
            voltage_distortion: [None; 3],
            current_distortion: [None; 3],
            clipped: 0,
        }
    }

    /// Rows are missing for so long: what was begun is left, and counts as unknown.
    pub fn gap(&mut self, length: Span) {
        self.judge.gap(&self.c, self.now, length);
        self.now = self.now.after(length);
        self.sums = Sums::default();
    }

    /// The oldest half cycle that was not taken yet, with what it means.
    pub fn take_moment(&mut self) -> Option<Moment> {
        self.moments.pop_front()
    }

    /// The interval that was closed last, once.
    pub const fn take_interval(&mut self) -> Option<Interval> {
        self.interval.take()
    }

    /// The oldest event that was not taken yet.
    pub fn pop_event(&mut self) -> Option<Event> {
        self.judge.pop_event()
    }

    /// The sums so far.
    pub const fn totals(&self) -> &Totals {
        self.judge.totals()
    }

    /// The total fed so far, mg.
    pub fn set_mass(&mut self, mg: u64) {
        self.judge.set_mass(mg);
    }

    /// The tachometer's speed.
    pub const fn set_speed(&mut self, speed: Option<Rpm>) {
        self.judge.set_speed(speed);
    }

    /// Where the clock stands.
    pub const fn now(&self) -> Instant {
        self.now
    }

    /// Length of a row.
    pub const fn row_length(&self) -> Span {
        Span(self.row)
    }
}

fn ratio(x: f64) -> Ratio {
    Ratio::from_bits((x * f64::from(1 << 24)).round() as i32)
}

#[cfg(test)]
mod tests;
