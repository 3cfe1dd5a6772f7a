//! From sums over half cycles to the record that the meter would have made.
//!
//! ```text
//! i = P e^(j theta) + N e^(-j theta)      mean square of phase x: (|P|^2 + |N|^2) / 2 + Re(P N e^(-j 2 x 120 deg))
//! ```
//!
//! As in the core's meter the energy is the half cycle's own, all else is the cycle's that ends with it; the first
//! record of all has but half a cycle, a fragment at the end has its forerunner's figures. Four-wire: voltages are phase
//! to neutral. No sample, so nothing is clipped.

use super::field::{Means, Pair};
use num_complex::Complex64 as Complex;
use shaftwork_core::record::HalfCycle;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{Amps, Joules, SquareAmps, SquareVolts, Volts, Watts};
use std::f64::consts::{FRAC_1_SQRT_2, TAU};

/// Integrals over a stretch of time.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    seconds: f64,
    pub(super) energy_j: f64,
    current: Pair,
    current_square: f64,
    current_space: Complex,
    volts: Pair,
    volts_square: f64,
    volts_cross: Complex,
}

impl Sums {
    /// Adds a step's means.
    pub(super) fn add(&mut self, means: &Means, h_s: f64) {
        self.seconds += h_s;
        self.energy_j += h_s * means.electrical_w;
        self.current.add(means.current, h_s);
        self.current_square += h_s * means.current_square;
        self.current_space += h_s * means.current_space;
        // The voltage changes little within a step: the square of its mean serves.
        let v = means.volts;
        self.volts.add(v, h_s);
        self.volts_square += h_s * (v.with.norm_sqr() + v.against.norm_sqr());
        self.volts_cross += h_s * v.with * v.against;
    }

    fn plus(&self, other: &Self) -> Self {
        let mut both = *self;
        both.seconds += other.seconds;
        both.energy_j += other.energy_j;
        both.current.add(other.current, 1.0);
        both.current_square += other.current_square;
        both.current_space += other.current_space;
        both.volts.add(other.volts, 1.0);
        both.volts_square += other.volts_square;
        both.volts_cross += other.volts_cross;
        both
    }
}

impl Pair {
    fn add(&mut self, other: Self, share: f64) {
        self.with += share * other.with;
        self.against += share * other.against;
    }
}

/// Makes the records of a run.
#[derive(Debug, Clone)]
pub(super) struct Records {
    rate_hz: f64,
    /// Half cycles in a window.
    window: u8,
    counted: u8,
    end: Instant,
    before: Sums,
    last: Option<HalfCycle>,
}

impl Records {
    /// For frames at a rate, Hz, and a nominal frequency, Hz.
    pub(super) fn new(rate_hz: f64, frequency_hz: f64) -> Self {
        let window = if frequency_hz < 55.0 { 20 } else { 24 };
        Self { rate_hz, window, counted: 0, end: Instant(0), before: Sums::default(), last: None }
    }

    /// The record of a half cycle that ends at a time. `whole`: it ends by itself, not because the run does.
    pub(super) fn close(&mut self, sums: &Sums, end_s: f64, whole: bool) -> HalfCycle {
        let end = Instant(bits(end_s * self.rate_hz, 16).max(0) as u64);
        let length = end.since(self.end);
        let mut half = match self.last {
            Some(last) if !whole => last,
            _ => self.cycle(&self.before.plus(sums), length),
        };
        half.end = end;
        half.length = length;
        half.energy = Joules::from_bits(bits(sums.energy_j, 20));
        self.counted += u8::from(whole);
        half.closes_window = whole && self.counted >= self.window;
        if half.closes_window {
            self.counted = 0;
        }
        if whole {
            (self.last, self.before, self.end) = (Some(half), *sums, end);
        }
        half
    }

    /// The figures of a cycle that ends with a half cycle of this length.
    fn cycle(&self, sums: &Sums, length: Span) -> HalfCycle {
        let per = 1.0 / sums.seconds;
        let mean = |pair: Pair| [pair.with * per, pair.against.conj() * per];
        let ([v, v_against], [i, i_against]) = (mean(sums.volts), mean(sums.current));
        let squares = |square: f64, cross: Complex| {
            [0.0, 1.0, 2.0].map(|x: f64| {
                let turned = cross * Complex::cis(-2.0 * x * TAU / 3.0);
                ((square / 2.0 + turned.re) * per).max(0.0)
            })
        };
        let rms = |x: Complex, q: i32| bits(x.norm() * FRAC_1_SQRT_2, q) as i32;
        let reactive = 1.5 * ((v * i.conj()).im + (v_against * i_against.conj()).im);
        HalfCycle {
            cycle: length.plus(self.last.map_or(Span::ZERO, |last| last.length)),
            active: Watts::from_bits(bits(sums.energy_j * per, 16)),
            reactive: Watts::from_bits(bits(reactive, 16)),
            voltage: squares(sums.volts_square, sums.volts_cross).map(|x| SquareVolts(bits(x, 32) as u64)),
            current: squares(sums.current_square, sums.current_space).map(|x| SquareAmps(bits(x, 34) as u64)),
            voltage_positive: Volts::from_bits(rms(v, 16)),
            voltage_negative: Volts::from_bits(rms(v_against, 16)),
            current_positive: Amps::from_bits(rms(i, 17)),
            current_negative: Amps::from_bits(rms(i_against, 17)),
            ..HalfCycle::default()
        }
    }
}

/// A figure in steps of 2^-q, rounded; beyond the integer's ends it stays at them.
fn bits(value: f64, q: i32) -> i64 {
    (value * 2.0_f64.powi(q)).round() as i64
}
