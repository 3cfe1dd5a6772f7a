//! Wedge: a piece that is stuck between rotor and casing, told by the load that stands.
//!
//! ```text
//! load work  = shaft work + kinetic energy lost        a half cycle's; E = J w² / 2, all that turns
//! least(k)   = least load work of a half cycle since k half cycles ago
//! standing   = sum of least(k) over the window         J; decides at pick-up x window
//! ```
//!
//! A strike may be as hard as a wedge, but what it takes is bounded by the piece, and then it lets go: with its fall all that it took stands no
//! longer. A wedge does not let go. So work counts only as far as the load has not been less since: as if there were a definite-time
//! element for every height of load at once, and their times were added up. A load that comes up at once to twice the pick-up decides after
//! half of the window, to four times after a quarter, one below the pick-up never. A current shows a wedge late, when the rotor has slowed down; this
//! shows the load itself, before the speed has gone. Kinetic energy is taken as it changes, so that errors of speed do not add up; what is
//! remembered of it is the speed, which is the same under any inertia.
//!
//! Where the motor gives next to nothing, as when a rotor swings above synchronous speed after a strike, slip is told poorly and may jump: so
//! much energy lost within a half cycle would be a load that no mill has. No half cycle's work counts for more than five times
//! rated power gives.
//!
//! Own work, by the balance of energy of what turns; docs/wedge.md sets it beside sums after Page, definite times and current.
//!
//! | from | to | when |
//! |---|---|---|
//! | any | `Unarmed` | the motor does not run; samples, a current or the voltages are missing |
//! | `Unarmed` | `Settling` | it runs |
//! | `Settling` | `Armed` | the load is below the pick-up: a start's end is no wedge |
//! | `Armed` | `Armed` | else; the window goes on |
//!
//! The timer ([`super::timer`], without delay) is past its pick-up while enough stands, and drops out below half of that.
//!
//! **An inertia that is off** by a share makes kinetic energy so much too large or small. Too small tells later; too large tells
//! sooner and takes honest strikes for larger ones: docs/wedge.md has figures for 30 % either way.
//!
//! **Without an inertia** kinetic energy is left out: shaft work alone, which needs none. It is told when the motor feels the wedge,
//! about as late as a current, and takes a rotor that speeds up again after a sag for a load.
//!
//! **Where speed is not told** (beyond 10 % of slip, and no tachometer) the rotor may be stalling, and torque no longer shows
//! what the load takes: it is taken to be no less than it was, and no less than the shaft's own work.

use super::View;
use super::timer::Level;
use crate::judge::flywheel::energy;
use crate::math::scale::ratio_q;
use crate::settings::{STANDING_HALVES, WedgeCoefficients};
use crate::unit::{Ratio, Rpm};

/// From Q20 to Q10: work is kept to a thousandth of a joule, 4 MJ a half cycle at most.
const KEPT_SHIFT: u32 = 10;

/// The element's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) enum Standing {
    /// Nothing to judge.
    #[default]
    Unarmed,
    /// The motor runs, but has had more than the pick-up to do ever since; its speed as it was.
    Settling(Option<Rpm>),
    /// Judges.
    Armed {
        /// Speed as it was at the last half cycle.
        speed: Option<Rpm>,
        standing: Least,
    },
}

/// The least work of a half cycle since each of the last ones, Q10: a ring, in which what came later is never less.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Least {
    kept: [u32; STANDING_HALVES],
    newest: u8,
    /// All of it: 32 words.
    sum: u64,
}

impl Least {
    /// The newest.
    fn newest(&self) -> u32 {
        self.kept.get(usize::from(self.newest)).copied().unwrap_or_default()
    }

    /// Lets a half cycle's work in; tells what stands over so many of them.
    fn pass(&mut self, halves: u8, work: u32) -> u64 {
        let halves = halves.min(STANDING_HALVES as u8);
        self.newest = if self.newest + 1 < halves { self.newest + 1 } else { 0 };
        let mut at = self.newest;
        if let Some(slot) = self.kept.get_mut(usize::from(at)) {
            let oldest = core::mem::replace(slot, work);
            self.sum += u64::from(work);
            self.sum -= u64::from(oldest);
        }
        // What stood before stands no higher than this; where it is no higher, neither is what is older.
        for _ in 1..halves {
            at = if at == 0 { halves - 1 } else { at - 1 };
            match self.kept.get_mut(usize::from(at)) {
                Some(slot) if *slot > work => {
                    self.sum -= u64::from(*slot - work);
                    *slot = work;
                }
                _ => break,
            }
        }
        self.sum
    }

