//! The coefficients of the feed: shares at Q32, steps for one window.

use super::{factor, span};
use crate::error::SettingsError;
use crate::math::divide::{by, part};
use crate::math::scale::Scale;
use crate::settings::coefficients::{FeedCoefficients, FeederCoefficients, SearchCoefficients};
use crate::settings::{Feed, Feeder, Search};
use crate::unit::Ratio;

/// A window: 0.2 s, whatever the supply's frequency is (within its 1 %).
const STEP_MS: u32 = 200;

pub(super) fn build(f: &Feed, rate: u32) -> Result<FeedCoefficients, SettingsError> {
    let stop = level(f.stop_ppm)?;
    let (surge, resume) = (level(f.surge_ppm)?, level(f.resume_ppm)?);
    if surge < stop || resume > stop {
        return Err(SettingsError::Feed);
    }
    Ok(FeedCoefficients {
        stop,
        stop_delay: span(f.stop_delay_ms, rate)?,
        surge,
        resume,
        resume_delay: span(f.resume_delay_ms, rate)?,
        feeder: f.feeder.as_ref().map(|feeder| governed(feeder, f.stop_ppm, rate)).transpose()?,
    })
}

fn governed(f: &Feeder, stop_ppm: u32, rate: u32) -> Result<FeederCoefficients, SettingsError> {
    within(f.filter_ms, 0, 60_000)?;
    within(f.delay_ms, 0, 120_000)?;
    within(f.integral_ms, STEP_MS, 36_000_000)?;
    within(f.gain_ppm, 1, 16_000_000)?;
    within(f.thermal_ppm, 1, 999_999)?;
    within(f.jam.tries.into(), 1, 20)?;
    within(f.sounder_ms, 1_000, 600_000)?;
    // Tries in a row have to fall within the time in which they count.
    let one = u64::from(f.jam.delay_ms) + u64::from(f.sounder_ms) + u64::from(f.jam.reverse_ms);
    if u64::from(f.jam.within_ms) < (u64::from(f.jam.tries) + 1) * one {
        return Err(SettingsError::Feed);
    }
    let speed = |ppm: u32| within(ppm, 1, 10_000_000).map(|ppm| by(share(ppm), 1_000 / STEP_MS));
    let filter = factor(STEP_MS.into(), u64::from(f.filter_ms) + u64::from(STEP_MS)).ok_or(SettingsError::Feed)?;
    Ok(FeederCoefficients {
        target: share(within(f.target_ppm, 1, 2_000_000)?),
        peak: f.peak_ppm.map(|peak| within(peak, 1, 10_000_000).map(share)).transpose()?,
        deadband: share(within(f.deadband_ppm, 0, 500_000)?),
        gain: ppm(f.gain_ppm.into(), 1)?,
        integral: ppm(u64::from(f.gain_ppm) * u64::from(STEP_MS), f.integral_ms)?,
        back: factor(STEP_MS.into(), f.integral_ms.into()).ok_or(SettingsError::Feed)?,
        filter,
        // At most 600 windows.
        delay: (f.delay_ms / STEP_MS) as u16,
        up: speed(f.up_ppm_s)?,
        down: speed(f.down_ppm_s)?,
        least: share(within(f.least_ppm, 10_000, f.most_ppm)?),
        most: share(within(f.most_ppm, 10_000, 1_000_000)?),
        restart: ppm(within(f.restart_ppm, 0, 1_000_000)?.into(), 1)?,
        sounder: span(f.sounder_ms, rate)?,
        current: share(within(f.current_ppm, 1, 100_000_000)?),
        thermal: share(f.thermal_ppm),
        cooling: factor(1_000_000, u64::from(1_000_000 - f.thermal_ppm)).ok_or(SettingsError::Feed)?,
        charge: f.charge_ppm.map(|c| within(c, 1, 10_000_000).and_then(|c| ppm(c.into(), 1))).transpose()?,
        jam_delay: span(f.jam.delay_ms, rate)?,
        reverse: span(f.jam.reverse_ms, rate)?,
        tries: f.jam.tries,
        within: span(f.jam.within_ms, rate)?,
        search: f.search.as_ref().map(|s| search(s, f, stop_ppm)).transpose()?,
    })
}

fn search(s: &Search, f: &Feeder, stop_ppm: u32) -> Result<SearchCoefficients, SettingsError> {
    Ok(SearchCoefficients {
        lowest: share(within(s.lowest_ppm, 1, f.target_ppm)?),
        highest: share(within(s.highest_ppm, f.target_ppm, 2_000_000)?),
        ceiling: share(stop_ppm),
        step: share(within(s.step_ppm, 1_000, 100_000)?),
        dwell: within(s.dwell_ms, 10_000, 36_000_000)? / STEP_MS,
    })
}

const fn within(value: u32, least: u32, most: u32) -> Result<u32, SettingsError> {
    if value >= least && value <= most { Ok(value) } else { Err(SettingsError::Feed) }
}

/// A level of load as ppm, at Q24.
#[inline(never)] // in three places
fn level(ppm: u32) -> Result<Ratio, SettingsError> {
    within(ppm, 1, 100_000_000).map(|ppm| Ratio::from_bits(part(u64::from(ppm) << 24, 1_000_000) as i32))
}

/// ppm at Q32: 27 + 32 bits.
const fn share(ppm: u32) -> i64 {
    part((ppm as u64) << 32, 1_000_000) as i64
}

/// `ppm / den` as a factor.
#[inline(never)] // in four places
fn ppm(num: u64, den: u32) -> Result<Scale, SettingsError> {
    factor(num, 1_000_000 * u64::from(den)).ok_or(SettingsError::Feed)
}
