//! One row of a log of rms values, and the record that it stands for.
//!
//! ```text
//! triangle of three line voltages, or of three currents that add up to zero, by their sizes alone:
//! b  = (A⁴ + B⁴ + C⁴) / (A² + B² + C²)²      r = sqrt((1 - sqrt(3 - 6 b)) / (1 + sqrt(3 - 6 b)))
//! r  = negative over positive sequence       A² + B² + C² = 3 (positive² + negative²)
//! ```
//!
//! IEC 61000-4-30, 5.7.1 gives it for line voltages (from memory); it is geometry, and holds for the currents of a
//! motor as well, whose star point is connected to nothing. What harmonics add to the rms values is taken as fundamental.
//!
//! Distances of a triangle's corners from its centre of gravity give the voltages to the star point: 9 a² = 2 ab² + 2 ca² - bc².

use shaftwork_core::record::HalfCycle;
use shaftwork_core::unit::{Amps, SquareAmps, SquareVolts, Volts, Watts};

use crate::trace::Rows;
use crate::trace::select::{Selection, Wiring};

/// Active over apparent power, at most: the sum of V·I bounds the mean of v·i (Cauchy and Schwarz); 2 % for rounding and for
/// meters whose channels are not averaged over the very same time.
const MOST_FACTOR: f64 = 1.02;

/// What one row says; rms values over its interval.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Row {
    /// As the wiring has them: to neutral, or ab, bc, ca; V.
    pub voltage: [f64; 3],
    /// Line currents, A.
    pub current: [f64; 3],
    /// Mean active power of all phases, W.
    pub active_w: Option<f64>,
    /// Mean reactive power, var.
    pub reactive_var: Option<f64>,
    /// Hz.
    pub frequency_hz: Option<f64>,
}

impl Row {
    /// The row at a place of a block.
    pub fn at(rows: &Rows, selection: &Selection, at: usize) -> Self {
        let value = |column: Option<usize>| column.and_then(|c| rows.columns.get(c)?.get(at).copied());
        let [va, vb, vc, ia, ib, ic] = selection.electrical.map(|column| value(column).unwrap_or(0.0));
        Self {
            voltage: [va, vb, vc],
            current: [ia, ib, ic],
            active_w: value(selection.active),
            reactive_var: value(selection.reactive),
            frequency_hz: value(selection.frequency),
        }
    }

    /// What is wrong with its power beside its apparent power, where voltages are measured; so many VA are let pass.
    pub fn power_fault(&self, wiring: Wiring, least_va: f64) -> Option<String> {
        let (watts, apparent) = (self.active_w?, self.apparent_va(wiring));
        let beyond = watts.abs() > MOST_FACTOR * apparent + least_va;
        (wiring != Wiring::CurrentsOnly && beyond)
            .then(|| format!("{watts} W of active power, {apparent:.0} VA by voltages and currents"))
    }

    /// What is wrong with it: the figure that no rms value can be, and what it may be.
    pub fn fault(&self) -> Option<(String, &'static str)> {
        if let Some(volts) = self.voltage.iter().find(|v| !(0.0..=32_000.0).contains(*v)) {
            return Some((format!("a voltage of {volts} V"), "rms values of 0 to 32000 V"));
        }
        if let Some(amps) = self.current.iter().find(|a| !(0.0..=16_000.0).contains(*a)) {
            return Some((format!("a current of {amps} A"), "rms values of 0 to 16000 A"));
        }
        let most = 3.0 * 32_000.0 * 16_000.0;
        let possible = |x: &f64| (-most..=most).contains(x);
        if let Some(watts) = self.active_w.into_iter().chain(self.reactive_var).find(|x| !possible(x)) {
            return Some((format!("a power of {watts}"), "a power in W or var"));
        }
        let hertz = self.frequency_hz.filter(|hz| !(40.0..=72.0).contains(hz))?;
        Some((format!("a frequency of {hertz} Hz"), "40 to 72 Hz"))
    }

    /// Voltages to the star point, V.
    pub fn star(&self, wiring: Wiring) -> [f64; 3] {
        star(self.voltage, wiring)
    }

    /// Sum of the phases' V·I, VA.
    pub fn apparent_va(&self, wiring: Wiring) -> f64 {
        self.star(wiring).iter().zip(self.current).map(|(v, i)| v * i).sum()
    }

    /// Reactive power as logged, or what active power leaves of the apparent, lagging; var.
    pub fn reactive_var(&self, wiring: Wiring) -> Option<f64> {
        self.reactive_var.or_else(|| {
            let (active, apparent) = (self.active_w?, self.apparent_va(wiring));
            Some((apparent * apparent - active * active).max(0.0).sqrt())
        })
    }

