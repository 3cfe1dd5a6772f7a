//! Wedge: a piece that is stuck between rotor and casing, told by the work that the load takes beyond what the motor may give.
//!
//! ```text
//! load work  = shaft work + kinetic energy lost                 a half cycle's; E = J w² / 2, all that turns
//! surplus    = max(0, surplus + load work - pick-up x time)     J; decides at so many seconds of rated power
//! ```
//!
//! A sum that may not fall below nothing is Page's test for a change that stays (E. S. Page, "Continuous inspection schemes",
//! Biometrika 41, 1954). A strike may be as hard as a wedge, but what it takes is bounded by the piece: its surplus is
//! too, and drains as soon as the load is below the pick-up. A current shows either of them late, when the rotor has
//! slowed down; this shows the load itself, before the speed has gone. Kinetic energy is taken as it changes, so
//! that errors of speed do not add up.
//!
//! | from | to | when |
//! |---|---|---|
//! | any | `Unarmed` | the motor does not run; samples, a current or the voltages are missing |
//! | `Unarmed` | `Settling` | it runs |
//! | `Settling` | `Armed` | the load is below the pick-up: a start's end is no wedge |
//! | `Armed` | `Armed` | else; the surplus goes on |
//!
//! The timer ([`super::timer`], without delay) is past its pick-up while the surplus is above its own, and drops out when it is drained.
//!
//! **An inertia that is off** by a share makes kinetic energy so much too large or small. Too small tells later; too large tells
//! sooner and takes honest strikes for larger ones: docs/wedge.md has figures for 30 % either way.
//!
//! **Without an inertia** kinetic energy is left out: shaft work alone, which needs none. It is told when the motor feels the wedge,
//! about as late as a current, and takes a rotor that speeds up again after a sag for a load.
//!
//! **Where speed is not told** (beyond 10 % of slip, and no tachometer) the rotor may be stalling, and torque no longer shows
//! what the load takes: the surplus does not drain, and goes on by shaft work beyond the pick-up. A single speed that is missing counts nothing.

use super::View;
use super::timer::Level;
use crate::judge::flywheel::energy;
use crate::settings::WedgeCoefficients;
use crate::unit::{Joules, Watts};

/// The element's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) enum Surplus {
    /// Nothing to judge.
    #[default]
    Unarmed,
    /// The motor runs, but has had more than the pick-up to do ever since; kinetic energy as it was.
    Settling(Option<Joules>),
    /// Judges.
    Armed {
        /// As it was at the last half cycle.
        kinetic: Option<Joules>,
        /// Q20; from nothing to twice the pick-up, so that it drains.
        surplus: i64,
    },
}

impl Surplus {
    /// There is nothing to judge by.
    pub(crate) const fn forget(&mut self) -> Level {
        *self = Self::Unarmed;
        Level::Short
    }

