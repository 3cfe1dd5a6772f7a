//! The converter: engineering values become the codes that a board would have read.
//!
//! code = round(value / full scale x (2^(bits-1) - 1)), half away from zero, held at the ends. Gains,
//! offsets, skews and phase errors are not applied here: they describe what lies before the converter, and
//! the core corrects for them. A trace holds V and A at the primary side; full scales are peak values.

use crate::settings::Sampling;
use shaftwork_core::Frame;

/// Turns six values (V, V, V, A, A, A) into a frame.
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
    fn code(&self, value: f64, full_scale: f64) -> i32 {
        // At most 2^23 - 1 in magnitude, so the cast is exact; NaN becomes 0 by the rules of `as`.
        (value / full_scale * self.full_code).round().clamp(-self.full_code, self.full_code) as i32
    }

    /// The frame of one instant; values in the order of the frame, unused slots 0.
    pub fn frame(&self, values: [f64; 6]) -> Frame {
        let [v0, v1, v2, i0, i1, i2] = values;
        let (v, i) = (self.volts, self.amps);
        Frame([
            self.code(v0, v),
            self.code(v1, v),
            self.code(v2, v),
            self.code(i0, i),
            self.code(i1, i),
            self.code(i2, i),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
