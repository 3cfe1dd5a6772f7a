//! Heat that starts and stalls leave in the rotor's bars.
//!
//! ```text
//! heat   += slip x air-gap power x time               W: what crosses the air gap and does not turn the shaft
//! heat   -= heat x time / cooling time constant       at speed and at rest
//! bears   = starts x kinetic energy at synchronous speed
//! start refused:  heat + heat of a start > bears
//! ```
//!
//! A motor that brings an inertia from rest to its speed with nothing else to drive leaves as much heat in its rotor as the inertia
//! has kinetic energy then, whatever the torque (kinetic-energy rule; with a load torque Tl of the motor's Tm it is Tm / (Tm - Tl) times as
//! much). So what the rotor bears is told in starts of that kind, which needs the inertia. The next start is expected to leave as much as the last one
//! did, and never less than the rule; from cold one start is always allowed, since more than the bars bear is the long-start element's to end.
//! NEMA MG 1-12.54 has motors that bear two starts one after another from cold, with a load that goes with the square of speed: with 2.5 the second is
//! allowed up to a fourth more heat than the rule. What a stall leaves counts as well.
//!
//! The slip of a start is the estimate of [`super::slip`]: with deep bars known by `locked_rotor_torque`, else by the rotor's resistance
//! at speed alone, which takes it for larger and errs on the side of heat.

use super::shaft::Shaft;
use crate::math::divide::by;
use crate::math::lag::{share, time};
use crate::settings::{JudgeCoefficients, RotorCoefficients};
use crate::time::Span;
use crate::unit::{Joules, Watts};

/// The memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Rotor {
    heat: Joules,
    /// At the last onset of current.
    onset: Joules,
    /// What the last start left; nothing before one was seen.
    start: Joules,
}

impl Rotor {
    /// As it was before a power cut: nothing has cooled.
    pub(super) const fn resumed(heat: Joules, start: Joules) -> Self {
        Self { heat, onset: heat, start }
    }

    /// A half cycle; `heats`: current flows and the motor is not at speed.
    pub(super) fn update(&mut self, c: &JudgeCoefficients, length: Span, shaft: &Shaft, heats: bool) {
        let heat = self.heat.to_bits();
        self.heat = Joules::from_bits(if heats {
            let power = Watts::from_bits(c.motor.unit_to_power.apply(shaft.rotor));
            heat.saturating_add(length.energy(power, c.seconds_per_frame).to_bits().max(0))
        } else if let Some(c) = &c.restart.rotor {
            heat.saturating_sub(share(c.cooling, length).apply(heat))
        } else {
            heat
        });
    }

    /// The current has come.
    pub(super) const fn started(&mut self) {
        self.onset = self.heat;
    }

    /// The motor has run up: what that start left.
    pub(super) fn ran_up(&mut self) -> Joules {
        self.start = Joules::from_bits(self.heat.to_bits().saturating_sub(self.onset.to_bits()).max(0));
        self.start
    }

    /// Heat, and that of a start.
    pub(super) const fn saved(&self) -> [Joules; 2] {
        [self.heat, self.start]
    }

    /// The heat above which a start is refused: what is left when the next one has had its share.
    fn most(&self, c: &RotorCoefficients) -> i64 {
        let start = self.start.to_bits().max(c.kinetic.to_bits());
        // A start from cold, a twentieth of one, is always allowed.
        c.bears.to_bits().saturating_sub(start).max(by(c.kinetic.to_bits(), 20))
    }

    /// How long until it has cooled enough for another start.
    pub(super) fn wait(&self, c: Option<&RotorCoefficients>) -> Span {
        let Some(c) = c else { return Span::ZERO };
        let (heat, most) = (self.heat.to_bits(), self.most(c));
        if heat <= most {
            return Span::ZERO;
        }
        time(c.constant, heat.unsigned_abs(), most.max(1).unsigned_abs()).plus(Span(1 << 16))
    }
}
