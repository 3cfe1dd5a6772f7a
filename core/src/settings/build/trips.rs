//! The coefficients of the elements: thresholds as squares, delays in frames.

use super::{LONGEST_MS, amps, factor, phase, span, volts, watts};
use crate::error::SettingsError;
use crate::math::divide::{over, part};
use crate::math::scale::Scale;
use crate::settings::coefficients::{
    ElementCoefficients, LongStartCoefficients, RestartCoefficients, RotorCoefficients, StartsCoefficients,
    ThermalCoefficients, TripCoefficients, UndervoltageCoefficients, WatchCoefficients, WedgeCoefficients,
};
use crate::settings::{
    Action, CurrentTap, Element, Restart, STANDING_HALVES, Settings, Thermal, Trips, Watch, Wedge, Wiring,
};
use crate::unit::{Joules, Ratio, SquareAmps, SquareVolts};
use core::ops::RangeInclusive;

/// The highest pick-up of underload: idle power scatters, and below 85 % the state is no longer idle.
const UNDERLOAD_MOST_PPM: u32 = 850_000;
/// The lowest pick-up of residual current: what transformers of one kind err by in a start is below it.
const RESIDUAL_LEAST_PPM: u32 = 200_000;
/// Windows of a wedge: a cycle, and what is kept at any frequency.
const WEDGE_WINDOW_MS: RangeInclusive<u32> = 20..=220;
/// The heaviest load that is believed, over rated power: more is a speed misread.
const WEDGE_MOST: u128 = 5;
/// Starts that are kept.
const STARTS: u8 = 15;

/// A current or a voltage as parts per million of another.
fn millionths(milli: u32, ppm: u32) -> u64 {
    part(u64::from(milli) * u64::from(ppm), 1_000_000)
}

fn pickup_range(ppm: u32) -> Result<u32, SettingsError> {
    if (1..=100_000_000).contains(&ppm) { Ok(ppm) } else { Err(SettingsError::Trip) }
}

/// ppm at Q24, saturating at 127.
fn ratio(ppm: u64) -> Ratio {
    Ratio::from_bits(part(ppm << 24, 1_000_000).min(i32::MAX as u64) as i32)
}

/// What the delays and levels of one mill are made with.
struct Maker<'a> {
    all: &'a Settings,
    rate: u32,
}

impl Maker<'_> {
    fn element<T>(&self, e: Element, pickup: T, dropout: T) -> Result<ElementCoefficients<T>, SettingsError> {
        Ok(ElementCoefficients { pickup, dropout, delay: span(e.delay_ms, self.rate)?, action: e.action })
    }

    fn watch(&self, w: Watch) -> Result<WatchCoefficients, SettingsError> {
        Ok(WatchCoefficients { delay: span(w.delay_ms, self.rate)?, action: w.action })
    }

    /// Against rated current.
    fn current(&self, e: Element) -> Result<ElementCoefficients<SquareAmps>, SettingsError> {
        let ma = millionths(self.all.motor.rated_current_ma, pickup_range(e.pickup_ppm)?);
        self.element(e, SquareAmps::of(amps(ma)), SquareAmps::of(amps(part(ma * 97, 100))))
    }

    /// A ratio of two figures.
    fn ratio(&self, e: Element) -> Result<ElementCoefficients<Ratio>, SettingsError> {
        let ppm = u64::from(pickup_range(e.pickup_ppm)?);
        self.element(e, ratio(ppm), ratio(part(ppm * 97, 100)))
    }

    /// So many ppm of the nominal voltage, as the wiring measures it, mV.
    fn voltage_mv(&self, ppm: u32) -> u64 {
        let line = millionths(self.all.supply.line_voltage_mv, ppm);
        if self.all.supply.wiring == Wiring::FourWire { phase(line) } else { line }
    }
}

/// An element of five that always trip.
const fn trip(pickup_ppm: u32, delay_ms: u32) -> Element {
    Element { pickup_ppm, delay_ms, action: Action::Trip }
}

