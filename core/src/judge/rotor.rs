//! Heat that starts and stalls leave in the rotor's bars.
//!
//! ```text
//! heat   += slip x air-gap power x time               W: what crosses the air gap and does not turn the shaft
//! heat   -= heat x time / cooling time constant       at speed and at rest
//! start refused:  heat > (starts - 1) x heat of a start
//! ```
//!
//! A motor that brings an inertia from rest to its speed with nothing else to drive leaves as much heat in its rotor as the inertia
//! has kinetic energy then, whatever the torque (kinetic-energy rule; with a load torque Tl of the motor's Tm it is Tm / (Tm - Tl) times as
//! much). That is taken for the heat of a start until one has been seen; what was seen last counts from then on. NEMA MG 1-12.54 has motors that
//! bear two starts one after another from cold, so two is common; the heat of a stall counts as that of a start.
//!
//! The slip of a start is the estimate of [`super::slip`]: with deep bars known by `locked_rotor_torque`, else by the rotor's resistance
//! at speed alone, which takes it for larger and errs on the side of heat.

use super::shaft::Shaft;
use crate::math::log::ln_ratio;
use crate::math::scale::Scale;
use crate::settings::{JudgeCoefficients, RotorCoefficients};
use crate::time::Span;
use crate::unit::Joules;

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
            heat.saturating_add(length.energy(shaft.rotor, c.seconds_per_frame).to_bits().max(0))
        } else if let Some(c) = &c.restart.rotor {
            // Frames Q16 (at most 2^30) << 32 over the time constant in frames: a share at Q48, at most all of it.
            let share = c.cooling.apply((length.0.min(1 << 30) as i64) << 32).min(1 << 48);
            heat.saturating_sub(Scale::from_q(share, 48).apply(heat))
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

    /// The heat above which a start is refused; `None` where nothing is known of a start's.
    fn most(&self, c: &RotorCoefficients) -> Option<i64> {
        let start = if self.start > Joules::ZERO { self.start } else { c.kinetic? };
        Some(c.spare.apply(start.to_bits()))
    }

    /// How long until it has cooled enough for another start.
    pub(super) fn wait(&self, c: Option<&RotorCoefficients>) -> Span {
        let Some((c, most)) = c.and_then(|c| Some((c, self.most(c)?))) else { return Span::ZERO };
        let heat = self.heat.to_bits();
        if heat <= most {
            return Span::ZERO;
        }
        // ln at Q24, below 45: 30 bits, times frames at Q8 of ten hours at 16 kHz, 38 bits: held to 62.
        let ln = ln_ratio(heat.unsigned_abs(), most.max(1).unsigned_abs());
        let frames = (c.constant.0 >> 8).min(1 << 32) as i64;
        Span(((ln.saturating_mul(frames) >> 24) as u64) << 8).plus(Span(1 << 16))
    }
}
