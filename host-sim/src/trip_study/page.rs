//! `study.html`.

use shaftwork_core::judge::Judge;
use shaftwork_core::settings::JudgeCoefficients;

use super::Found;
use super::records::{Records, Step};
use crate::report::number::watts;

/// Currents and power of a trace over time, under the settings as they are set.
#[derive(Debug, Default)]
pub struct Course {
    /// End of each half cycle, s; largest current, A; shaft power, share of rated; whether the motor runs at speed.
    pub points: Vec<(f32, f32, f32, bool)>,
}

impl Course {
    /// By the core's judge.
    pub fn new(c: &JudgeCoefficients, records: &Records, rated_kw: f64) -> Self {
        let mut judge = Judge::new(c);
        let mut points = Vec::new();
        for step in &records.steps {
            match step {
                Step::Half(half) => {
                    let moment = judge.half_cycle(c, half);
                    while judge.pop_event().is_some() {}
                    let largest = half.current.into_iter().max().unwrap_or_default().root();
                    let shaft = watts(moment.shaft) / 1e3 / rated_kw;
                    points.push((
                        records.seconds(half.end) as f32,
                        largest.0.to_num::<f64>() as f32,
                        shaft as f32,
                        moment.state.running(),
                    ));
                }
                Step::Speed(speed) => judge.set_speed(*speed),
                Step::Gap { at, length } => judge.gap(c, *at, *length),
            }
        }
        Self { points }
    }
}

/// The page.
///
/// # Errors
/// It cannot be made.
pub fn html(found: &Found) -> anyhow::Result<String> {
    Ok(format!("<!doctype html><title>{}</title>", found.folder))
}