    /// Lays the ring out for a window of so many half cycles, whatever it was laid out for: of a shorter one the newest stay, of a longer one
    /// what is older counts as nothing. For the same window it stays as it is.
    fn fit(&mut self, halves: u8) {
        let halves = halves.clamp(1, STANDING_HALVES as u8);
        let Self { kept, newest, .. } = *self;
        *self = Self { newest: newest.min(halves - 1), ..Self::default() };
        // Back from the newest. What is older is never more: nothing stands before nothing, and what is passed over was in no window.
        let (recent, older) = kept.split_at_checked(usize::from(newest) + 1).unwrap_or((&kept, &[]));
        let mut at = self.newest;
        for work in recent.iter().rev().chain(older.iter().rev()).filter(|work| **work > 0).take(halves.into()) {
            if let Some(slot) = self.kept.get_mut(usize::from(at)) {
                *slot = *work;
                self.sum += u64::from(*work);
            }
            at = if at == 0 { halves - 1 } else { at - 1 };
        }
    }
}

impl Standing {
    /// There is nothing to judge by.
    pub(crate) const fn forget(&mut self) -> Level {
        *self = Self::Unarmed;
        Level::Short
    }

    /// Other settings than those that this was remembered under: what has stood stays, as far as their window reaches.
    pub(crate) fn fit(&mut self, c: &WedgeCoefficients) {
        if let Self::Armed { standing, .. } = self {
            standing.fit(c.halves);
        }
    }

    /// What stands over what decides.
    pub(crate) fn share(&self, c: &WedgeCoefficients) -> Ratio {
        let Self::Armed { standing, .. } = self else { return Ratio::ZERO };
        // 32 words: below 2^37.
        Ratio::from_bits(ratio_q(standing.sum as i64, c.work.to_bits().unsigned_abs() >> KEPT_SHIFT, 24))
    }

    /// Takes a half cycle. Energies are J at Q20; sums saturate.
    pub(crate) fn update(&mut self, c: &WedgeCoefficients, view: &View) -> Level {
        if !view.state.running() {
            return self.forget();
        }
        let stored = |speed: Option<Rpm>| Some(energy(c.kinetic?, speed?));
        let shaft = view.length.energy(view.shaft, c.seconds_per_frame).to_bits();
        let (before, newest) = match &*self {
            Self::Unarmed => (None, 0),
            Self::Settling(speed) => (*speed, 0),
            Self::Armed { speed, standing } => (*speed, standing.newest()),
        };
        let work = match (stored(before), stored(view.speed)) {
            (Some(before), Some(now)) => kept(shaft.saturating_add(before.to_bits().saturating_sub(now.to_bits()))),
            // An inertia, but no speed.
            _ if c.kinetic.is_some() => kept(shaft).max(newest),
            _ => kept(shaft),
        };
        let work = work.min(kept(c.most.to_bits()));
        let wanted = c.work.to_bits().unsigned_abs() >> KEPT_SHIFT;
        if let Self::Armed { speed, standing } = self {
            *speed = view.speed;
            let standing = standing.pass(c.halves, work);
            return if standing >= wanted {
                Level::Beyond
            } else if standing.saturating_mul(2) >= wanted {
                Level::Between
            } else {
                Level::Short
            };
        }
        let calm = u64::from(work).saturating_mul(c.halves.into()) < wanted;
        let speed = view.speed;
        *self = if calm { Self::Armed { speed, standing: Least::default() } } else { Self::Settling(speed) };
        Level::Short
    }
}

