//! What turns: its kinetic energy, and what is left for the load when it has taken its share.
//!
//! ```text
//! E    = J w² / 2                                       J: all that turns, seen from the motor's shaft
//! load = (shaft - dE/dt) / w                            torque of the load
//! net  = shaft - idle (w / ws)³ - dE/dt                 power that breaks, as it flows
//! ```
//!
//! A lump is broken by the rotor's energy before the motor knows of it: shaft power shows a burst late and flattened, net
//! power when it happens. For the eye: energies are summed by [`super::mill`]'s formula, in which what the rotor lends comes
//! back. The empty mill's torque is taken to go with the square of speed (windage). Energies are those of the last cycle of a
//! window and of the window before; an error of 0.02 % in speed is 50 J of the example's 123 kJ, a quarter of a kilowatt over
//! a fifth of a second.

use super::report::Interval;
use super::shaft::ONE;
use crate::math::divide::signed;
use crate::math::scale::{Scale, narrow, ratio_q};
use crate::settings::JudgeCoefficients;
use crate::time::Span;
use crate::unit::{Joules, Newtonmetres, Rpm, Watts};

/// Below a tenth of synchronous speed torque is not told by power.
const SLOWEST: i64 = ONE / 10;

/// The speed at the end of the last window: what is stored at it the inertia tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Flywheel {
    before: Option<Rpm>,
}

impl Flywheel {
    /// Fills in a window's figures: from the speed of its last cycle, its length, and idle power.
    pub(super) fn close(
        &mut self,
        c: &JudgeCoefficients,
        speed: Option<Rpm>,
        length: Span,
        idle: Option<Watts>,
        interval: &mut Interval,
    ) {
        let stored = |speed: Option<Rpm>| Some(energy(c.kinetic?, speed?));
        let before = core::mem::replace(&mut self.before, speed);
        interval.kinetic = stored(speed);
        let (Some(now), Some(before), Some(speed)) = (interval.kinetic, stored(before), interval.speed) else { return };
        let stored = power(c, now.to_bits().saturating_sub(before.to_bits()), length);
        // Both below 2^31: exact within 2^-24 of synchronous speed, and below 128 of it.
        let ratio = i64::from(ratio_q(speed.to_bits().into(), c.motor.synchronous_rpm.unsigned_abs().into(), 24));
        let load = interval.shaft.to_bits().saturating_sub(stored);
        if ratio >= SLOWEST {
            // A torque is kept to 31 bits, times 24 bits.
            let at_synchronous = i64::from(narrow(c.motor.power_to_torque.apply(load)));
            interval.load_torque = signed(at_synchronous * ONE, ratio).map(|nm| Newtonmetres::from_bits(narrow(nm)));
        }
        if interval.state.running() {
            interval.net = idle.map(|idle| {
                // Speeds beyond twice the synchronous one are no speeds: 25 + 25 bits.
                let ratio = ratio.clamp(0, 2 * ONE);
                let cube = (((ratio * ratio) >> 24) * ratio) >> 24;
                Watts::from_bits(load.saturating_sub(Scale::from_q(cube, 24).apply(idle.to_bits())))
            });
        }
    }

    /// Nothing is known of what was before.
    pub(super) const fn forget(&mut self) {
        self.before = None;
    }
}

/// Half of the inertia times the square of a speed: 31 + 31 bits.
pub(super) fn energy(kinetic: Scale, speed: Rpm) -> Joules {
    let bits = i64::from(speed.to_bits());
    Joules::from_bits(kinetic.apply(bits * bits))
}

/// Mean power of a change of energy (Q20) over a span, Q16.
fn power(c: &JudgeCoefficients, change: i64, length: Span) -> i64 {
    // Frames Q16 to seconds Q24, kept to 256 s.
    let seconds = c.seconds_per_frame.apply((length.0.min(1 << 40) as i64) << 8).clamp(0, u32::MAX.into()) as u32;
    Scale::reciprocal(seconds, 20).apply(change)
}

#[cfg(test)]
mod tests {
    use super::super::event::State;
    use super::*;
    use crate::settings::Settings;
    extern crate std;

    /// By hand: 10 kg m² that fall from 1 480 to 1 470 rpm within a fifth of a second give
    /// 5 kg m² x ((154.985 rad/s)² - (153.938 rad/s)²) / 0.2 s = 8.087 kW; the shaft's 55 kW come on top, of which the empty mill takes
    /// 6.7 kW x (1475 / 1500)³ = 6.370 kW. Torque of the load: 63.087 kW / 154.462 rad/s.
    #[test]
    fn a_rotor_that_slows_down_adds_to_the_motor() {
        let c = Settings::example().build().unwrap().judge;
        let rpm = |n: f64| Some(Rpm::from_bits((n * 4_096.0) as i32));
        let length = Span(800 << 16);
        let mut flywheel = Flywheel::default();
        let fresh = || Interval {
            shaft: Watts::from_bits(55_000 << 16),
            speed: rpm(1_475.0),
            state: State::Breaking,
            ..Interval::default()
        };
        let mut interval = fresh();
        flywheel.close(&c, rpm(1_480.0), length, c.idle, &mut interval);
        assert_eq!((interval.net, interval.load_torque), (None, None), "nothing is known of before");
        let mut interval = fresh();
        flywheel.close(&c, rpm(1_470.0), length, c.idle, &mut interval);
        let near = |found: f64, wanted: f64| assert!((found / wanted - 1.0).abs() < 1e-3, "{found}, wanted {wanted}");
        near(interval.net.unwrap().to_bits() as f64 / 65_536.0, 55_000.0 + 8_087.0 - 6_370.0);
        near(f64::from(interval.load_torque.unwrap().to_bits()) / 256.0, 63_087.0 / 154.462);
        near(interval.kinetic.unwrap().to_bits() as f64 / f64::from(1 << 20), 5.0 * 153.938f64.powi(2));
        flywheel.forget();
        let mut interval = fresh();
        flywheel.close(&c, rpm(1_470.0), length, c.idle, &mut interval);
        assert_eq!(interval.net, None);
    }

    #[test]
    fn any_figures_are_borne() {
        let mut settings = Settings::example();
        settings.mill.inertia_gm2 = Some(1_000_000_000);
        let c = settings.build().unwrap().judge;
        for speed in [i32::MIN, -1, 0, 1, i32::MAX] {
            for shaft in [i64::MIN, -1, 0, i64::MAX] {
                for length in [0, 1, u64::MAX] {
                    let mut flywheel = Flywheel::default();
                    for last in [speed, 0, speed] {
                        let mut interval = Interval {
                            shaft: Watts::from_bits(shaft),
                            speed: Some(Rpm::from_bits(speed)),
                            state: State::Idle,
                            ..Interval::default()
                        };
                        let idle = Some(Watts::from_bits(i64::MAX));
                        flywheel.close(&c, Some(Rpm::from_bits(last)), Span(length), idle, &mut interval);
                    }
                }
            }
        }
    }
}
