//! Sums over a part of a trace: times, energies and mass. They are what the core's totals grew by meanwhile, so that
//! all parts add up to the totals.

use std::ops::AddAssign;

use shaftwork_core::judge::event::State;
use shaftwork_core::judge::report::{Moment, Register, Totals};
use shaftwork_core::time::Span;

use super::number::frames_s;

/// Joules in a kilowatt-hour.
const KWH: f64 = 3.6e6;
/// 2^20: the fraction of an energy.
const Q20: f64 = 1_048_576.0;

/// What flowed while the motor ran, or while it idled; signed.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Flow {
    /// Time, h.
    pub hours: f64,
    /// Active energy, kWh.
    pub active_kwh: f64,
    /// Reactive energy, kvarh.
    pub reactive_kvarh: f64,
    /// Energy at the shaft, kWh.
    pub shaft_kwh: f64,
}

impl AddAssign for Flow {
    fn add_assign(&mut self, other: Self) {
        self.hours += other.hours;
        self.active_kwh += other.active_kwh;
        self.reactive_kvarh += other.reactive_kvarh;
        self.shaft_kwh += other.shaft_kwh;
    }
}

/// Sums over a part of a trace.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sums {
    /// Time in each state, s, in the order of [`State::ALL`].
    pub time_s: [f64; 6],
    /// Active energy taken in, kWh.
    pub taken_kwh: f64,
    /// Active energy given back, kWh.
    pub exported_kwh: f64,
    /// Reactive energy of lagging current, kvarh.
    pub lagging_kvarh: f64,
    /// Active energy taken in while starting, kWh.
    pub start_kwh: f64,
    /// Idle or breaking.
    pub running: Flow,
    /// Of it idle.
    pub idle: Flow,
    /// Shaft energy above 10 % of slip, where it may be an upper estimate, kWh.
    pub stalled_kwh: f64,
    /// Mean square of the three currents while running, times time, A² h.
    pub square_a_h: f64,
    /// Mass by the trace's column, kg.
    pub fed_kg: f64,
}

impl AddAssign for Sums {
    fn add_assign(&mut self, other: Self) {
        for (time, more) in self.time_s.iter_mut().zip(other.time_s) {
            *time += more;
        }
        self.taken_kwh += other.taken_kwh;
        self.exported_kwh += other.exported_kwh;
        self.lagging_kvarh += other.lagging_kvarh;
        self.start_kwh += other.start_kwh;
        self.running += other.running;
        self.idle += other.idle;
        self.stalled_kwh += other.stalled_kwh;
        self.square_a_h += other.square_a_h;
        self.fed_kg += other.fed_kg;
    }
}

impl Sums {
    /// Adds what the core's totals grew by, at a rate in Hz. The core may still move what it counted from one state to
    /// another: differences are signed.
    pub fn grown(&mut self, before: &Totals, after: &Totals, rate_hz: f64) {
        let span_s = |from: Span, to: Span| to.0.wrapping_sub(from.0).cast_signed() as f64 / 65_536.0 / rate_hz;
        let energy_kwh = |from: Register, to: Register| (to.q20() - from.q20()) as f64 / Q20 / KWH;
        for (at, state) in State::ALL.into_iter().enumerate() {
            let length_s = span_s(before.time[at], after.time[at]);
            self.time_s[at] += length_s;
            let active_kwh = energy_kwh(before.energy[at], after.energy[at]);
            if state.running() {
                self.running.hours += length_s / 3600.0;
                self.running.active_kwh += active_kwh;
            } else if state == State::Starting {
                self.start_kwh += active_kwh;
            }
        }
        self.taken_kwh += energy_kwh(before.electrical, after.electrical);
        self.exported_kwh += energy_kwh(before.exported, after.exported);
        self.lagging_kvarh += energy_kwh(before.reactive, after.reactive);
        self.running.shaft_kwh += (after.shaft_q20 - before.shaft_q20) as f64 / Q20 / KWH;
    }

    /// Adds what the totals do not tell of a half cycle, at a rate in Hz: what errors act through, no figure itself.
    /// Below `slow_rpm` the motor has more than 10 % of slip, as it has where its speed is not known.
    pub fn moment(&mut self, moment: &Moment, rate_hz: f64, slow_rpm: f64) {
        if !moment.state.running() {
            return;
        }
        let half = &moment.half_cycle;
        let hours = frames_s(half.length.0, rate_hz) / 3600.0;
        let active_kwh = half.energy.to_bits() as f64 / Q20 / KWH;
        let reactive_kvarh = half.reactive.0.to_num::<f64>() / 1000.0 * hours;
        self.running.reactive_kvarh += reactive_kvarh;
        let shaft_kwh = moment.shaft.0.to_num::<f64>() / 1000.0 * hours;
        if moment.speed.is_none_or(|speed| speed.0.to_num::<f64>() < slow_rpm) {
            self.stalled_kwh += shaft_kwh.max(0.0);
        }
        if moment.state == State::Idle {
            self.idle += Flow { hours, active_kwh, reactive_kvarh, shaft_kwh };
        }
        let squares = half.current.iter().map(|square| square.root().0.to_num::<f64>().powi(2)).sum::<f64>();
        self.square_a_h += squares / 3.0 * hours;
    }

    /// Adds time in a state, s.
    pub fn spend(&mut self, state: State, length_s: f64) {
        let at = State::ALL.iter().position(|s| *s == state).unwrap_or(0);
        self.time_s[at] += length_s;
    }

    /// Time in a state, s.
    pub fn time_s(&self, state: State) -> f64 {
        State::ALL.iter().zip(self.time_s).filter(|(s, _)| **s == state).map(|(_, time)| time).sum()
    }

    /// All of it, s.
    pub fn whole_s(&self) -> f64 {
        self.time_s.iter().sum()
    }

    /// Whether the state was known at any time.
    pub fn known(&self) -> bool {
        State::ALL.iter().any(|state| *state != State::Unknown && self.time_s(*state) > 0.0)
    }

    /// Current while running, rms over time and phases, A; `None` where the motor did not run.
    pub fn running_a(&self) -> Option<f64> {
        (self.running.hours > 0.0).then(|| (self.square_a_h / self.running.hours).sqrt())
    }

    /// Shaft energy less idle power (kW) x running time, signed, kWh.
    pub fn net_kwh(&self, idle_kw: f64) -> f64 {
        self.running.shaft_kwh - idle_kw * self.running.hours
    }
}
