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
mod tests {
    use super::*;
    use crate::report::testing::settings;
    use shaftwork_core::judge::event::State;
    use shaftwork_core::record::Window;
    use shaftwork_core::unit::{Newtonmetres, Watts};

    /// Intervals of ten half cycles at these speeds by slip, with 200 N m, and what a tachometer makes of them (50 Hz, four poles).
    fn seen(speeds: &[f64], reading: impl Fn(f64) -> Option<f64>) -> Tachometer {
        let mut tachometer = Tachometer::new(&settings());
        for rpm in speeds {
            tachometer.reads(reading(*rpm).map(|rpm| Rpm::from_bits((rpm * 4096.0).round() as i32)));
            for _ in 0..10 {
                tachometer.moment(&at(*rpm));
            }
            tachometer.interval(&Interval { window: Window::default(), state: State::Breaking, ..Interval::default() });
        }
        tachometer
    }

    /// 200 N m at a speed, in steps as the core hands it out.
    fn at(rpm: f64) -> Moment {
        let shaft = Watts::from_bits((200.0 * radians(rpm) * 65_536.0).round() as i64);
        Moment { shaft, torque: Newtonmetres::from_bits(200 << 8), state: State::Breaking, ..Moment::default() }
    }

    fn told(speeds: &[f64], reading: impl Fn(f64) -> Option<f64>, speed_ratio: f64) -> Option<String> {
        let tachometer = seen(speeds, reading);
        tachometer.advice(&tachometer.row(true, false), speed_ratio)
    }

    const LOADED: [f64; 6] = [1_470.0, 1_474.0, 1_478.0, 1_482.0, 1_476.0, 1_476.0];

    /// By hand: the mean slip of these speeds is 24 rpm; 6 rpm less is 30 rpm, 1.25 times as much.
    #[test]
    fn differences_in_rpm_and_as_a_share_of_slip() {
        let row = seen(&LOADED, |rpm| Some(rpm - 6.0)).row(true, false);
        assert!((row.mean_difference_rpm.unwrap() + 6.0).abs() < 0.02, "{row:?}");
        assert!((row.slip_ratio.unwrap() - 1.25).abs() < 0.001 && row.intervals == 6 && row.why.is_empty());
        let idle = seen(&[1_498.0; 6], |_| Some(1_497.0)).row(true, false);
        assert!(
            idle.mean_difference_rpm.is_some() && idle.slip_ratio.is_none() && idle.why["slip_ratio"].contains("load")
        );
        for (there, estimated, words) in
            [(false, false, "no tachometer"), (true, true, "estimated"), (true, false, "steadily")]
        {
            let row = seen(&[], Some).row(there, estimated);
            assert!(row.mean_rpm.is_none() && row.why.len() == 4 && row.why["slip_ratio"].contains(words), "{row:?}");
        }
    }

    /// The tolerance of the slip is 20 % (IEC 60034-1, from memory), and the model's 0.25 % of 1500 rpm come on top: 8.55 rpm
    /// by hand.
    #[test]
    fn what_disagrees_is_told_with_its_cause() {
        for (reading, speed_ratio, words) in [
            (Box::new(Some) as Box<dyn Fn(f64) -> Option<f64>>, 1.0, ""),
            (Box::new(|rpm| Some(rpm - 8.4)), 1.0, ""),
            (Box::new(|rpm| Some(rpm - 8.7)), 1.0, "% more slip, beyond the 20 %"),
            (Box::new(|rpm| Some(rpm + 8.7)), 1.0, "% less slip, beyond the 20 %"),
            (Box::new(|rpm| Some(2.0 * rpm)), 1.0, "pulses per turn are set 2 times too few"),
            (Box::new(|rpm| Some(rpm / 60.0)), 1.0, "a second is taken for one a minute"),
            (Box::new(|rpm| Some(rpm / 3.0)), 1.0, "pulses per turn are set 3 times too many"),
            (Box::new(|rpm| Some(1.7 * rpm)), 1.7, "sits on the mill's rotor"),
            (Box::new(|rpm| Some(2.0 * rpm)), 2.0, "rotor, not on the motor's shaft"),
            (Box::new(|rpm| Some(1.4 * rpm)), 1.0, "or the ratio of a belt"),
            (Box::new(|_| Some(0.0)), 1.0, "stands still while the motor runs"),
            (Box::new(|_| Some(1_476.0)), 1.0, "is stuck: it reads 1476"),
            (Box::new(|_| None), 1.0, ""),
        ] {
            let advice = told(&LOADED, reading, speed_ratio);
            assert_eq!(advice.is_none(), words.is_empty(), "{words}: {advice:?}");
            assert!(advice.iter().all(|line| line.contains(words)), "{words}: {advice:?}");
        }
        let both = told(&LOADED, |rpm| Some(2.0 * rpm), 2.0).unwrap();
        assert!(both.contains("pulses per turn"), "{both}");
    }

    /// An interval in which speed changes by more than 1 % of 1500 rpm, and one with a gap, are not compared.
    #[test]
    fn only_steady_and_whole_intervals_count() {
        let mut tachometer = seen(&[1_470.0], Some);
        for (first, second, gap, count) in
            [(1_470.0, 1_484.0, false, 2), (1_470.0, 1_486.0, false, 2), (1_470.0, 1_470.0, true, 2)]
        {
            for rpm in [first, second] {
                tachometer.moment(&at(rpm));
            }
            if gap {
                tachometer.gap();
            }
            tachometer.interval(&Interval { state: State::Breaking, ..Interval::default() });
            assert_eq!(tachometer.intervals, count);
        }
    }
}
