//! Means of the half cycles of a window: shaft power, torque, speed, and the state that held longest.

use super::event::State;
use super::report::Interval;
use super::shaft::Shaft;
use crate::math::divide::signed;
use crate::math::scale::narrow;
use crate::record::HalfCycle;
use crate::settings::JudgeCoefficients;
use crate::time::Span;
use crate::unit::{Newtonmetres, Ratio, Rpm, Watts};

/// Sums over half cycles, which are all of one length within 1 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Means {
    half_cycles: i64,
    power: i64,
    active: i64,
    reactive: i64,
    torque: i64,
    speed: i64,
    speeds: i64,
    /// Whether one of them was below 95 % of synchronous speed.
    slow: bool,
    time: [Span; 6],
}

impl Means {
    /// Whether the motor was at speed all the time: only then can the mill be idle.
    pub(super) const fn at_speed(&self) -> bool {
        !self.slow
    }

    /// Mean active and reactive power of the records.
    pub(super) fn powers(&self) -> (Watts, Watts) {
        let mean = |sum: i64| Watts::from_bits(signed(sum, self.half_cycles).unwrap_or(0));
        (mean(self.active), mean(self.reactive))
    }

    /// How long the window is so far.
    pub(super) fn length(&self) -> Span {
        self.time.iter().fold(Span::ZERO, |sum, time| sum.plus(*time))
    }

    pub(super) fn add(&mut self, shaft: &Shaft, state: State, half: &HalfCycle) {
        self.half_cycles += 1;
        self.active = self.active.saturating_add(half.active.to_bits());
        self.reactive = self.reactive.saturating_add(half.reactive.to_bits());
        self.power = self.power.saturating_add(shaft.power.to_bits());
        self.torque = self.torque.saturating_add(shaft.torque.to_bits().into());
        self.slow |= !shaft.at_speed();
        if let Some(speed) = shaft.speed {
            self.speed = self.speed.saturating_add(speed.to_bits().into());
            self.speeds += 1;
        }
        if let Some(time) = self.time.get_mut(state as usize) {
            *time = time.plus(half.length);
        }
    }

    /// Hands out the means and starts anew. Speed is known when it was for most of the window.
    pub(super) fn close(&mut self, c: &JudgeCoefficients, thermal: Option<Ratio>, mass_mg: Option<u64>) -> Interval {
        let mean = |sum: i64, count: i64| signed(sum, count).unwrap_or(0);
        let shaft = Watts::from_bits(mean(self.power, self.half_cycles));
        let mut longest = (Span::ZERO, State::Unknown);
        for (time, state) in self.time.iter().zip(State::ALL) {
            if *time > longest.0 {
                longest = (*time, state);
            }
        }
        let interval = Interval {
            shaft,
            torque: Newtonmetres::from_bits(narrow(mean(self.torque, self.half_cycles))),
            speed: if self.speeds * 2 > self.half_cycles {
                Some(Rpm::from_bits(narrow(mean(self.speed, self.speeds))))
            } else {
                None
            },
            load: Ratio::from_bits(narrow(c.motor.load.apply(shaft.to_bits()))),
            thermal,
            mass_mg,
            state: longest.1,
            ..Interval::default()
        };
        *self = Self::default();
        interval
    }
}
