//! What a converter makes of a quantity: noise, whole counts, full scale.
//!
//! ```text
//! count = round(x / full_scale * top + noise) within -top .. top,   top = 2^(bits - 1) - 1;   reading = count * full_scale / top
//! ```
//!
//! Full scale is a peak value in the quantity's unit; noise in counts, one standard deviation. The lowest code
//! (-2^(bits-1)) is never given: trace files keep it for missing values.

use super::fault::Fault;
use super::seed::Random;
use super::transducer::Transducer;
use serde::{Deserialize, Serialize};

/// One kind of channel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Converter {
    /// Width in bits, 2 to 32.
    pub bits: u32,
    /// Peak value at the full-scale count.
    pub full_scale: f64,
    /// Standard deviation of the noise, counts.
    pub noise_counts: f64,
}

impl Converter {
    /// The full-scale count.
    pub fn top(&self) -> f64 {
        ((1_i64 << (self.bits - 1)) - 1) as f64
    }

    /// The value of one count.
    pub fn step(&self) -> f64 {
        self.full_scale / self.top()
    }

    /// The same count, with as many more bits as it takes to reach a value.
    #[must_use]
    pub fn reaching(self, value: f64) -> Self {
        let mut wider = self;
        while wider.full_scale < value && wider.bits < 32 {
            wider.bits += 1;
            wider.full_scale = self.step() * wider.top();
        }
        wider
    }

    /// The count for a value.
    pub fn count(&self, value: f64, random: &mut Random) -> f64 {
        let noise = if self.noise_counts > 0.0 { self.noise_counts * random.normal() } else { 0.0 };
        (value / self.step() + noise).round().clamp(-self.top(), self.top())
    }

    /// The reading for a value, in its unit.
    pub fn read(&self, value: f64, random: &mut Random) -> f64 {
        self.count(value, random) * self.step()
    }
}

/// Where the current transformers sit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CurrentTap {
    /// In the lines.
    #[default]
    Line,
    /// In the windings' leads of a motor that runs in delta: A-B, B-C, C-A; what else hangs on the lines they do not see.
    DeltaAb,
}

/// What a mill's seven channels are read through.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Sensor {
    /// For the three voltages, V.
    pub voltage: Converter,
    /// For the three currents, A.
    pub current: Converter,
    /// For the mass fed, kg; noise here would make it fall at times.
    pub mass: Converter,
    /// What ia, ib and ic are.
    pub current_tap: CurrentTap,
    /// Before the converters of va, vb, vc, ia, ib, ic.
    pub transducers: [Transducer; 6],
    /// What goes wrong behind the converters.
    pub faults: Vec<Fault>,
}

impl Sensor {
    /// Sixteen bits with half a count of noise on voltages and currents.
    pub const fn sixteen_bits(volts: f64, amps: f64, kilograms: f64) -> Self {
        Self {
            voltage: Converter { bits: 16, full_scale: volts, noise_counts: 0.5 },
            current: Converter { bits: 16, full_scale: amps, noise_counts: 0.5 },
            mass: Converter { bits: 16, full_scale: kilograms, noise_counts: 0.0 },
            current_tap: CurrentTap::Line,
            transducers: [Transducer { ratio_error_pct: 0.0, phase_deg: 0.0, skew_us: 0.0 }; 6],
            faults: Vec::new(),
        }
    }
}

/// Sixteen bits: 0.02 V, 0.045 A and 0.1 kg a count.
impl Default for Sensor {
    fn default() -> Self {
        Self::sixteen_bits(655.34, 1474.515, 65.534)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const QUIET: Converter = Converter { bits: 16, full_scale: 800.0, noise_counts: 0.0 };

    #[test]
    fn rounds_to_the_nearest_count() {
        let mut random = Random::new(1);
        for n in -1000..1000 {
            let value = f64::from(n) * 0.7931;
            assert!((QUIET.read(value, &mut random) - value).abs() <= QUIET.step() / 2.0 + 1e-12);
        }
    }

    #[test]
    fn clips_at_full_scale_and_never_gives_the_lowest_code() {
        let mut random = Random::new(1);
        assert!((QUIET.count(800.0, &mut random) - 32_767.0).abs() < 1e-9);
        assert!((QUIET.count(801.0, &mut random) - 32_767.0).abs() < 1e-9);
        assert!((QUIET.count(-5000.0, &mut random) + 32_767.0).abs() < 1e-9);
        assert!((QUIET.count(799.97, &mut random) - 32_766.0).abs() < 1e-9);
    }

    #[test]
    fn noise_has_the_deviation_asked_for() {
        let noisy = Converter { noise_counts: 3.0, ..QUIET };
        let mut random = Random::new(2);
        let squares: f64 = (0..50_000).map(|_| noisy.count(0.0, &mut random).powi(2)).sum();
        // Rounding adds a twelfth of a count squared.
        assert!(((squares / 50_000.0).sqrt() - (9.0_f64 + 1.0 / 12.0).sqrt()).abs() < 0.05);
    }
}
