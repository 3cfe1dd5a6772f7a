//! What happens in a scenario, and when.

use super::Scenario;
use super::fault::Fault;
use super::supply::Loss;

/// Something that happens at a known time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// When, s.
    pub t_s: f64,
    /// What.
    pub what: What,
}

/// What can happen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum What {
    /// The contactor closes.
    Closes,
    /// The contactor opens.
    Opens,
    /// A piece is thrown in; its mass, kg.
    Piece(f64),
    /// A wedge begins to hold the rotor.
    WedgeBegins,
    /// The wedge comes loose.
    WedgeEnds,
    /// The voltage begins to fall.
    SagBegins,
    /// The voltage begins to come back.
    SagEnds,
    /// The voltage begins to rise.
    SwellBegins,
    /// The voltage begins to come down again.
    SwellEnds,
    /// The frequency begins to change.
    DriftBegins,
    /// The frequency stays again.
    DriftEnds,
    /// A line is lost.
    LineLost(Loss),
    /// A line is back.
    LineBack(Loss),
    /// A channel begins to show something else.
    FaultBegins(Fault),
    /// The channel is sound again.
    FaultEnds(Fault),
    /// The belt between motor and mill is lost.
    BeltLost,
}

/// All that is bound to happen, in order of time.
pub(super) fn bound(scenario: &Scenario) -> Vec<Event> {
    let mut all: Vec<Event> = Vec::new();
    let mut add = |t_s, what| all.push(Event { t_s, what });
    for span in &scenario.supply.closed {
        add(span.from_s, What::Closes);
        add(span.until_s, What::Opens);
    }
    for sag in &scenario.supply.sags {
        let swell = sag.depth < 0.0;
        add(sag.from_s, if swell { What::SwellBegins } else { What::SagBegins });
        add(sag.until_s, if swell { What::SwellEnds } else { What::SagEnds });
    }
    for drift in &scenario.supply.drifts {
        add(drift.from_s, What::DriftBegins);
        add(drift.until_s, What::DriftEnds);
    }
    for loss in &scenario.supply.losses {
        add(loss.from_s, What::LineLost(*loss));
        add(loss.until_s, What::LineBack(*loss));
    }
    for fault in &scenario.sensor.faults {
        add(fault.from_s, What::FaultBegins(*fault));
        add(fault.until_s, What::FaultEnds(*fault));
    }
    if let Some(lost_s) = scenario.mill.belt_lost_s {
        add(lost_s, What::BeltLost);
    }
    if let Some(wedge) = scenario.mill.wedge {
        add(wedge.at_s, What::WedgeBegins);
        add(wedge.until_s, What::WedgeEnds);
    }
    all.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    all
}

/// The contactor opens now, and nothing that was to become of it later does; events before `told` are over.
pub(super) fn opened(events: &mut Vec<Event>, at_s: f64, told: usize) {
    let later = events.split_off(told.min(events.len()));
    events.push(Event { t_s: at_s, what: What::Opens });
    events.extend(later.into_iter().filter(|event| !matches!(event.what, What::Closes | What::Opens)));
}
