//! The converter: engineering values become the codes that a board would have read.
//!
//! code = round(value / full scale x (2^(bits-1) - 1)), half away from zero, held at the ends. Gains,
//! offsets, skews and phase errors are not applied here: they describe what lies before the converter, and
//! the core corrects for them. A trace holds V and A at the primary side; full scales are peak values.

use crate::settings::Sampling;
use shaftwork_core::Frame;

/// 2^52: the lowest number from which on an f64 is whole.
const WHOLE: f64 = 4_503_599_627_370_496.0;

/// Turns rows of six values (V, V, V, A, A, A) into frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Converter {
    volts: f64,
    amps: f64,
    full_code: f64,
}

impl Converter {
    /// A converter of the settings' width and full scales.
    pub fn new(sampling: &Sampling) -> Self {
        Self {
            volts: sampling.voltage_full_scale_v,
            amps: sampling.current_full_scale_a,
            full_code: f64::from(sampling.full_scale_count()),
        }
    }

    /// The code of one value at a full scale, both in the same unit; 0 for what is no number.
    ///
    /// `round` and the cast are calls and jumps on many machines, and this is done for every sample: here
    /// both are steps that are exact below 2^51, without a branch, so that several values go at once.
    #[inline]
    fn code(&self, value: f64, full_scale: f64) -> i32 {
        let x = value / full_scale * self.full_code;
        let size = if x.abs() < self.full_code { x.abs() } else { self.full_code }; // at most 2^23 - 1
        // From 2^52 on an f64 has no decimals: the sum is rounded to a whole number, ties to even.
        let even = size + WHOLE - WHOLE;
        let away = if size - even >= 0.5 { even + 1.0 } else { even };
        // The low bits of 1.5 x 2^52 + n are those of n, negative ones as well.
        let code = (away.copysign(x) + 1.5 * WHOLE).to_bits() as i32;
        if x.is_nan() { 0 } else { code }
    }

    /// The frame of one instant; values in the order of the frame, unused slots 0.
    pub fn frame(&self, values: [f64; 6]) -> Frame {
        let mut frame = [Frame::default()];
        self.frames(values.each_ref().map(std::slice::from_ref), &mut frame);
        frame[0]
    }

    /// The frames of some rows, by column in the order of the frame; what a column lacks is 0.
    pub fn frames(&self, columns: [&[f64]; 6], frames: &mut [Frame]) {
        for (slot, column) in columns.into_iter().enumerate() {
            let full_scale = if slot < 3 { self.volts } else { self.amps };
            for (frame, value) in frames.iter_mut().zip(column) {
                frame.0[slot] = self.code(*value, full_scale);
            }
            for frame in frames.iter_mut().skip(column.len()) {
                frame.0[slot] = 0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bits(bits: u32) -> Converter {
        let full_code = f64::from((1_i32 << (bits - 1)) - 1);
        Converter { volts: 800.0, amps: 1400.0, full_code }
    }

    /// Own arithmetic: full scale is code 2^(bits-1) - 1 on either side.
    #[test]
    fn full_scale_and_one_code_either_side() {
        for (b, full) in [(12, 2_047), (16, 32_767), (24, 8_388_607)] {
            let c = bits(b);
            let step = 800.0 / f64::from(full);
            assert_eq!(c.code(800.0, 800.0), full);
            assert_eq!(c.code(-800.0, 800.0), -full);
            assert_eq!(c.code(800.0 - step, 800.0), full - 1);
            assert_eq!(c.code(-800.0 + step, 800.0), 1 - full);
            assert_eq!(c.code(800.0 + step, 800.0), full, "held");
            assert_eq!(c.code(-800.0 - step, 800.0), -full, "held");
            assert_eq!(c.code(0.49 * step, 800.0), 0);
            assert_eq!(c.code(0.51 * step, 800.0), 1);
            assert_eq!(c.code(-0.51 * step, 800.0), -1);
        }
    }

    /// By the definition in the head of this file, in the standard library's own steps.
    fn by_definition(c: &Converter, value: f64, full_scale: f64) -> i32 {
        (value / full_scale * c.full_code).round().clamp(-c.full_code, c.full_code) as i32
    }

    #[test]
    fn every_code_and_its_neighbours_are_rounded_by_the_definition() {
        for b in [12, 16, 24] {
            let c = bits(b);
            // With a full scale equal to the code the quotient times it comes back, ties among it.
            for full_scale in [c.full_code, 1.0, 800.0, 655.34] {
                let step = full_scale / c.full_code / 2.0;
                let last = 2 * c.full_code as i64 + 6;
                for half in (0..=last).step_by(if b == 24 { 101 } else { 1 }) {
                    let x = half as f64 * step;
                    for x in [x, x.next_up(), x.next_down(), -x, -x.next_up(), -x.next_down()] {
                        assert_eq!(c.code(x, full_scale), by_definition(&c, x, full_scale), "{x:e} of {full_scale}");
                    }
                }
            }
        }
    }

    proptest! {
        #[test]
        fn any_value_is_rounded_by_the_definition(value in any::<f64>(), near in -900.0..900.0_f64, b in 12..=24_u32) {
            let c = bits(b);
            for x in [value, near] {
                prop_assert_eq!(c.code(x, 800.0), by_definition(&c, x, 800.0));
            }
        }
    }

    #[test]
    fn what_a_column_lacks_is_nothing() {
        let (long, short) = ([800.0; 3], [1400.0]);
        let mut frames = [Frame([7; 6]); 3];
        bits(16).frames([&long, &[], &long, &short, &[], &[]], &mut frames);
        assert_eq!(frames.map(|f| f.0[0]), [32_767; 3]);
        assert_eq!(frames.map(|f| f.0[1]), [0; 3]);
        assert_eq!(frames.map(|f| f.0[3]), [32_767, 0, 0]);
    }

    #[test]
    fn voltages_and_currents_have_their_own_scale() {
        assert_eq!(
            bits(16).frame([800.0, -800.0, 0.0, 1400.0, -1400.0, 700.0]).0,
            [32_767, -32_767, 0, 32_767, -32_767, 16_384]
        );
    }

    #[test]
    fn odd_values_stay_inside() {
        let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, -0.0];
        assert_eq!(bits(16).frame(odd).0, [0, 32_767, -32_767, 32_767, -32_767, 0]);
    }
}
