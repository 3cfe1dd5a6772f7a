//! When the converters sample, and what their results stand for.
//!
//! A timer begins a round of all four once a frame. In a round each takes two channels, one after the other, and of each the sum of some
//! conversions in a row: the converter's own oversampling. First va with ia and vc with ic, then vb with ib; voltage and current of a
//! phase always at the same moments. The sum is brought to 16 bits, whatever the number.

use crate::front;

/// The timer's clock, and the processor's.
pub const TIMER_HZ: u32 = 170_000_000;
/// The converters' clock: a fourth of it.
pub const CONVERTER_HZ: u32 = TIMER_HZ / 4;
/// A conversion, in cycles of that clock: 47.5 to sample, 12.5 for 12 bits (reference manual RM0440, from memory).
pub const CONVERSION_CYCLES: u32 = 60;
/// The converter's result at the end of its range: sixteen times 4 095, or more of them shifted back.
pub const FULL_RAW: u16 = 65_520;
/// What an amplifier without a negative supply may stop at, mV: 5 to 30 above ground (data sheets, from memory), and 1 of offset.
const LOW_MV: u32 = 40;
/// The result at that end of the range, below which nothing is believed: 1 048.
pub const LOW_RAW: u16 = (LOW_MV * 0x1_0000 / front::REFERENCE_MV) as u16;
/// The `N` of the queue between interrupt and loop: room for seven blocks, 14 ms at 4 kHz.
pub const QUEUE: usize = 8;
/// Bits of a code, as the settings have to say.
pub const BITS: u8 = 16;

/// Counts of the timer in a frame, to the nearest.
///
/// At 4, 5, 8, 10 or 16 kHz exact. Elsewhere half a count of at least 10 625: 47 ppm, no more than a crystal's.
/// Width: 1.7e11 of 64 bits; the result is at most 85 000 at 2 kHz.
pub const fn ticks(rate_mhz: u32) -> u32 {
    ((TIMER_HZ as u64 * 1_000 + rate_mhz as u64 / 2) / rate_mhz as u64) as u32
}

/// How often a channel is converted for a frame, as a power of two, 4 to 8: as often as two channels fit into three quarters of a frame.
pub const fn oversampling(rate_mhz: u32) -> u8 {
    // Cycles of the converters' clock in three quarters of a frame: 1 992 at 16 kHz, 15 937 at 2 kHz.
    let room = CONVERTER_HZ as u64 * 750 / rate_mhz as u64;
    let mut power = 4;
    while power < 8 && (2 * CONVERSION_CYCLES as u64) << (power + 1) <= room {
        power += 1;
    }
    power
}

/// How long a channel's conversions of a frame take, and so how much later the second channel is than the first, ns to the nearest.
///
/// Width: 60 x 256 x 1e9 is 1.5e13 of 64 bits.
pub const fn adds_up_ns(rate_mhz: u32) -> u32 {
    let cycles = (CONVERSION_CYCLES as u64) << oversampling(rate_mhz);
    ((cycles * 1_000_000_000 + CONVERTER_HZ as u64 / 2) / CONVERTER_HZ as u64) as u32
}

/// Whole blocks of eight frames in so many milliseconds.
///
/// Width: 60 000 ms, the longest asked for, of 16e6 mHz is 9.6e11 of 64 bits; the result is at most 120 000 of 32.
pub const fn blocks_in(ms: u32, rate_mhz: u32) -> u32 {
    (ms as u64 * rate_mhz as u64 / 8_000_000) as u32
}

/// The core's code for a result: half the range is zero. What is at an end of the range is the core's end, so that it counts as clipped.
/// The lower end is where the amplifiers stop, a little above the converters' own.
pub const fn code(raw: u16) -> i32 {
    match raw {
        ..LOW_RAW => i16::MIN as i32,
        FULL_RAW.. => i16::MAX as i32,
        _ => raw as i32 - 0x8000,
    }
}

/// A setting by hand, permille: the whole range is full.
pub const fn permille(raw: u16) -> u16 {
    // 16 bits times 1 000: 26 of 32.
    let permille = raw as u32 * 1_000 / FULL_RAW as u32;
    if permille > 1_000 { 1_000 } else { permille as u16 }
}

/// Whether half the reference, as the voltages' amplifiers are given it, reads as half the range: within 2 %.
/// Both are of one reference: this finds a divider or a follower that is wrong, never the reference.
pub const fn half(raw: u16) -> bool {
    raw.abs_diff(0x8000) < 655
}

/// The number of a round, from when it came: what triggers the rounds and what counts here run from one crystal, so that a round
/// that is missed shows as a leap.
#[derive(Debug)]
pub struct Numbers {
    ticks: u32,
    before: u32,
    number: u32,
}

impl Numbers {
    /// Of rounds so many counts apart, not zero.
    pub const fn new(ticks: u32) -> Self {
        Self { ticks, before: 0, number: 0 }
    }

