//! What is written: as bytes, and how totals go on over a power cut.
//!
//! The bytes are postcard's, those in which host and board compare reports: integers as they come in the structures, in as few bytes as each needs, no names. They mean nothing without their
//! version, which stands in the record's header: whoever changes `Saved`, `Totals`, `Settings` or `Event` in the core changes the version here, and a test of the bytes fails until then.

use serde::{Deserialize, Serialize};
use shaftwork_core::judge::report::Register;
use shaftwork_core::judge::saved::Saved;
use shaftwork_core::settings::Settings;
use shaftwork_core::unit::Watts;
use shaftwork_core::{Event, Totals};

use crate::bytes;
use crate::grid::HEADER;

/// A record of [`Kept`] has at most so many bytes, header included: 64-bit numbers take 10 at most, 128-bit ones 19.
pub const KEPT_BYTES: usize = 576;
/// ... of settings.
pub const SETTINGS_BYTES: usize = 1_088;
const _: () =
    assert!(size_of::<Settings>() * 3 / 2 + 16 + HEADER <= SETTINGS_BYTES, "settings grew: raise SETTINGS_BYTES");
/// ... of an entry of the event log.
pub const ENTRY_BYTES: usize = 192;
const _: () = assert!(size_of::<Entry>() * 3 / 2 + 16 + HEADER <= ENTRY_BYTES, "events grew: raise ENTRY_BYTES");

/// The layout of [`Kept`], [`Settings`] and [`Entry`], and of what stands in front of them. The check sum, the length and the version stay where they are, whatever the
/// layout, so that it is seen.
pub const VERSION: u8 = 1;

/// What the monitor must remember, and the totals, of the same moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Kept {
    /// Thermal image, latches, starts, what is learnt.
    pub saved: Saved,
    /// Sums since the board was made.
    pub totals: Totals,
}

/// An entry of the event log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Entry {
    /// Power came: the times of what follows count from here.
    PowerUp,
    /// Something happened.
    Event(Event),
}

/// What was found for something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Read<T> {
    /// There is none: a new board.
    #[default]
    Nothing,
    /// There is one, but the flash fails: what was kept may be lost, and a person should know before the board goes on.
    Failed,
    /// This.
    Here(T),
    /// It was written by another version, or makes no sense: whoever updates a firmware has to know it.
    Other(u8),
}

impl<T> Read<T> {
    /// What was found, if it can be read.
    pub fn here(self) -> Option<T> {
        match self {
            Self::Here(it) => Some(it),
            Self::Nothing | Self::Failed | Self::Other(_) => None,
        }
    }
}

/// The bytes of something, in front of `buffer`; `None` where it is too small.
pub(crate) fn write<'a>(it: &impl Serialize, buffer: &'a mut [u8]) -> Option<&'a [u8]> {
    bytes::write(it, buffer).ok()
}

/// What bytes of a version stand for.
pub(crate) fn read<T: for<'a> Deserialize<'a>>(version: u8, bytes: &[u8]) -> Read<T> {
    if version != VERSION {
        return Read::Other(version);
    }
    match postcard::take_from_bytes(bytes) {
        Ok((it, [])) => Read::Here(it),
        _ => Read::Other(version),
    }
}

/// Totals that go on: `since` was counted from nothing after `before`. Nothing in it is below `before`'s.
#[must_use]
pub fn joined(before: &Totals, since: &Totals) -> Totals {
    let mut joined = *since;
    for (to, from) in joined.time.iter_mut().zip(&before.time) {
        *to = to.plus(*from);
    }
    for (to, from) in joined.energy.iter_mut().zip(&before.energy) {
        *to = both(*to, *from);
    }
    joined.electrical = both(before.electrical, since.electrical);
    joined.exported = both(before.exported, since.exported);
    joined.reactive = both(before.reactive, since.reactive);
    joined.shaft_q20 = before.shaft_q20.saturating_add(since.shaft_q20);
    joined.idle = idle(before, since);
    joined.idle_spread = since.idle_spread.or(before.idle_spread);
    joined.mass_mg = match (before.mass_mg, since.mass_mg) {
        (Some(before), Some(since)) => Some(before.saturating_add(since)),
        (one, other) => one.or(other),
    };
    joined.starts = before.starts.saturating_add(since.starts);
    joined.trips = before.trips.saturating_add(since.trips);
    joined.peak_shaft = before.peak_shaft.max(since.peak_shaft);
    joined.peak_current = before.peak_current.max(since.peak_current);
    joined.max_thermal = before.max_thermal.max(since.max_thermal);
    joined.clipped = before.clipped.saturating_add(since.clipped);
    joined.lost_events = before.lost_events.saturating_add(since.lost_events);
    joined
}

