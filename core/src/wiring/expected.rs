//! What the nameplate lets one expect of a motor's power and var, and how a measured pair compares.
//!
//! ```text
//! q = q0 v² + r,   r = X (p² + r²) / v²     p, q, v in 1/1000 of rated apparent power and voltage
//! ```
//!
//! The first term magnetises, the second is what the leakages take (I² X), with X such that it holds at rated load: the circle
//! diagram. Where the load is sought that has a given angle, r² is left out, which leaves a parabola.

use crate::math::root::isqrt;
use crate::settings::{Settings, Wiring};

/// What is expected of a sound installation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Expected {
    /// What is measured.
    pub wiring: Wiring,
    /// Whether power, var and the currents' sizes are judged.
    pub(super) plate: bool,
    /// Nominal voltage of a voltage channel, V Q16.
    pub(super) volts: i64,
    /// Rated current, A Q17.
    pub(super) amps: i64,
    /// Input at rated load, 1/1000 of rated apparent power.
    p_rated: i64,
    /// Var at rated load.
    q_rated: i64,
    /// Var at no load.
    q_idle: i64,
    /// The leakages' part of the var at rated load is between such shares of what it is taken to be, 1/1000.
    leakages: [i64; 2],
    /// The same where they are a guess.
    guessed: [i64; 2],
    /// Negative-sequence current over negative-sequence voltage, 1/1000 of rated over nominal.
    pub(super) negative_admittance: i64,
    /// The angle by which it lags.
    pub(super) negative_angle: u32,
}

/// Less input than this is none (1/1000 of rated apparent power).
const LEAST_P: i64 = 12;
/// A motor that grinds at more than this share of its rated input for most of the time is one whose ratio is wrong.
const MOST_P: i64 = 1_290;
/// Up to this share where its var is close to what is expected: 125 % of rated load with an unbalance that is not known, but
/// not three quarters of it and currents too large by the root of three.
const MOST_P_CLOSE: i64 = 1_380;
/// So close, 1/1000.
const CLOSE: i64 = 1_080;
/// Var and input may differ from what the nameplate implies by such factors (1/1000): IEC 60034-1 lets a power factor be off by
/// a sixth of 1 - cos phi, which is a tenth of the var; the rest is for transformers and for what the circle diagram leaves out.
const LIKE: core::ops::RangeInclusive<i64> = 880..=1_120;
/// Where nobody tells the locked-rotor current, leakages are made for six times the rated one; four to eight times is usual
/// (common practice, no source). The impedance over that at six times, 1/1000.
const USUAL: [i128; 2] = [750, 1_500];

/// How far an explanation is from what the nameplate implies, 1/1000; `None` where it does not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Fit {
    /// All is as expected.
    pub(super) healthy: Option<u32>,
    /// The currents are so many times too large, 1/1000.
    pub(super) ratio: Option<i64>,
    /// Capacitors take some of the var.
    pub(super) capacitors: Option<u32>,
}

impl Expected {
    /// From the settings of a board.
    #[must_use]
    pub fn new(s: &Settings) -> Self {
        let m = &s.motor;
        let [volts, amps] = [m.rated_voltage_mv, m.rated_current_ma].map(|x| i128::from(x.max(1)));
        let apparent = (volts * amps * 1_732 / 1_000_000).max(1); // mW
        let copper = 3 * amps * amps * (i128::from(m.stator_resistance_uohm) + i128::from(m.rotor_resistance_uohm));
        let input = i128::from(m.rated_power_mw)
            + i128::from(m.core_loss_mw)
            + i128::from(m.friction_loss_mw)
            + copper / 1_000_000_000;
        let reactance = (i128::from(m.stator_leakage_uohm) + i128::from(m.magnetising_uohm)).max(1);
        let p_rated = (input * 1_000 / apparent).clamp(100, 995) as i64;
        let q_rated = i64::from(isqrt((1_000_000 - p_rated * p_rated) as u64));
        let q_idle = (volts * volts * 1_000_000 / reactance / apparent).clamp(40, 2_000) as i64;
        // At slip 2 - s the motor is all but its leakages and resistances, the bars' at twice the frequency.
        let [x, r] = [
            2 * i128::from(m.stator_leakage_uohm),
            i128::from(m.stator_resistance_uohm) + i128::from(m.rotor_resistance_uohm),
        ]
        .map(|ohm| ohm.clamp(1, 1 << 30));
        let impedance = i128::from(isqrt((x * x + r * r) as u64)).max(1);
        let negative = volts * 1_000_000_000 / 1_732 * 1_000 / impedance / amps;
        let line = i64::from(s.supply.line_voltage_mv);
        let nominal = if s.supply.wiring == Wiring::FourWire { line * 1_000 / 1_732 } else { line };
        Self {
            wiring: s.supply.wiring,
            plate: true,
            volts: ((nominal << 16) / 1_000).max(1),
            amps: ((i64::from(m.rated_current_ma) << 17) / 1_000).max(1),
            p_rated,
            q_rated,
            // Var must rise with load.
            q_idle: q_idle.min(q_rated * 95 / 100),
            leakages: [1_000; 2],
            // The impedance at standstill is another, the resistances are what they are.
            guessed: USUAL.map(|share| {
                let square = (impedance * share / 1_000).pow(2) - r * r;
                (isqrt(square.max(0) as u64) as i64 * 1_000 / x as i64).clamp(500, 2_000)
            }),
            negative_admittance: negative.clamp(1_000, 15_000) as i64,
            negative_angle: crate::math::phase::angle(r as i32, x as i32),
        }
    }

