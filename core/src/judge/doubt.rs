//! What the half cycles brought in which running speed shows, but is not sure yet.
//!
//! They are counted as starting until the run-up is sure; then their time and energy are those of a motor that runs.
//! The motor gives its highest power just then: left where they were they would be missing from the shaft's energy.

use super::event::State;
use super::report::Totals;
use crate::math::scale::Scale;
use crate::time::Span;
use crate::unit::Joules;

/// At most three half cycles, and a share of the one before them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Doubt {
    sum: Part,
    before: Part,
}

/// What a half cycle brought. Energies below 2^43 J at Q20.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Part {
    pub(super) time: Span,
    /// Taken; what is given back stands in a register of its own, in no state's.
    pub(super) electrical: Joules,
    pub(super) shaft: Joules,
}

impl Part {
    const fn plus(self, other: Self) -> Self {
        Self {
            time: self.time.plus(other.time),
            electrical: Joules::from_bits(self.electrical.to_bits().saturating_add(other.electrical.to_bits())),
            shaft: Joules::from_bits(self.shaft.to_bits().saturating_add(other.shaft.to_bits())),
        }
    }

    /// A share of it, Q24 to one.
    fn share(self, share: i64) -> Self {
        let of = |energy: Joules| Joules::from_bits(Scale::from_q(share, 24).apply(energy.to_bits()));
        Self { time: self.time.part(share), electrical: of(self.electrical), shaft: of(self.shaft) }
    }
}

impl Doubt {
    /// Adds a half cycle that is doubtful; the first of them with the share of the one before.
    pub(super) fn add(&mut self, part: Part, share: Option<i64>) {
        if let Some(share) = share {
            self.sum = self.before.share(share);
        }
        self.sum = self.sum.plus(part);
    }

    /// Notes a half cycle that is not.
    pub(super) const fn note(&mut self, before: Part) {
        self.before = before;
    }

    /// The run-up is sure: what was counted as starting moves to the state that has been entered.
    #[inline(never)] // once a start
    pub(super) fn settle(&mut self, totals: &mut Totals, state: State) {
        let Part { time: length, electrical, .. } = self.sum;
        if state != State::Starting
            && let Some((time, energy)) = totals.of(state)
        {
            *time = time.plus(length);
            energy.add(electrical);
        }
        if let Some((time, energy)) = totals.of(State::Starting) {
            *time = time.less(length);
            energy.take(electrical);
        }
        totals.shaft_q20 = totals.shaft_q20.saturating_add(i128::from(self.sum.shaft.to_bits()));
        *self = Self::default();
    }
}