fn both(a: Register, b: Register) -> Register {
    // Fractions are below 2^20; what flash holds may be anything.
    let fraction = u64::from(a.fraction) + u64::from(b.fraction);
    let joules = a.joules.saturating_add(b.joules).saturating_add(fraction >> 20);
    Register { joules, fraction: (fraction & 0xf_ffff) as u32 }
}

/// The mean over running time, so that net energy is still shaft energy less it times that time.
fn idle(before: &Totals, since: &Totals) -> Option<Watts> {
    let (Some(a), Some(b)) = (before.idle, since.idle) else { return since.idle.or(before.idle) };
    // Whole frames: 48 bits, and 64 of the powers.
    let [ta, tb] = [before, since].map(|totals| i128::from(totals.running().0 >> 16));
    let energy = i128::from(a.to_bits()) * ta + i128::from(b.to_bits()) * tb;
    Some(energy.checked_div(ta + tb).map_or(b, |bits| Watts::from_bits(bits as i64)))
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;
    use crate::grid::{Found, seal};
    use shaftwork_core::time::{Instant, Span};
    use shaftwork_core::unit::{Amps, Joules, Ratio};
    use shaftwork_core::{Cause, EventKind};

    /// All figures as large as they can be.
    fn largest() -> Kept {
        let register = Register { joules: u64::MAX, fraction: u32::MAX };
        Kept {
            saved: Saved {
                thermal_q32: i64::MIN,
                start_heat_q32: i64::MIN,
                rotor: [Joules::from_bits(i64::MIN); 2],
                trip: Some(Cause::Wedge),
                starts: [Span(u64::MAX); 16],
                idle: Some(Watts::from_bits(i64::MIN)),
                called: true,
            },
            totals: Totals {
                time: [Span(u64::MAX); 6],
                electrical: register,
                exported: register,
                reactive: register,
                energy: [register; 6],
                shaft_q20: i128::MIN,
                idle: Some(Watts::from_bits(i64::MIN)),
                idle_spread: Some(Watts::from_bits(i64::MIN)),
                mass_mg: Some(u64::MAX),
                starts: u32::MAX,
                trips: u32::MAX,
                peak_shaft: Some(Watts::from_bits(i64::MIN)),
                peak_current: Amps::from_bits(i32::MIN),
                max_thermal: Some(Ratio::from_bits(i32::MIN)),
                clipped: u64::MAX,
                lost_events: u32::MAX,
            },
        }
    }

    /// Ten years of a 75 kW mill, half of them under load, four starts an hour lately.
    fn old() -> Kept {
        let years = 10 * 31_557_600_u64;
        let time = Span((years / 6 * 4_000) << 16);
        let register = Register { joules: 40_000 * years, fraction: 700_000 };
        let part = Register { joules: 8_000 * years, fraction: 700_000 };
        Kept {
            saved: Saved {
                thermal_q32: 3 << 30,
                start_heat_q32: 1 << 30,
                rotor: [Joules::from_bits(90_000 << 20), Joules::from_bits(200_000 << 20)],
                trip: None,
                starts: core::array::from_fn(|n| Span(if n < 4 { (900 * n as u64 * 4_000) << 16 } else { 0 })),
                idle: Some(Watts::from_bits(9_000 << 16)),
                called: false,
            },
            totals: Totals {
                time: [time; 6],
                electrical: register,
                exported: part,
                reactive: register,
                energy: [part; 6],
                shaft_q20: i128::from(30_000 * years) << 20,
                idle: Some(Watts::from_bits(9_000 << 16)),
                idle_spread: Some(Watts::from_bits(100 << 16)),
                mass_mg: Some(1_000_000_000 * years / 4),
                starts: 100_000,
                trips: 500,
                peak_shaft: Some(Watts::from_bits(150_000 << 16)),
                peak_current: Amps::from_bits(900 << 17),
                max_thermal: Some(Ratio::from_bits(1 << 24)),
                clipped: 10_000_000,
                lost_events: 0,
            },
        }
    }

    fn length(it: &impl Serialize) -> usize {
        HEADER + write(it, &mut [0; 2_048]).unwrap().len()
    }

    #[test]
    fn the_largest_record_fits_and_an_old_one_is_as_small_as_the_wear_says() {
        assert_eq!(length(&largest()), 524);
        assert_eq!(length(&old()), crate::wear::RECORD as usize);
        let settings = length(&Settings::example());
        assert!(settings <= SETTINGS_BYTES / 2, "{settings}");
        let bytes = &mut [0; KEPT_BYTES];
        for kept in [largest(), old(), Kept::default()] {
            let bytes = write(&kept, bytes).unwrap();
            assert_eq!(read(VERSION, bytes), Read::Here(kept));
            assert_eq!(read::<Kept>(VERSION + 1, bytes), Read::Other(VERSION + 1));
            assert_eq!(read::<Kept>(VERSION, &bytes[..bytes.len() - 1]), Read::Other(VERSION), "too short");
            let longer = [bytes, &[0]].concat();
            assert_eq!(read::<Kept>(VERSION, &longer), Read::Other(VERSION), "too long");
        }
    }

    /// When this fails the layout has changed: raise [`VERSION`], and say in the changelog that a board forgets, or read the old one.
    #[test]
    fn the_bytes_of_this_version() {
        let crc = |it: &dyn Fn(&mut [u8]) -> usize| {
            let mut buffer = [0; 2_048];
            let length = it(&mut buffer);
            crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&buffer[..length])
        };
        let event = Entry::Event(Event { at: Instant(1 << 40), kind: EventKind::Stop });
        let found = [
            crc(&|buffer| write(&old(), buffer).unwrap().len()),
            crc(&|buffer| write(&Settings::example(), buffer).unwrap().len()),
            crc(&|buffer| write(&event, buffer).unwrap().len()),
        ];
        let found_at = Found { position: 0x12_3456_789a, length: 3, version: VERSION, follows: Some(0x12_3400_0000) };
        let mut header = [0; HEADER + 3];
        seal(&mut header, &found_at);
        assert_eq!(header[4..], [0x9a, 0x78, 0x56, 0x34, 0x12, 0x9a, 0x78, 0x56, 0, 3, 0, VERSION, 0, 0, 0]);
        assert_eq!((VERSION, found), (1, [1_524_404_210, 2_002_968_030, 4_180_572_538]));
    }

    #[test]
    fn totals_go_on_and_none_falls() {
        let (a, b) = (old().totals, Totals { mass_mg: None, ..Totals::default() });
        assert_eq!(joined(&a, &b), a, "nothing happened");
        assert_eq!(joined(&b, &a), a, "nothing before");
        let twice = joined(&a, &a);
        assert_eq!(twice.electrical.q20(), 2 * a.electrical.q20());
        assert_eq!(twice.energy[3].q20(), 2 * a.energy[3].q20());
        assert_eq!((twice.starts, twice.trips, twice.mass_mg), (200_000, 1_000, a.mass_mg.map(|mg| 2 * mg)));
        assert_eq!((twice.idle, twice.peak_current, twice.time[0].0), (a.idle, a.peak_current, 2 * a.time[0].0));
        let full = joined(&largest().totals, &largest().totals);
        assert_eq!(full.electrical.joules, u64::MAX, "stays at its end");
    }

    #[test]
    fn idle_power_is_the_mean_over_running_time() {
        let totals = |hours: u64, watts: i64| {
            let mut totals = Totals { idle: Some(Watts::from_bits(watts << 16)), ..Totals::default() };
            totals.time[3] = Span((hours * 3_600 * 4_000) << 16);
            totals
        };
        assert_eq!(joined(&totals(3, 8_000), &totals(1, 10_000)).idle, Some(Watts::from_bits(8_500 << 16)));
        assert_eq!(joined(&totals(0, 8_000), &totals(0, 10_000)).idle, Some(Watts::from_bits(10_000 << 16)));
    }
}
