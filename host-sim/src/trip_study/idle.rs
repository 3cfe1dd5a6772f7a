//! What is varied in vain: elements that are off, or that do not trip.

use shaftwork_core::Cause;
use shaftwork_core::settings::{Action, TripCoefficients};

use super::candidates::{Candidate, USUAL_HZ};
use super::vary::Vary;
use crate::fit;
use crate::report::event::cause_name;
use crate::settings::Settings;

/// What is varied in vain: elements that are off, or that do not trip.
pub(super) fn idle(vary: &Vary, all: &[Candidate], base: &Settings) -> Vec<String> {
    let mut notes = Vec::new();
    let acts = |settings: &Settings| fit::core_settings(settings, USUAL_HZ).ok().and_then(|made| made.build().ok());
    let first = all.first().map_or_else(|| acts(base), |candidate| acts(&candidate.settings));
    let Some(first) = first else { return notes };
    for cause in Cause::ALL {
        let prefix = format!("trip.{}.", table(cause));
        if !vary.keys.iter().any(|key| key.name.starts_with(&prefix)) {
            continue;
        }
        let varies = |what: &str| vary.keys.iter().any(|key| key.name == format!("{prefix}{what}"));
        match action(&first.judge.trips, cause) {
            None if !varies("enabled") => notes.push(format!(
                "[{}] is off (enabled = false): what is varied of it changes nothing; to mend it, write enabled = true into it",
                prefix.trim_end_matches('.')
            )),
            Some(Action::FeedStop | Action::Warning) if !varies("action") => notes.push(format!(
                "{} does not trip, by its action: only trips are compared; to mend it, write action = \"trip\" into [{}]",
                cause_name(cause),
                prefix.trim_end_matches('.')
            )),
            _ => {}
        }
    }
    notes
}

/// What an element does; nothing of one that is off.
pub(super) fn action(c: &TripCoefficients, cause: Cause) -> Option<Action> {
    match cause {
        Cause::ThermalOverload => c.thermal.map(|_| Action::Trip),
        Cause::Jam => c.jam.map(|e| e.action),
        Cause::LongStart => c.long_start.map(|_| Action::Trip),
        Cause::PhaseLoss => c.phase_loss.map(|e| e.action),
        Cause::Undervoltage => c.undervoltage.map(|e| e.element.action),
        Cause::Overvoltage => c.overvoltage.map(|e| e.action),
        Cause::PhaseReversal => c.phase_reversal.map(|e| e.action),
        Cause::CurrentUnbalance => c.current_unbalance.map(|e| e.action),
        Cause::ResidualCurrent => c.residual_current.map(|e| e.action),
        Cause::Underload => c.underload.map(|e| e.action),
        Cause::SensorFault => c.sensor_fault.map(|e| e.action),
        Cause::StartsPerHour => c.starts_per_hour.map(|e| e.action),
        Cause::Wedge => c.wedge.map(|e| e.action),
        _ => None,
    }
}

/// The table of an element under `[trip]`.
pub(super) fn table(cause: Cause) -> String {
    match cause {
        Cause::ThermalOverload => "thermal".to_owned(),
        other => cause_name(other).replace('-', "_"),
    }
}