pub(super) fn build(t: &Trips, all: &Settings, kinetic: Option<Scale>) -> Result<TripCoefficients, SettingsError> {
    let m = Maker { all, rate: all.sampling.rate_mhz };
    let rated = all.motor.rated_current_ma;
    // Blocked: there is nothing to look at.
    let volts_seen = all.supply.wiring != Wiring::CurrentsOnly;
    let sum_seen = all.supply.wiring != Wiring::TwoElement && all.sampling.current_tap == CurrentTap::Line;
    let square = |mv: u64| SquareVolts::of(volts(mv));
    Ok(TripCoefficients {
        floor: SquareAmps::of(amps(part(u64::from(rated) * 15, 100))),
        thermal: t.thermal.map(|x| thermal(&x, m.rate)).transpose()?,
        jam: t.jam.map(|j| m.current(trip(j.pickup_ppm, j.delay_ms))).transpose()?,
        long_start: match t.long_start {
            Some(l) => {
                let delay = span(l.delay_ms, m.rate)?;
                let gaining = l.gaining_ms.map_or(Ok(delay), |ms| span(ms, m.rate))?;
                Some(LongStartCoefficients { delay, gaining: gaining.max(delay) })
            }
            None => None,
        },
        phase_loss: t.phase_loss.map(|p| m.ratio(trip(p.pickup_ppm, p.delay_ms))).transpose()?,
        undervoltage: match t.undervoltage.filter(|_| volts_seen) {
            Some(u) => {
                let mv = m.voltage_mv(pickup_range(u.pickup_ppm)?);
                let element = trip(u.pickup_ppm, u.delay_ms);
                Some(UndervoltageCoefficients {
                    element: m.element(element, square(mv), square(part(mv * 100, 97)))?,
                    start_delay: span(u.start_delay_ms, m.rate)?,
                })
            }
            None => None,
        },
        overvoltage: match t.overvoltage.filter(|_| volts_seen) {
            Some(o) => {
                let mv = m.voltage_mv(pickup_range(o.pickup_ppm)?);
                Some(m.element(o, square(mv), square(part(mv * 97, 100)))?)
            }
            None => None,
        },
        phase_reversal: t.phase_reversal.map(|w| m.watch(w)).transpose()?,
        current_unbalance: t.current_unbalance.map(|e| m.ratio(e)).transpose()?,
        residual_current: match t.residual_current {
            Some(r) if r.pickup_ppm < RESIDUAL_LEAST_PPM => return Err(SettingsError::Trip),
            Some(r) if sum_seen => {
                let ma = millionths(rated, pickup_range(r.pickup_ppm)?);
                Some(m.element(r, amps(ma), amps(part(ma * 97, 100)))?)
            }
            _ => None,
        },
        underload: match t.underload {
            Some(u) if u.pickup_ppm > UNDERLOAD_MOST_PPM => return Err(SettingsError::Trip),
            Some(u) => {
                let ppm = u64::from(pickup_range(u.pickup_ppm)?);
                Some(m.element(u, ratio(ppm), ratio(part(ppm * 100, 97)))?)
            }
            None => None,
        },
        sensor_fault: t.sensor_fault.map(|w| m.watch(w)).transpose()?,
        starts_per_hour: match t.starts_per_hour {
            Some(s) if !(1..=STARTS).contains(&s.most) => return Err(SettingsError::Trip),
            Some(s) => Some(StartsCoefficients { most: s.most, hour: span(3_600_000, m.rate)?, action: s.action }),
            None => None,
        },
        wedge: t.wedge.map(|w| wedge(w, all, kinetic)).transpose()?,
        voltage_most: square(m.voltage_mv(1_500_000)),
        backwards: watts(part(all.motor.rated_power_mw, 10)),
    })
}

