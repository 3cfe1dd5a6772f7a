//! Exact waveforms of a three-phase load in steady state, and the figures that follow from them.
//!
//! ```text
//! x_p(t) = sqrt2 [ X1 cos(w t + a1 - p 120) + X2 cos(w t + a2 + p 120) + sum_h Xh cos(h (w t - p 120) + ah) ],   p = 0, 1, 2
//! ```
//!
//! V, A rms; degrees; Hz. No zero sequence, so phase and line quantities tell the same. Harmonics are balanced.

use std::f64::consts::{SQRT_2, TAU};

/// One component: its rms and its phase in degrees.
#[derive(Clone, Copy)]
pub struct Part(pub f64, pub f64);

/// Three phases of a voltage or of a current.
pub struct Wave {
    /// Positive sequence.
    pub positive: Part,
    /// Negative sequence.
    pub negative: Part,
    /// Harmonics, by order.
    pub harmonics: &'static [(u32, Part)],
}

impl Wave {
    /// The three phases at a number of cycles since time 0.
    pub fn at(&self, cycles: f64) -> [f64; 3] {
        std::array::from_fn(|p| {
            let third = p as f64 / 3.0;
            let cos = |turns: f64, degrees: f64| (TAU * (turns + degrees / 360.0).fract()).cos();
            let mut sum = self.positive.0 * cos(cycles - third, self.positive.1)
                + self.negative.0 * cos(cycles + third, self.negative.1);
            for (order, part) in self.harmonics {
                sum += part.0 * cos(f64::from(*order) * (cycles - third), part.1);
            }
            SQRT_2 * sum
        })
    }

    /// rms of the fundamental of each phase.
    pub fn fundamental(&self) -> [f64; 3] {
        let (Part(x1, a1), Part(x2, a2)) = (self.positive, self.negative);
        std::array::from_fn(|p| {
            let angle = (a1 - a2 - 240.0 * p as f64).to_radians();
            (x1 * x1 + x2 * x2 + 2.0 * x1 * x2 * angle.cos()).sqrt()
        })
    }

    fn distortion(&self) -> f64 {
        self.harmonics.iter().fold(0.0, |sum: f64, (_, part)| sum.hypot(part.0))
    }

    /// rms of each phase, harmonics included.
    pub fn rms(&self) -> [f64; 3] {
        self.fundamental().map(|x| x.hypot(self.distortion()))
    }

    /// Total harmonic distortion of each phase, %.
    pub fn thd_pct(&self) -> [f64; 3] {
        self.fundamental().map(|x| 100.0 * self.distortion() / x)
    }

    /// Negative over positive sequence, %.
    pub fn unbalance_pct(&self) -> f64 {
        100.0 * self.negative.0 / self.positive.0
    }

    /// The same seen between lines: A to B, B to C, C to A. Without harmonics only.
    pub fn between_lines(&self) -> Self {
        assert!(self.harmonics.is_empty(), "harmonics turn either way: not worked out");
        let root = 3.0_f64.sqrt();
        let (Part(x1, a1), Part(x2, a2)) = (self.positive, self.negative);
        Self { positive: Part(root * x1, a1 + 30.0), negative: Part(root * x2, a2 - 30.0), harmonics: &[] }
    }
}

/// Active power, W; reactive power of the fundamentals, var; apparent power as sum over phases, VA.
pub fn powers(voltage: &Wave, current: &Wave) -> [f64; 3] {
    let mut complex = [0.0, 0.0];
    for (v, i) in [(voltage.positive, current.positive), (voltage.negative, current.negative)] {
        let (sin, cos) = (v.1 - i.1).to_radians().sin_cos();
        complex[0] += 3.0 * v.0 * i.0 * cos;
        complex[1] += 3.0 * v.0 * i.0 * sin;
    }
    for (order, v) in voltage.harmonics {
        for (_, i) in current.harmonics.iter().filter(|(other, _)| other == order) {
            complex[0] += 3.0 * v.0 * i.0 * (v.1 - i.1).to_radians().cos();
        }
    }
    let apparent = voltage.rms().iter().zip(current.rms()).map(|(v, i)| v * i).sum();
    [complex[0], complex[1], apparent]
}

#[cfg(test)]
mod tests {
    use super::*;

    const VOLTAGE: Wave =
        Wave { positive: Part(230.0, 0.0), negative: Part(4.0, 50.0), harmonics: &[(5, Part(6.0, 20.0))] };
    const CURRENT: Wave =
        Wave { positive: Part(90.0, -31.0), negative: Part(7.0, 10.0), harmonics: &[(5, Part(8.0, -40.0))] };

    fn mean(of: impl Fn(f64) -> f64) -> f64 {
        (0..1000).map(|n| of(f64::from(n) / 1000.0)).sum::<f64>() / 1000.0
    }

    /// The formulas against sums over a cycle.
    #[test]
    fn figures_follow_from_the_samples() {
        for p in 0..3 {
            let rms = mean(|t| VOLTAGE.at(t)[p].powi(2)).sqrt();
            assert!((rms - VOLTAGE.rms()[p]).abs() < 1e-9);
        }
        let [active, _, _] = powers(&VOLTAGE, &CURRENT);
        let sum = mean(|t| VOLTAGE.at(t).iter().zip(CURRENT.at(t)).map(|(v, i)| v * i).sum());
        assert!((sum - active).abs() < 1e-6);
    }

    #[test]
    fn lines_are_differences_of_phases() {
        let plain = Wave { harmonics: &[], ..VOLTAGE };
        let (v, lines) = (plain.at(0.123), plain.between_lines().at(0.123));
        for p in 0..3 {
            assert!((lines[p] - (v[p] - v[(p + 1) % 3])).abs() < 1e-9);
        }
    }
}
