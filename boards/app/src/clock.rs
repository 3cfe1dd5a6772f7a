//! The time of day beside the core's own time, which is the count of frames: a clock that is set is noticed, and moves no measured time.

use shaftwork_core::math::divide::unsigned;
use shaftwork_core::time::Instant;

/// Farther than the converter's and the clock's crystals part between two readings, and than a whole second is off.
const LEAP_S: i64 = 2;

/// Compares a clock with the count of frames.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Clock {
    rate_mhz: u64,
    last: Option<(Instant, i64)>,
}

impl Clock {
    /// At so many frames a second, mHz.
    pub(crate) const fn new(rate_mhz: u32) -> Self {
        Self { rate_mhz: if rate_mhz == 0 { 1 } else { rate_mhz as u64 }, last: None }
    }

    /// Takes a reading; gives by how many seconds the clock was set since the one before. To be read at least once an hour: the crystals
    /// of a board part by less than 200 ppm (common practice, no source), 0.7 s.
    pub(crate) fn read(&mut self, now: Instant, unix_s: i64) -> Option<i32> {
        let (before, then_s) = self.last.replace((now, unix_s))?;
        // 64 bits: 48 of frames, 10 of 1 000 for the rate in mHz.
        let frames = now.since(before).0 >> 16;
        let elapsed_s = unsigned(frames.saturating_mul(1_000), self.rate_mhz).unwrap_or(0) as i64;
        let by_s = unix_s.saturating_sub(then_s).saturating_sub(elapsed_s);
        (by_s.abs() >= LEAP_S).then(|| by_s.clamp(i64::from(i32::MIN), i64::from(i32::MAX)) as i32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_is_set_is_noticed_and_one_that_drifts_is_not() {
        let mut clock = Clock::new(4_000_000);
        let at = |s: u64| Instant((s * 4_000) << 16);
        assert_eq!(clock.read(at(10), 1_700_000_000), None, "the first reading has nothing to be compared with");
        assert_eq!(clock.read(at(3_610), 1_700_003_601), None, "a second an hour");
        assert_eq!(clock.read(at(3_620), 1_700_000_011), Some(-3_600), "back to winter time");
        assert_eq!(clock.read(at(3_630), i64::MAX), Some(i32::MAX));
        assert_eq!(clock.read(at(3_640), i64::MAX), Some(-10), "stands still");
    }
}
