//! A tachometer against the speed that the slip tells.
//!
//! ```text
//! w = P / T                     speed by slip of each half cycle: the core makes both of one slip, P = T w
//! slip ratio = sum (n0 - n_tachometer) / sum (n0 - n_slip)          n0: synchronous speed at the window's frequency
//! ```
//!
//! The core hands out the tachometer's speed where there is one; shaft power and torque stay those of the slip, so their
//! ratio brings its speed back. Torque comes in steps of 2^-8 N m, cut off: half a step is put back, and what is left is
//! 0.05 % of speed at the least torque that is looked at, and averages out where load changes at all. Looked at are whole
//! intervals of running, every half cycle of them above that torque and with a tachometer, in which the speed by slip stays
//! within 1 % of synchronous. What is left is the slip's own error: that of the model, 0.25 % of synchronous speed, and that
//! of the nameplate, 20 % of slip (IEC 60034-1, from memory).

use serde::Serialize;
use shaftwork_core::judge::report::{Interval, Moment};
use shaftwork_core::unit::Rpm;

use super::number::figure;
use super::words::short;
use super::{Reason, Why};
use crate::settings::Settings;

/// Torque from which its ratio to power is taken for a speed: share of rated, and N m for the sake of its steps.
const LEAST_TORQUE: f64 = 0.03;
const LEAST_NM: f64 = 4.0;
/// Half a step of torque, N m.
const HALF_NM: f64 = 1.0 / 512.0;
/// Share of synchronous speed within which the speed by slip stays in a steady interval.
const STEADY: f64 = 0.01;
/// The model's own error, share of synchronous speed: as the acceptance tests hold it against the plant.
const MODEL: f64 = 0.0025;
/// What a nameplate's slip may be off (IEC 60034-1, from memory).
const NAMEPLATE: f64 = 0.20;
/// Intervals for a verdict: a second of 0.2 s each.
const LEAST: u64 = 5;
/// Share of the speed by slip below which a tachometer stands still.
const STANDS: f64 = 0.005;
/// How near a ratio of speeds is to one that explains it: of a belt, which creeps, and of pulses, which do not.
const NEAR: f64 = 0.03;
const NEAR_WHOLE: f64 = 0.015;
/// A tachometer whose reading changes less than this is stuck where the motor's speed changes, rpm.
const STUCK_RPM: f64 = 0.01;
/// Pulses per turn are wrong by such a factor at most; any ratio is near a higher one.
const MOST_PULSES: f64 = 16.0;

/// The reason where there is none.
pub const NO_TACHOMETER: Reason = "the trace has no tachometer";

/// What a tachometer and the slip tell of the same intervals.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each name carries its unit and is explained with the output format")]
pub struct TachometerRow {
    pub mean_rpm: Option<f64>,
    pub mean_by_slip_rpm: Option<f64>,
    /// Tachometer less speed by slip.
    pub mean_difference_rpm: Option<f64>,
    /// Slip by the tachometer over slip by the circuit: 1 where they agree.
    pub slip_ratio: Option<f64>,
    pub intervals: u64,
    #[serde(skip_serializing_if = "Why::is_empty")]
    pub why: Why,
}

/// Lowest and highest of some figures.
#[derive(Debug, Clone, Copy)]
struct Range(f64, f64);

impl Default for Range {
    fn default() -> Self {
        Self(f64::INFINITY, f64::NEG_INFINITY)
    }
}

impl Range {
    fn take(&mut self, x: f64) {
        *self = Self(self.0.min(x), self.1.max(x));
    }

    /// Negative for none.
    fn width(self) -> f64 {
        self.1 - self.0
    }
}

/// Half cycles of the interval that is under way.
#[derive(Debug, Clone, Copy, Default)]
struct Part {
    half_cycles: u64,
    /// Whether one of them cannot be compared.
    unfit: bool,
    tachometer: f64,
    slip: f64,
    range: Range,
}

