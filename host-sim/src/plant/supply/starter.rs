//! How a motor is brought to the line: at once, in star first, or by thyristors that are fired ever earlier.
//!
//! ```text
//! star-delta:  closes --- star --- star_s --- open --- star_s + pause_s --- delta ...
//! soft:        closes --- firing angle falls evenly from `from_deg` to 0 --- ramp_s --- bypassed ...
//! ```
//!
//! Seconds from the closing of the contactor; the same at each closing. The change is an open one: the currents stop,
//! the field dies during the pause, and delta closes on whatever it has left, wherever it has turned to.

use super::super::terminals::Windings;
use serde::{Deserialize, Serialize};

/// A starter.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Starter {
    /// Straight to the line.
    #[default]
    Direct,
    /// In star first. The motor's circuit is that of delta.
    StarDelta {
        /// Time in star, s.
        star_s: f64,
        /// Time without current between star and delta, s (0.02 to 0.1 is usual).
        pause_s: f64,
    },
    /// Thyristors in each line, and a bypass once they are fully open.
    Soft {
        /// Firing angle at first, degrees after the zero of the phase's voltage, below 120.
        from_deg: f64,
        /// Time to full voltage, s.
        ramp_s: f64,
    },
}

impl Starter {
    /// How the windings are joined so long after closing.
    pub(super) fn windings(self, since_s: f64) -> Windings {
        match self {
            Self::StarDelta { star_s, .. } if since_s < star_s => Windings::Star,
            Self::Direct | Self::StarDelta { .. } | Self::Soft { .. } => Windings::Run,
        }
    }

    /// Whether no current flows, though the starter is on.
    pub(super) fn pauses(self, since_s: f64) -> bool {
        match self {
            Self::Direct | Self::Soft { .. } => false,
            Self::StarDelta { star_s, pause_s } => since_s >= star_s && since_s < star_s + pause_s,
        }
    }

    /// The angle at which thyristors are fired so long after closing, rad; none where none are at work.
    pub(super) fn firing_rad(self, since_s: f64) -> Option<f64> {
        match self {
            Self::Soft { from_deg, ramp_s } if since_s < ramp_s => {
                Some((from_deg * (1.0 - since_s / ramp_s)).to_radians())
            }
            Self::Direct | Self::StarDelta { .. } | Self::Soft { .. } => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn star_then_nothing_then_delta() {
        let starter = Starter::StarDelta { star_s: 4.0, pause_s: 0.05 };
        for (since, windings, pauses) in [
            (0.0, Windings::Star, false),
            (3.999, Windings::Star, false),
            (4.0, Windings::Run, true),
            (4.049, Windings::Run, true),
            (4.05, Windings::Run, false),
        ] {
            assert_eq!((starter.windings(since), starter.pauses(since)), (windings, pauses), "after {since} s");
        }
    }
}
