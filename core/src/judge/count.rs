//! Energies, times and peaks.

use super::doubt::Part;
use super::memory::Memory;
use super::report::Totals;
use super::shaft::Shaft;
use crate::record::HalfCycle;
use crate::settings::JudgeCoefficients;
use crate::time::Span;
use crate::unit::{Joules, SquareAmps};

impl Memory {
    /// Sums count from here on.
    pub(crate) fn forget_totals(&mut self) {
        let Totals { idle, idle_spread, .. } = self.totals;
        self.totals = Totals { idle, idle_spread, max_thermal: self.trips.thermal(), ..Totals::default() };
    }

    /// The state that holds has held for so long.
    pub(super) fn add_time(&mut self, length: Span) {
        if let Some(time) = self.totals.time.get_mut(self.state as usize) {
            *time = time.plus(length);
        }
    }

    /// Takes a half cycle into the totals; `largest` is its largest mean square current.
    pub(super) fn count(&mut self, c: &JudgeCoefficients, half: &HalfCycle, largest: SquareAmps, shaft: &Shaft) {
        self.add_time(half.length);
        let t = &mut self.totals;
        if half.energy < Joules::ZERO {
            t.exported.add(Joules::from_bits(half.energy.to_bits().saturating_neg()));
        }
        t.electrical.add(half.energy);
        t.reactive.add(half.length.energy(half.reactive, c.seconds_per_frame));
        if let Some(energy) = t.energy.get_mut(self.state as usize) {
            energy.add(half.energy);
        }
        let before = core::mem::replace(&mut self.before, shaft.power);
        let energy = shaft.work(before, half.length, c.seconds_per_frame);
        let taken = Joules::from_bits(half.energy.to_bits().max(0));
        let part = Part { time: half.length, electrical: taken, shaft: energy };
        if self.motor.doubtful() {
            self.doubt.add(part, self.motor.share());
        } else {
            self.doubt.note(part);
        }
        if self.state.running() {
            t.shaft_q20 += i128::from(energy.to_bits()); // 2^64 half cycles fit
        }
        if largest > SquareAmps::of(t.peak_current) {
            t.peak_current = t.peak_current.max(largest.root());
        }
        t.clipped = t.clipped.saturating_add(u64::from(half.clipped));
    }
}
