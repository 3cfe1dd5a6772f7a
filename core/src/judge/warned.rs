//! Warnings: what is worth telling though nothing trips on it, told once.

use super::event::Warning;
use super::trip::{View, phase_reversal};

/// What has been told and still holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Warned {
    clipped: bool,
    voltage_gone: bool,
    phase_order: bool,
}

impl Warned {
    /// Clipping is told once a run, the order of phases once, voltage each time it goes.
    pub(super) fn update(&mut self, view: &View, mut tell: impl FnMut(Warning)) {
        let View { half, flows, lives, state, .. } = view;
        let before = *self;
        *self = Self {
            clipped: *flows && before.clipped || state.running() && half.clipped > 0,
            voltage_gone: !lives && *flows,
            phase_order: before.phase_order || *lives && phase_reversal::voltages(half),
        };
        if *self == before {
            return; // as nearly always
        }
        for (was, is, warning) in [
            (before.clipped, self.clipped, Warning::Clipped),
            (before.voltage_gone, self.voltage_gone, Warning::VoltageGone),
            (before.phase_order, self.phase_order, Warning::PhaseOrder),
        ] {
            if is && !was {
                tell(warning);
            }
        }
    }
}
