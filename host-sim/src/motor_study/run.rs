//! A motor through the recorded load, half cycle by half cycle; what the core's judge says of it.

use shaftwork_core::judge::Judge;
use shaftwork_core::judge::event::{EventKind, State};
use shaftwork_core::judge::saved::Saved;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, Joules, SquareAmps, SquareVolts, Volts, Watts};

use super::drive::{Drive, Load};
use super::figures::{Figures, reactive_var};
use super::motors::{Motor, RATE_HZ};
use super::rows::Row;
use crate::plant::steady::Point;

/// Share of the empty mill's torque within which a motor runs empty.
const EMPTY: f64 = 0.15;

/// What all motors are put under: a row with the mill's torque.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// The row.
    pub row: Row,
    /// The mill's torque then, N m; of a row in which nothing but the empty mill turns, that at synchronous speed.
    pub nm: f64,
    /// Line to line, V; `None`: off.
    pub line_v: Option<f64>,
    /// Since the first row of all, s.
    pub at_s: f64,
    /// Whether the recorded motor has tripped and was not stopped: what happens counts for no motor.
    pub tripped: bool,
}

/// What a motor goes through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// A row.
    Row(Stretch),
    /// A time without rows: how long it is, s, and whether the motor is known to have stood in it.
    Gap {
        /// Its length.
        length_s: f64,
        /// Whether it stood.
        stood: bool,
    },
}

/// A motor at work.
#[derive(Debug, Clone)]
pub struct Run<'a> {
    motor: &'a Motor,
    drive: Drive,
    judge: Judge,
    /// What was found.
    pub figures: Figures,
    h_s: f64,
    /// Half cycles so far, those of gaps too: the core's clock.
    clock: u64,
    /// Time of a row that is left for the next, s.
    left_s: f64,
    /// What the judge kept when the recorded motor tripped: what came after is forgotten.
    kept: Option<Saved>,
    latched: bool,
    begun: bool,
}

impl<'a> Run<'a> {
    /// Before the first row.
    pub fn new(motor: &'a Motor) -> Self {
        let h_s = 0.5 / motor.settings.supply.frequency_hz;
        Self {
            motor,
            drive: Drive::new(motor.circuit.clone(), motor.inertia_kg_m2),
            judge: Judge::new(&motor.judge),
            figures: Figures::new(motor.rated_w(), h_s),
            h_s,
            clock: 0,
            left_s: 0.0,
            kept: None,
            latched: false,
            begun: false,
        }
    }

    /// Goes on.
    pub fn take(&mut self, step: &Step) {
        match step {
            Step::Row(stretch) => self.row(stretch),
            Step::Gap { length_s, stood } => self.gap(*length_s, *stood),
        }
    }

    /// The next row does not follow on the last, but comes so long after it, s: the motor's state is found anew, a latched trip was reset by
    /// somebody, and where it is known how long the motor `stood` its image has cooled (first order, as IEC 60255-149 has it).
    fn gap(&mut self, length_s: f64, stood: bool) {
        let halves = (length_s.max(0.0) / self.h_s).ceil().max(1.0) as u64;
        let mut saved = self.kept.take().unwrap_or_else(|| self.judge.saved(self.now()));
        if let Some(thermal) = self.motor.settings.trips.thermal.filter(|_| stood) {
            let left = (-length_s / thermal.cooling_time_constant_s).exp();
            // At most the level that it was.
            saved.thermal_q32 = (saved.thermal_q32 as f64 * left) as i64;
        }
        let passed = Span(self.ticks(halves));
        saved.starts = saved.starts.map(|left| Span(left.0.saturating_sub(passed.0)));
        self.clock += halves;
        self.renew(saved);
        self.begun = false;
        self.left_s = 0.0;
        self.figures.breaks();
    }

    /// The judge begins anew with what it kept, nothing latched.
    fn renew(&mut self, saved: Saved) {
        self.judge = Judge::new(&self.motor.judge);
        self.judge.resume(&self.motor.judge, self.now(), &Saved { trip: None, ..saved });
        self.latched = false;
    }

    fn ticks(&self, halves: u64) -> u64 {
        // Whole ticks of the core's clock, Q16 of a sample: 2^22 a half cycle, 2^64 is 1 300 years.
        halves * (self.h_s * RATE_HZ * 65_536.0).round() as u64
    }

