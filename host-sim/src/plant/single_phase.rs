//! The motor in steady state with a line lost: two sequences, one after the other.
//!
//! ```text
//! I1 = V / (Z(s) + Z(2 - s))     |I2| = |I1|     torque = torque of I1 - torque of I2      (mean over a cycle)
//! line lost at the motor: sqrt(3) I1 in two lines        before a delta-star transformer: 2 I1, I1, I1
//! ```
//!
//! V is the phase voltage, slip as a share of synchronous speed. Windings only: core, stray and friction are left out.

use super::circuit::Circuit;
use num_complex::Complex64 as Complex;

/// A steady operating point on one axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SinglePhase {
    /// Share of synchronous speed that is lost.
    pub slip: f64,
    /// Shaft speed, rpm.
    pub speed_rpm: f64,
    /// Current of either sequence, A rms.
    pub sequence_a: f64,
    /// Input, W.
    pub input_w: f64,
    /// Mean torque of the field, N m.
    pub air_gap_nm: f64,
}

impl SinglePhase {
    /// Current in each of the two lines that are left of the motor's three, A rms.
    pub fn line_a(&self) -> f64 {
        3.0_f64.sqrt() * self.sequence_a
    }
}

impl Circuit {
    /// The point at a slip with one line lost, at rated voltage and frequency.
    pub fn single_phased(&self, slip: f64) -> SinglePhase {
        let sync = self.synchronous_rad_s();
        let rotor_ohm = self.rotor_ohm_at(sync * (1.0 - slip));
        // Impedance of a sequence, and its torque for a unit of current.
        let sequence = |slip: f64| {
            let magnetising = Complex::new(0.0, self.magnetising_ohm);
            let rotor = Complex::new(slip, 0.0) / Complex::new(rotor_ohm, slip * self.rotor_leakage_ohm);
            let gap = 1.0 / (1.0 / magnetising + rotor);
            (Complex::new(self.stator_ohm, self.stator_leakage_ohm) + gap, 3.0 * gap.re / sync)
        };
        let ((with, pulling), (against, holding)) = (sequence(slip), sequence(2.0 - slip));
        let phase_v = self.line_v / 3.0_f64.sqrt();
        let current = Complex::new(phase_v, 0.0) / (with + against);
        SinglePhase {
            slip,
            speed_rpm: self.synchronous_rpm() * (1.0 - slip),
            sequence_a: current.norm_sqr().sqrt(),
            input_w: 3.0 * phase_v * current.re,
            air_gap_nm: current.norm_sqr() * (pulling - holding),
        }
    }

    /// The largest torque with a line lost.
    pub fn single_phased_breakdown(&self) -> SinglePhase {
        let all = (1..10_000).map(|n| self.single_phased(f64::from(n) * 1e-4));
        all.max_by(|a, b| a.air_gap_nm.total_cmp(&b.air_gap_nm)).unwrap_or_else(|| self.single_phased(1.0))
    }

    /// Where the motor goes on running with a line lost under a torque, N m; none if it stalls.
    pub fn settle_single_phased(&self, load_nm: f64) -> Option<SinglePhase> {
        let peak = self.single_phased_breakdown();
        if peak.air_gap_nm < load_nm {
            return None;
        }
        let (mut low, mut high) = (0.0, peak.slip);
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if self.single_phased(middle).air_gap_nm < load_nm {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(self.single_phased(f64::midpoint(low, high)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, tolerance: f64) {
        assert!((found - wanted).abs() <= tolerance, "found {found}, wanted {wanted} +- {tolerance}");
    }

    /// The 50 hp machine of Krause, Wasynczuk and Sudhoff at the same torque, healthy and with a line lost; computed
    /// independently from its printed parameters, to one unit of the last digit. Torque; healthy and single-phased
    /// current; their ratio.
    #[test]
    fn single_phasing_of_a_textbook_machine() {
        let motor = Circuit::textbook_50_hp();
        for (torque, healthy_a, lost_a, ratio) in
            [(50.0, 23.35, 39.84, 1.706), (100.0, 31.80, 56.97, 1.791), (150.0, 42.49, 79.56, 1.872)]
        {
            let (healthy, lost) = (motor.settle(|_| torque).unwrap(), motor.settle_single_phased(torque).unwrap());
            near(healthy.current_a, healthy_a, 0.01);
            near(lost.line_a(), lost_a, 0.01);
            near(lost.line_a() / healthy.current_a, ratio, 5e-4);
        }
        let at = |torque| (motor.settle(|_| torque).unwrap(), motor.settle_single_phased(torque).unwrap());
        let (healthy, lost) = at(50.0);
        near(healthy.speed_rpm, 1780.7, 0.05);
        near(lost.speed_rpm, 1778.1, 0.05);
        let (healthy, lost) = at(198.0);
        near(healthy.current_a, 53.77, 0.01);
        near(lost.line_a(), 105.41, 0.005);
        near(lost.line_a() / healthy.current_a, 1.961, 5e-4);
        near(healthy.speed_rpm, 1720.8, 0.05);
        near(lost.speed_rpm, 1696.1, 0.05);
        near(lost.input_w, 41_748.0, 0.5);
    }

    /// No torque at standstill and 0.866 of the locked-rotor current; breakdown falls to 39.5 % (handbooks say about
    /// 40 %).
    #[test]
    fn locked_and_breakdown() {
        let motor = Circuit::textbook_50_hp();
        let locked = motor.single_phased(1.0);
        near(locked.air_gap_nm, 0.0, 1e-9);
        near(locked.line_a(), 341.37, 0.005);
        near(locked.line_a() / motor.at_slip(1.0).current_a, 0.75_f64.sqrt(), 1e-9);
        let peak = motor.single_phased_breakdown();
        near(peak.air_gap_nm, 308.2, 0.05);
        near(100.0 * peak.air_gap_nm / motor.breakdown().air_gap_nm, 39.5, 0.05);
        assert!(motor.settle_single_phased(309.0).is_none());
    }
}