fn wedge(w: Wedge, all: &Settings, kinetic: Option<Scale>) -> Result<WedgeCoefficients, SettingsError> {
    if !WEDGE_WINDOW_MS.contains(&w.window_ms) {
        return Err(SettingsError::Trip);
    }
    let frequency = u128::from(all.motor.rated_frequency_mhz);
    // Half cycles, rounded: twice mHz times ms are millionths. 220 ms of 72 Hz are 32.
    let halves = over(2 * frequency * u128::from(w.window_ms) + 500_000, 1_000_000);
    let halves = halves.clamp(1, STANDING_HALVES as u128);
    let rated = u128::from(all.motor.rated_power_mw);
    let pickup = over(rated * u128::from(pickup_range(w.pickup_ppm)?), 1_000_000);
    // mW over mHz, of which there are 40 000 at least, are joules: 44 + 6 + 20 bits over at least 16.
    let joules = |work: u128| Joules::from_bits(over(work << 20, 2 * frequency).min(i64::MAX as u128) as i64);
    Ok(WedgeCoefficients {
        work: joules(pickup * halves),
        most: joules(WEDGE_MOST * rated),
        halves: halves as u8,
        kinetic,
        seconds_per_frame: factor(1_000, all.sampling.rate_mhz.into()).ok_or(SettingsError::Rate)?,
        action: w.action,
    })
}

fn thermal(t: &Thermal, rate_mhz: u32) -> Result<ThermalCoefficients, SettingsError> {
    let wrong = SettingsError::Thermal;
    let times = 1..=LONGEST_MS;
    let k_base = u128::from(t.base_current_ma) * u128::from(t.k_ppm); // mA ppm = nA
    let fits = (100..=8_000_000).contains(&t.base_current_ma)
        && (100_000..=10_000_000).contains(&t.k_ppm)
        && times.contains(&t.heating_ms)
        && times.contains(&t.cooling_ms)
        && t.initial_ppm <= 100_000_000
        && t.negative_sequence_ppm <= 100_000_000
        && t.running_ppm <= 1_000_000;
    if !fits {
        return Err(wrong);
    }
    let a_frame = |ms: u32| factor(1_000_000, u64::from(ms) * u64::from(rate_mhz)).ok_or(wrong);
    Ok(ThermalCoefficients {
        // A² Q34 -> Q32: / 4 / (k base [A])² ; k base in nA: 10^18 in the numerator
        level: Scale::from_ratio(1_000_000_000_000_000_000, (k_base * k_base) << 2).ok_or(wrong)?,
        heating: a_frame(t.heating_ms)?,
        cooling: a_frame(t.cooling_ms)?,
        times: [span(t.heating_ms, rate_mhz)?, span(t.cooling_ms, rate_mhz)?],
        running: factor(t.running_ppm.into(), 1_000_000).ok_or(wrong)?,
        initial: part(u64::from(t.initial_ppm) << 32, 1_000_000) as i64,
        negative_sequence: factor(t.negative_sequence_ppm.into(), 1_000_000).ok_or(wrong)?,
    })
}

pub(super) fn restart(
    r: Restart,
    rate: u32,
    kinetic: Option<Scale>,
    synchronous: i64,
) -> Result<RestartCoefficients, SettingsError> {
    if !(1..=1_000_000).contains(&r.reset_level_ppm) {
        return Err(SettingsError::Thermal);
    }
    let reset_level = part(u64::from(r.reset_level_ppm) << 32, 1_000_000) as i64; // at most 2^32
    let rotor = r.rotor.map(|rotor| {
        let fits = (1_000_001..=10_000_000).contains(&rotor.starts_ppm) && (1..=LONGEST_MS).contains(&rotor.cooling_ms);
        if !fits {
            return Err(SettingsError::Thermal);
        }
        // 31 + 31 bits.
        let kinetic = kinetic.ok_or(SettingsError::Inertia)?.apply(synchronous * synchronous);
        let starts = factor(rotor.starts_ppm.into(), 1_000_000).ok_or(SettingsError::Thermal)?;
        Ok(RotorCoefficients {
            bears: Joules::from_bits(starts.apply(kinetic)),
            cooling: factor(1_000_000, u64::from(rotor.cooling_ms) * u64::from(rate)).ok_or(SettingsError::Thermal)?,
            constant: span(rotor.cooling_ms, rate)?,
            kinetic: Joules::from_bits(kinetic),
        })
    });
    Ok(RestartCoefficients { rest: span(r.rest_ms, rate)?, reset_level, rotor: rotor.transpose()? })
}
