//! A half cycle, or some of them, in 32 bits.
//!
//! | bits | holds | step | range |
//! |---|---|---|---|
//! | 0..9 | load: shaft power over rated power | 1 % | -20 to 491 % |
//! | 9..18 | largest current over rated current | 2 % | 0 to 1 022 % |
//! | 18..26 | speed over synchronous speed | 2 % below 80 %, then 0.2 % | 0 to 122.8 %; or not known |
//! | 26..32 | thermal level over the trip level | 2 % | 0 to 124 %; or not wanted |
//!
//! Figures are rounded to the nearest step and held to the range. Slip is what tells a jam, so that speed is fine near synchronous.

use crate::math::scale::Scale;

/// What is packed, in millionths of rated power, rated current, synchronous speed and trip level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Figures {
    pub(super) load: i64,
    pub(super) current: i64,
    pub(super) speed: Option<i64>,
    pub(super) thermal: Option<i64>,
}

/// A half cycle, or some of them, in 32 bits.
///
/// ```
/// use shaftwork_core::recorder::Point;
/// let point = Point::from_bits(0x3fff_0000 | 110 + 20);
/// assert_eq!(point.load_pct(), 110);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Point(u32);

const LOAD_BITS: u32 = 9;
const CURRENT_AT: u32 = 9;
const SPEED_AT: u32 = 18;
const THERMAL_AT: u32 = 26;
/// Codes that stand for "none".
const NO_SPEED: u32 = 0xff;
const NO_THERMAL: u32 = 0x3f;
/// Loads begin 20 % below nothing.
const BELOW: i64 = 20;
/// Speeds from here on, thousandths, are told in steps of two of them; codes below are steps of twenty.
const FINE: i64 = 800;
const FINE_CODE: i64 = FINE / 20;

/// Steps, rounded, from `0` to `most`.
const fn steps(millionths: i64, step: i64, most: i64) -> u32 {
    let rounded = Scale::reciprocal(step as u32, 0).apply(millionths);
    (if rounded < 0 {
        0
    } else if rounded > most {
        most
    } else {
        rounded
    }) as u32
}

impl Point {
    pub(super) fn pack(figures: &Figures) -> Self {
        let load = steps(figures.load.saturating_add(BELOW * 10_000), 10_000, 511);
        let current = steps(figures.current, 20_000, 511);
        let speed = figures.speed.map_or(NO_SPEED, |speed| {
            if speed < FINE * 1_000 {
                steps(speed, 20_000, FINE_CODE)
            } else {
                FINE_CODE as u32 + steps(speed.saturating_sub(FINE * 1_000), 2_000, 254 - FINE_CODE)
            }
        });
        let thermal = figures.thermal.map_or(NO_THERMAL, |level| steps(level, 20_000, 62));
        Self(load | current << CURRENT_AT | speed << SPEED_AT | thermal << THERMAL_AT)
    }

    /// From its bits, as sent over a link.
    #[must_use]
    pub const fn from_bits(bits: u32) -> Self {
        Self(bits)
    }

    /// Its bits.
    #[must_use]
    pub const fn to_bits(self) -> u32 {
        self.0
    }

    /// Shaft power over rated power, %.
    #[must_use]
    pub const fn load_pct(self) -> i16 {
        (self.0 & ((1 << LOAD_BITS) - 1)) as i16 - BELOW as i16
    }

    /// Largest current over rated current, %.
    #[must_use]
    pub const fn current_pct(self) -> u16 {
        (self.0 >> CURRENT_AT & 511) as u16 * 2
    }

    /// Speed over synchronous speed, thousandths; `None` where it was not known.
    #[must_use]
    pub const fn speed_permille(self) -> Option<u16> {
        let code = self.0 >> SPEED_AT & NO_SPEED;
        match code {
            NO_SPEED => None,
            _ if code < FINE_CODE as u32 => Some(code as u16 * 20),
            _ => Some(FINE as u16 + (code as u16 - FINE_CODE as u16) * 2),
        }
    }

    /// Thermal level over the trip level, %; `None` without a thermal image.
    #[must_use]
    pub const fn thermal_pct(self) -> Option<u8> {
        match self.0 >> THERMAL_AT {
            NO_THERMAL => None,
            code => Some(code as u8 * 2),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_come_back_to_half_a_step() {
        for n in -30..=520_i64 {
            let (load, current, thermal) = (n * 10_000 + 4_900, n * 20_000 - 9_900, n * 3_000);
            for speed in [None, Some(n * 2_300)] {
                let point = Point::pack(&Figures { load, current, speed, thermal: Some(thermal) });
                let near = |told: i64, given: i64, step: i64, least: i64, most: i64| {
                    assert!((told - given.max(least).min(most)).abs() <= step / 2, "{told} for {given}");
                };
                near(i64::from(point.load_pct()) * 10_000, load, 10_000, -200_000, 4_910_000);
                near(i64::from(point.current_pct()) * 10_000, current, 20_000, 0, 10_220_000);
                near(i64::from(point.thermal_pct().unwrap()) * 10_000, thermal, 20_000, 0, 1_240_000);
                assert_eq!(point.speed_permille().is_some(), speed.is_some());
                if let (Some(told), Some(speed)) = (point.speed_permille(), speed) {
                    let step = if speed < 800_000 { 20_000 } else { 2_000 };
                    near(i64::from(told) * 1_000, speed, step, 0, 1_228_000);
                }
                assert_eq!(Point::from_bits(point.to_bits()), point);
            }
        }
        let least = Figures { load: i64::MIN, current: i64::MIN, speed: Some(i64::MIN), thermal: None };
        let most = Figures { load: i64::MAX, current: i64::MAX, speed: Some(i64::MAX), thermal: Some(i64::MAX) };
        let [least, most] = [least, most].map(|figures| Point::pack(&figures));
        assert_eq!(
            (least.load_pct(), least.current_pct(), least.speed_permille(), least.thermal_pct()),
            (-20, 0, Some(0), None)
        );
        assert_eq!(
            (most.load_pct(), most.current_pct(), most.speed_permille(), most.thermal_pct()),
            (491, 1_022, Some(1_228), Some(124))
        );
    }
}