    fn now(&self) -> Instant {
        Instant(self.ticks(self.clock))
    }

    /// Goes through a row.
    fn row(&mut self, stretch: &Stretch) {
        let row = &stretch.row;
        if row.state == State::Unknown {
            self.gap(row.to_s - row.from_s, false);
            return;
        }
        match (stretch.tripped, self.kept) {
            (true, None) => self.kept = Some(self.judge.saved(self.now())),
            // What a mill that was stopped would not have gone through leaves no heat, and nothing latched.
            (false, Some(saved)) => {
                self.kept = None;
                self.renew(saved);
            }
            _ => {}
        }
        // A motor that is slower than the recorded one still comes to speed while that one runs empty.
        let windage = row.state != State::Breaking;
        let load = Load { line_v: stretch.line_v, nm: stretch.nm, windage };
        if !self.begun {
            self.begun = true;
            self.drive.begin(super::walk::at_work(row.state).then_some(load));
        }
        // A start on record is proof that somebody had reset what was latched; so is the end of what a trip would have stopped.
        if self.latched && load.line_v.is_some() && !self.drive.flows() {
            let saved = self.judge.saved(self.now());
            self.renew(saved);
        }
        let length_s = row.to_s - row.from_s + self.left_s;
        let halves = (length_s / self.h_s + 1e-6).floor().max(0.0) as u64;
        for n in 0..halves {
            self.half_cycle(&load, stretch, stretch.at_s + n as f64 * self.h_s);
        }
        self.left_s = length_s - halves as f64 * self.h_s;
    }

    fn half_cycle(&mut self, load: &Load, stretch: &Stretch, t_s: f64) {
        let step = self.drive.half_cycle(self.h_s, load);
        self.clock += 1;
        self.figures.failed += u32::from(step.fails);
        if let Some(run_up_s) = step.run_up_s {
            self.figures.starts += 1;
            self.figures.longest_run_up_s = Some(self.figures.longest_run_up_s.map_or(run_up_s, |s| s.max(run_up_s)));
        }
        if step.pulled_out {
            self.figures.pulled_out_s.push(t_s);
        }
        match &step.point {
            Some(point) if !stretch.tripped => {
                // Empty as the core has it: a motor that is slower than the recorded one still speeds up the rotor.
                let empty = (point.shaft_nm - load.nm).abs() <= EMPTY * load.nm;
                self.figures.add(point, self.drive.has_run_up(), empty && stretch.row.state == State::Idle);
            }
            _ => self.figures.breaks(),
        }
        let half = self.metered(step.point.as_ref(), load.line_v);
        let moment = self.judge.half_cycle(&self.motor.judge, &half);
        if !stretch.tripped {
            self.figures.see(t_s, moment.thermal.map(|level| level.0.to_num()));
        }
        while let Some(event) = self.judge.pop_event() {
            if let EventKind::Trip { cause, .. } = event.kind {
                self.latched = true;
                self.figures.trips.push((t_s, cause));
            }
        }
    }

    /// What the core's meter would have told, balanced and undistorted.
    fn metered(&self, point: Option<&Point>, line_v: Option<f64>) -> HalfCycle {
        let supply = &self.motor.settings.supply;
        let line = line_v.unwrap_or(supply.line_voltage_v);
        let phase = line / 3f64.sqrt();
        // The casts saturate; what the core's ranges hold was checked with the settings.
        let volts = |v: f64| Volts::from_bits((v * 65_536.0).round() as i32);
        let watts = |w: f64| Watts::from_bits((w * 65_536.0).round() as i64);
        let amps = Amps::from_bits(point.map_or(0, |point| (point.current_a * 131_072.0).round() as i32));
        let (input_w, reactive) = point.map_or((0.0, 0.0), |point| (point.input_w, reactive_var(point)));
        let measured = if supply.wiring.is_phase_to_neutral() { phase } else { line };
        let length = Span(self.ticks(1));
        HalfCycle {
            end: self.now(),
            length,
            cycle: Span(self.ticks(2)),
            energy: Joules::from_bits((input_w * self.h_s * 1_048_576.0).round() as i64),
            active: watts(input_w),
            reactive: watts(reactive),
            voltage: [SquareVolts::of(volts(measured)); 3],
            current: [SquareAmps::of(amps); 3],
            voltage_positive: volts(phase),
            current_positive: amps,
            ..HalfCycle::default()
        }
    }
}
