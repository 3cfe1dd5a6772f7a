//! One case through the reduced plant and the core.

use super::mills::{Case, Motor};
use shaftwork_core::judge::Judge;
use shaftwork_core::judge::report::Moment;
use shaftwork_core::settings::{JudgeCoefficients, Settings};
use shaftwork_sim::fit;
use shaftwork_sim::plant::Truth;
use shaftwork_sim::plant::reduced::{Refused, run};

/// What a half cycle brought.
#[derive(Debug, Clone, Copy)]
pub struct Half<'a> {
    /// Its end, s.
    pub t_s: f64,
    /// Its length, s.
    pub length_s: f64,
    /// What the core made of it.
    pub moment: &'a Moment,
    /// Largest phase's one-cycle rms over rated current.
    pub current: f64,
    /// What lies behind.
    pub truth: &'a Truth,
}

/// The core's settings for a motor.
///
/// # Panics
///
/// When the settings are refused: the harness itself is wrong then.
#[must_use]
pub fn core_settings(motor: &Motor) -> Settings {
    fit::core_settings(&motor.settings(), motor.machine.rate_hz).unwrap_or_else(|fault| panic!("{fault:#}"))
}

/// The core's coefficients with a rotor's inertia.
///
/// # Panics
///
/// When the settings are refused: the harness itself is wrong then.
#[must_use]
pub fn coefficients(settings: &Settings, inertia_kg_m2: Option<f64>) -> JudgeCoefficients {
    let mut settings = *settings;
    // Some hundred kg m² at most.
    settings.mill.inertia_gm2 = inertia_kg_m2.map(|inertia| (inertia * 1e3) as u32);
    settings.build().expect("the settings are sound").judge
}

/// Goes through a case.
///
/// # Panics
///
/// When the reduced model cannot do it: the harness itself is wrong then.
pub fn case(case: &Case, motor: &Motor, c: &JudgeCoefficients, mut each: impl FnMut(&Half<'_>, &mut Judge)) {
    let mut judge = Judge::new(c);
    let mut before_s = 0.0;
    run(&case.scenario, 0, |step| {
        let moment = judge.half_cycle(c, &step.record);
        let largest = step.record.current.iter().max().map_or(0, |square| square.root().to_bits());
        let t_s = step.truth.t_s;
        let half = Half {
            t_s,
            length_s: t_s - before_s,
            moment: &moment,
            current: f64::from(largest) / 131_072.0 / motor.rated_a,
            truth: &step.truth,
        };
        before_s = t_s;
        each(&half, &mut judge);
        Ok::<(), Refused>(())
    })
    .unwrap_or_else(|refused| panic!("{refused}"));
}