    /// For any load: phases, voltages and what is missing are judged, not the currents' sizes and var. So no trace is blamed
    /// for a nameplate that is not its motor's, and no wrong ratio of currents and no capacitors are found.
    #[must_use]
    pub const fn of_any_load(self) -> Self {
        Self { plate: false, ..self }
    }

    /// For settings that were made without a power-factor curve and without the locked-rotor current: how the var divides between
    /// magnetising and leakages is then a guess, and at light load it may be a fifth off.
    #[must_use]
    pub const fn of_guessed_leakage(self) -> Self {
        Self { leakages: self.guessed, ..self }
    }

    /// Compares a lagging angle (cosine and sine Q30) at a voltage and a current (1/1000 of nominal and rated); `slack` of the
    /// current may be the unknown unbalance's.
    pub(super) fn fit(&self, (cosine, sine): (i32, i32), volts: i64, amps: i64, slack: i64) -> Fit {
        let volts = volts.clamp(1, 10_000);
        let apparent = volts * amps.clamp(0, 1_000_000) / 1_000;
        let [p, q] = [cosine, sine].map(|x| (apparent * i64::from(x)) >> 30);
        let square = volts * volts; // 1e-6
        let idle = self.q_idle * square / 1_000_000;
        let rise = (self.q_rated - self.q_idle) * 1_000_000 / square.max(1);
        let slack = volts * slack / 1_000;
        let [most, most_close] = [MOST_P, MOST_P_CLOSE].map(|share| share * self.p_rated / 1_000 + slack);
        let load = p.min(2 * self.p_rated);
        // At rated load it is known, whatever the leakages take of it.
        let var = |share: i64| {
            let rated = (self.q_rated - self.q_idle) * share / 1_000;
            let through = (self.p_rated * self.p_rated + rated * rated).max(1);
            let taken = (0..4).fold(0, |taken: i64, _| {
                (rated * (load * load + taken * taken) / through * 1_000_000 / square.max(1)).min(10_000)
            });
            (self.q_rated - rated) * square / 1_000_000 + taken
        };
        let mut fit = Fit::default();
        if p < LEAST_P {
            return fit;
        }
        if !self.plate {
            fit.healthy = Some(0);
            return fit;
        }
        let expected = var(1_000).max(1);
        let [one, other] = self.leakages.map(var);
        let [low, high] = [one.min(other).max(1), one.max(other).max(1)];
        let [least, highest] = [low * LIKE.start() / 1_000, high * LIKE.end() / 1_000];
        let close = p <= most_close && q * 1_000 <= high * CLOSE;
        if (p <= most || close) && (least - slack..=highest + slack).contains(&q) {
            fit.healthy = Some((q * 1_000 / expected - 1_000).unsigned_abs() as u32);
        }
        if p <= most && (high - q) * 5 > idle && (low - q) * 4 < 5 * idle {
            fit.capacitors = Some(100);
        }
        // The load at which the motor has this very angle: rise x² - (q/p) pr x + idle = 0 with x = p/pr, lower root.
        let slope = q.saturating_mul(self.p_rated) / p; // below 1e9 * 1e3 / 12
        let under = slope.saturating_mul(slope) - 4 * rise * idle;
        if slope > 0 && under > -(slope.saturating_mul(slope) / 6) {
            let root = i64::from(isqrt(under.max(0) as u64));
            let load = (slope - root) * self.p_rated / (2 * rise).max(1);
            if load >= LEAST_P {
                let factor = p * 1_000 / load;
                if !LIKE.contains(&factor) {
                    fit.ratio = Some(factor);
                }
            }
        }
        fit
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Own arithmetic on the example's nameplate: 55 kW, 400 V, 96.5 A (66.86 kVA), losses 0.6 + 0.6 kW and
    /// 3 x 96.5² x 0.0909 ohm = 2.54 kW; 400² / 7.001 ohm = 22.85 kvar.
    #[test]
    fn figures_of_a_nameplate() {
        let e = Expected::new(&Settings::example());
        assert!((e.p_rated - 878).abs() <= 1 && (e.q_idle - 342).abs() <= 1 && (e.q_rated - 478).abs() <= 2, "{e:?}");
        assert_eq!(e.volts >> 16, 230);
    }
}
