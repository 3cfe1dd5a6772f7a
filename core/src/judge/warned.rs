//! Warnings: what is worth telling though nothing trips on it, told once.

use super::event::Warning;
use crate::record::HalfCycle;
use crate::settings::JudgeCoefficients;

/// What has been told and still holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Warned {
    clipped: bool,
    voltage_gone: bool,
    phase_order: bool,
}

impl Warned {
    /// Clipping is told once a run, the order of phases once, voltage each time it goes.
    pub(super) fn update(
        &mut self,
        c: &JudgeCoefficients,
        half: &HalfCycle,
        running: bool,
        flows: bool,
        mut tell: impl FnMut(Warning),
    ) {
        let gone = half.voltage_positive < c.voltage_gone && half.voltage_negative < c.voltage_gone;
        let reverse = half.voltage_negative.to_bits() / 2 > half.voltage_positive.to_bits();
        let before = *self;
        *self = Self {
            clipped: flows && before.clipped || running && half.clipped > 0,
            voltage_gone: gone && flows,
            phase_order: before.phase_order || reverse && !gone,
        };
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
