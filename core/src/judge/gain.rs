//! Whether a tachometer shows the rotor gaining speed: by half a per cent of synchronous speed within the last second.
//!
//! Without a tachometer, or once it says nothing, it does not show it.

use crate::settings::JudgeCoefficients;
use crate::time::Instant;
use crate::unit::Rpm;

/// The memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Gain {
    /// A second's beginning and its speed.
    from: Option<(Instant, Rpm)>,
    gains: bool,
}

impl Gain {
    /// What it showed last.
    pub(super) const fn gains(&self) -> bool {
        self.gains
    }

    pub(super) fn update(&mut self, c: &JudgeCoefficients, now: Instant, tachometer: Option<Rpm>) -> bool {
        let Some(speed) = tachometer else {
            *self = Self::default();
            return false;
        };
        let (since, before) = *self.from.get_or_insert((now, speed));
        // Two halves of a second.
        if now.since(since) >= c.settle.plus(c.settle) {
            let rise = speed.to_bits().saturating_sub(before.to_bits());
            *self = Self { from: Some((now, speed)), gains: rise >= c.motor.synchronous_rpm / 200 };
        }
        self.gains
    }
}