/// Gathers the comparison.
#[derive(Debug, Clone, Copy)]
pub struct Tachometer {
    poles: f64,
    nominal_hz: f64,
    rated_nm: f64,
    rated_rpm: f64,
    now: Option<f64>,
    part: Part,
    intervals: u64,
    /// Sums over intervals, rpm.
    told: f64,
    by_slip: f64,
    synchronous: f64,
    /// All readings, and the speeds by slip of intervals (none in those at rest).
    readings: Range,
    speeds: Range,
}

impl Tachometer {
    /// Nothing seen.
    pub fn new(settings: &Settings) -> Self {
        let motor = &settings.motor;
        Self {
            poles: f64::from(motor.poles),
            nominal_hz: settings.supply.frequency_hz,
            rated_nm: motor.rated_power_kw * 1e3 / radians(motor.rated_speed_rpm),
            rated_rpm: motor.rated_speed_rpm,
            now: None,
            part: Part::default(),
            intervals: 0,
            told: 0.0,
            by_slip: 0.0,
            synchronous: 0.0,
            readings: Range::default(),
            speeds: Range::default(),
        }
    }

    /// The tachometer's reading is another now; `None`: it says nothing.
    pub fn reads(&mut self, speed: Option<Rpm>) {
        self.now = speed.map(|rpm| rpm.0.to_num());
        if let Some(rpm) = self.now {
            self.readings.take(rpm);
        }
    }

    /// Takes a half cycle.
    pub fn moment(&mut self, moment: &Moment) {
        let (watts, nm) = (moment.shaft.0.to_num::<f64>(), moment.torque.0.to_num::<f64>());
        let fit = moment.state.running() && nm > LEAST_NM.max(LEAST_TORQUE * self.rated_nm);
        let part = &mut self.part;
        part.half_cycles += 1;
        match self.now.filter(|_| fit) {
            Some(rpm) => {
                let by_slip = watts / (nm + HALF_NM) / radians(1.0);
                part.tachometer += rpm;
                part.slip += by_slip;
                part.range.take(by_slip);
            }
            None => part.unfit = true,
        }
    }

    /// Rows are missing: the interval that was under way is not whole.
    pub fn gap(&mut self) {
        self.part.unfit = true;
    }

    /// Takes the interval that its half cycles make.
    pub fn interval(&mut self, interval: &Interval) {
        let part = std::mem::take(&mut self.part);
        let hertz = interval.window.frequency.map_or(self.nominal_hz, |hz| hz.0.to_num());
        let synchronous = 120.0 * hertz / self.poles;
        if interval.state == shaftwork_core::judge::event::State::Stopped {
            self.speeds.take(0.0);
        }
        if part.unfit || part.half_cycles == 0 || part.range.width() > STEADY * synchronous {
            return;
        }
        let count = part.half_cycles as f64;
        self.intervals += 1;
        self.told += part.tachometer / count;
        self.by_slip += part.slip / count;
        self.synchronous += synchronous;
        self.speeds.take(part.slip / count);
    }

    /// Means of tachometer, of speed by slip and of synchronous speed over the intervals, rpm.
    fn means(&self) -> Option<[f64; 3]> {
        let count = self.intervals as f64;
        (self.intervals > 0).then(|| [self.told, self.by_slip, self.synchronous].map(|sum| sum / count))
    }

    /// The comparison, of a trace with or without a tachometer, of speeds that are estimates or not.
    pub fn row(&self, there: bool, estimated: bool) -> TachometerRow {
        let means = self.means().filter(|_| there && !estimated);
        let reason: Reason = match (there, estimated) {
            (false, _) => NO_TACHOMETER,
            (true, true) => "the speed by slip is estimated from the current",
            (true, false) => "the motor did not run steadily for a whole interval, with a load and a reading",
        };
        let ratio = means.filter(|[_, by_slip, synchronous]| synchronous - by_slip > MODEL * synchronous);
        let mut row = TachometerRow {
            mean_rpm: means.map(|[told, ..]| figure(told)),
            mean_by_slip_rpm: means.map(|[_, by_slip, _]| figure(by_slip)),
            mean_difference_rpm: means.map(|[told, by_slip, _]| figure(told - by_slip)),
            slip_ratio: ratio
                .map(|[told, by_slip, synchronous]| figure((synchronous - told) / (synchronous - by_slip))),
            intervals: if means.is_some() { self.intervals } else { 0 },
            why: Why::new(),
        };
        for key in ["mean_rpm", "mean_by_slip_rpm", "mean_difference_rpm"].into_iter().filter(|_| means.is_none()) {
            row.why.insert(key, reason);
        }
        if ratio.is_none() {
            let small = "the load is so low that slip is less than the model's own error";
            row.why.insert("slip_ratio", if means.is_some() { small } else { reason });
        }
        row
    }

