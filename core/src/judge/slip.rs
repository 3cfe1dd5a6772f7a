//! Slip: from the rotor's loss over the air-gap power, with deep bars, and freed of the field's lag.
//!
//! ```text
//! s Pg = Rr (1 + d s²) I2² + dW/dt        W = (Xs + Xr) I2² / 2 w        Xr is taken to be Xs
//! ```
//!
//! The slip's share of the air-gap power becomes heat in the bars, and field in both leakages. While the current changes, the
//! field matters: without it slip is told late by (Xs + Xr) / (w Rr), some 30 ms, which is more than a per cent of
//! speed as a start ends or a jam begins. (The rotor's voltage equation in the rotating frame, `0 = Rr i2 + dψr/dt +
//! j s w ψr`, times the current, with a stator flux that stands as the terminals' voltage does. For the same reason torque
//! needs no such term: it is the stator flux times the current.) The change is that from one cycle to the next, half a
//! cycle later.
//!
//! A motor that runs up from rest tells no slip at first (far from synchronous speed deep bars decide, and those may not be
//! known). Where inertia is, speed is the integral of torque over inertia until slip shows: `2 H ds/dt = -Pg`, 2 H
//! the kinetic energy at synchronous speed, twice, over rated apparent power. The load is left out: an empty mill's windage makes
//! that some 2 % too fast.
//!
//! Where a motor with deep bars may stand or still turn (both look alike), slip goes on as it went, for a rotor has inertia: one that
//! is being stopped comes to rest as it slowed down. Any other is taken to stand.

use super::shaft::{ONE, TOLD};
use crate::math::divide::signed;
use crate::settings::MotorCoefficients;

/// One over the rotor's admittance below which its leakage cannot be told from an error of Xm.
const SMALL: i32 = 20;
/// Slip is kept between -0.2 (driven) and 1 (locked).
const SLIP: (i64, i64) = (-ONE / 5, ONE);
/// The most by which the field's change moves slip, Q24: 5 %.
const MOST_LAG: i64 = ONE / 20;
/// Slip from which a run-up from rest is steady enough to show it, Q24: 80 %.
const SETTLED: i64 = ONE / 5 * 4;
/// The least, Q24: a rotor that is stopped within five seconds.
const LEAST_CHANGE: i64 = ONE / 500;
/// How far slip may lie below what torque and inertia make of it before that is taken for the unrest of the first cycles, Q24.
const LEAP: i64 = ONE / 8;
/// The most that slip changes over half a cycle while it cannot be told, Q24: 2 %, a rotor that is stopped within half a second.
const MOST_CHANGE: i64 = ONE / 50;

/// Slip with deep bars from that with the running resistance: the least `s = x (1 + d s²)`, Q24, by halving sixteen
/// times (2^-16 of synchronous speed). Near zero both are the same.
///
/// The terminals show `x = s / (1 + d s²)`, which rises to `s = 1 / sqrt d` and falls again: what a rotor shows at
/// standstill it shows at `s = 1 / d` as well. From 0.85 / d on slip cannot be told: that is given as one.
pub(super) fn deep(deep_bar: i32, apparent: i64) -> i64 {
    if deep_bar == 0 || apparent < TOLD / 2 {
        return apparent;
    }
    searched(deep_bar, apparent as i32) // at most 1
}

