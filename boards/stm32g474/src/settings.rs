//! The board's settings, and where they lie.
//!
//! They are the bytes of `settings.bin`, as `shaftwork commission --bits` writes them, at the beginning of the flash's second bank, and the rest
//! of that page blank. A blank page, settings that are cut, changed or of another layout, and those that are made for other converters are
//! refused: the board stays safe. It has no settings of its own, for it knows no motor.
//!
//! The store beside them ([`crate::kept`]) keeps totals and latches, and no settings: what a person has flashed counts.

use shaftwork_app::drive;
use shaftwork_core::Settings;
use shaftwork_core::settings::Sampling;
use shaftwork_report_bits::settings::{MAX_BYTES, Wrong, decode};

use crate::{front, timing};

/// Where they lie, from the beginning of the flash: its second bank, 0x0804_0000.
pub const OFFSET: u32 = 256 * 1024;
/// What is read there: a page.
pub const BYTES: usize = crate::bank::PAGE;
const _: () = assert!(MAX_BYTES <= BYTES, "settings fit a page");

/// What `Settings` do not say of this board's instruments.
#[derive(Debug, Clone, Copy)]
pub struct Instruments {
    /// What the feeder's drive takes for its speed.
    pub drive: drive::Speed,
    /// Pulses of the tachometer in a turn of the motor's shaft; `None`: there is none.
    pub pulses_per_turn: Option<u16>,
    /// What a pulse of the belt's scale stands for, mg; `None`: there is none.
    pub pulse_mg: Option<u64>,
    /// The contactor's second auxiliary contact is wired.
    pub contactor: bool,
    /// The feeder's running signal is wired.
    pub feeder: bool,
}

/// To be changed before this is compiled, where the board has others.
pub const INSTRUMENTS: Instruments = Instruments {
    drive: drive::Speed::LiveZero,
    pulses_per_turn: Some(1),
    pulse_mg: None,
    contactor: true,
    feeder: true,
};

/// Why settings are refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// Nobody has written any.
    Blank,
    /// They are no settings of this version, or not as they were written.
    Unreadable(Wrong),
    /// They are made for converters of other bits, or with other times between the channels.
    OtherConverters,
}

/// A sampling at `rate_mhz` by this board's converters, before it is calibrated.
pub fn sampling(rate_mhz: u32) -> Sampling {
    let later = timing::adds_up_ns(rate_mhz) as i32; // at most 361 412
    Sampling {
        rate_mhz,
        bits: timing::BITS,
        voltage_full_scale_mv: front::VOLTAGE_FULL_SCALE_MV,
        current_full_scale_ma: front::CURRENT_FULL_SCALE_MA,
        skew_ns: [0, later, 0, 0, later, 0],
        ..Settings::example().sampling
    }
}

/// The example's motor on this board's converters.
#[cfg(test)]
pub(crate) fn example() -> Settings {
    Settings { sampling: sampling(4_000_000), ..Settings::example() }
}

/// The settings in the flash.
///
/// # Errors
///
/// See [`Refused`]. Ranges are checked by the monitor.
pub fn read(flash: &[u8]) -> Result<Settings, Refused> {
    if flash.iter().all(|byte| *byte == 0xff) {
        return Err(Refused::Blank);
    }
    let settings = decode(flash).map_err(Refused::Unreadable)?;
    let given = settings.sampling;
    if !(2_000_000..=16_000_000).contains(&given.rate_mhz) || given.bits != timing::BITS {
        return Err(Refused::OtherConverters);
    }
    // Settings of the host give a tenth of a microsecond or better.
    let ours = sampling(given.rate_mhz);
    let timed = given.skew_ns.iter().zip(ours.skew_ns).all(|(given, ours)| given.abs_diff(ours) <= 100);
    if timed { Ok(settings) } else { Err(Refused::OtherConverters) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::Monitor;
    use shaftwork_report_bits::settings::encode;

    /// As the flash holds them: bytes, then blank.
    fn flashed(settings: &Settings) -> [u8; BYTES] {
        let (mut buffer, mut flash) = ([0; MAX_BYTES], [0xff; BYTES]);
        let bytes = encode(settings, &mut buffer);
        flash[..bytes.len()].copy_from_slice(bytes);
        flash
    }

    #[test]
    fn blank_flash_is_no_motor() {
        assert_eq!(read(&[0xff; BYTES]), Err(Refused::Blank));
    }

    #[test]
    fn the_core_takes_these_converters_at_every_rate() {
        for rate_mhz in [2_000_000, 4_000_000, 8_000_000, 16_000_000] {
            assert!(Monitor::new(&Settings { sampling: sampling(rate_mhz), ..example() }).is_ok(), "{rate_mhz}");
        }
    }

    #[test]
    fn what_was_flashed_is_read_and_other_converters_are_refused() {
        let mut own = example();
        own.motor.rated_current_ma = 41_000;
        own.sampling.gain_ppm[2] = 1_003_100;
        own.sampling.current_full_scale_ma = 750_000; // another transformer
        assert_eq!(read(&flashed(&own)), Ok(own));
        let changes: [fn(&mut Settings); 4] = [
            |s| s.sampling.bits = 12,
            |s| s.sampling.rate_mhz = 8_000_000, // the times are another rate's
            |s| s.sampling.skew_ns = [0; 6],
            |s| s.sampling.rate_mhz = 0,
        ];
        for change in changes {
            let mut other = own;
            change(&mut other);
            assert_eq!(read(&flashed(&other)), Err(Refused::OtherConverters));
        }
        assert_eq!(read(&[0xfe; BYTES]), Err(Refused::Unreadable(Wrong::Magic)));
        let whole = flashed(&own);
        for (place, wrong) in [(9, Wrong::Sum), (100, Wrong::Sum), (BYTES - 1, Wrong::Behind)] {
            let mut changed = whole;
            changed[place] ^= 1;
            assert_eq!(read(&changed), Err(Refused::Unreadable(wrong)), "{place}");
        }
    }

    #[test]
    fn the_page_says_what_a_settings_file_has_to_say() {
        let page = include_str!("../../../docs/board-stm32g474.md");
        let later = f64::from(timing::adds_up_ns(4_000_000)) / 1e3;
        for line in [
            "rate_hz = 4000",
            &format!("bits = {}", timing::BITS),
            &format!("skew_us = [0, {later:.3}, 0, 0, {later:.3}, 0]"),
        ] {
            assert!(page.lines().any(|of| of == line), "docs/board-stm32g474.md does not say: {line}");
        }
        for rate in [2_000_u32, 4_000, 8_000, 16_000] {
            let later = f64::from(timing::adds_up_ns(rate * 1_000)) / 1e3;
            assert!(page.contains(&format!("{later:.1}")), "{rate}");
        }
    }
}
