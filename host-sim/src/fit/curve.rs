//! How much power a current means: the points that the core estimates active power by where none is measured.
//!
//! ```text
//! a phase of the star at rated voltage, slip s:
//! Z = R1 + j X1 + (core loss || j Xm || (R2 (1 + d s²) / s + j X2))      I = V / |Z|      P = 3 I² Re Z
//! ```

use num_complex::Complex64 as Complex;
use shaftwork_core::settings::{CURVE_POINTS, PowerCurve};

use super::circuit::Circuit;
use super::unsigned;
use crate::settings::Settings;

/// Slips that are tried, dense where the motor runs.
const TRIED: usize = 400;
/// Beyond twice rated current nobody asks for the power as closely: an error counts a tenth there.
const STARTING: f64 = 0.1;

/// The points of a motor: no load and standstill, then one by one where the straight lines between them are farthest off.
pub fn curve(settings: &Settings, circuit: &Circuit) -> PowerCurve {
    let motor = &settings.motor;
    // Squared current and squared power, as the core interpolates.
    let at = |n: usize| {
        let slip = (n as f64 / (TRIED - 1) as f64).powi(3).max(1e-9);
        let (amps, watts) = taken(circuit, motor.rated_voltage_v, slip);
        ((amps / motor.rated_current_a).powi(2), (watts / motor.rated_apparent_va()).powi(2))
    };
    let tried: Vec<(f64, f64)> = (0..TRIED).map(at).collect();
    let mut chosen = vec![0, TRIED - 1];
    while chosen.len() < CURVE_POINTS {
        let off = |n: usize| {
            let after = chosen.partition_point(|c| *c < n).max(1);
            let ((x0, y0), (x1, y1)) = (tried[chosen[after - 1]], tried[chosen[after]]);
            let (x, y) = tried[n];
            let line = y0 + (y1 - y0) * (x - x0) / (x1 - x0).max(f64::MIN_POSITIVE);
            (line.max(0.0).sqrt() - y.sqrt()).abs() * if x > 4.0 { STARTING } else { 1.0 }
        };
        let free = (1..TRIED - 1).filter(|n| !chosen.contains(n));
        let Some(next) = free.max_by(|a, b| off(*a).total_cmp(&off(*b))) else { break };
        chosen.insert(chosen.partition_point(|c| *c < next), next);
    }
    let mut points = [(0, 0); CURVE_POINTS];
    let mut least = 0;
    for (point, n) in points.iter_mut().zip(chosen) {
        let amps = unsigned(tried[n].0.sqrt(), 1e6).max(least + 1);
        *point = (amps, unsigned(tried[n].1.sqrt(), 1e6).min(amps));
        least = amps;
    }
    PowerCurve { points }
}

/// Line current, A, and active power, W, at a line voltage and a slip; core loss lies beside the magnetising reactance.
pub(crate) fn taken(c: &Circuit, line_v: f64, slip: f64) -> (f64, f64) {
    let phase_v = line_v / 3f64.sqrt();
    let rotor = Complex::new(c.rotor_resistance_ohm * (1.0 + c.deep_bar * slip * slip) / slip, c.rotor_leakage_ohm);
    let across = Complex::new(c.core_loss_w / line_v.powi(2), -1.0 / c.magnetising_ohm) + rotor.inv();
    let whole = Complex::new(c.stator_resistance_ohm, c.stator_leakage_ohm) + across.inv();
    let amps = phase_v / whole.norm();
    (amps, 3.0 * amps * amps * whole.re)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::circuit;
    use crate::settings::testing::{good, parsed};

    /// Interpolation in squares, as the core does it, against the circuit itself from no load to standstill; at rated load
    /// the nameplate: rated current and what the motor takes then.
    #[test]
    fn points_lie_close_enough() {
        let (settings, _) = parsed(&good());
        let circuit = circuit::fit(&settings).unwrap();
        let made = curve(&settings, &circuit);
        let points: Vec<(f64, f64)> =
            made.points.iter().map(|(a, p)| (f64::from(*a) / 1e6, f64::from(*p) / 1e6)).collect();
        assert!(points.is_sorted_by(|a, b| a.0 < b.0), "{points:?}");
        let motor = &settings.motor;
        let mut worst = [0.0_f64; 2];
        for n in 1..=1_000 {
            let slip = (f64::from(n) / 1_000.0).powi(3);
            let (amps, watts) = taken(&circuit, motor.rated_voltage_v, slip);
            let (x, p) = ((amps / motor.rated_current_a).powi(2), watts / motor.rated_apparent_va());
            let after = points.iter().position(|(a, _)| a * a > x).unwrap_or(points.len() - 1).max(1);
            let ((a0, p0), (a1, p1)) = (points[after - 1], points[after]);
            let found = (p0 * p0 + (p1 * p1 - p0 * p0) * (x - a0 * a0) / (a1 * a1 - a0 * a0)).max(0.0).sqrt();
            // Up to twice rated current, and beyond.
            let worst = &mut worst[usize::from(x > 4.0)];
            *worst = worst.max((found - p).abs());
        }
        assert!(worst[0] < 0.003 && worst[1] < 0.03, "of apparent power: {worst:?}");
        let slip = 1.0 - motor.rated_speed_rpm / motor.synchronous_speed_rpm();
        let (amps, watts) = taken(&circuit, motor.rated_voltage_v, slip);
        assert!((amps / motor.rated_current_a - 1.0).abs() < 0.01, "{amps}");
        assert!((watts / motor.rated_apparent_va() - 0.86).abs() < 0.03, "{}", watts / motor.rated_apparent_va());
    }
}
