//! What a trace looks like under the settings as they are set: for pictures alone.

use shaftwork_core::judge::Judge;
use shaftwork_core::settings::JudgeCoefficients;

use super::records::{Records, Step};
use crate::report::number::watts;
use crate::settings::Settings;

/// A half cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Its end, s.
    pub t_s: f32,
    /// Largest one-cycle rms current, % of rated.
    pub current_pct: f32,
    /// Shaft power, % of rated.
    pub load_pct: f32,
    /// Whether the motor runs at speed.
    pub runs: bool,
}

/// The half cycles of a trace.
#[derive(Debug, Default)]
pub struct Course(pub Vec<Point>);

impl Course {
    /// By the core's judge.
    pub fn new(c: &JudgeCoefficients, records: &Records, settings: &Settings) -> Self {
        let (rated_a, rated_kw) = (settings.motor.rated_current_a, settings.motor.rated_power_kw);
        let mut judge = Judge::new(c);
        if let Some(snapshot) = &records.begin {
            judge.resume_from(c, snapshot);
        }
        let mut points = Vec::new();
        for step in &records.steps {
            match step {
                Step::Half(half) => {
                    let moment = judge.half_cycle(c, half);
                    while judge.pop_event().is_some() {}
                    let largest = half.current.into_iter().max().unwrap_or_default().root();
                    points.push(Point {
                        t_s: records.seconds(half.end) as f32,
                        current_pct: (largest.0.to_num::<f64>() / rated_a * 100.0) as f32,
                        load_pct: (watts(moment.shaft) / rated_kw / 10.0) as f32,
                        runs: moment.state.running(),
                    });
                }
                Step::Speed(speed) => judge.set_speed(*speed),
                Step::Gap { at, length } => judge.gap(c, *at, *length),
            }
        }
        Self(points)
    }

    /// When the current was highest while the motor ran, s; the middle where it never ran.
    pub fn heaviest_s(&self) -> f64 {
        let running = self.0.iter().filter(|point| point.runs);
        let highest = running.max_by(|a, b| a.current_pct.total_cmp(&b.current_pct).then(b.t_s.total_cmp(&a.t_s)));
        highest.or(self.0.get(self.0.len() / 2)).map_or(0.0, |point| point.t_s.into())
    }
}