/// The search of [`deep`]: of starts and stalls alone.
#[inline(never)]
fn searched(deep_bar: i32, apparent: i32) -> i64 {
    const WHOLE: i32 = ONE as i32;
    // Of Q24: x and s at most 1, d below 16. Products of 24 + 28 bits, all below 2^29 again.
    let product = |a: i32, b: i32| ((i64::from(a) * i64::from(b)) >> 24) as i32;
    let law = |s: i32| product(apparent, WHOLE + product(deep_bar, product(s, s)));
    let most = signed(ONE * ONE / 20 * 17, deep_bar.into()).map_or(ONE, |most| most.min(ONE));
    let (mut low, mut high) = (apparent, most as i32);
    if low >= high || high < law(high) {
        return ONE;
    }
    for _ in 0..16 {
        let middle = low + (high - low) / 2;
        if middle < law(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    i64::from(low + (high - low) / 2)
}

/// What the rotor takes of one cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rotor {
    /// Resistance while running, Q24: at most 16.
    pub(super) resistance: i32,
    /// Air-gap power, Q24: within 64.
    pub(super) air_gap: i32,
    /// What its leakage takes, Q24: within 64.
    pub(super) leakage: i32,
    /// Square of the voltage at the air gap, Q24: within 64.
    pub(super) emf: i32,
}

impl Rotor {
    /// Whether its power is too small for anything but a straight line.
    const fn slight(&self) -> bool {
        let small = self.small();
        self.air_gap.abs() < small && self.leakage <= small
    }

    /// What is too small to be told from an error.
    const fn small(&self) -> i32 {
        self.emf / SMALL
    }

    /// Square of its current, Q24: below 256. A division: what is needed twice is kept.
    fn current(&self) -> u32 {
        let square = |x: i32| i64::from(x) * i64::from(x);
        let small = self.small();
        // Each below 2^30 at Q24.
        let squares = square(self.air_gap) + (square(self.leakage.max(small)) - square(small));
        let current = signed(squares, self.emf.into()).unwrap_or(0);
        u32::try_from(current).unwrap_or(if current < 0 { 0 } else { u32::MAX })
    }

    /// Slip in a steady state with the running resistance, Q24; `current` is [`Rotor::current`].
    fn steady(&self, current: u32) -> i64 {
        let resistance = i64::from(self.resistance);
        let slip = if self.slight() {
            // Rr Q24 * Pg Q24 / E² Q24
            signed(resistance * i64::from(self.air_gap), self.emf.into())
        } else {
            signed(resistance * i64::from(current), self.air_gap.into())
        };
        slip.unwrap_or(ONE).clamp(SLIP.0, SLIP.1)
    }
}

/// How the motor came to turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) enum Begun {
    /// It has stood until now.
    AtRest,
    /// It runs up from rest.
    FromRest,
    /// It ran before, or nobody knows.
    Otherwise,
}

/// The air-gap power and the square of the rotor's current of a cycle, as [`Rotor`] has them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Cycle {
    air_gap: i32,
    current: u32,
}

/// What was half a cycle ago.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Slip {
    before: Option<Cycle>,
    /// As it was told, Q24, and its change over half a cycle, a mean of about four.
    told: i64,
    change: i64,
    /// Slip of a run-up from rest by torque and inertia, Q24.
    run_up: i64,
    /// Whether slip tells speed.
    pub(super) tells: bool,
}

impl Slip {
    /// Of this cycle, Q24.
    pub(super) fn of(&mut self, c: &MotorCoefficients, begun: Begun, rotor: Rotor) -> i64 {
        let cycle = Cycle { air_gap: rotor.air_gap, current: rotor.current() };
        let steady = deep(c.deep_bar, rotor.steady(cycle.current));
        let before = self.before.replace(cycle);
        let run_up = self.run_up(c, begun, rotor.air_gap);
        let slip = match (before, run_up) {
            // In the first cycles nothing is steady; and without deep bars known a run-up looks nearer to its end than it
            // is. But it is not for the integral to say that a motor has run up, or has not.
            (_, Some(run_up)) if steady > TOLD && (steady >= ONE || run_up > SETTLED || c.deep_bar == 0) => run_up,
            (None, _) => steady,
            // From near synchronous speed no rotor comes to rest within half a cycle: that would be the unrest of a start.
            (Some(_), _) if steady >= ONE && self.told > TOLD && self.change > 0 => {
                self.told + self.change.max(LEAST_CHANGE)
            }
            (Some(_), _) if steady >= ONE => ONE,
            (Some(before), _) => steady + lag(c.leakage, before, cycle, &rotor),
        };
        let slip = slip.clamp(SLIP.0, SLIP.1);
        if before.is_some() && steady < ONE {
            self.change += ((slip - self.told).clamp(-MOST_CHANGE, MOST_CHANGE) - self.change) / 4;
        }
        self.told = slip;
        self.tells = match run_up {
            Some(run_up) => run_up - slip <= LEAP,
            None => slip.abs() <= TOLD,
        };
        slip
    }

    /// Slip in a run-up from rest by the integral of torque over inertia, where that is known.
    fn run_up(&mut self, c: &MotorCoefficients, begun: Begun, air_gap: i32) -> Option<i64> {
        let momentum = c.momentum?;
        match begun {
            Begun::AtRest => self.run_up = ONE,
            Begun::FromRest => self.run_up = (self.run_up - momentum.apply(air_gap.into())).clamp(TOLD + 1, ONE),
            Begun::Otherwise => return None,
        }
        Some(self.run_up)
    }

    /// There is no current.
    pub(super) const fn forget(&mut self) {
        self.before = None;
        self.change = 0;
    }
}

