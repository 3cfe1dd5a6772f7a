//! What the half cycles brought in which running speed shows, but is not sure yet.
//!
//! They are counted as starting until the run-up is sure; then their time and energy are those of a motor that runs.
//! The motor gives its highest power just then: left where they were they would be missing from the shaft's energy.

use super::event::State;
use super::report::Totals;
use crate::time::Span;
use crate::unit::Joules;

/// At most three half cycles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Doubt {
    time: Span,
    electrical: Joules,
    shaft: Joules,
}

impl Doubt {
    /// Adds a half cycle. Energies of three half cycles: each below 2^43 J at Q20.
    pub(super) const fn add(&mut self, time: Span, electrical: Joules, shaft: Joules) {
        self.time = self.time.plus(time);
        // What is given back stands in a register of its own, in no state's.
        if electrical.to_bits() > 0 {
            self.electrical = Joules::from_bits(self.electrical.to_bits().saturating_add(electrical.to_bits()));
        }
        self.shaft = Joules::from_bits(self.shaft.to_bits().saturating_add(shaft.to_bits()));
    }

    /// The run-up is sure: what was counted as starting moves to the state that has been entered.
    pub(super) fn settle(&mut self, totals: &mut Totals, state: State) {
        for ((time, energy), each) in totals.time.iter_mut().zip(&mut totals.energy).zip(State::ALL) {
            if each == State::Starting {
                *time = time.less(self.time);
                energy.take(self.electrical);
            } else if each == state {
                *time = time.plus(self.time);
                energy.add(self.electrical);
            }
        }
        totals.shaft_q20 = totals.shaft_q20.saturating_add(i128::from(self.shaft.to_bits()));
        *self = Self::default();
    }
}