    /// What there is to say where the two disagree by more than a nameplate may.
    pub fn advice(&self, row: &TachometerRow, speed_ratio: f64) -> Option<String> {
        let [told, by_slip, synchronous] = self.means().filter(|_| row.intervals >= LEAST)?;
        let seen = format!("{} rpm where the slip tells {} rpm", short(told), short(by_slip));
        let mend = "Speeds in the results are the tachometer's: correct it, or take its column out";
        let ratio = told / by_slip;
        if ratio.abs() < STANDS {
            return Some(format!(
                "the tachometer stands still while the motor runs: {seen}. Look at its sensor, the gap to its mark, its lead and \
                 supply. {mend}"
            ));
        }
        if self.readings.width() < STUCK_RPM && self.speeds.width() > 2.0 * MODEL * synchronous {
            return Some(format!(
                "the tachometer is stuck: it reads {} rpm all the time while the motor's speed changes by {} rpm. Look at its \
                 lead, and whether the recorder goes on with an old figure. {mend}",
                short(told),
                short(self.speeds.width())
            ));
        }
        let near = |factor: f64| (ratio / factor - 1.0).abs() < NEAR;
        if near(1.0) {
            return self.nameplate(&seen, [told, by_slip, synchronous]);
        }
        let mut causes = Vec::new();
        if near(speed_ratio) {
            causes.push(format!(
                "it sits on the mill's rotor, not on the motor's shaft ([transmission] speed_ratio is {speed_ratio}); divide its \
                 figure by that"
            ));
        }
        let times = if ratio > 1.0 { ratio } else { 1.0 / ratio };
        let whole = (times / times.round() - 1.0).abs() < NEAR_WHOLE && times < MOST_PULSES + 0.5;
        if whole && times > 1.5 {
            let way = if ratio > 1.0 { "few" } else { "many" };
            causes.push(format!("pulses per turn are set {} times too {way} in the instrument", times.round()));
        } else if (times / 60.0 - 1.0).abs() < NEAR_WHOLE {
            causes.push("a figure a second is taken for one a minute, or the other way round".to_owned());
        }
        if causes.is_empty() {
            causes.push("pulses per turn, or the ratio of a belt to what it sits on".to_owned());
        }
        let (times, causes) = (short(ratio), causes.join("; or "));
        Some(format!("the tachometer shows {seen}, {times} times as much. Probable cause: {causes}. {mend}"))
    }

    /// Of speeds that are near each other: whether their slips are further apart than model and nameplate allow.
    fn nameplate(&self, seen: &str, [told, by_slip, synchronous]: [f64; 3]) -> Option<String> {
        let slip = synchronous - by_slip;
        if (told - by_slip).abs() <= MODEL * synchronous + NAMEPLATE * slip.abs() {
            return None;
        }
        let off = (synchronous - told) / slip - 1.0;
        let way = if off > 0.0 { "more" } else { "less" };
        Some(format!(
            "the tachometer shows {seen}: {} % {way} slip, beyond the 20 % that a nameplate may be off (IEC 60034-1). Probable \
             causes: rated_speed_rpm is not this motor's ({} rpm); its windings are much colder or hotter than in service (see \
             [winding]); the ratio of a transformer is wrong, and load with it; the tachometer is not calibrated. Speeds in the \
             results are the tachometer's",
            short(off.abs() * 100.0),
            short(self.rated_rpm)
        ))
    }
}

fn radians(rpm: f64) -> f64 {
    rpm * std::f64::consts::TAU / 60.0
}

#[cfg(test)]
mod tests;