/// What the leakages' field takes of the air-gap power between two cycles, as a share of it, Q24; by the straight line where the
/// power is slight.
fn lag(leakage: i32, before: Cycle, now: Cycle, rotor: &Rotor) -> i64 {
    let twice = 2 * i64::from(leakage);
    let (now_power, before_power) = (i64::from(now.air_gap), i64::from(before.air_gap));
    let power = now_power + before_power;
    let lag = if rotor.slight() || power.abs() < i64::from(rotor.small()) {
        // 29 + 31 bits.
        signed(twice * (now_power - before_power), rotor.emf.into())
    } else {
        // 29 + 33 bits.
        signed(twice * (i64::from(now.current) - i64::from(before.current)), power)
    };
    lag.unwrap_or(0).clamp(-MOST_LAG, MOST_LAG)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Settings;
    extern crate std;

    const UNIT: f64 = (1 << 24) as f64;

    /// Slip that rises evenly by `a` a second: the rotor's current by `(Xs + Xr)/w di/dt + Rr i = E s`, whose solution is
    /// `i = E a / Rr (t - T + T exp(-t/T))`, T the time constant (textbook: a coil at a ramp of voltage).
    #[test]
    fn the_lag_of_the_field_is_taken_out() {
        let c = Settings::example().build().unwrap().judge.motor;
        let rr = f64::from(c.rotor_resistance) / UNIT;
        let constant = 2.0 * f64::from(c.stator_leakage) / UNIT / rr / (core::f64::consts::TAU * 50.0);
        for a in [0.02, 0.1, 0.3] {
            let current = |t: f64| a / rr * (t - constant + constant * (-t / constant).exp());
            let mut slip = Slip::default();
            let mut told = 0.0;
            let mut late: f64 = 0.0;
            for n in 1..=20 {
                let t = f64::from(n) * 0.01;
                let rotor = Rotor {
                    resistance: c.rotor_resistance,
                    air_gap: (current(t) * UNIT) as i32,
                    leakage: 0,
                    emf: ONE as i32,
                };
                let steady = rotor.steady(rotor.current()) as f64 / UNIT;
                told = slip.of(&c, Begun::Otherwise, rotor) as f64 / UNIT;
                late = a * t - steady;
            }
            // After seven time constants only the lag of the ramp is left; half a half cycle of it comes from the difference.
            assert!((late - a * constant).abs() < 0.02 * a * constant, "{late}");
            assert!((told - a * 0.2).abs() < 0.01 * a * 0.2, "{told} at a slip of {}", a * 0.2);
        }
    }

    /// What may stand or turn goes on as it went: here 1 % a half cycle; what was at rest stays there.
    #[test]
    fn a_rotor_that_cannot_be_told_goes_on_as_it_went() {
        let mut settings = Settings::example();
        settings.motor.deep_bar_ppm = 1_600_000;
        let c = settings.build().unwrap().judge.motor;
        let rr = f64::from(c.rotor_resistance) / UNIT;
        // x = Rr I2² / Pg with I2² = Pg² / E²: Pg = x E² / Rr.
        let at = |s: f64| Rotor {
            resistance: c.rotor_resistance,
            air_gap: ((s / (1.0 + 1.6 * s * s) / rr / 40.0) * UNIT) as i32,
            leakage: 0,
            emf: ONE as i32 / 40,
        };
        let mut slip = Slip::default();
        assert_eq!(slip.of(&c, Begun::Otherwise, at(1.0)), ONE);
        assert_eq!(slip.of(&c, Begun::Otherwise, at(1.0)), ONE);
        let mut slip = Slip::default();
        let mut last = 0.0;
        // The field's lag is another test's: a current this small has hardly any.
        for n in 0..50 {
            last = slip.of(&c, Begun::Otherwise, at(f64::from(n) * 0.01)) as f64 / UNIT;
        }
        assert!((last - 0.49).abs() < 0.03, "{last}");
        for n in 50..90 {
            let told = slip.of(&c, Begun::Otherwise, at(1.0)) as f64 / UNIT;
            let wanted = last + f64::from(n - 49) * 0.01;
            assert!((told - wanted).abs() < 0.1, "{told}, wanted {wanted}");
        }
        for _ in 0..30 {
            last = slip.of(&c, Begun::Otherwise, at(1.0)) as f64 / UNIT;
        }
        assert!((last - 1.0).abs() < 1e-9);
    }
}