    /// Takes a half cycle. Energies are J at Q20; sums saturate.
    pub(crate) fn update(&mut self, c: &WedgeCoefficients, view: &View) -> Level {
        if !view.state.running() {
            return self.forget();
        }
        let now = c.kinetic.zip(view.speed).map(|(kinetic, speed)| energy(kinetic, speed));
        let over = view.shaft.to_bits().saturating_sub(c.pickup.to_bits());
        let over = view.length.energy(Watts::from_bits(over), c.seconds_per_frame).to_bits();
        let before = match *self {
            Self::Unarmed => None,
            Self::Settling(kinetic) | Self::Armed { kinetic, .. } => kinetic,
        };
        let step = match (before, now) {
            (Some(before), Some(now)) => over.saturating_add(before.to_bits().saturating_sub(now.to_bits())),
            // An inertia, but no speed.
            _ if c.kinetic.is_some() => over.max(0),
            _ => over,
        };
        *self = match *self {
            Self::Armed { surplus, .. } => {
                let most = c.surplus.to_bits().saturating_mul(2);
                Self::Armed { kinetic: now, surplus: surplus.saturating_add(step).max(0).min(most) }
            }
            Self::Settling(_) if step < 0 => Self::Armed { kinetic: now, surplus: 0 },
            _ => Self::Settling(now),
        };
        match *self {
            Self::Armed { surplus, .. } if surplus >= c.surplus.to_bits() => Level::Beyond,
            Self::Armed { surplus: 1.., .. } => Level::Between,
            _ => Level::Short,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::event::State;
    use crate::math::scale::Scale;
    use crate::record::HalfCycle;
    use crate::settings::{Action, Settings, Wedge};
    use crate::time::{Instant, Span};
    use crate::unit::{Ratio, Rpm, SquareAmps, SquareVolts};

    /// 55 kW, 10 kg m², 4 kHz: 120 % of 55 kW are 66 kW; 0.2 s of 55 kW are 11 kJ.
    fn coefficients(inertia: bool) -> WedgeCoefficients {
        let mut settings = Settings::example();
        settings.trips.wedge = Some(Wedge { pickup_ppm: 1_200_000, surplus_ms: 200, action: Action::Trip });
        settings.mill.inertia_gm2 = inertia.then_some(10_000);
        settings.build().unwrap().judge.trips.wedge.unwrap()
    }

    fn level(surplus: &mut Surplus, c: &WedgeCoefficients, kilowatts: i64, rpm: Option<f64>, state: State) -> Level {
        let half = HalfCycle::default();
        surplus.update(
            c,
            &View {
                now: Instant(0),
                length: Span(40 << 16),
                half: &half,
                state,
                onset: None,
                flows: true,
                lives: true,
                voltages: 0b111,
                largest: SquareAmps::default(),
                lowest: SquareVolts::default(),
                unbalance: Some(Ratio::ZERO),
                shaft: Watts::from_bits(kilowatts * 65_536_000),
                speed: rpm.map(|rpm| Rpm::from_bits((rpm * 4_096.0) as i32)),
                gaining: false,
                at_speed: true,
                idle: None,
            },
        )
    }

    fn stored(surplus: Surplus) -> f64 {
        let Surplus::Armed { surplus, .. } = surplus else { panic!("{surplus:?}") };
        surplus as f64 / f64::from(1 << 20)
    }

    /// By hand: 10 ms at 86 kW are 200 J beyond 66 kW; from 1 480 to 1 470 rpm 10 kg m² give 5 x (154.985² - 153.938²) = 1 617.3 J.
    #[test]
    fn shaft_work_and_lost_energy_add_up_and_drain() {
        let c = coefficients(true);
        let mut s = Surplus::default();
        assert_eq!(level(&mut s, &c, 30, Some(1_480.0), State::Breaking), Level::Short);
        assert_eq!(level(&mut s, &c, 30, Some(1_480.0), State::Breaking), Level::Short);
        assert_eq!(level(&mut s, &c, 86, Some(1_470.0), State::Breaking), Level::Between);
        assert!((stored(s) - 1_817.3).abs() < 2.0, "{}", stored(s));
        // 30 kW are 360 J a half cycle below.
        level(&mut s, &c, 30, Some(1_470.0), State::Breaking);
        assert!((stored(s) - 1_457.3).abs() < 2.0, "{}", stored(s));
        for _ in 0..5 {
            level(&mut s, &c, 30, Some(1_470.0), State::Breaking);
        }
        assert!(stored(s).abs() < 1e-9);
        // 11 kJ: six half cycles of such a fall give 10 903 J, a seventh is over; it stays so until it is drained.
        for (n, wanted) in [(1, Level::Between), (6, Level::Between), (7, Level::Beyond)] {
            let mut s = Surplus::default();
            level(&mut s, &c, 30, Some(1_480.0), State::Breaking);
            level(&mut s, &c, 30, Some(1_480.0), State::Breaking);
            let last =
                (1..=n).map(|k| level(&mut s, &c, 86, Some(1_480.0 - 10.0 * f64::from(k)), State::Breaking)).last();
            assert_eq!(last, Some(wanted), "{n}: {}", stored(s));
        }
    }

    /// A motor that speeds up again takes as much energy from the line as the rotor stores: no load.
    #[test]
    fn a_rotor_that_speeds_up_is_no_load() {
        let c = coefficients(true);
        let mut s = Surplus::default();
        level(&mut s, &c, 30, Some(1_400.0), State::Breaking);
        level(&mut s, &c, 30, Some(1_400.0), State::Breaking);
        for n in 1..=8 {
            // 10 rpm in 10 ms take 150 to 160 kW.
            assert_eq!(level(&mut s, &c, 200, Some(1_400.0 + 10.0 * f64::from(n)), State::Breaking), Level::Short);
        }
        let blind = coefficients(false);
        let mut s = Surplus::default();
        level(&mut s, &blind, 30, Some(1_400.0), State::Breaking);
        level(&mut s, &blind, 30, Some(1_400.0), State::Breaking);
        for n in 1..=9 {
            let found = level(&mut s, &blind, 200, Some(1_400.0 + 10.0 * f64::from(n)), State::Breaking);
            assert_eq!(found, if n < 9 { Level::Between } else { Level::Beyond }, "without an inertia it is one");
        }
    }

    #[test]
    fn a_starts_end_is_not_judged_and_a_stop_forgets() {
        let c = coefficients(false);
        let mut s = Surplus::default();
        for _ in 0..50 {
            assert_eq!(level(&mut s, &c, 120, None, State::Starting), Level::Short);
            assert_eq!(s, Surplus::Unarmed);
        }
        for _ in 0..50 {
            assert_eq!(level(&mut s, &c, 120, Some(1_450.0), State::Breaking), Level::Short, "{s:?}");
        }
        level(&mut s, &c, 50, Some(1_480.0), State::Breaking);
        for n in 1..=21 {
            let found = level(&mut s, &c, 120, Some(1_480.0), State::Breaking);
            // 540 J a half cycle: the 21st passes 11 kJ.
            assert_eq!(found, if n < 21 { Level::Between } else { Level::Beyond }, "{n}");
        }
        assert_eq!(level(&mut s, &c, 120, None, State::Stopped), Level::Short);
        assert_eq!(s, Surplus::Unarmed);
    }

    /// Speed is no longer told: what is stored does not drain, and the shaft's own work beyond the pick-up still counts.
    #[test]
    fn without_speed_nothing_drains() {
        let c = coefficients(true);
        let mut s = Surplus::default();
        for rpm in [1_480.0, 1_480.0, 1_450.0] {
            level(&mut s, &c, 30, Some(rpm), State::Breaking);
        }
        let before = stored(s);
        level(&mut s, &c, 30, None, State::Breaking);
        assert!((stored(s) - before).abs() < 1e-9);
        level(&mut s, &c, 86, None, State::Breaking);
        assert!((stored(s) - before - 200.0).abs() < 0.1);
        level(&mut s, &c, 86, Some(1_200.0), State::Breaking);
        assert!((stored(s) - before - 400.0).abs() < 0.1, "the first speed after a gap is compared with nothing");
    }

    #[test]
    fn any_figures_are_borne() {
        let widest = WedgeCoefficients {
            pickup: Watts::from_bits(i64::MAX),
            surplus: Joules::from_bits(i64::MAX),
            kinetic: Scale::from_ratio(1 << 29, 1),
            ..coefficients(true)
        };
        for c in [coefficients(true), coefficients(false), widest] {
            for shaft in [i64::MIN / 65_536_000, 0, i64::MAX / 65_536_000] {
                let mut s = Surplus::default();
                for rpm in [Some(-524_287.0), Some(524_287.0), None, Some(0.0), Some(524_287.0), Some(-1.0)] {
                    level(&mut s, &c, shaft, rpm, State::Breaking);
                    if let Surplus::Armed { surplus, .. } = s {
                        assert!(surplus >= 0);
                    }
                }
            }
        }
    }
}