    /// Takes when a round came, in counts modulo 2^32; at least once in 25 s. The first number is any. A round that comes half a
    /// round late takes the number of the next: that is told as a gap and a repetition, which errs on the safe side.
    pub const fn next(&mut self, now: u32) -> u32 {
        let passed = now.wrapping_sub(self.before);
        // To the nearest; 64 bits for half a round more.
        let rounds = (passed as u64 + self.ticks as u64 / 2) / self.ticks as u64;
        self.before = now;
        self.number = self.number.wrapping_add(rounds as u32); // at most 2^32 / 10 625
        self.number
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_round_fits_its_frame_at_every_rate() {
        for rate_mhz in (2_000_000..=16_000_000).step_by(1_000) {
            let frame_s = f64::from(ticks(rate_mhz)) / f64::from(TIMER_HZ);
            let asked_s = 1e3 / f64::from(rate_mhz);
            assert!((frame_s / asked_s - 1.0).abs() < 48e-6, "{rate_mhz}");
            let round_s = 2.0 * f64::from(adds_up_ns(rate_mhz)) * 1e-9;
            assert!(round_s < 0.76 * frame_s && round_s > 0.37 * frame_s, "{rate_mhz}: {round_s}");
            assert!((4..=8).contains(&oversampling(rate_mhz)));
        }
        for (hz, counts, power) in [(2_000, 85_000, 7), (4_000, 42_500, 6), (8_000, 21_250, 5), (16_000, 10_625, 4)] {
            assert_eq!((ticks(hz * 1_000), oversampling(hz * 1_000)), (counts, power), "{hz}");
        }
        assert_eq!(adds_up_ns(4_000_000), 90_353); // 64 x 60 / 42.5 MHz is 90.353 µs
    }

    /// What the oversampler gives at the ends: its sum of 2^k results of 12 bits, shifted by k - 4.
    #[test]
    fn the_ends_of_the_range_count_as_clipped_whatever_the_number() {
        for power in 4..=8 {
            let [low, middle, high] = [0, 2_048, 4_095].map(|one: u32| ((one << power) >> (power - 4)) as u16);
            assert_eq!(high, FULL_RAW);
            assert!(code(low) <= -i32::from(i16::MAX));
            assert_eq!((code(middle), code(high)), (0, i32::from(i16::MAX)));
        }
        assert!(code(FULL_RAW - 1) < i32::from(i16::MAX), "one below is not");
        // An amplifier that stops 30 mV above ground, 1 mV off.
        assert_eq!(code((31 * 0x1_0000 / front::REFERENCE_MV) as u16), i32::from(i16::MIN));
        assert_eq!([LOW_RAW - 1, LOW_RAW].map(code), [-0x8000, -0x8000 + 1_048]);
        assert_eq!(code(u16::MAX), i32::from(i16::MAX));
    }

    #[test]
    fn times_in_blocks_are_the_same_times_at_every_rate() {
        for rate_mhz in (2_000_000..=16_000_000).step_by(1_000) {
            for ms in [8, 20, 500, 2_000, 4_000, 60_000] {
                let took = f64::from(blocks_in(ms, rate_mhz)) * 8e6 / f64::from(rate_mhz);
                let block = 8e6 / f64::from(rate_mhz);
                assert!(took <= f64::from(ms) && took > f64::from(ms) - block, "{ms} at {rate_mhz}: {took}");
            }
            assert!(u16::try_from(blocks_in(2_000, rate_mhz)).is_ok() && blocks_in(8, rate_mhz) >= 2);
        }
        assert_eq!([2_000_000, 4_000_000, 16_000_000].map(|rate| blocks_in(8, rate)), [2, 4, 16]);
        assert_eq!([2_000_000, 4_000_000, 16_000_000].map(|rate| blocks_in(60_000, rate)), [15_000, 30_000, 120_000]);
    }

    #[test]
    fn a_round_that_is_missed_leaps() {
        let mut numbers = Numbers::new(42_500);
        let near = u32::MAX - 50_000; // the counter wraps in between
        let first = numbers.next(near);
        // One by one, early and late by some; then two are missed; then all is as it was.
        let came =
            [42_500, 85_600, 127_400, 255_000, 297_500].map(|after| numbers.next(near.wrapping_add(after)) - first);
        assert_eq!(came, [1, 2, 3, 6, 7]);
        // A minute of rounds that jitter: none is lost, none is new.
        let mut numbers = Numbers::new(10_625);
        let first = numbers.next(0);
        for round in 1..1_000_000_u32 {
            let jitter = round.wrapping_mul(2_654_435_761) >> 20; // 0 to 4 095
            assert_eq!(numbers.next(round.wrapping_mul(10_625).wrapping_add(jitter)) - first, round);
        }
    }

    /// Of every board that runs this instruction set, in the table by trace and in that by configuration.
    #[test]
    fn the_page_says_what_a_block_costs() {
        let budget = include_str!("../../../docs/budget.md");
        let (mut column, mut dearest) = (None, 0);
        for line in budget.lines() {
            let mut cells = line.split('|').map(str::trim);
            if line.contains("cortex-m4, worst block") {
                column = cells.position(|cell| cell == "cortex-m4, worst block");
            } else if let Some(cell) = column.and_then(|column| cells.nth(column)) {
                dearest = dearest.max(cell.parse().unwrap_or(0));
            } else {
                column = None;
            }
        }
        assert!(dearest > 1_000, "the tables are other ones: {dearest}");
        let limit = (dearest / 1_000 + 1) * 1_000;
        let ms = f64::from(limit) * 3.0 / f64::from(TIMER_HZ) * 1e3;
        let page = include_str!("../../../docs/board-stm32g474.md");
        let says = format!("{} {:03} instructions", limit / 1_000, limit % 1_000);
        assert!(page.contains(&says) && page.contains(&format!("is {ms:.2} ms; a block")), "{says}: {ms:.2} ms");
    }

    #[test]
    fn by_hand_and_half() {
        assert_eq!([0, FULL_RAW / 2, FULL_RAW, u16::MAX].map(permille), [0, 500, 1_000, 1_000]);
        assert_eq!(
            [0, 32_000, 32_200, 0x8000, 33_300, 33_500, u16::MAX].map(half),
            [false, false, true, true, true, false, false]
        );
    }
}