    /// The record of a half cycle in it, but for its times and energy; powers are nothing where they were not logged.
    pub fn record(&self, wiring: Wiring) -> HalfCycle {
        let (voltage_positive, voltage_negative) = if wiring.is_phase_to_neutral() {
            // Three sizes to neutral leave their angles open.
            (self.voltage.iter().sum::<f64>() / 3.0, 0.0)
        } else {
            let (positive, negative) = sequences(self.voltage);
            (positive / 3f64.sqrt(), negative / 3f64.sqrt())
        };
        let (current_positive, current_negative) = sequences(self.current);
        HalfCycle {
            active: watts(self.active_w.unwrap_or(0.0)),
            reactive: watts(self.reactive_var(wiring).unwrap_or(0.0)),
            // Q32 and Q34; a cast holds what does not fit.
            voltage: self.voltage.map(|v| SquareVolts((v * v * 2f64.powi(32)).round() as u64)),
            current: self.current.map(|a| SquareAmps((a * a * 2f64.powi(34)).round() as u64)),
            voltage_positive: volts(voltage_positive),
            voltage_negative: volts(voltage_negative),
            current_positive: amps(current_positive),
            current_negative: amps(current_negative),
            ..HalfCycle::default()
        }
    }
}

/// Voltages to the star point from what the wiring has.
pub fn star(voltage: [f64; 3], wiring: Wiring) -> [f64; 3] {
    if wiring.is_phase_to_neutral() {
        return voltage;
    }
    let [ab, bc, ca] = voltage.map(|v| v * v);
    [(ab, ca, bc), (bc, ab, ca), (ca, bc, ab)]
        .map(|(one, other, far)| ((2.0 * (one + other) - far).max(0.0) / 9.0).sqrt())
}

/// Positive and negative sequence of three phasors that add up to zero, from their sizes.
pub fn sequences(sizes: [f64; 3]) -> (f64, f64) {
    let squares = sizes.map(|x| x * x);
    let sum: f64 = squares.iter().sum();
    if sum <= 0.0 {
        return (0.0, 0.0);
    }
    let share = squares.iter().map(|s| s * s).sum::<f64>() / (sum * sum);
    // Sizes that are no triangle's, by rounding or a third that does not fit: as unequal as can be.
    let root = (3.0 - 6.0 * share).clamp(0.0, 1.0).sqrt();
    (((sum / 6.0) * (1.0 + root)).sqrt(), ((sum / 6.0) * (1.0 - root)).sqrt())
}

/// Watts or var.
pub fn watts(x: f64) -> Watts {
    Watts::from_bits((x * 65_536.0).round() as i64)
}

/// Volts.
pub fn volts(x: f64) -> Volts {
    Volts::from_bits((x * 65_536.0).round() as i32)
}

/// Amperes.
pub fn amps(x: f64) -> Amps {
    Amps::from_bits((x * 131_072.0).round() as i32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_complex::Complex64 as Complex;
    use proptest::prelude::*;

    fn turned(size: f64, degrees: f64) -> Complex {
        Complex::from_polar(size, degrees.to_radians())
    }

    /// Symmetrical components (Fortescue) of three phasors that add up to zero.
    fn by_definition(x: [Complex; 3]) -> (f64, f64) {
        let a = turned(1.0, 120.0);
        (((x[0] + a * x[1] + a * a * x[2]) / 3.0).norm(), ((x[0] + a * a * x[1] + a * x[2]) / 3.0).norm())
    }

    /// A line open: 1 : 1 : 0, negative as large as positive; lost upstream of delta-star: 1 : 1 : 2 (textbook). A
    /// NEMA MG 1 example of voltages, 460, 467, 450 V: 2.18 % by the greatest deviation from the mean, so the sequences
    /// come to about as much.
    #[test]
    fn known_triangles() {
        let near = |x: f64, y: f64| assert!((x - y).abs() < 1e-9, "{x} {y}");
        let (positive, negative) = sequences([1.0, 1.0, 0.0]);
        near(positive, negative);
        near(positive, 1.0 / 3f64.sqrt());
        let (positive, negative) = sequences([1.0, 1.0, 2.0]);
        near(positive, negative);
        let (positive, negative) = sequences([400.0; 3]);
        assert!((positive - 400.0).abs() < 1e-9 && negative < 1e-5, "{negative}");
        let (positive, negative) = sequences([460.0, 467.0, 450.0]);
        assert!((negative / positive - 0.0214).abs() < 0.001, "{}", negative / positive);
        assert_eq!(sequences([0.0; 3]), (0.0, 0.0));
        assert!(star([400.0; 3], Wiring::ThreeWire).iter().all(|v| (v - 400.0 / 3f64.sqrt()).abs() < 1e-9));
    }

    proptest! {
        /// Against the definition, for any positive and negative sequence; to the star point as well.
        #[test]
        fn sizes_tell_the_sequences(positive in 1.0..1e3_f64, share in 0.0..1.0_f64, angle in 0.0..360.0_f64) {
            let star_point: [Complex; 3] = core::array::from_fn(|k| {
                let k = k as f64;
                turned(positive, -120.0 * k) + turned(positive * share, angle + 120.0 * k)
            });
            let (p, n) = by_definition(star_point);
            let found = sequences(star_point.map(Complex::norm));
            prop_assert!((found.0 - p).abs() < 1e-4 * p && (found.1 - n).abs() < 1e-4 * p, "{found:?} {p} {n}");
            let lines = [0, 1, 2].map(|k| (star_point[k] - star_point[(k + 1) % 3]).norm());
            for (found, wanted) in star(lines, Wiring::ThreeWire).iter().zip(star_point) {
                prop_assert!((found - wanted.norm()).abs() < 1e-6 * positive, "{found} {wanted}");
            }
        }
    }
}