/// Work to what is kept of it; what the load gives back is none.
fn kept(joules: i64) -> u32 {
    u32::try_from(joules.max(0) >> KEPT_SHIFT).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::event::State;
    use crate::math::scale::Scale;
    use crate::record::HalfCycle;
    use crate::settings::{Action, Settings, Wedge};
    use crate::time::{Instant, Span};
    use crate::unit::{Joules, SquareAmps, SquareVolts, Watts};

    /// 55 kW, 10 kg m², 50 Hz, 4 kHz: 150 % over ten half cycles are 8 250 J.
    fn coefficients(inertia: bool) -> WedgeCoefficients {
        let mut settings = Settings::example();
        settings.trips.wedge = Some(Wedge { pickup_ppm: 1_500_000, window_ms: 100, action: Action::Trip });
        settings.mill.inertia_gm2 = inertia.then_some(10_000);
        settings.build().unwrap().judge.trips.wedge.unwrap()
    }

    fn level(standing: &mut Standing, c: &WedgeCoefficients, kilowatts: i64, rpm: Option<f64>, state: State) -> Level {
        let half = HalfCycle::default();
        standing.update(
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
                highest: SquareVolts::default(),
                unbalance: Some(Ratio::ZERO),
                shaft: Watts::from_bits(kilowatts * 65_536_000),
                speed: rpm.map(|rpm| Rpm::from_bits((rpm * 4_096.0) as i32)),
                gaining: false,
                at_speed: true,
                idle: None,
            },
        )
    }

    /// J, over the whole window.
    fn stands(standing: Standing) -> f64 {
        let Standing::Armed { standing, .. } = standing else { panic!("{standing:?}") };
        let sum = standing.kept.iter().map(|kept| u64::from(*kept)).sum::<u64>();
        assert_eq!(sum, standing.sum);
        sum as f64 / 1_024.0
    }

    fn armed(c: &WedgeCoefficients, rpm: Option<f64>) -> Standing {
        let mut s = Standing::default();
        for _ in 0..2 {
            assert_eq!(level(&mut s, c, 30, rpm, State::Breaking), Level::Short);
        }
        assert!(matches!(s, Standing::Armed { .. }));
        s
    }

    fn near(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 2.0, "{found} J, wanted {wanted} J");
    }

    /// By hand: 10 ms at 86 kW are 860 J; from 1 480 to 1 470 rpm 10 kg m² give 5 x (154.985² - 153.938²) = 1 617.3 J.
    #[test]
    fn shaft_work_and_lost_energy_stand_until_the_load_falls() {
        let c = coefficients(true);
        assert_eq!((c.halves, c.work), (10, Joules::from_bits(8_250 << 20)));
        let mut s = armed(&c, Some(1_480.0));
        // One half cycle of 30 kW went in.
        near(stands(s), 300.0);
        assert_eq!(level(&mut s, &c, 86, Some(1_470.0), State::Breaking), Level::Short);
        near(stands(s), 300.0 + 2_477.3);
        assert_eq!(level(&mut s, &c, 86, Some(1_460.0), State::Breaking), Level::Between);
        // 1 480 to 1 470 to 1 460 rpm: the second fall is 11 J less, and so much of the first stands.
        near(stands(s), 300.0 + 2.0 * 2_466.4);
        // The load falls to 40 kW: that stands, for four half cycles.
        assert_eq!(level(&mut s, &c, 40, Some(1_460.0), State::Breaking), Level::Short);
        near(stands(s), 300.0 + 3.0 * 400.0);
        assert_eq!(level(&mut s, &c, 0, Some(1_460.0), State::Breaking), Level::Short);
        near(stands(s), 0.0);
    }

    /// A load's time to the decision goes with one over its height: 82.5 kW are the pick-up.
    #[test]
    fn a_load_that_stands_decides_the_sooner_the_heavier_it_is() {
        let c = coefficients(true);
        for (kilowatts, wanted) in [(82, None), (83, Some(10)), (165, Some(5)), (270, Some(4))] {
            let mut s = armed(&c, Some(1_480.0));
            level(&mut s, &c, 0, Some(1_480.0), State::Breaking);
            let found =
                (1..=30).find(|_| level(&mut s, &c, kilowatts, Some(1_480.0), State::Breaking) == Level::Beyond);
            assert_eq!(found, wanted, "{kilowatts} kW");
        }
        // Strikes of twice the pick-up for four half cycles, one half cycle apart: none.
        let mut s = armed(&c, Some(1_480.0));
        for n in 0..100 {
            let found = level(&mut s, &c, if n % 5 == 0 { 10 } else { 165 }, Some(1_480.0), State::Breaking);
            assert_ne!(found, Level::Beyond, "{n}");
        }
    }

    /// Slip is told 7 % too large for a half cycle: 16 kJ of 10 kg m² lost, of which 2 750 J count.
    #[test]
    fn a_speed_that_is_misread_is_no_load() {
        let c = coefficients(true);
        assert_eq!(c.most, Joules::from_bits(2_750 << 20));
        let mut s = armed(&c, Some(1_500.0));
        assert_eq!(level(&mut s, &c, 0, Some(1_395.0), State::Breaking), Level::Short);
        near(stands(s), 2_750.0 + 300.0);
        assert_eq!(level(&mut s, &c, 0, Some(1_500.0), State::Breaking), Level::Short);
        near(stands(s), 0.0);
    }

    /// A motor that speeds up again takes as much energy from the line as the rotor stores: no load.
    #[test]
    fn a_rotor_that_speeds_up_is_no_load() {
        let c = coefficients(true);
        let mut s = armed(&c, Some(1_400.0));
        for n in 1..=8 {
            // 10 rpm in 10 ms take 150 to 160 kW.
            assert_eq!(level(&mut s, &c, 190, Some(1_400.0 + 10.0 * f64::from(n)), State::Breaking), Level::Short);
        }
        let blind = coefficients(false);
        let mut s = armed(&blind, Some(1_400.0));
        let found = [1, 2, 3, 4, 5].map(|_| level(&mut s, &blind, 190, None, State::Breaking));
        assert_eq!(found.last(), Some(&Level::Beyond), "without an inertia it is one");
    }

    #[test]
    fn a_starts_end_is_not_judged_and_a_stop_forgets() {
        let c = coefficients(false);
        let mut s = Standing::default();
        for _ in 0..50 {
            assert_eq!(level(&mut s, &c, 120, None, State::Starting), Level::Short);
            assert_eq!(s, Standing::Unarmed);
        }
        for _ in 0..50 {
            assert_eq!(level(&mut s, &c, 120, Some(1_450.0), State::Breaking), Level::Short, "{s:?}");
        }
        level(&mut s, &c, 50, Some(1_480.0), State::Breaking);
        // 1 200 J a half cycle: the seventh passes 8 250 J, the fourth half of it.
        for (n, wanted) in (1..).zip([Level::Short, Level::Short, Level::Short, Level::Between, Level::Between]) {
            assert_eq!(level(&mut s, &c, 120, Some(1_480.0), State::Breaking), wanted, "{n}");
        }
        level(&mut s, &c, 120, Some(1_480.0), State::Breaking);
        assert_eq!(level(&mut s, &c, 120, Some(1_480.0), State::Breaking), Level::Beyond);
        assert_eq!(level(&mut s, &c, 120, None, State::Stopped), Level::Short);
        assert_eq!(s, Standing::Unarmed);
    }

    /// Speed is no longer told: the load is taken to be no less than it was, and than the shaft's own work.
    #[test]
    fn without_speed_the_load_is_what_it_was() {
        let c = coefficients(true);
        let mut s = armed(&c, Some(1_480.0));
        level(&mut s, &c, 30, Some(1_475.0), State::Breaking);
        let one = stands(s) - 300.0;
        near(one, 300.0 + 810.1);
        level(&mut s, &c, 30, None, State::Breaking);
        near(stands(s), 300.0 + 2.0 * one);
        level(&mut s, &c, 200, None, State::Breaking);
        near(stands(s), 300.0 + 2.0 * one + 2_000.0);
        level(&mut s, &c, 30, Some(1_200.0), State::Breaking);
        near(stands(s), 300.0 + 2.0 * one + 4_000.0);
        level(&mut s, &c, 30, Some(1_200.0), State::Breaking);
        near(stands(s), 6.0 * 300.0);
    }

    #[test]
    fn any_figures_are_borne() {
        let widest = WedgeCoefficients {
            work: Joules::from_bits(i64::MAX),
            most: Joules::from_bits(i64::MAX),
            halves: u8::MAX,
            kinetic: Some(Scale::from_ratio(1 << 29, 1).unwrap()),
            ..coefficients(true)
        };
        for c in [coefficients(true), coefficients(false), widest] {
            for shaft in [i64::MIN / 65_536_000, 0, i64::MAX / 65_536_000] {
                let mut s = Standing::default();
                for rpm in [Some(-524_287.0), Some(524_287.0), None, Some(0.0), Some(524_287.0), Some(-1.0)] {
                    level(&mut s, &c, shaft, rpm, State::Breaking);
                    let Standing::Armed { standing: Least { mut kept, newest, .. }, .. } = s else { continue };
                    let halves = usize::from(c.halves).min(STANDING_HALVES);
                    kept[..halves].rotate_left((usize::from(newest) + 1) % halves);
                    assert!(kept[..halves].is_sorted(), "{kept:?}");
                }
            }
        }
    }

    /// The window's length, by frequency; its ends.
    #[test]
    fn windows_are_whole_half_cycles() {
        for (millihertz, window_ms, halves) in [
            (50_000, 200, Some(20)),
            (60_000, 200, Some(24)),
            (72_000, 220, Some(32)),
            (40_000, 20, Some(2)),
            (50_000, 19, None),
            (50_000, 221, None),
        ] {
            let mut settings = Settings::example();
            settings.motor.rated_frequency_mhz = millihertz;
            settings.trips.wedge = Some(Wedge { pickup_ppm: 1_500_000, window_ms, action: Action::Trip });
            let found = settings.build().ok().map(|c| c.judge.trips.wedge.unwrap().halves);
            assert_eq!(found, halves, "{millihertz} mHz, {window_ms} ms");
        }
    }
}
