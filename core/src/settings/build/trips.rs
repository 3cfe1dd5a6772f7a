//! The coefficients of the trips and of the feed decision: thresholds as squares, delays in frames.

use super::{LONGEST_MS, ROOT_THREE_Q28, amps, factor, span, volts};
use crate::error::SettingsError;
use crate::settings::coefficients::{
    FeedCoefficients, JamCoefficients, LongStartCoefficients, PhaseLossCoefficients, ThermalCoefficients,
    TripCoefficients, UndervoltageCoefficients,
};
use crate::settings::{Feed, Settings, Thermal, Trips, Wiring};
use crate::unit::{Ratio, SquareAmps, SquareVolts};

/// A current as parts per million of another.
fn part(ma: u32, ppm: u32) -> u128 {
    u128::from(ma) * u128::from(ppm) / 1_000_000
}

fn pickup_range(ppm: u32) -> Result<u32, SettingsError> {
    if (1..=100_000_000).contains(&ppm) { Ok(ppm) } else { Err(SettingsError::Trip) }
}

pub(super) fn build(t: &Trips, all: &Settings) -> Result<TripCoefficients, SettingsError> {
    let rate = all.sampling.rate_mhz;
    let rated = all.motor.rated_current_ma;
    let thermal = t.thermal.map(|x| thermal(&x, rate)).transpose()?;
    let jam = match t.jam {
        Some(j) => {
            let ma = part(rated, pickup_range(j.pickup_ppm)?);
            Some(JamCoefficients {
                pickup: SquareAmps::of(amps(ma)),
                dropout: SquareAmps::of(amps(ma * 97 / 100)),
                delay: span(j.delay_ms, rate)?,
            })
        }
        None => None,
    };
    let long_start = match t.long_start {
        Some(l) => Some(LongStartCoefficients { delay: span(l.delay_ms, rate)? }),
        None => None,
    };
    let phase_loss = match t.phase_loss {
        Some(p) => {
            let q24 = (u64::from(pickup_range(p.pickup_ppm)?) << 24) / 1_000_000;
            let pickup = q24.min(i32::MAX as u64) as i32;
            Some(PhaseLossCoefficients {
                pickup: Ratio::from_bits(pickup),
                dropout: Ratio::from_bits((i64::from(pickup) * 97 / 100) as i32),
                delay: span(p.delay_ms, rate)?,
                floor: SquareAmps::of(amps(u128::from(rated) * 15 / 100)),
            })
        }
        None => None,
    };
    let undervoltage = match t.undervoltage {
        // Blocked: there is nothing to look at.
        Some(_) if all.supply.wiring == Wiring::CurrentsOnly => None,
        Some(u) => {
            let line = part(all.supply.line_voltage_mv, pickup_range(u.pickup_ppm)?);
            let mv = if all.supply.wiring == Wiring::FourWire { (line << 28) / ROOT_THREE_Q28 } else { line };
            Some(UndervoltageCoefficients {
                pickup: SquareVolts::of(volts(mv)),
                dropout: SquareVolts::of(volts(mv * 100 / 97)),
                delay: span(u.delay_ms, rate)?,
                start_delay: span(u.start_delay_ms, rate)?,
            })
        }
        None => None,
    };
    Ok(TripCoefficients { thermal, jam, long_start, phase_loss, undervoltage })
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
        && t.negative_sequence_ppm <= 100_000_000;
    if !fits {
        return Err(wrong);
    }
    let a_frame = |ms: u32| factor(1_000_000, u128::from(ms) * u128::from(rate_mhz)).ok_or(wrong);
    Ok(ThermalCoefficients {
        // A² Q34 -> Q32: / 4 / (k base [A])² ; k base in nA: 10^18 in the numerator
        level: factor(1_000_000_000_000_000_000, (k_base * k_base) << 2).ok_or(wrong)?,
        heating: a_frame(t.heating_ms)?,
        cooling: a_frame(t.cooling_ms)?,
        initial: ((u64::from(t.initial_ppm) << 32) / 1_000_000) as i64,
        negative_sequence: factor(t.negative_sequence_ppm.into(), 1_000_000).ok_or(wrong)?,
    })
}

pub(super) fn feed(f: &Feed, rate: u32) -> Result<FeedCoefficients, SettingsError> {
    let level = |ppm: u32| -> Result<Ratio, SettingsError> {
        Ok(Ratio::from_bits(((u64::from(pickup_range(ppm)?) << 24) / 1_000_000).min(i32::MAX as u64) as i32))
    };
    Ok(FeedCoefficients {
        stop: level(f.stop_ppm)?,
        stop_delay: span(f.stop_delay_ms, rate)?,
        resume: level(f.resume_ppm)?,
        resume_delay: span(f.resume_delay_ms, rate)?,
    })
}
